"""Where on the plan lines meet: where a problem puts them, and along a collector that beds' drains share."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import pairwise

from autoplan.problem.plan import Outline, outline_of, point
from autoplan.problem.site import Run, RunKind, Site
from autoplan.report.units import MM_M


def tees_on_plan(site: Site) -> dict[str, complex]:
    """By junction its place on the plan, x + iy [m], as far as that is known."""
    given = {name: point(one.spot) for name, one in site.junctions.items() if one.spot is not None}
    return _along_collectors(site) | given


def _along_collectors(site: Site) -> dict[str, complex]:
    """The places where beds' drains come to collectors that they share.

    A collector lies beside its row of beds, on the side of the vessel that it ends in, as far from each bed's
    wall as that bed's drain is long. Of one whose legs are not as long as that makes them nothing is known.
    """
    falls = [run for run in site.runs.values() if run.kind is RunKind.GRAVITY and run.plan is not None]
    beds = {
        run.finish: run
        for run in falls
        if run.finish in site.junctions and run.start in site.vessels and site.vessels[run.start].bed
    }
    onward = {run.start: run for run in falls if run.start in beds}
    found: dict[str, complex] = {}
    for head in beds.keys() - {run.finish for run in onward.values()}:
        pipes = list(_onward(onward, head))
        between = [run for run in pipes if run.finish in beds]
        if between:
            drains = [beds[name] for name in (head, *(run.finish for run in between))]
            found |= _beside(site, drains, between, pipes[-1].finish)
    return found


def _onward(onward: Mapping[str, Run], head: str) -> Iterator[Run]:
    """The pipes of a collector from its head on."""
    at, seen = head, set[str]()
    while at in onward and at not in seen:
        seen.add(at)
        yield onward[at]
        at = onward[at].finish


def _beside(site: Site, drains: list[Run], between: list[Run], ends_in: str) -> dict[str, complex]:
    """The places of the tees of one collector; none where its legs do not lead from each to the next.

    Args:
        site: where the beds stand.
        drains: that of each bed, in the order of the water.
        between: the collector's pipe from each of their tees to the next.
        ends_in: the vessel that it leads to.
    """
    beds = [outline_of(site.vessels[run.start]) for run in drains]
    end = outline_of(site.vessels[ends_in]) if ends_in in site.vessels else None
    rows = [outline for outline in beds if outline is not None]
    if end is None or len(rows) < len(beds) or rows[0].middle == rows[-1].middle:
        return {}
    along = rows[0].middle - rows[-1].middle
    side = along / abs(along) * 1j
    if ((end.middle - rows[-1].middle) * side.conjugate()).real < 0:
        side = -side
    tees = [_off(bed, run, side) for bed, run in zip(rows, drains, strict=True)]
    known = [tee for tee in tees if tee is not None]
    if len(known) < len(tees):
        return {}
    for (one, other), run in zip(pairwise(known), between, strict=True):
        pieces = run.plan.level_m if run.plan is not None else ()
        if len(pieces) != 1 or abs(abs(other - one) - pieces[0]) >= MM_M:
            return {}
    return {run.finish: tee for run, tee in zip(drains, known, strict=True)}


def _off(bed: Outline, drain: Run, side: complex) -> complex | None:
    """Where a drain ends that goes straight from the middle of a bed's wall; None where it does not."""
    reach = bed.reach_m(side)
    if reach is None or drain.plan is None or len(drain.plan.level_m) != 1:
        return None
    return bed.middle + side * (reach + drain.plan.level_m[0])
