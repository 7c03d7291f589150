"""How a run that is known on the plan may go from height to height, and what that asks of levels."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from autoplan.catalog.parts import Pipe
from autoplan.fittings.ends import AtVessel
from autoplan.fittings.lengths import Lengths
from autoplan.fittings.rim import OverRim
from autoplan.line.laid import Bench, slots_and_room
from autoplan.line.route import LEVEL_M, Beside, Course, Descent, along_m
from autoplan.line.row import Line
from autoplan.optimiser.options.inlets import over_rim_m
from autoplan.problem.site import Draw, Run, RunKind, Site
from autoplan.problem.standing import (
    MOUTH_IN_M,
    OFF_WALL_M,
    begins_at,
    inside_m,
    stands_in,
)
from autoplan.rules.candidate import Apart, Place
from autoplan.rules.heights import DATUM, WaterOf
from autoplan.rules.heights import Place as Level

MARK_M = 0.001
"""By so much heights may still give way to whole millimetres [m]."""

OFFSET_M = 0.3
"""Most height that two 45s with a piece between them make up; beyond it a builder drops; from memory."""


WITHIN_M, BESIDE_WATER_M = 1.0, 0.4
"""More than a line goes on behind a wall; than any end lies under its lowest water or over its rim [m]."""


@dataclass(frozen=True, slots=True)
class Height:
    """Where an end lies above the datum [m]: between two heights, which are one where no level decides it.

    Attributes:
        low_m, high_m: least and most.
        level: the water that decides it, or the datum where it is one height.
        over_m: its height over that [m].
    """

    low_m: float
    high_m: float
    level: Level
    over_m: float

    @classmethod
    def at(cls, height_m: float) -> Height:
        """One height."""
        return cls(height_m, height_m, DATUM, height_m)


@dataclass(frozen=True, slots=True)
class Routed:
    """A run with its legs at their longest, and what they ask of levels.

    The line has them as they are longest together, `legs_m` as each by itself is longest [m].
    """

    line: Line
    slots_m: tuple[float, ...]
    course: Course
    apart: tuple[Apart, ...]
    legs_m: tuple[float, ...]


def descents(site: Site, members: Sequence[Run], tilt: float, *, bends: bool) -> list[Descent]:
    """The ways in which runs of a class may leave their starts, if their pipe bends by itself or not.

    What no heights at their ends allow is left out before anything is drawn.
    """
    found = [_descents(site, run, tilt) for run in members]
    every = [how for how in Descent if all(how in ways for ways in found)]
    return [how for how in every if how is not Descent.OFFSET or not bends]


def _descents(site: Site, run: Run, tilt: float) -> tuple[Descent, ...]:
    plan = run.plan
    if plan is None or inside_m(site, run) > 0:
        return (Descent.LEVEL,)
    pressed = run.kind is RunKind.PRESSURE
    if not pressed and run.draw is Draw.OUTSIDE:
        return (Descent.CREST,)
    if plan.height_m is not None and not pressed:
        return (Descent.DROP,)
    if pressed and _steps_m(site, run) is not None:
        return (Descent.TILT, Descent.OFFSET, Descent.DROP)
    meets = site.junctions.get(run.finish)
    if pressed and meets is not None and meets.at_m == plan.height_m is not None:
        return (Descent.LEVEL,)
    (low, high), (end_low, end_high) = _reach(site, run, run.start), _reach(site, run, run.finish)
    least, most = low - end_high, high - end_low
    steepest = tilt * (plan.distance_m + WITHIN_M)
    ways = {
        Descent.LEVEL: plan.height_m is not None,
        Descent.TILT: least <= steepest and most >= (-steepest if pressed else 0.0),
        Descent.OFFSET: least <= OFFSET_M and most >= (-OFFSET_M if pressed else 0.0),
        Descent.DROP: not pressed and most >= 0.0,
    }
    return tuple(how for how, there in ways.items() if there)


def _steps_m(site: Site, run: Run) -> float | None:
    """How far over the tee that it leaves a pump's line runs [m]; None where it runs on at its height."""
    tee, plan = site.junctions.get(run.start), run.plan
    if tee is None or tee.at_m is None or plan is None or plan.height_m is None:
        return None
    rise = plan.height_m - tee.at_m
    return None if abs(rise) <= LEVEL_M else rise


