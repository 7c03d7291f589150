"""How a run that is known on the plan may go from height to height, by arithmetic of this file's own.

Taken from how people build (common practice): a pump's outlet is 150 mm over its vessel's floor and 150 mm
inside its wall, a floor drain 150 mm inside, a mouth behind a rim 100 mm inside; an upright before a wall
stands 60 mm off it, or further where its fittings need it; a pipe crosses a rim 30 mm and half its outside
over it. Out of a hole a drain comes down by a tilt of up to 3.5 %, by two 45s of up to 300 mm, or by a drop
leg that stands as near to the wall as its fittings let it. From a tee a pump's line that is to run higher or
lower gets there by the same three.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from autoplan.fittings.corner import Corner
from autoplan.fittings.rim import OverRim
from autoplan.line.route import Leg, Toward
from autoplan.problem.site import Draw, OnPlan, Run, RunKind, Site, Vessel

OUTLET_M, INSIDE_M, MOUTH_IN_M, OFF_WALL_M, OVER_RIM_M = 0.150, 0.150, 0.100, 0.060, 0.030
TILT, SLANT_M = 0.035, 0.300
ROOT = math.sqrt(2)


@dataclass(frozen=True)
class Ends:
    """Where a line begins and ends, and what its fittings take there [m].

    Attributes:
        begin_m, end_m: heights above the datum.
        outside_m: outside of its pipe.
        begin_takes_m, end_takes_m: what stands at the wall at either end.
        stub_m: the shortest piece between two parts.
        rim: the finish, where it is over a rim.
        takes: what a turn takes of a leg.
        crest_m: axis of a siphon pipe at its crest above the datum.
    """

    begin_m: float
    end_m: float
    outside_m: float
    begin_takes_m: float
    end_takes_m: float
    stub_m: float
    rim: OverRim | None
    takes: Callable[[Corner], float]
    crest_m: float = 0.0

    def turn(self, turns: Sequence[Corner], angle: int) -> float:
        """What a turn of an angle takes of a leg; all of one angle are alike."""
        return max((self.takes(turn) for turn in turns if turn.angle == angle), default=0.0)


@dataclass(frozen=True)
class Route:
    """One way for a run.

    Attributes:
        run, site: what is asked, and where it stands.
        how: "upright", "level", "tilt", "offset", "drop" or "crest".
        crosses: whether it comes down again behind the rim of the vessel that its pump stands in.
        lands: whether it goes up or down again to its end.
    """

    run: Run
    site: Site
    how: str
    crosses: bool
    lands: bool

    @property
    def plan(self) -> OnPlan:
        """How it goes on the plan."""
        assert self.run.plan is not None
        return self.run.plan

    @property
    def angles(self) -> tuple[int, ...]:
        """Its turns in order, the one down behind a rim left out."""
        first = {"upright": (90, 90, 90) if self.crosses else (90,), "offset": (45, 45), "drop": (90, 90)}
        first["crest"] = (90, 90, 90, 90)
        return (*first.get(self.how, ()), *self.plan.corners, *((90, 90) if self.lands else ()))

    @property
    def before(self) -> int:
        """How many legs there are before the first along the plan; valves stand in that."""
        return {"upright": 3 if self.crosses else 1, "offset": 2, "drop": 2, "crest": 4}.get(self.how, 0)

    def legs(self, ends: Ends, turns: Sequence[Corner]) -> list[Leg] | None:
        """Its legs; None where it rises or falls as it may not, or has no room for its fittings."""
        plan, begin, end = self.plan, ends.begin_m, ends.end_m
        along = end if self.at_end or plan.height_m is None else plan.height_m
        level, fall = list(plan.level_m), begin - along
        ninety, within = ends.turn(turns, 90), self.inside
        last: list[Leg] = []
        if self.lands:
            beside = ends.end_takes_m + ends.stub_m + ninety
            if ends.rim is not None:
                beyond = self.site.vessels[self.run.finish].wall_m + MOUTH_IN_M
                room = ninety + ends.takes(ends.rim.corner) + ends.stub_m
                beside = max(beyond + OFF_WALL_M, room)
                level[-1] += beyond
            level[-1] -= beside
            over = Toward.ALONG if ends.rim is None else Toward.OVER
            last = [up(end - along), Leg(beside, over)]
        elif ends.rim is not None:
            level[-1] += self.site.vessels[self.run.finish].wall_m + MOUTH_IN_M
        first: list[Leg] = []
        if self.how == "upright" and self.crosses:
            crest = self.crest(ends.outside_m)
            beside = max(within + OFF_WALL_M, 2 * ninety + ends.stub_m)
            first = [up(crest - begin), Leg(beside, Toward.OVER), up(along - crest)]
            level[0] += within - beside
        elif self.how == "upright":
            first = [up(along - begin)]
            level[0] += within
        elif self.how == "crest":
            beside, over = ends.begin_takes_m + ninety + ends.stub_m, 2 * ninety + ends.stub_m
            first = [Leg(beside, Toward.ALONG), up(ends.crest_m - begin), Leg(over, Toward.OVER)]
            first.append(up(along - ends.crest_m))
            level[0] -= beside + over
        elif self.how in ("offset", "drop"):
            turn = ends.turn(turns, 45) if self.how == "offset" else ninety
            beside = ends.begin_takes_m + turn + ends.stub_m
            first = [Leg(beside, Toward.ALONG), up(-fall)]
            level[0] -= beside
            if self.how == "offset":
                first[1] = Leg(ROOT * abs(fall), first[1].toward, -fall)
                level[0] -= abs(fall)
        if not self._allowed(fall, level):
            return None
        slope = -fall / sum(level) if self.how == "tilt" else 0.0
        ways = [Toward.ACROSS if place % 2 else Toward.ALONG for place in range(len(level))]
        middle = [
            Leg(length * math.hypot(1, slope), way, length * slope)
            for length, way in zip(level, ways, strict=True)
        ]
        return [*first, *middle, *last]

    def _allowed(self, fall: float, level: Sequence[float]) -> bool:
        """Whether a line may get down, or a pump's up, by so much in that way."""
        if any(length < 0 for length in level):
            return False
        down = self.run.kind is RunKind.GRAVITY
        if self.how == "tilt":
            return (not down or fall >= 0) and abs(fall) <= TILT * sum(level)
        if self.how == "offset":
            return abs(fall) <= SLANT_M and (self.steps or (fall > 0) is down)
        if self.how == "level":
            return abs(fall) <= 1e-6
        return fall > 0 if down else self.how in ("upright", "drop")

    @property
    def at_end(self) -> bool:
        """Whether it runs at the height of its end: a pump's line from a tee straight up to an inlet."""
        return self.run.kind is RunKind.PRESSURE and self.how in ("tilt", "offset") and not self.steps

    @property
    def steps(self) -> bool:
        """Whether it is a pump's line that runs at another height than its tee's."""
        return steps(self.site, self.run)

    @property
    def inside(self) -> float:
        """How far inside the outside of its vessel's wall it begins [m]."""
        return self.site.vessels[self.run.start].wall_m + INSIDE_M if self.how == "upright" else 0.0

    def crest(self, outside_m: float) -> float:
        """Where it crosses the rim of the vessel that its pump stands in [m]."""
        return crest_over(self.site.vessels[self.run.start], outside_m)


