"""How a line goes from one height to another: its legs, level, upright or tilted, and the turns between.

On the plan a line is known by its level distances and corners; heights decide its uprights. So the same line
has longer or shorter legs as the water stands higher or lower, but always the same turns.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from autoplan.problem.site import OnPlan

LEVEL_M = 1e-6
"""Heights that differ by no more than this are one [m]."""


class Toward(StrEnum):
    """Which way a leg goes."""

    ALONG = "level along"
    ACROSS = "level across"
    UP = "up"
    DOWN = "down"
    OVER = "over"


class Descent(StrEnum):
    """How a line gets from the height of its start to that at which it runs."""

    LEVEL = "level"
    TILT = "tilt"
    OFFSET = "offset"
    DROP = "drop"
    CREST = "over a crest"


_ANGLES = {Descent.OFFSET: [45, 45], Descent.DROP: [90, 90], Descent.CREST: [90, 90, 90, 90]}
"""By way down what it turns before its first leg on the plan [degrees], each behind a leg of its own."""


@dataclass(frozen=True, slots=True)
class Leg:
    """A straight piece of a line, from corner to corner.

    Attributes:
        length_m: along the pipe [m].
        toward: which way it goes; None for a measured leg, whose way is not known.
        rise_m: how much higher it ends than it starts [m].
    """

    length_m: float
    toward: Toward | None = None
    rise_m: float = 0.0

    @property
    def level_m(self) -> float:
        """How far it goes on the plan [m]."""
        return math.sqrt(max(0.0, self.length_m**2 - self.rise_m**2))


@dataclass(frozen=True, slots=True)
class Beside:
    """How a line begins or ends beside the level distance from wall to wall.

    Attributes:
        inside_m: how far past the outside of the wall it begins or ends [m]; 0 at a hole in it or a junction.
        upright: whether it begins upright: at a pump or under a floor.
        over: whether it passes over the rim.
        beside_m: least length of the leg between wall and an upright beside it [m], or over the rim.
        crest_m: height at which it crosses the rim above the datum [m], where it begins inside; or to which
            a siphon pipe rises outside.
        over_m: length of the level leg over that pipe's crest [m].
    """

    inside_m: float = 0.0
    upright: bool = False
    over: bool = False
    beside_m: float = 0.0
    crest_m: float | None = None
    over_m: float = 0.0


@dataclass(frozen=True, slots=True)
class Course:
    """A line on the plan with all that decides its turns, while its heights may be open.

    Attributes:
        plan: its level distances and corners.
        start, finish: how it begins and ends.
        descent: how it leaves its start, where that is no upright.
        lands: whether it comes down or goes up again to its finish.
    """

    plan: OnPlan
    start: Beside
    finish: Beside
    descent: Descent = Descent.LEVEL
    lands: bool = False

    @property
    def crosses(self) -> bool:
        """Whether it goes up over the rim of the vessel it begins in, and down again behind it."""
        height = self.plan.height_m
        crest = self.start.crest_m if self.start.upright else None
        return crest is not None and height is not None and crest > height + LEVEL_M

    @property
    def angles(self) -> tuple[int, ...]:
        """Its turns in order [degrees], whatever its heights."""
        found: list[int] = []
        if self.start.upright:
            found += [90, 90, 90] if self.crosses else [90]
        else:
            found += _ANGLES.get(self.descent, [])
        found += self.plan.corners
        return (*found, 90, 90) if self.lands else tuple(found)

    @property
    def runs(self) -> int:
        """Place of its first leg on the plan, behind what takes it down or up to the height it runs at."""
        if self.start.upright:
            return 3 if self.crosses else 1
        return len(_ANGLES.get(self.descent, []))

    def legs(self, start_m: float, finish_m: float) -> tuple[Leg, ...]:
        """Its legs with its start and its finish at these heights above the datum [m].

        Where there is not room enough on the plan some come out too short, or negative.
        """
        run_m = finish_m if self.plan.height_m is None else self.plan.height_m
        level = list(self.plan.level_m)
        first = self._first(start_m, run_m, level)
        last = self._last(finish_m - run_m, level)
        tilted = not self.start.upright and self.descent is Descent.TILT
        slope = (run_m - start_m) / sum(level) if tilted else 0.0
        way = [Toward.ACROSS if number % 2 else Toward.ALONG for number in range(len(level))]
        along = (
            Leg(math.hypot(length, length * slope) * (1 if length >= 0 else -1), toward, length * slope)
            for length, toward in zip(level, way, strict=True)
        )
        return (*first, *along, *last)

    def _first(self, start_m: float, run_m: float, level: list[float]) -> list[Leg]:
        """From the start to the height at which it runs; takes what it needs of the first level leg."""
        start = self.start
        if not start.upright:
            if self.descent in (Descent.LEVEL, Descent.TILT):
                return []
            rise = run_m - start_m
            level[0] -= start.beside_m
            beside = Leg(start.beside_m, Toward.ALONG)
            if self.descent is Descent.DROP:
                return [beside, upright(rise)]
            if self.descent is Descent.CREST:
                crest = start_m if start.crest_m is None else start.crest_m
                level[0] -= start.over_m
                over = Leg(start.over_m, Toward.OVER)
                return [beside, upright(crest - start_m), over, upright(run_m - crest)]
            level[0] -= abs(rise)
            return [beside, Leg(math.sqrt(2) * abs(rise), upright(rise).toward, rise)]
        if not self.crosses:
            level[0] += start.inside_m
            return [upright(run_m - start_m)]
        assert start.crest_m is not None
        level[0] -= start.beside_m - start.inside_m
        over = Leg(start.beside_m, Toward.OVER)
        return [upright(start.crest_m - start_m), over, upright(run_m - start.crest_m)]

    def _last(self, rise: float, level: list[float]) -> list[Leg]:
        """From the height at which it runs to the finish; takes what it needs of the last level leg."""
        finish = self.finish
        if not self.lands:
            level[-1] += finish.inside_m
            return []
        level[-1] -= finish.beside_m - finish.inside_m
        return [upright(rise), Leg(finish.beside_m, Toward.OVER if finish.over else Toward.ALONG)]


def along_m(legs: Iterable[Leg]) -> float:
    """Length of legs along the pipe [m]."""
    return sum(leg.length_m for leg in legs)


def upright(rise_m: float) -> Leg:
    """A leg straight up [m], or down where that is negative."""
    return Leg(abs(rise_m), Toward.UP if rise_m >= 0 else Toward.DOWN, rise_m)


def measured(legs_m: tuple[float, ...]) -> tuple[Leg, ...]:
    """Legs as they were measured [m], their way unknown."""
    return tuple(Leg(length) for length in legs_m)
