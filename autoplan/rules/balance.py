"""Water and lift that follow from a site alone, whatever is drawn on it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from autoplan.hydraulics.pump import PumpCurve
from autoplan.problem.flows import drained_to, floods_in_turn, pressure_paths
from autoplan.problem.site import Run, RunKind, Site
from autoplan.problem.standing import RIM_CLEARANCE_M


def flood_drawdown(site: Site, vessel: str) -> float:
    """How far a pumped vessel falls [m] when as many beds that drain to it as may be are full at once.

    The pump goes on as before; what lacks is the water that does not come back while a bed fills.
    """
    return sum(held_at_once(site, vessel)) / site.vessels[vessel].area_m2


def held_at_once(site: Site, vessel: str) -> list[float]:
    """Water [m3] in each bed that drains to a vessel and may be full at once with the others.

    All of them, or so many of the largest as the problem says; those with a weep hole stand full in any case.
    Those with a plain standpipe never run empty: what they hold is put in once, and none of it moves.
    """
    full = [held for held, turns in _floods(site, vessel) if not turns]
    return [*full, *sorted(flood_volumes(site, vessel), reverse=True)[: site.wishes.beds_full]]


def flood_volumes(site: Site, vessel: str) -> list[float]:
    """Water per flood [m3] of each bed that floods in turn and drains to a vessel."""
    return [held for held, turns in _floods(site, vessel) if turns]


def _floods(site: Site, vessel: str) -> Iterator[tuple[float, bool]]:
    """Water per flood [m3] of each bed that drains to a vessel and runs empty, and whether in turn."""
    for bed in site.vessels.values():
        if bed.bed is not None and bed.bed.by_turns and vessel in drained_to(site, bed.name):
            yield bed.flood_m3, floods_in_turn(bed.bed)


def least_lift(site: Site, vessel: str) -> float:
    """A lift [m] that no design goes below: highest sump water to the lowest water it could discharge at."""
    targets = [
        site.vessels[site.runs[path[-1]].finish].water_min_m
        for path in pressure_paths(site)
        if site.runs[path[0]].start == vessel
    ]
    return max(0.0, min(targets) - site.vessels[vessel].water_max_m)


def highest_lift(site: Site, vessel: str) -> float:
    """A lift [m] that every design asks for: from the lowest sump water to the highest outlet's lowest.

    Or to where a line goes higher on its way.
    """
    targets = [
        max(site.vessels[site.runs[path[-1]].finish].water_min_m, way_top(site, path))
        for path in pressure_paths(site)
        if site.runs[path[0]].start == vessel
    ]
    return max(0.0, max(targets) - site.vessels[vessel].water_max_m + flood_drawdown(site, vessel))


def way_top(site: Site, path: Sequence[str]) -> float:
    """How high a pump's line goes on its way above the datum [m], whatever its pipe and its last end.

    Over the rim of the vessel that the pump stands in, and at the heights of its tees and those at which its
    runs are to lie; but for the last one's, where that is over the rim at its end (`over_its_end`). Minus
    infinity where its legs were measured.
    """
    tops = [-math.inf]
    for run in (site.runs[name] for name in path):
        if run.plan is None:
            continue
        if run.start in site.vessels:
            tops.append(site.vessels[run.start].rim_m + RIM_CLEARANCE_M)
        at = site.junctions[run.finish].at_m if run.finish in site.junctions else None
        own = None if over_its_end(site, run) else run.plan.height_m
        tops += [height for height in (at, own) if height is not None]
    return max(tops)


def over_its_end(site: Site, run: Run) -> bool:
    """Whether a pump's run lies at least as high as the rim of the vessel that it ends in."""
    height = None if run.plan is None else run.plan.height_m
    return height is not None and run.finish in site.vessels and height >= site.vessels[run.finish].rim_m


def pumped_flow(site: Site, vessel: str) -> float:
    """Design flow [m3/s] that the pumps of a vessel owe all that they feed."""
    return sum(
        site.flows[run.name].design_m3_s
        for run in site.runs.values()
        if run.kind is RunKind.PRESSURE and run.start == vessel
    )


def spare_share(site: Site, vessel: str) -> float:
    """How much more than its design flow a vessel's pump is to give, as a share of that [-].

    For a bed more it is what the thirstiest bed takes of it; 0 for a pump that feeds no bed.
    """
    if not site.wishes.spare_bed:
        return site.wishes.spare
    last = (site.runs[path[-1]] for path in pressure_paths(site) if site.runs[path[0]].start == vessel)
    beds = [site.flows[run.name].design_m3_s for run in last if site.vessels[run.finish].bed is not None]
    return max(beds, default=0.0) / pumped_flow(site, vessel)


def spared(site: Site, run: str) -> float:
    """Flow [m3/s] of a run with the spare of its pump: its design flow where none is wished.

    Every run from the pump counts as carrying its share of it.
    """
    pumps = {site.runs[path[0]].start for path in pressure_paths(site) if run in path}
    share = max((spare_share(site, vessel) for vessel in pumps), default=0.0)
    return (1.0 + share) * site.flows[run].design_m3_s


def run_out_factor(site: Site, vessel: str, curve: PumpCurve) -> float:
    """Pump flat out with no losses, over the design flow: an upper bound on any overload, at least 1."""
    return max(1.0, curve.carried_on().flow(least_lift(site, vessel)) / pumped_flow(site, vessel))