def _reach(site: Site, run: Run, name: str) -> tuple[float, float]:
    """Between what heights an end of a run can lie [m], whatever pipe and wall part are chosen."""
    if name in site.junctions:
        at = site.junctions[name].at_m
        return (-math.inf, math.inf) if at is None else (at, at)
    vessel = site.vessels[name]
    low = vessel.lowest_m if run.waste else vessel.water_min_m - BESIDE_WATER_M
    return low, vessel.rim_m + BESIDE_WATER_M


def outline(site: Site, run: Run, descent: Descent, pipe: Pipe, *, rim: bool) -> Course:
    """The course of a run without its measures: enough to know its turns.

    A pump's line that rises gently from a tee to its inlet runs at no height of its own, unless it is to run
    at another than its tee's. One that runs high enough to pass over the rim at its end does so at its own
    height.
    """
    plan = run.plan
    assert plan is not None
    upright = inside_m(site, run) > 0
    gently = run.kind is RunKind.PRESSURE and not upright and descent is not Descent.LEVEL
    if gently and _steps_m(site, run) is None:
        plan = replace(plan, height_m=None)
    height, end = plan.height_m, site.junctions.get(run.finish)
    lands = height is not None and (end is None or end.at_m != height)
    if height is not None and rim and end is None:
        lands = over_rim_m(site.vessels[run.finish], pipe) > height
    pumped = stands_in(site, run)
    crest = None if pumped is None else over_rim_m(pumped, pipe)
    return Course(plan, Beside(upright=upright, crest_m=crest), Beside(), descent, lands)


def height_of(site: Site, end: AtVessel, place: Place | None, freeboard_m: float) -> Height | None:
    """Where an end at a vessel lies; None where that is not known yet."""
    if place is None:
        return None if end.centre_m is None else Height.at(end.centre_m)
    vessel = site.vessels[end.at]
    low, high = vessel.water_min_m, vessel.water_max_m
    if place.over:
        high = vessel.rim_m - freeboard_m
    offset = place.offset_m
    return Height(low + offset, high + offset, WaterOf(end.at, place.over), offset)


