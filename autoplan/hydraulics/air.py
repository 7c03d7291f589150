"""Pressure that air in a line takes, as metres of water."""

from __future__ import annotations

from autoplan.hydraulics.friction import friction_head
from autoplan.hydraulics.water import Water

AIR = Water(density_kg_m3=1.204, viscosity_m2_s=1.516e-5)
"""Dry air at 20 C and one atmosphere: density and kinematic viscosity, handbook values from memory."""

WATER_KG_M3 = 998.2
"""Density of water at 20 C, the water of a head."""

LINE_ROUGHNESS_M = 1.5e-6
"""Roughness of drawn plastic tube (Crane TP-410)."""


def air_line_head(flow_m3_s: float, bore_m: float, length_m: float) -> float:
    """Pressure lost in an air line (Darcy-Weisbach with Colebrook), as metres of water.

    The air is taken as free air throughout. In the line it is denser and so slower: for the same mass the
    loss falls as the density rises, and this errs high.

    Args:
        flow_m3_s: free air, 0 or more [m3/s].
        bore_m: bore, more than 0 [m].
        length_m: length, 0 or more [m].

    Returns:
        Pressure [m of water].

    Raises:
        ValueError: as `friction_head`.
    """
    head = friction_head(flow_m3_s, bore_m, length_m, LINE_ROUGHNESS_M, AIR)
    return head * AIR.density_kg_m3 / WATER_KG_M3
