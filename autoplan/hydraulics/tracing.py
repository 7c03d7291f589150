"""A walk of the water remembered on its way, so that levels can be drawn against time."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeAlias

from autoplan.hydraulics.basins import TOLERANCE_M, Basin, Channel, History, Walk, Watch, Waters
from autoplan.hydraulics.cubic import between
from autoplan.hydraulics.stepping import Step

Point: TypeAlias = tuple[float, float]
"""A time [s] and a level [m]."""

SHARES = (0.25, 0.5, 0.75, 1.0)
"""Where in a step levels are read [-]."""

FINEST_M = 5e-4
"""How far a thinned trace may lie beside what it was thinned from, where that leaves it short enough [m]."""


class Tracer:
    """Lets water run as `basins.walk` does, one time after the other, and notes every level on the way."""

    def __init__(self) -> None:
        self.now = 0.0
        self.points: dict[str, list[Point]] = {}

    def __call__(
        self,
        basins: Sequence[Basin],
        links: Sequence[Channel],
        start: Waters,
        seconds: float,
        watches: Sequence[Watch] = (),
    ) -> History:
        """Let the water run for so long, from where the time before ended.

        Args:
            basins, links, start, seconds, watches: as for `basins.walk`.

        Returns:
            What happened.
        """
        walk = _Noted(basins, links, start, watches, TOLERANCE_M)
        for at, basin in enumerate(basins):
            noted = self.points.setdefault(basin.name, [])
            noted.append((self.now, walk.levels[at]))
        seen = walk.run(seconds)
        for at, basin in enumerate(basins):
            self.points[basin.name] += ((self.now + when, levels[at]) for when, levels in walk.noted)
        self.now += seconds
        return seen


class _Noted(Walk):
    """A walk that notes the levels within each of its steps."""

    noted: list[tuple[float, tuple[float, ...]]]

    def run(self, seconds: float) -> History:
        """Let the water run for so long [s]."""
        self.noted = []
        return super().run(seconds)

    def _take(self, step: Step) -> bool:
        size, per_m2 = len(self.basins), self.stepper.per_m2
        for share in SHARES:
            slopes = [per_m2[at] * step.seconds for at in range(size)]
            levels = tuple(
                between(was, now, slope * gain, slope * last, share)
                for was, now, slope, gain, last in zip(
                    self.levels, step.levels, slopes, self.gains, step.gains, strict=False
                )
            )
            self.noted.append((self.now + share * step.seconds, levels))
        return super()._take(step)


def thinned(points: Sequence[Point], most: int) -> list[Point]:
    """The points that matter most (Douglas and Peucker, Cartographica 10, 1973; by height).

    Args:
        points: in the order of time, at least two.
        most: how many may be left, at least two.

    Returns:
        The first, the last and those of the others without which the line would pass some point by more than
        a tolerance, `FINEST_M` or the least doubling of it that leaves no more than `most`.
    """
    off_m = FINEST_M
    while len(kept := _within(points, off_m)) > most:
        off_m *= 2.0
    return kept


def _within(points: Sequence[Point], off_m: float) -> list[Point]:
    keep, open_ = {0, len(points) - 1}, [(0, len(points) - 1)]
    while open_:
        first, last = open_.pop()
        inside = range(first + 1, last)
        far = max(inside, key=lambda at: _beside(points[at], points[first], points[last]), default=first)
        if far != first and _beside(points[far], points[first], points[last]) > off_m:
            keep.add(far)
            open_ += [(first, far), (far, last)]
    return [points[at] for at in sorted(keep)]


def _beside(point: Point, first: Point, last: Point) -> float:
    """How far a point lies over or under the line from one to another [m]; a jump counts to the nearer."""
    seconds = last[0] - first[0]
    if seconds <= 0.0:
        return min(abs(point[1] - first[1]), abs(point[1] - last[1]))
    share = (point[0] - first[0]) / seconds
    return abs(point[1] - first[1] - share * (last[1] - first[1]))
