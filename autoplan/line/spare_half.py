"""What puts a spare pump with another outlet on the same line: the other half of what comes apart there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from autoplan.catalog.joining import Joining, adaptor_like, least_price
from autoplan.catalog.materials import Grade, Material
from autoplan.catalog.parts import Adaptor, Catalog, End, Pipe, Pump
from autoplan.fittings.base import turned
from autoplan.hydraulics.pump import PumpCurve
from autoplan.line.joints import Joint, chain_joints
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

    What goes on the half that is on the line, where its joint with the pump comes apart.

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
    half = half_on_line(catalog, joining, catalog.pumps[there].outlet, line.start.chain)
    found: dict[End, SpareHalf] = {}
    for pump in sorted(catalog.pumps.values(), key=lambda row: (least_price(catalog, row.id), row.id)):
        known = pump.outlet in found or pump.outlet == catalog.pumps[there].outlet
        if known or pump.id in joining.without or not _does(pump, flow_m3_s, head_m):
            continue
        fitting = [
            SpareHalf(pump.id, chain.parts, _cents(site, catalog, chain.parts))
            for chain in joining.opening(pump.outlet, end, pump.curve[0][1])
            if half in (None, half_on_line(catalog, joining, pump.outlet, chain.parts))
        ]
        if fitting:
            found[pump.outlet] = min(fitting, key=lambda one: (one.cents, len(one.parts), one.parts))
    return tuple(found.values())


def _cents(site: Site, catalog: Catalog, parts: Sequence[str]) -> float:
    """What parts cost that are not owned [cents]."""
    return sum(least_price(catalog, part) for part in parts if not site.owned.get(part))


def half_on_line(
    catalog: Catalog, joining: Joining, outlet: End, chain: Sequence[str]
) -> tuple[End, tuple[str, ...]] | None:
    """What stays on the line once its last part that comes apart is opened; None where none does.

    Args:
        catalog, joining: the price list, and what mates in it.
        outlet: where the chain begins.
        chain: adaptors and stubs from it to the line.

    Returns:
        The end of that part towards the line, by which halves of one kind and size are told, and the parts
        behind it. Another chain with the same goes on in place of this one.
    """
    here, half = outlet, None
    for place, part in enumerate(chain):
        row = adaptor_like(catalog, part)
        _, here = turned(joining, here, (row.end, row.end) if isinstance(row, Pipe) else row.ends)
        if isinstance(row, Adaptor) and row.apart:
            half = here, tuple(chain[place + 1 :])
    return half


def spare_joints(
    catalog: Catalog, joining: Joining, line: Line, outlet: End, chain: Sequence[str]
) -> tuple[Joint, ...]:
    """The joints of what fits a pump with some outlet, but for that with the line, which is there already.

    Args:
        catalog, joining: the price list, and what mates in it.
        line: where it goes on.
        outlet, chain: as for `half_on_line`.
    """
    pump = next(pump.id for pump in catalog.pumps.values() if pump.outlet == outlet)
    ends = (pump, outlet), (line.pipe, catalog.pipes[line.pipe].end)
    return tuple(chain_joints(catalog, joining, line.run, ends, chain, pressed=True)[:-1])


def _does(pump: Pump, flow_m3_s: float, head_m: float) -> bool:
    """Whether a pump at full speed gives a flow against a head."""
    curve = PumpCurve(pump.curve)
    return flow_m3_s <= curve.run_out_m3_s and curve.head(flow_m3_s) >= head_m
