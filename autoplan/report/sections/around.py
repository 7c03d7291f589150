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

TOWARDS = "towards "

SAME_M = 1e-6
"""Distances that differ by no more are the same [m]."""


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
    before: list[_Put] = []
    drilled = {name for name, _ in holes}
    for name, width in (*holes, *rims):
        run = site.runs[name]
        words = _words(site, vessel, run)
        spot = _spot(site, vessel, run) if words.startswith(TOWARDS) else None
        put = _Put(name, width, words, spot)
        words += "" if spot is None else _by_corner(vessel, spot)
        other = next((one for one in reversed(before) if put.meets(one)), None)
        if other is not None:
            that = "the hole for" if other.name in drilled and name not in drilled else "that of"
            found[name] = Around(f"{words}, beside {that} {other.name}", put.apart_m(other))
        else:
            found[name] = Around(words)
        before.append(put)
    return found


@dataclass(frozen=True, slots=True)
class _Put:
    """A hole or a pipe over the rim: its run, its width [m], which way it is, and where if that is known."""

    name: str
    width_m: float
    words: str
    spot: complex | None

    def apart_m(self, other: _Put) -> float:
        """Least distance from centre to centre [m]: between their edges stays the width of the wider."""
        return (self.width_m + other.width_m) / 2 + max(self.width_m, other.width_m)

    def meets(self, other: _Put) -> bool:
        """Whether two would come closer to each other than that; towards one thing where nobody knows."""
        if self.spot is None or other.spot is None:
            return self.words == other.words
        return abs(self.spot - other.spot) < self.apart_m(other) - SAME_M


def _words(site: Site, vessel: Vessel, run: Run) -> str:
    starts = run.start == vessel.name
    if starts and run.kind is RunKind.GRAVITY and not run.idle and vessel.kind in SETTLING:
        comes = next((other for other in site.runs.values() if other.finish == vessel.name), None)
        if comes is not None:
            return f"opposite the inlet of {comes.name}"
    return f"{TOWARDS}{run.finish if starts else run.start}"


def _spot(site: Site, vessel: Vessel, run: Run) -> complex | None:
    """Where on the plan a run meets a vessel; None where nobody knows."""
    spots = on_plan(site, run)
    return None if not spots else spots[0 if run.start == vessel.name else -1]


def _by_corner(vessel: Vessel, spot: complex) -> str:
    """By which side of a corner a run meets a vessel at a place; nothing where by none.

    One that was moved aside is as far off as pipes keep, and one that had no room for that is less far.
    """
    outline = outline_of(vessel)
    if outline is None:
        return ""
    away = replace(outline, corner_m=outline.corner_m + MM_M).off_corner(spot, spot) - spot
    # The middle of a wall that is too short to keep off its corners is near both.
    if abs(away) < MM_M / 2:
        return ""
    left = (away * ((outline.middle - spot) * 1j).conjugate()).real > 0
    off = "a hand's width" if abs(away) < 1.5 * MM_M else "close"
    return f", {off} to the {'left' if left else 'right'} of the corner as seen from outside"


def in_tip(vessel: Vessel, run: Run) -> bool:
    """Whether a run leaves a vessel by the tip of its cone."""
    return run.waste and run.start == vessel.name and vessel.cone_m > 0


def in_floor(run: Run) -> str:
    """Where in a floor its drain's hole is: near the wall that it leads to."""
    return f"near the wall towards {run.finish}"
