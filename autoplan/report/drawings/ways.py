"""How each run goes: unrolled from the side with its heights, and from above with its corners, to scale."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from autoplan.report.alike import together
from autoplan.report.contract.built import PRESSURE, LegRow, RunRow
from autoplan.report.drawings.canvas import (
    EDGE,
    SMALL,
    WIDTH,
    Canvas,
    Spot,
    begun,
    ident,
    short,
    spread,
    width_of,
)
from autoplan.report.drawings.paint import RUNNING, THIN, WALL
from autoplan.report.drawings.tables import TableColumn, table
from autoplan.report.drawings.view import DesignView, Sheet, grouped

SIDE, ABOVE = 230.0, 150.0
"""Height of the view from the side, and of that from above, at most [px]."""

LARGEST = 0.5
"""Scale at most [px/mm]."""

VESSEL = 26.0
"""What is drawn of a vessel beside its wall [px]."""

BEYOND_MM = 120.0
"""How far a wall is drawn over and under the run that meets it [mm]."""

PITCH = 46.0
"""Between two lengths written side by side [px]."""

COLUMN = 52.0
"""Room at the right for lengths written one under the other [px]."""

COLUMNS = (
    TableColumn("", 24.0, figures=False),
    TableColumn("goes", 128.0, figures=False),
    TableColumn("length", 66.0),
    TableColumn("from height", 76.0),
    TableColumn("to height", 76.0),
)


@dataclass(frozen=True, slots=True)
class _Point:
    """A corner of an unrolled run: how far along on the plan, how high above the datum [mm]."""

    along: float
    high: float


def ways(answer: DesignView) -> Iterator[Sheet]:
    """A drawing for each run whose legs are known, alike ones once; none of measured ones."""
    known = [name for name, run in answer.runs.items() if run.line and _known(run)]

    def likeness(name: str) -> tuple[object, ...]:
        run = answer.runs[name]
        legs = tuple((leg.toward, round(leg.length_mm), round(leg.rise_mm or 0.0)) for leg in run.legs)
        ends = tuple(_vessel_like(answer, end.vessel) for end in run.ends)
        return run.run_class, legs, round(run.start_height_mm or 0.0), ends

    for names in grouped(known, likeness):
        yield _sheet(answer, names)


def _known(run: RunRow) -> bool:
    return (
        run.start_height_mm is not None
        and bool(run.legs)
        and all(leg.rise_mm is not None for leg in run.legs)
    )


def _vessel_like(answer: DesignView, name: str) -> object:
    """What is drawn of a vessel."""
    vessel = answer.vessels.get(name)
    if vessel is None:
        return None
    return vessel.kind, round(vessel.floor_mm), round(vessel.rim_mm), round(answer.levels[name].water_mm)


def _sheet(answer: DesignView, names: Sequence[str]) -> Sheet:
    run = answer.runs[names[0]]
    title = f"The way it goes: {together(names)}"
    canvas, y = begun(
        title,
        f"{'' if len(names) == 1 else 'The same for each. '}From the side, unrolled into one plane, and from "
        f"above, both to scale. Figures at legs are lengths in {answer.unit}, corner to corner. To which "
        "hand a corner turns your site decides; here they turn to and fro.",
    )
    y = _Side(canvas, answer, run, y).draw()
    if run.level_mm:
        y = _from_above(canvas, answer, run, y + 8.0)
    points = _points(run)
    rows = [
        [
            str(number),
            _goes(leg),
            answer.said(leg.length_mm),
            answer.said(start.high),
            answer.said(end.high),
        ]
        for number, (leg, (start, end)) in enumerate(zip(run.legs, pairwise(points), strict=True), start=1)
    ]
    y = table(canvas, y + 6.0, COLUMNS, rows)
    canvas.para(EDGE, y, answer.datum, size=SMALL)
    return Sheet(ident("way", names[0]), title, " ".join(_alt(answer, names, rows)), canvas, names[0])


def _goes(leg: LegRow) -> str:
    """Which way a leg goes, in words."""
    rise = leg.rise_mm or 0.0
    tilted = round(rise) and leg.toward not in ("up", "down")
    aslant = leg.toward in ("up", "down") and leg.length_mm - abs(rise) > 1.0
    return f"{leg.toward}" + (", falling" if rise < 0 else ", rising") * bool(tilted) + ", aslant" * aslant


def _level(leg: LegRow) -> float:
    """How far a leg goes on the plan [mm]."""
    return math.sqrt(max(0.0, leg.length_mm**2 - (leg.rise_mm or 0.0) ** 2))


def _points(run: RunRow) -> list[_Point]:
    """The corners of a run, unrolled; 0 along is the outside of the wall that it starts at."""
    points = [_Point(-run.start_inside_mm, run.start_height_mm or 0.0)]
    for leg in run.legs:
        points.append(_Point(points[-1].along + _level(leg), points[-1].high + (leg.rise_mm or 0.0)))
    return points


class _Side:
    """A run from the side.

    Args:
        canvas: where; `top` where the picture begins [px].
        answer: what; `run` which.
    """

    def __init__(self, canvas: Canvas, answer: DesignView, run: RunRow, top: float) -> None:
        self.canvas, self.answer, self.run = canvas, answer, run
        self.points = _points(run)
        heights = [point.high for point in self.points]
        self.low, self.high = min(heights) - BEYOND_MM, max(heights) + BEYOND_MM
        self.least = min(0.0, *(point.along for point in self.points))
        most = max(self.points[-1].along, 1.0)
        room = WIDTH - 2 * EDGE - 2 * VESSEL
        self.scale = min(LARGEST, room / (most - self.least), SIDE / (self.high - self.low))
        self.left = EDGE + VESSEL
        self.top = top + 34.0

    def x(self, along: float) -> float:
        """Where a distance along the run is [px]."""
        return self.left + (along - self.least) * self.scale

    def y(self, high: float) -> float:
        """Where a height above the datum is [px]."""
        return self.top + (self.high - high) * self.scale

    def draw(self) -> float:
        """All of it; answers where what comes next begins."""
        run, bottom = self.run, self.y(self.low)
        wall = self.points[-1].along - run.finish_inside_mm
        self._end(run.ends[0].vessel, self.x(0.0), starts=True)
        self._end(run.ends[1].vessel, self.x(wall), starts=False)
        for number, (start, end) in enumerate(pairwise(self.points), start=1):
            spots = ((self.x(start.along), self.y(start.high)), (self.x(end.along), self.y(end.high)))
            self.canvas.pipe(spots, pressed=run.kind == PRESSURE, gid=ident("leg", run.name, str(number)))
        middles = [
            ((self.x(a.along) + self.x(b.along)) / 2, (self.y(a.high) + self.y(b.high)) / 2)
            for a, b in pairwise(self.points)
        ]
        self._lengths(middles, 0, self.top - 6.0, over=True)
        self._lengths(middles, 1, bottom + SMALL + 4.0, over=False)
        names = bottom + 2 * SMALL + 10.0
        room = (WIDTH - 3 * EDGE) / 2
        came, goes = (short(name, room, SMALL, bold=True) for name in (run.start, run.finish))
        self.canvas.text(EDGE, names, came, SMALL, bold=True)
        least, most = EDGE + room + EDGE, WIDTH - EDGE - width_of(goes, SMALL, bold=True)
        self.canvas.text(min(max(self.x(wall), least), most), names, goes, SMALL, bold=True)
        return names + 4.0

    def _lengths(self, middles: Sequence[Spot], first: int, y: float, *, over: bool) -> None:
        """The lengths of every second leg, with a thin line to each."""
        some = range(first, len(middles), 2)
        places = spread([middles[at][0] for at in some], PITCH, EDGE + 22.0, WIDTH - EDGE - 22.0)
        for at, place in zip(some, places, strict=True):
            words = self.answer.mark(self.run.legs[at].length_mm)
            self.canvas.leader(*middles[at], place, y + (2.0 if over else -SMALL))
            self.canvas.text(place, y, words, SMALL, "middle", halo=True)

    def _end(self, name: str, x: float, *, starts: bool) -> None:
        """The wall of a vessel with its water, as far as it is near; a tick at a junction."""
        vessel = self.answer.vessels.get(name)
        if vessel is None:
            at = self.points[0 if starts else -1]
            self.canvas.line(((x, self.y(at.high) - 7.0), (x, self.y(at.high) + 7.0)), THIN)
            return
        inside = self.run.start_inside_mm if starts else self.run.finish_inside_mm
        wide = max(VESSEL, inside * self.scale + 8.0)
        far = x - wide if starts else x + wide
        floor, rim = max(vessel.floor_mm, self.low), min(vessel.rim_mm, self.high)
        water = self.answer.levels[name].water_mm
        if rim <= floor:
            return
        if floor < water:
            top = min(water, rim)
            fill = self.canvas.gravel if vessel.bed else self.canvas.water
            fill(min(x, far), self.y(top), max(x, far), self.y(floor))
            if water <= rim:
                self.canvas.line(((x, self.y(water)), (far, self.y(water))), RUNNING)
        points = [(x, self.y(rim)), (x, self.y(floor))]
        if vessel.floor_mm >= self.low:
            points.append((far, self.y(floor)))
        self.canvas.line(points, WALL, ident("wall", "start" if starts else "finish"))


def _from_above(canvas: Canvas, answer: DesignView, run: RunRow, top: float) -> float:
    """A run from above: level distances from wall to wall, with the corners; answers where it ends."""
    spots, heading, turn = [(0.0, 0.0)], 0.0, 1.0
    for number, level in enumerate(run.level_mm or ()):
        if number:
            heading += turn * math.radians(run.corners[number - 1])
            turn = -turn
        x, y = spots[-1]
        spots.append((x + level * math.cos(heading), y + level * math.sin(heading)))
    right, bottom = max(max(x for x, _ in spots), 1.0), max(max(y for _, y in spots), 1.0)
    scale = min(LARGEST, (WIDTH - 2 * EDGE - 2 * VESSEL - COLUMN) / right, ABOVE / bottom)
    top += 26.0
    drawn = [(EDGE + VESSEL + x * scale, top + 10.0 + y * scale) for x, y in spots]
    for number, (start, end) in enumerate(pairwise(drawn), start=1):
        gid = ident("above", run.name, str(number))
        canvas.pipe((start, end), pressed=run.kind == PRESSURE, gid=gid)
    _across(canvas, answer, run.start, drawn[0], drawn[1])
    _across(canvas, answer, run.finish, drawn[-1], drawn[-2])
    middles = [((a[0] + b[0]) / 2, (a[1] + b[1]) / 2) for a, b in pairwise(drawn)]
    steep = [abs(b[1] - a[1]) > abs(b[0] - a[0]) for a, b in pairwise(drawn)]
    words = [answer.mark(level) for level in run.level_mm or ()]
    flat = [at for at, down in enumerate(steep) if not down]
    beside = [at for at, down in enumerate(steep) if down]
    for at, x in zip(flat, spread([middles[at][0] for at in flat], PITCH, EDGE + 22.0, WIDTH), strict=True):
        canvas.leader(*middles[at], x, top - 8.0)
        canvas.text(x, top - 10.0, words[at], SMALL, "middle", halo=True)
    column = max(x for x, _ in drawn) + VESSEL + 6.0
    for at, y in zip(beside, spread([middles[at][1] for at in beside], 13.0, top, math.inf), strict=True):
        canvas.leader(*middles[at], column - 2.0, y)
        canvas.text(column, y + 3.6, words[at], SMALL)
    return max(y for _, y in drawn) + 16.0


def _across(canvas: Canvas, answer: DesignView, name: str, at: Spot, other: Spot) -> None:
    """A vessel's wall across the end of a run, seen from above."""
    if name not in answer.vessels:
        return
    long = math.hypot(other[0] - at[0], other[1] - at[1]) or 1.0
    dx, dy = (other[0] - at[0]) / long * 9.0, (other[1] - at[1]) / long * 9.0
    canvas.line(((at[0] - dy, at[1] + dx), (at[0] + dy, at[1] - dx)), WALL)


def _alt(answer: DesignView, names: Sequence[str], rows: Sequence[Sequence[str]]) -> Iterator[str]:
    run = answer.runs[names[0]]
    yield f"The way of {', '.join(names)} from {run.start} to {run.finish}, from the side and from above."
    for number, goes, length, start, end in rows:
        yield f"Leg {number}: {goes}, {length}, from {start} to {end}."
