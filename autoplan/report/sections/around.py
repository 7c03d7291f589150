"""Where on the way round its wall each hole sits, and each pipe that goes over its rim.

Towards what it leads to; inlet and outlet of a settler or filter opposite.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from autoplan.problem.plan import outline_of
from autoplan.problem.site import Run, RunKind, Site, Vessel, VesselKind
from autoplan.report.sections.ways import on_plan
from autoplan.report.units import MM_M

SETTLING = frozenset((VesselKind.SETTLER, VesselKind.BIOFILTER))
"""Vessels that water must cross: their outlet is opposite their inlet."""


@dataclass(frozen=True, slots=True)
class Around:
    """A place round a wall.

    Attributes:
        words: "towards sump", "opposite the inlet of tank drain", "beside that of bed drain 1"; of a pipe
            over the rim that is beside a hole "beside the hole for bed drain 1". Near a corner, and by which
            side of it.
        apart_m: least distance between its centre and that of the hole that it is beside [m], along the wall;
            None where it is beside none.
    """

    words: str
    apart_m: float | None = None


def around(
    site: Site, vessel: Vessel, holes: Sequence[tuple[str, float]], rims: Sequence[tuple[str, float]] = ()
) -> Mapping[str, Around]:
    """By run the place of its hole round a vessel's wall, or of the bracket on its rim.

    Args:
        site: which run leads where.
        vessel: whose wall.
        holes: the run and diameter [m] of each hole in it.
        rims: the run and outside [m] of each pipe that goes over its rim. A pipe there passes before the wall
            on both sides, so it keeps clear of what comes out of a hole as holes keep clear of each other.
    """
    found: dict[str, Around] = {}
    beside: dict[str, tuple[str, float]] = {}
    drilled = {name for name, _ in holes}
    for name, width in (*holes, *rims):
        corner, at = _by_corner(site, vessel, site.runs[name])
        words = _words(site, vessel, site.runs[name]) + corner
        place = at or words
        if place in beside:
            other, wide = beside[place]
            # Between the edges of two holes, or of a hole and a pipe, stays the width of the wider of them.
            that = "the hole for" if other in drilled and name not in drilled else "that of"
            found[name] = Around(f"{words}, beside {that} {other}", (width + wide) / 2 + max(width, wide))
        else:
            found[name] = Around(words)
        beside[place] = name, width
    return found


def _words(site: Site, vessel: Vessel, run: Run) -> str:
    starts = run.start == vessel.name
    if starts and run.kind is RunKind.GRAVITY and not run.idle and vessel.kind in SETTLING:
        comes = next((other for other in site.runs.values() if other.finish == vessel.name), None)
        if comes is not None:
            return f"opposite the inlet of {comes.name}"
    return f"towards {run.finish if starts else run.start}"


def _by_corner(site: Site, vessel: Vessel, run: Run) -> tuple[str, str]:
    """By which side of a corner a run meets a vessel, and that place in whole mm; nothing where by none.

    One that was moved aside is as far off as pipes keep, and one that had no room for that is less far.
    """
    outline, spots = outline_of(vessel), on_plan(site, run)
    if outline is None or not spots:
        return "", ""
    spot = spots[0 if run.start == vessel.name else -1]
    away = replace(outline, corner_m=outline.corner_m + MM_M).off_corner(spot, spot) - spot
    # The middle of a wall that is too short to keep off its corners is near both.
    if abs(away) < MM_M / 2:
        return "", ""
    left = (away * ((outline.middle - spot) * 1j).conjugate()).real > 0
    off = "a hand's width" if abs(away) < 1.5 * MM_M else "close"
    return f", {off} to the {'left' if left else 'right'} of the corner as seen from outside", f"{spot:.3f}"


def in_tip(vessel: Vessel, run: Run) -> bool:
    """Whether a run leaves a vessel by the tip of its cone."""
    return run.waste and run.start == vessel.name and vessel.cone_m > 0


def in_floor(run: Run) -> str:
    """Where in a floor its drain's hole is: near the wall that it leads to."""
    return f"near the wall towards {run.finish}"