class Router:
    """Finds how runs go, of one pipe after the other.

    Args:
        bench: the price list, and what mates in it.
        site: where everything stands.
        tilt: most fall of a leg that is neither level nor upright, for each metre on the plan [m/m].
        freeboard_m: dry wall at overload [m].
    """

    def __init__(self, bench: Bench, site: Site, tilt: float, freeboard_m: float) -> None:
        self.bench = bench
        self.site = site
        self.tilt = tilt
        self.freeboard_m = freeboard_m
        self._outlines: dict[tuple[str, Descent, str, bool], Course] = {}

    @cached_property
    def _met(self) -> Counter[str]:
        """How many runs begin or end at each place."""
        ends = ({run.start, run.finish} for run in self.site.runs.values())
        return Counter(place for both in ends for place in both)

    @cached_property
    def _drains(self) -> Counter[str]:
        """How many drains leave each vessel."""
        runs = self.site.runs.values()
        return Counter(run.start for run in runs if run.kind is RunKind.GRAVITY)

    def outline(self, run: Run, descent: Descent, pipe: Pipe, *, rim: bool) -> Course:
        """The course of a run without its measures (`outline`), worked out once."""
        key = (run.name, descent, pipe.id, rim)
        if key not in self._outlines:
            self._outlines[key] = outline(self.site, run, descent, pipe, rim=rim)
        return self._outlines[key]

    def course(self, run: Run, line: Line, descent: Descent) -> Course:
        """The course of a run whose ends and turns are known."""
        lengths = self.bench.lengths(self.bench.catalog.pipes[line.pipe])
        rim, within = isinstance(line.finish, OverRim), inside_m(self.site, run)
        rough = self.outline(run, descent, lengths.pipe, rim=rim)
        turn = (
            0.0
            if descent is Descent.LEVEL
            else _takes(line, 45 if descent is Descent.OFFSET else 90, lengths)
        )
        takes = line.start.takes_m(lengths) + self._tee_m(run.start, lengths)
        takes += sum(lengths.stub + one.takes_m(lengths) for one in line.fittings if one.at_head)
        beside, crest, over = takes + turn + lengths.stub, rough.start.crest_m, 0.0
        if line.outside is not None:
            crest, over = line.outside.crest_m(lengths.pipe), 2 * turn + lengths.stub
        if rough.start.upright:
            beside = max(within + OFF_WALL_M, 2 * _takes(line, 90, lengths) + lengths.stub)
        start = Beside(within, rough.start.upright, over=False, beside_m=beside, crest_m=crest, over_m=over)
        return replace(rough, start=start, finish=self._finish(line, lengths, lands=rough.lands))

    def _finish(self, line: Line, lengths: Lengths, *, lands: bool) -> Beside:
        """How a line ends."""
        end, turn = line.finish, _takes(line, 90, lengths)
        if not isinstance(end, OverRim):
            takes = end.takes_m(lengths) + self._tee_m(line.finish.at, lengths)
            return Beside(beside_m=takes + lengths.stub + (turn if lands else 0.0))
        within = self.site.vessels[end.at].wall_m + MOUTH_IN_M
        room = turn + end.corner.takes_m(lengths) + lengths.stub
        return Beside(within, over=True, beside_m=max(within + OFF_WALL_M, room) if lands else within)

    def _tee_m(self, at: str, lengths: Lengths) -> float:
        """What the tee at a junction takes of a line [m]; nothing where two runs meet in line."""
        return lengths.tee_half if at in self.site.junctions and self._met[at] > 2 else 0.0

    def routed(
        self, run: Run, line: Line, course: Course, places: Mapping[tuple[str, str], Place]
    ) -> Routed | None:
        """The run with its legs at their longest; None where there is no room for them at any level."""
        start, finish = self._begin(run, line, places), self._end(run, line, places)
        if start is None or finish is None:
            return None
        apart, extremes = self._bounds(run, course, start, finish, line)
        if extremes is None:
            return None
        low, high = extremes
        ways = [course.legs(*heights) for heights in (extremes if low != high else (low,))]
        laid = [replace(line, legs=legs, stands=course.runs) for legs in ways]
        if any(leg.length_m < -LEVEL_M for one in laid for leg in one.legs):
            return None
        measured = [slots_and_room(self.bench, self.site, one) for one in laid]
        if any(room < -LEVEL_M for _, room in measured):
            return None
        longest = tuple(max(each) for each in zip(*(slots for slots, _ in measured), strict=True))
        most = max(laid, key=lambda one: along_m(one.legs))
        length = line.length_m + along_m(most.legs)
        each_m = tuple(max(leg.length_m for leg in one) for one in zip(*ways, strict=True))
        return Routed(replace(most, length_m=length), longest, course, apart, each_m)

    def _begin(self, run: Run, line: Line, places: Mapping[tuple[str, str], Place]) -> Height | None:
        fixed = begins_at(self.site, run)
        if fixed is not None:
            return Height.at(fixed)
        end = line.start
        if not isinstance(end, AtVessel):
            return None
        return height_of(self.site, end, places.get((run.name, "start")), self.freeboard_m)

    def _end(self, run: Run, line: Line, places: Mapping[tuple[str, str], Place]) -> Height | None:
        end = line.finish
        if isinstance(end, AtVessel):
            return height_of(self.site, end, places.get((run.name, "finish")), self.freeboard_m)
        at = self.site.junctions[run.finish].at_m
        return None if at is None else Height.at(at)

    def _bounds(
        self, run: Run, course: Course, start: Height, finish: Height, line: Line
    ) -> tuple[tuple[Apart, ...], tuple[tuple[float, float], ...] | None]:
        """What is asked of levels, and the heights between which legs are longest; None if there are none."""
        lengths = self.bench.lengths(self.bench.catalog.pipes[line.pipe])
        height = course.plan.height_m
        if height is None:
            least, most = self._falls(run, course, line, lengths)
            low, high = max(least, start.low_m - finish.high_m), min(most, start.high_m - finish.low_m)
            if low > high + LEVEL_M:
                return (), None
            apart = tuple(self._apart(start, finish, least, most))
            return apart, ((finish.high_m + low, finish.high_m), (finish.high_m + high, finish.high_m))
        asked: list[Apart] = []
        ends: list[tuple[float, float]] = []
        least, most = self._falls(run, course, line, lengths)
        run_at = Height.at(height)
        for at, low, high in ((start, least, most), (finish, *self._lands(course, line, finish, lengths))):
            lowest, highest = max(low, at.low_m - height), min(high, at.high_m - height)
            if lowest > highest + LEVEL_M:
                return (), None
            asked += self._apart(at, run_at, low, high)
            ends.append((height + lowest, height + highest))
        return tuple(asked), tuple(zip(*ends, strict=True))

    def _apart(self, higher: Height, lower: Height, least_m: float, most_m: float) -> Iterator[Apart]:
        """What bounds on a difference of heights ask of levels; nothing where no level has a say in it.

        Each hole gives way to a whole millimetre of its own, and one that the water of another hole decides
        to that one's besides: downwards, or upwards where it stands over water at overload.
        """
        if higher.level == lower.level:
            return
        shift = higher.over_m - lower.over_m
        nearer = 1 + _over(lower) + (self._shared(higher) > 1)
        further = 1 + _over(higher) + (not _over(lower) and self._shared(lower) > 0)
        least, most = least_m - shift + nearer * MARK_M, most_m - shift - further * MARK_M
        yield Apart(higher.level, lower.level, least, most)

    def _shared(self, height: Height) -> int:
        """How many drains leave the vessel whose water decides a height."""
        return 0 if isinstance(height.level, str) else self._drains[height.level.vessel]

    def _lands(self, course: Course, line: Line, finish: Height, lengths: Lengths) -> tuple[float, float]:
        """Least and most that the finish stands over the height at which the run goes [m]."""
        if not course.lands:
            # What must go higher over the rim to turn down behind it does not run at this height.
            return 0.0, 0.0
        takes = 2 * _takes(line, 90, lengths) + lengths.stub
        height = course.plan.height_m
        assert height is not None
        return (takes, math.inf) if finish.low_m >= height else (-math.inf, -takes)

    def _falls(self, run: Run, course: Course, line: Line, lengths: Lengths) -> tuple[float, float]:
        """Least and most that the start may stand over the height at which the run goes [m]."""
        level = course.plan.distance_m + course.start.inside_m + course.finish.inside_m
        step = _steps_m(self.site, run) if run.kind is RunKind.PRESSURE else None
        if course.start.upright:
            if run.kind is RunKind.PRESSURE:
                return -math.inf, math.inf
            return line.start.takes_m(lengths) + _takes(line, 90, lengths) + lengths.stub, math.inf
        if course.descent is Descent.LEVEL:
            return 0.0, 0.0
        if course.descent is Descent.CREST:
            # It comes down from its crest, and runs on no higher than its hole.
            crest, low = course.start.crest_m, line.outside.centre_m if line.outside else None
            rises = 0.0 if crest is None or low is None else crest - low
            return max(0.0, 2 * _takes(line, 90, lengths) + lengths.stub - rises), math.inf
        if course.descent is Descent.DROP:
            least = 2 * _takes(line, 90, lengths) + lengths.stub
            return (-math.inf, -least) if step is not None and step > 0 else (least, math.inf)
        if course.descent is Descent.OFFSET:
            least = (2 * _takes(line, 45, lengths) + lengths.stub) / math.sqrt(2)
            room = course.plan.level_m[0] - course.start.beside_m - _takes(line, 45, lengths) - lengths.stub
            most = min(room, OFFSET_M)
            down = run.kind is RunKind.GRAVITY or (step is not None and step < 0)
            return (least, most) if down else (-most, -least)
        most = self.tilt * (level - course.finish.beside_m if course.lands else level)
        return 0.0 if run.kind is RunKind.GRAVITY else -most, most


def _takes(line: Line, angle: int, lengths: Lengths) -> float:
    """What the turns of an angle on a line take of the legs on either side [m], the most of any."""
    return max((turn.takes_m(lengths) for turn in line.corners if turn.angle == angle), default=0.0)


def _over(height: Height) -> bool:
    """Whether a height is told over its vessel's water at overload."""
    return not isinstance(height.level, str) and height.level.overloaded
