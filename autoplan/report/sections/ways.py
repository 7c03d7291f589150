"""How each run goes, leg by leg: from the height at which it begins to that at which it ends."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise

from autoplan.fittings.ends import AtVessel
from autoplan.fittings.floor import ThroughFloor
from autoplan.fittings.rim import OverRim
from autoplan.line.route import LEVEL_M, Leg, Toward, measured, upright
from autoplan.line.row import Line
from autoplan.problem.brief import PrintUnits
from autoplan.problem.plan import Outline, in_the_way, outline_of, point, way_between
from autoplan.problem.site import Run, RunKind, Site
from autoplan.problem.standing import MOUTH_IN_M, begins_at, inside_m, stands_in
from autoplan.report.sections.tees import tees_on_plan
from autoplan.report.units import FOOT_M, INCH_M, MM_M, Units, fixed

LEVEL = (Toward.ALONG, Toward.ACROSS)
"""Ways of legs that go level, or fall a little."""

ALONG_M = 0.5
"""Level length of a leg that lies on or in the ground, and does not only lead away from a wall [m]."""


@dataclass(frozen=True, slots=True)
class WholeWay:
    """How a run goes in space.

    Attributes:
        legs: from its start to its finish, down to the mouth where it ends over a rim; of measured ones
            neither way nor rise is known.
        start_height_m, finish_height_m: where its pipe begins and ends above the datum [m], over a rim its
            mouth; None where nobody knows.
        level_m: level distances from corner to corner, from the outside of one wall to that of the next [m];
            None where legs were measured.
        corners: change of direction between them [degrees].
        start_inside_m, finish_inside_m: how far past the outside of its vessel's wall it begins and ends [m].
    """

    legs: tuple[Leg, ...]
    start_height_m: float | None
    finish_height_m: float | None
    level_m: tuple[float, ...] | None
    corners: tuple[int, ...]
    start_inside_m: float
    finish_inside_m: float

    @property
    def lies_m(self) -> float | None:
        """How low it lies where it goes along [m]; None where nobody knows, or it only goes up and down."""
        if self.start_height_m is None or self.level_m is None:
            return None
        heights = accumulate((leg.rise_m for leg in self.legs), initial=self.start_height_m)
        along = zip(self.legs, pairwise(heights), strict=True)
        return min((min(both) for leg, both in along if leg.level_m > ALONG_M), default=None)


def way_of(site: Site, line: Line) -> WholeWay:
    """How a run goes; one that is to come later as it will."""
    run, rim = site.runs[line.run], line.rim
    legs = line.legs or measured(run.legs_m)
    if rim is not None and rim.drop_m > 0:
        legs = (*legs, upright(-rim.drop_m) if line.legs else Leg(rim.drop_m))
    begin = begins_at(site, run)
    if begin is None and isinstance(line.start, AtVessel):
        begin = line.start.centre_m
    finish = line.finish
    if rim is not None:
        end = rim.centre_m if rim.mouth_m is None else rim.mouth_m
    else:
        end = finish.centre_m if isinstance(finish, AtVessel) else site.junctions[finish.at].at_m
    return WholeWay(
        legs,
        begin,
        end,
        None if run.plan is None else run.plan.level_m,
        run.turns if run.plan is None else run.plan.corners,
        inside_m(site, run),
        site.vessels[run.finish].wall_m + MOUTH_IN_M if rim is not None else 0.0,
    )


def on_plan(site: Site, run: Run) -> tuple[complex, ...]:
    """Where a run goes on the plan, x + iy [m]: from wall or tee to wall or tee with its corners.

    Nothing where an end has no place of its own, or where other distances were given than follow from places.
    """
    tees = tees_on_plan(site)
    start, finish = (_end_on_plan(site, tees, name) for name in (run.start, run.finish))
    if run.plan is None or start is None or finish is None:
        return ()
    others = in_the_way(site.vessels, run.start, run.finish)
    for frame in (None, *_frames(site, tees, run)):
        way = way_between(start, finish, frame, others)
        if way is not None and way.corners == run.plan.corners and _alike(way.level_m, run.plan.level_m):
            return way.spots
    return ()


def _end_on_plan(site: Site, tees: Mapping[str, complex], name: str) -> Outline | None:
    """What a run begins or ends at: the outside of a vessel, or the place of a tee; None if not known."""
    if name in site.vessels:
        return outline_of(site.vessels[name])
    return Outline(tees[name]) if name in tees else None


def _frames(site: Site, tees: Mapping[str, complex], run: Run) -> Iterator[complex]:
    """Directions of length 1 along and across which a run by a tee is laid: of rows of beds and tees."""
    # Tees of the pump's lines are in a row of their own, those of a collector in another.
    given = [at for name, at in tees.items() if site.junctions[name].spot is not None]
    collected = [at for name, at in tees.items() if site.junctions[name].spot is None]
    beds = [point(one.spot) for one in site.vessels.values() if one.bed is not None and one.spot is not None]
    if run.start in site.junctions or run.finish in site.junctions:
        for row in (beds, given, collected):
            yield from ((b - a) / abs(b - a) for a, b in pairwise(row) if abs(b - a) > LEVEL_M)


def _alike(one: Sequence[float], other: Sequence[float]) -> bool:
    return len(one) == len(other) and all(abs(a - b) < MM_M for a, b in zip(one, other, strict=True))


def way_words(site: Site, line: Line, units: Units) -> str:
    """How a run goes, as one would walk along it; "" where its legs were measured and say no way.

    Text like "out of the hole at 1191 mm, along 70 mm, down 92 mm, along 1009 mm, into the hole at 1099 mm".
    """
    if not line.legs:
        return ""
    way, run = way_of(site, line), site.runs[line.run]
    at = [_from(site, line, way.start_height_m, units)]
    at += (_leg_words(leg, units) for leg in way.legs if leg.length_m > LEVEL_M)
    at.append(_to(line, way.finish_height_m, units))
    said = ", ".join(at)
    if run.kind is RunKind.GRAVITY:
        slopes = dict.fromkeys(_slopes(way.legs, units))
        said += f"; {' and '.join(slopes)}" if slopes else ""
    return said


def _from(site: Site, line: Line, height_m: float | None, units: Units) -> str:
    at = "" if height_m is None else f" at {units.height.said(height_m)}"
    if stands_in(site, site.runs[line.run]) is not None:
        return f"from the pump's outlet{at}"
    if isinstance(line.start, ThroughFloor):
        return f"out of the floor{at}"
    return f"out of the hole{at}" if isinstance(line.start, AtVessel) else f"from {line.start.at}{at}"


def _to(line: Line, height_m: float | None, units: Units) -> str:
    at = "" if height_m is None else f" at {units.height.said(height_m)}"
    if isinstance(line.finish, OverRim):
        return f"to the mouth{at}"
    return f"into the hole{at}" if isinstance(line.finish, AtVessel) else f"to {line.finish.at}{at}"


def _leg_words(leg: Leg, units: Units) -> str:
    said = units.piece.said
    if leg.toward in (Toward.UP, Toward.DOWN):
        aslant = f", aslant by {said(leg.level_m)}" if leg.level_m > MM_M else ""
        return f"{leg.toward} {said(abs(leg.rise_m))}{aslant}"
    word = {Toward.ACROSS: "across", Toward.OVER: "over"}.get(leg.toward or Toward.ALONG, "along")
    steps = units.piece.steps(abs(leg.rise_m))
    tilts = f" {'rising' if leg.rise_m > 0 else 'falling'} {said(abs(leg.rise_m))}" if steps else ""
    return f"{word} {said(leg.length_m)}{tilts}"


def _slopes(legs: tuple[Leg, ...], units: Units) -> Iterator[str]:
    """How much each leg of a drain falls that is not upright."""
    for leg in legs:
        if leg.toward not in LEVEL or leg.level_m <= MM_M:
            continue
        fall = -leg.rise_m / leg.level_m
        if abs(fall) < 1e-4:
            yield f"level legs laid level (0 {_per(units)}), none of them rising"
        else:
            yield f"slope {slope(fall, units)}"


def slope(fall: float, units: Units) -> str:
    """A slope [m/m] in words: "19 mm a metre" or "0.23 in a foot"."""
    if units.name is PrintUnits.SI:
        return f"{fixed(fall / MM_M, 0 if abs(fall) >= 0.01 else 1)} {_per(units)}"
    return f"{fixed(fall * FOOT_M / INCH_M, 2)} {_per(units)}"


def _per(units: Units) -> str:
    return "mm a metre" if units.name is PrintUnits.SI else "in a foot"