def ways_on_plan(site: Site, run: Run, outside_m: float, *, rim: bool, bends: bool) -> Iterator[Route]:
    """Every way that a run on the plan may take with pipe of such an outside [m]; what bends has no 45s."""
    assert run.plan is not None
    height, from_vessel = run.plan.height_m, run.start in site.vessels
    pumped = run.kind is RunKind.PRESSURE and from_vessel
    if pumped or (from_vessel and run.draw is Draw.STANDPIPE):
        hows = ["upright"]
    elif run.draw is Draw.OUTSIDE:
        hows = ["crest"]
    elif steps(site, run):
        hows = ["tilt", "offset", "drop"]
    elif run.kind is RunKind.PRESSURE:
        hows = [*([] if height is None else ["level"]), "tilt", "offset"]
    else:
        hows = ["tilt", "offset", "drop"] if height is None else ["drop"]
    for how in hows:
        if how == "offset" and bends:
            continue
        gently = run.kind is RunKind.PRESSURE and how in ("tilt", "offset") and not steps(site, run)
        own = None if gently else height
        crosses = lands = False
        if own is not None:
            crosses = pumped and crest_over(site.vessels[run.start], outside_m) > own
            junction = site.junctions.get(run.finish)
            if junction is not None:
                lands = junction.at_m != own
            else:
                lands = not rim or crest_over(site.vessels[run.finish], outside_m) > own
        yield Route(run, site, how, crosses, lands)


def steps(site: Site, run: Run) -> bool:
    """Whether a pump's line leaves a tee at another height than that at which it is to run."""
    if run.plan is None or run.kind is not RunKind.PRESSURE or run.start in site.vessels:
        return False
    return run.plan.height_m not in (None, site.junctions[run.start].at_m)


def begins(site: Site, run: Run) -> float | None:
    """Height at which a run begins [m]; None where it is drilled at a height of its own."""
    vessel = site.vessels.get(run.start)
    if vessel is None:
        return site.junctions[run.start].at_m
    if run.kind is RunKind.PRESSURE:
        return vessel.floor_m + OUTLET_M
    return vessel.floor_m - vessel.base_m if run.draw is Draw.STANDPIPE else None


def crest_over(vessel: Vessel, outside_m: float) -> float:
    """Axis of a pipe that crosses a rim [m]."""
    return vessel.floor_m + vessel.depth_m + OVER_RIM_M + outside_m / 2


def up(rise_m: float) -> Leg:
    """A leg straight up, or down."""
    return Leg(abs(rise_m), Toward.UP if rise_m >= 0 else Toward.DOWN, rise_m)


def have_room(
    legs: Sequence[Leg], turns: Sequence[Corner], ends: Ends, before: int, stood_m: Sequence[float]
) -> bool:
    """Whether each leg of rigid pipe has a stub between its turns, ends and what stands in it.

    Args:
        legs: its legs, one that turns down over a rim among them.
        turns: the turns between them.
        ends: where it begins and ends.
        before: place of the leg in which valves stand.
        stood_m: what each of them takes with the stub before it [m].
    """
    taken = [ends.begin_takes_m, *(ends.takes(turn) for turn in turns)]
    behind = [*taken[1:], 0.0 if ends.rim is not None else ends.end_takes_m]
    for place, leg in enumerate(legs):
        stands = sum(stood_m) if place == before else 0.0
        if leg.length_m < taken[place] + behind[place] + stands + ends.stub_m - 1e-6:
            return False
    return True
