"""How far under the water the model puts a standpipe's lip; the verdict works it out the other way round.

Over the lip goes what a drain hole leaves of the inflow (`rules.lip`).
"""

from __future__ import annotations

from autoplan.catalog.parts import Catalog
from autoplan.hydraulics.drain_hole import hole_flow
from autoplan.hydraulics.gravity import standpipe_head
from autoplan.line.row import Line
from autoplan.line.water import inlet_bore, screen_head


def head_on_lip(catalog: Catalog, drawn: Line, flow_m3_s: float) -> float:
    """Head [m] over the lip of a run's standpipe at a flow [m3/s], its screen's among it."""
    return standpipe_head(flow_m3_s, inlet_bore(catalog, drawn)) + screen_head(catalog, drawn, flow_m3_s)


def lip_under_water(catalog: Catalog, drawn: Line, flow_m3_s: float, depth_m: float) -> float:
    """How far a standpipe's lip lies under the water that it holds [m].

    Args:
        catalog: the price list.
        drawn: the run that starts at the standpipe.
        flow_m3_s: what the run takes away in all [m3/s].
        depth_m: water over the vessel's floor [m].
    """
    hole, over = None if drawn.floor is None else drawn.floor.drain_hole, flow_m3_s
    if hole is not None:
        over = max(0.0, flow_m3_s - hole_flow(hole.hole_m, max(0.0, depth_m - hole.height_m)))
    return head_on_lip(catalog, drawn, over)
