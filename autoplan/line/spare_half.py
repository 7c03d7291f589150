"""What puts a spare pump with another outlet on the same line: the other half of what comes apart there."""

from __future__ import annotations

from dataclasses import dataclass

from autoplan.catalog.joining import Joining, Need, least_price
from autoplan.catalog.materials import Grade, Material
from autoplan.catalog.parts import Catalog, End, Pump
from autoplan.hydraulics.pump import PumpCurve
from autoplan.line.row import Line
from autoplan.problem.site import Site

HARMLESS = (Material.PLASTIC, Material.RUBBER, Material.STAINLESS)
"""What may touch the water that fish live in."""


@dataclass(frozen=True, slots=True)
class SpareHalf:
    """What a pump with another outlet takes to be joined to the line of the one that is there.

    Attributes:
        pump: id of the cheapest pump with that outlet that does the duty.
        parts: ids of adaptors and stubs, from its outlet to the line.
        cents: what those cost that are not owned, each at its least price [cents].
    """

    pump: str
    parts: tuple[str, ...]
    cents: float


def spare_halves(
    site: Site, catalog: Catalog, there: str, line: Line, flow_m3_s: float, head_m: float
) -> tuple[SpareHalf, ...]:
    """For each other outlet that a pump for the duty may have, what joins it; cheapest pump first.

    Args:
        site, catalog: what may not be used and what is owned; the price list.
        there: the pump that is there.
        line: the line that begins at it.
        flow_m3_s, head_m: what is asked of a pump [m3/s], [m].
    """
    rows = (part for group in catalog.groups() for part in group.values())
    unfit = {row.id for row in rows if row.grade is Grade.DRAIN or row.material not in HARMLESS}
    joining = Joining(
        catalog, frozenset(unfit | {part for part in site.unavailable if not site.owned.get(part)})
    )
    end = catalog.pipes[line.pipe].end
    found: dict[End, SpareHalf] = {}
    for pump in sorted(catalog.pumps.values(), key=lambda row: (least_price(catalog, row.id), row.id)):
        known = pump.outlet in found or pump.outlet == catalog.pumps[there].outlet
        if known or pump.id in joining.without or not _does(pump, flow_m3_s, head_m):
            continue
        chain = joining.chain(pump.outlet, end, pump.curve[0][1], Need.COME_APART)
        if chain is not None:
            bought = (part for part in chain.parts if not site.owned.get(part))
            cents = sum(least_price(catalog, part) for part in bought)
            found[pump.outlet] = SpareHalf(pump.id, chain.parts, cents)
    return tuple(found.values())


def _does(pump: Pump, flow_m3_s: float, head_m: float) -> bool:
    """Whether a pump at full speed gives a flow against a head."""
    curve = PumpCurve(pump.curve)
    return flow_m3_s <= curve.run_out_m3_s and curve.head(flow_m3_s) >= head_m
