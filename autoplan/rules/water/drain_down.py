"""Where it freezes, no line holds water when all is off but by a drain cock at its lowest."""

from __future__ import annotations

import heapq
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import accumulate, pairwise

from autoplan.fittings.drain_down import DrainDown
from autoplan.fittings.ends import AtVessel
from autoplan.outcome import Finding
from autoplan.places import OnRun
from autoplan.problem.low import low_pools
from autoplan.problem.site import Site
from autoplan.problem.standing import begins_at
from autoplan.rules.asked import Fitted
from autoplan.rules.base import Rule, answers
from autoplan.rules.survey import Survey

HOLDS_M = 0.010
"""Water no deeper than that leaves by the fall that a line is laid with by hand [m]; common practice."""

Point = tuple[str, int]


@dataclass(frozen=True, slots=True)
class _Ways:
    """Heights of points along lines above the datum [m], what each is joined to, and where water gets out."""

    heights: dict[Point, float]
    beside: dict[Point, set[Point]]
    exits: set[Point]


class DrainDownRule(Rule):
    """Water stays where every way out rises; there ice bursts the pipe. A cock at the lowest lets it out.

    In the model one line of each group that the problem lays lower than its ends gets a cock; the check
    looks for the lines that hold water in the drawing, by the heights of their legs.
    """

    id = "drain-down"
    sentence = "Where it freezes, a line that holds water when all is off has a drain cock at its lowest."
    unit = "missing"
    hard = False
    negotiable = True

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only where it freezes."""
        return site.wishes.frost

    @answers(Fitted)
    def can_be_emptied(self, asked: Fitted) -> bool:
        """A cock on one class of lines of each group that holds water, and on no other."""
        if asked.kind is not DrainDown:
            return True
        site = asked.site
        wanted = site.wishes.frost and asked.run.run_class in _emptied_by(site)
        return wanted is (asked.fitting is not None)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding for each place where water stays, at the line that is lowest there."""
        if not survey.site.wishes.frost:
            return
        ways = _ways(survey)
        for pool in _pools(ways):
            lowest = min(pool, key=lambda point: (ways.heights[point], point))
            bottom = ways.heights[lowest]
            served = any(
                ways.heights[point] <= bottom + HOLDS_M and _has_cock(survey, point) for point in pool
            )
            yield self.at_most(OnRun(lowest[0]), 0.0 if served else 1.0, 0.0)


def _emptied_by(site: Site) -> set[str]:
    """Of each group of lines that hold water the class with the fewest lines, the first of these."""
    sizes = Counter(run.run_class for run in site.runs.values())
    classes = ([site.runs[name].run_class for name in pool] for pool in low_pools(site))
    return {min(found, key=lambda one: sizes[one]) for found in classes}


def _has_cock(survey: Survey, point: Point) -> bool:
    """Whether a cock hangs on the leg that begins or ends at a point."""
    name, number = point
    line = survey.site.runs.get(name)
    if line is None:
        return False
    drawn = survey.drawn(name)
    return drawn.one(DrainDown) is not None and drawn.stands in (number - 1, number)


def _ways(survey: Survey) -> _Ways:
    """Every line whose legs have heights, point by point, joined at its junctions."""
    ways = _Ways({}, {}, set())
    for name, run in survey.site.runs.items():
        drawn = survey.drawn(name)
        begin = begins_at(survey.site, run)
        if begin is None and isinstance(drawn.start, AtVessel):
            begin = drawn.start.centre_m
        if drawn.later or not drawn.legs or begin is None:
            continue
        heights = accumulate((leg.rise_m for leg in drawn.legs), initial=begin)
        points: list[Point] = []
        for number, height in enumerate(heights):
            point = (name, number)
            ways.heights[point] = height
            ways.beside[point] = set()
            points.append(point)
        for one, other in pairwise(points):
            _join(ways, one, other)
        for point, at in ((points[0], run.start), (points[-1], run.finish)):
            if at in survey.site.vessels:
                ways.exits.add(point)
            else:
                _meet(ways, point, at)
    return ways


def _meet(ways: _Ways, point: Point, junction: str) -> None:
    """Join a line's end to a junction, which is as low as the lowest that comes there."""
    node = (junction, -1)
    ways.beside.setdefault(node, set())
    ways.heights[node] = min(ways.heights.get(node, ways.heights[point]), ways.heights[point])
    _join(ways, point, node)


def _join(ways: _Ways, one: Point, other: Point) -> None:
    ways.beside[one].add(other)
    ways.beside[other].add(one)


def _pools(ways: _Ways) -> Iterator[set[Point]]:
    """Places where water stays: from each, the highest point of every way out is higher.

    Filling from the ways out by the lowest first, as depressions of a terrain are filled (Barnes, Lehman and
    Mulla, Computers & Geosciences 62, 2014).
    """
    filled: dict[Point, float] = {}
    queue = [(ways.heights[point], point) for point in ways.exits]
    heapq.heapify(queue)
    while queue:
        level, point = heapq.heappop(queue)
        if point in filled:
            continue
        filled[point] = level
        for other in ways.beside[point] - filled.keys():
            heapq.heappush(queue, (max(level, ways.heights[other]), other))
    held = {point for point, level in filled.items() if level > ways.heights[point] + HOLDS_M}
    while held:
        pool, front = set(), {held.pop()}
        while front:
            point = front.pop()
            pool.add(point)
            front |= ways.beside[point] & held
            held -= front
        yield pool
