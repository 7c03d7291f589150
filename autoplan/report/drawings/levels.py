"""The levels to scale: vessels side by side in the order of the water, with everything that has a height."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from autoplan.report.alike import together
from autoplan.report.contract.built import GRAVITY, EndRow, RunRow, VesselRow
from autoplan.report.drawings.canvas import (
    EDGE,
    SMALL,
    TALLEST,
    WIDTH,
    Canvas,
    Spot,
    begun,
    fold,
    ident,
    spread,
    width_of,
)
from autoplan.report.drawings.inlets import COLUMNS as INLETS
from autoplan.report.drawings.inlets import MOUTHS, draw_slowed, rows, sentences
from autoplan.report.drawings.paint import DATUM, FAINT, HOLE, OVERLOAD, REST, RUNNING, THIN, WALL, WET, Look
from autoplan.report.drawings.tables import TableColumn, key, row_height, table
from autoplan.report.drawings.view import DesignView, Sheet, between, grouped, later, paged

ABREAST = {"mm": 5, "in": 4}
"""Most vessels side by side, by the unit of heights; more stand in a second drawing on the same scale."""

GAP = 30.0
"""Between two vessels [px]."""

PICTURE = 265.0
"""Height of the range from the lowest floor to the highest rim [px]."""

WIDEST = 66.0
"""A drawn vessel at most [px]."""

STUB = 6.0
"""What is drawn of a run that ends elsewhere [px]."""

PUMP = Look("#1b2430", 1.2, (), "#ffffff")


@dataclass(slots=True)
class _Gap:
    """What is to be written between two vessels: numbers of runs, at the heights of their ends."""

    x: float
    marks: list[tuple[float, str, tuple[float, float]]] = field(default_factory=list)


class _Picture:
    """Vessels drawn side by side.

    Args:
        canvas: where; `top` where the picture begins [px].
        answer: what; `groups` those vessels, by the number of their group.
        runs: alike runs together.
    """

    def __init__(
        self, canvas: Canvas, answer: DesignView, groups: Sequence[int], runs: Sequence[list[str]], top: float
    ) -> None:
        self.canvas, self.answer, self.groups, self.runs = canvas, answer, groups, runs
        vessels = answer.vessels.values()
        self.highest = max([*(v.rim_mm for v in vessels), *_crests(answer)])
        self.lowest = min(v.floor_mm - v.cone_mm for v in vessels)
        self.scale = PICTURE / (self.highest - self.lowest)
        count = len(groups)
        room = WIDTH - 2 * EDGE + 8.0
        self.wide = min(WIDEST, (room - (count + 1) * GAP) / count)
        self.left = EDGE - 4.0 + (room - count * self.wide - (count + 1) * GAP) / 2
        names = [
            fold(later(answer, answer.groups[at]), self.wide + GAP - 4.0, SMALL, bold=True) for at in groups
        ]
        self.names = [lines[:3] for lines in names]
        self.top = top + max(map(len, self.names)) * SMALL * 1.25 + 24.0
        self.taken: dict[int, Spot] = {}
        self.gaps = [_Gap(self.left + GAP / 2 + at * (self.wide + GAP)) for at in range(count + 1)]

    def y(self, mm: float) -> float:
        """Where a height above the datum is [px]."""
        return self.top + (self.highest - mm) * self.scale

    def x(self, column: int) -> tuple[float, float]:
        """Both walls of a vessel [px]."""
        left = self.left + GAP + column * (self.wide + GAP)
        return left, left + self.wide

    def draw(self) -> float:
        """All of it; answers where what comes next begins."""
        if self.lowest < 0.0 < self.highest:
            self.canvas.line(((EDGE - 6.0, self.y(0.0)), (WIDTH - EDGE + 6.0, self.y(0.0))), DATUM, "datum")
        for column, group in enumerate(self.groups):
            self._vessel(column, self.answer.groups[group])
        for names in self.runs:
            run = self.answer.runs[names[0]]
            self._run(run, self.answer.number(run))
        clear = max(self._numbers(gap) for gap in self.gaps)
        for column, group in enumerate(self.groups):
            self._figures(column, self.answer.groups[group][0])
        return max(self.y(self.lowest) + 20.0, clear)

    def _vessel(self, column: int, names: Sequence[str]) -> None:
        canvas, name = self.canvas, names[0]
        vessel, level = self.answer.vessels[name], self.answer.levels[name]
        left, right = self.x(column)
        floor, rim, water = self.y(vessel.floor_mm), self.y(vessel.rim_mm), self.y(level.water_mm)
        middle = (left + right) / 2
        fill = canvas.gravel if vessel.bed else canvas.water
        fill(left, water, right, floor)
        lines = self.names[column]
        for at, line in enumerate(lines):
            y = self.top - 24.0 - (len(lines) - 1 - at) * SMALL * 1.25
            canvas.text(middle, y, line, SMALL, "middle", bold=True)
        for what, mm, look in (
            ("overload", level.overload_mm, OVERLOAD),
            ("rest", level.rest_mm, REST),
            ("running", level.water_mm, RUNNING),
        ):
            if mm is not None:
                canvas.line(((left, self.y(mm)), (right, self.y(mm))), look, ident("level", name, what))
        if vessel.cone_mm > 0.0:
            self._cone(column, vessel)
        else:
            canvas.line(
                ((left, rim), (left, floor), (right, floor), (right, rim)), WALL, ident("vessel", name)
            )

    def _cone(self, column: int, vessel: VesselRow) -> None:
        """The walls of a vessel with a cone under its floor, and that cone."""
        left, right = self.x(column)
        floor, rim, tip = (self.y(mm) for mm in (vessel.floor_mm, vessel.rim_mm, _tip(vessel)))
        funnel = ((left, floor), ((left + right) / 2, tip), (right, floor))
        self.canvas.area(funnel, WET)
        self.canvas.line(((left, floor), (right, floor)), THIN)
        self.canvas.line(((left, rim), (left, floor)), WALL, ident("vessel", vessel.name))
        self.canvas.line(((right, rim), (right, floor)), WALL)
        self.canvas.line(funnel, WALL, ident("cone", vessel.name))

    def _figures(self, column: int, name: str) -> None:
        """Rim, water and floor in figures, beside what stands in the vessel at its right."""
        vessel, level = self.answer.vessels[name], self.answer.levels[name]
        left, right = self.x(column)
        floor, rim, water = self.y(vessel.floor_mm), self.y(vessel.rim_mm), self.y(level.water_mm)
        pumped = any(pump.vessel == name for pump in self.answer.design.pumps)
        crests = (self.y(mm) for mm in _crests(self.answer, name))
        above = min([rim, *crests, *((rim - 9.0,) if pumped else ())])
        in_floor = any(end.in_floor for _, end, _ in self.answer.ends_at(name))
        aside = 4.0 if pumped or in_floor else 0.0
        middle = (left + right) / 2 - aside
        mark, write = self.answer.mark, self.canvas.text
        write(middle, above - 5.0, mark(vessel.rim_mm), SMALL, "middle")
        least = 16.0
        if vessel.cone_mm > 0.0:
            # What leaves by the tip is drawn between it and its height.
            write(
                (left + right) / 2, self.y(_tip(vessel)) + 20.0, f"tip {mark(_tip(vessel))}", SMALL, "middle"
            )
            self._inside(column, floor - 3.0, mark(vessel.floor_mm), aside)
            least = 28.0
        else:
            write(middle, floor + (20.0 if in_floor else 12.0), mark(vessel.floor_mm), SMALL, "middle")
        if floor - water > least:
            self._inside(column, water + 11.5, mark(level.water_mm), aside)

    def _inside(self, column: int, y: float, figure: str, aside: float) -> None:
        """A figure within a vessel, beside what stands at its inlet; left out where that leaves no room."""
        left, right = self.x(column)
        reaches, mouth = self.taken.get(column, (left, -math.inf))
        beside = y - SMALL < mouth
        if beside:
            left = reaches
        if not beside or width_of(figure, SMALL) <= right - left - 2 * aside:
            self.canvas.text((left + right) / 2 - aside, y, figure, SMALL, "middle", halo=True)

    def _run(self, run: RunRow, figure: str) -> None:
        """A run between its vessels, as far as they stand in this picture."""
        at = [self._column(end.vessel) for end in run.ends]
        start, finish = at
        if run.kind == GRAVITY and start is not None and finish == start + 1:
            out = self._hole(run, run.ends[0], start, starts=True)
            into = self._hole(run, run.ends[1], finish, starts=False)
            self.canvas.pipe((out, into), pressed=False, gid=ident("run", run.name))
            middle = ((out[0] + into[0]) / 2, (out[1] + into[1]) / 2)
            self.gaps[finish].marks.append((middle[1], figure, middle))
            return
        for number, (end, column) in enumerate(zip(run.ends, at, strict=True)):
            if column is not None:
                self._end(run, end, column, figure, starts=number == 0)

    def _column(self, vessel: str) -> int | None:
        group = self.answer.group_of(vessel)
        return self.groups.index(group) if group in self.groups else None

    def _end(self, run: RunRow, end: EndRow, column: int, figure: str, *, starts: bool) -> None:
        """One end alone, with the number by which its other end is found."""
        gap = self.gaps[column + 1 if starts else column]
        gid = ident("run", run.name, "out" if starts else "in")
        if run.kind == GRAVITY:
            x, y = self._hole(run, end, column, starts=starts)
            away = STUB if starts else -STUB
            self.canvas.pipe(((x, y), (x + away, y)), pressed=False, gid=gid)
            gap.marks.append((y, figure, (x + away, y)))
        elif starts:
            self._pump(end.vessel, column, gap, figure, gid)
        else:
            self._inlet(run, end, column, gap, figure, gid)

    def _hole(self, run: RunRow, end: EndRow, column: int, *, starts: bool) -> tuple[float, float]:
        """A hole in a wall or floor, or an end over the rim; answers where the pipe leaves it."""
        name = end.vessel
        floor = self.answer.vessels[name].floor_mm
        left, right = self.x(column)
        wall = right if starts else left
        half = (end.hole_mm or 0.0) / 2
        gid = ident("hole", run.name, name)
        if end.in_floor:
            x, y = (right - 6.0 if starts else left + 6.0), self.y(floor)
            top = end.standpipe_top_above_floor_mm
            if top is not None:
                self.canvas.line(
                    ((x, self.y(floor + top)), (x, y)), Look(FAINT, 3.0), ident("standpipe", name)
                )
            wide = max(2.0, half * self.scale)
            self.canvas.box(x - wide, y - 2.0, x + wide, y + 2.0, HOLE, gid)
            self.canvas.pipe(((x, y + 2.0), (x, y + 7.0), (wall, y + 7.0)), pressed=False)
            return wall, y + 7.0
        centre = floor + (end.centre_above_floor_mm or 0.0)
        if centre < floor:
            return wall, self._by_tip(name, (left + right) / 2, wall, half, gid)
        if half:
            self.canvas.box(wall - 2.0, self.y(centre + half), wall + 2.0, self.y(centre - half), HOLE, gid)
        if not starts:
            made = draw_slowed(self.canvas, self.answer, run, left, self.wide, self.y, self.scale)
            if made is not None:
                self.taken[column] = made
        return wall, self.y(centre)

    def _by_tip(self, vessel: str, x: float, wall: float, half: float, gid: str) -> float:
        """A hole in the tip of a cone, and the pipe from it to below a wall; answers how high that is."""
        y, wide = self.y(_tip(self.answer.vessels[vessel])), max(2.0, half * self.scale)
        self.canvas.box(x - wide, y - 2.0, x + wide, y + 2.0, HOLE, gid)
        self.canvas.pipe(((x, y + 2.0), (x, y + 7.0), (wall, y + 7.0)), pressed=False)
        return y + 7.0

    def _pump(self, vessel: str, column: int, gap: _Gap, figure: str, gid: str) -> None:
        """A pump on the floor, and its pipe out over the rim."""
        _, right = self.x(column)
        own = self.answer.vessels[vessel]
        floor, rim = self.y(own.floor_mm), self.y(own.rim_mm)
        x, y = right - 6.5, floor - 8.5
        self.canvas.pipe(((x, y), (x, rim - 6.0), (right + 8.0, rim - 6.0)), pressed=True, gid=gid)
        self.canvas.disc(x, y, 5.5, PUMP, ident("pump", vessel))
        self.canvas.arrow(x, y - 4.0, 0.0, -1.0)
        gap.marks.append((rim - 6.0, figure, (right + 8.0, rim - 6.0)))

    def _inlet(self, run: RunRow, end: EndRow, column: int, gap: _Gap, figure: str, gid: str) -> None:
        """Where a run under pressure ends: over the rim, or through the wall."""
        left, _ = self.x(column)
        floor = self.answer.vessels[end.vessel].floor_mm
        crest = self.y(floor + (end.centre_above_floor_mm or 0.0))
        if end.penetration is not None:
            x, y = self._hole(run, end, column, starts=False)
            self.canvas.pipe(((x - STUB, y), (x + 3.0, y)), pressed=True, gid=gid)
            gap.marks.append((y, figure, (x - STUB, y)))
            return
        mouth = end.mouth_above_floor_mm
        down = crest + 8.0 if mouth is None else self.y(floor + mouth)
        points = ((left - 8.0, crest + 6.0), (left - 8.0, crest), (left + 7.0, crest), (left + 7.0, down))
        self.canvas.pipe(points, pressed=True, gid=gid)
        gap.marks.append((crest + 6.0, figure, (left - 8.0, crest + 6.0)))

    def _numbers(self, gap: _Gap) -> float:
        """The numbers between two vessels; answers what is clear of them."""
        wanted = [y for y, _, _ in gap.marks]
        places = spread(wanted, 17.5, self.top - 20.0, self.y(self.lowest) + 8.0)
        for (_, figure, (x, y)), place in zip(gap.marks, places, strict=True):
            if abs(place - y) > 1.0:
                self.canvas.leader(x, y, gap.x, place)
            self.canvas.number(gap.x, place, figure)
        return max(places, default=0.0) + 12.0


def _tip(vessel: VesselRow) -> float:
    """The lowest point of a vessel with a cone above the datum [mm]."""
    return vessel.floor_mm - vessel.cone_mm


def _crests(answer: DesignView, vessel: str | None = None) -> Iterator[float]:
    """How high pipes reach that come over a rim, above the datum [mm]."""
    for run in answer.runs.values():
        for end in run.ends:
            own = answer.vessels.get(end.vessel)
            high = end.centre_above_floor_mm
            if own is None or high is None or run.later or vessel not in (None, end.vessel):
                continue
            if end.penetration is None:
                yield own.floor_mm + high


def levels(answer: DesignView) -> Iterator[Sheet]:
    """One drawing, or several on one scale where there are many vessels."""
    groups = list(range(len(answer.groups)))
    abreast = ABREAST[answer.units.piece.unit]
    slices = [groups[at : at + abreast] for at in range(0, len(groups), abreast)]
    runs = _runs(answer)
    for name, title, some in paged("levels", "Levels, to scale", slices):
        yield from _sheets(answer, some, runs, name, title)


def _sheets(
    answer: DesignView, groups: Sequence[int], runs: Sequence[list[str]], name: str, title: str
) -> Iterator[Sheet]:
    """The picture with its tables; what is inside at inlets by itself where a page would not hold it too."""
    canvas, y = begun(title, f"{answer.datum} Numbers in rings are runs, listed below.")
    y = _Picture(canvas, answer, groups, runs, y + 10.0).draw() + 4.0
    beds = any(answer.vessels[answer.groups[at][0]].bed for at in groups)
    y = key(canvas, y, gravel=beds) + 2.0
    y = table(canvas, y, VESSELS, [_heights(answer, answer.groups[at]) for at in groups])
    here = {vessel for at in groups for vessel in answer.groups[at]}
    met = [names for names in runs if here & {answer.runs[names[0]].start, answer.runs[names[0]].finish}]
    y = table(
        canvas, y, RUNS, [[answer.number(answer.runs[names[0]]), *_told(answer, names)] for names in met]
    )
    inlets = rows(answer, [names for names in met if answer.runs[names[0]].finish in here])
    alt, said = list(_alt(answer, groups)), sentences(answer, sorted(here))
    apart = bool(inlets) and y + sum(row_height(INLETS, row) for row in inlets) > TALLEST
    if inlets and not apart:
        y = table(canvas, y, INLETS, inlets)
        alt += said
    canvas.para(EDGE, y - 2.0, f"{ENDS} {MOUTHS}" if inlets and not apart else ENDS, size=9.5, tone=FAINT)
    yield Sheet(name, title, " ".join(alt), canvas)
    if apart:
        canvas, y = begun("Inlets of settlers, from inside", MOUTHS)
        table(canvas, y + 4.0, INLETS, inlets)
        yield Sheet(f"{name}-inlets", "Inlets of settlers, from inside", " ".join(said), canvas)


ENDS = (
    "Leaves, arrives: the middle of the hole, a standpipe's lip, the mouth of a pipe over the rim. "
    "Fall: from water to water."
)
VESSELS = (
    TableColumn("vessel", 108.0, figures=False),
    TableColumn("floor", 48.0),
    TableColumn("at rest", 50.0),
    TableColumn("running", 54.0),
    TableColumn("overload", 58.0),
    TableColumn("rim", 50.0),
)
RUNS = (
    TableColumn("", 22.0, figures=False),
    TableColumn("run", 80.0, figures=False),
    TableColumn("pipe", 64.0, figures=False),
    TableColumn("leaves", 52.0),
    TableColumn("arrives", 52.0),
    TableColumn("fall", 50.0),
    TableColumn("loss", 50.0),
)


def _heights(answer: DesignView, names: Sequence[str]) -> list[str]:
    vessel, level = answer.vessels[names[0]], answer.levels[names[0]]
    figures = (vessel.floor_mm, level.rest_mm, level.water_mm, level.overload_mm, level.rim_mm)
    return [later(answer, names), *("-" if mm is None else answer.mark(mm) for mm in figures)]


def _runs(answer: DesignView) -> list[list[str]]:
    """The runs that meet a vessel, alike ones together, those by gravity first."""

    def likeness(name: str) -> tuple[object, ...]:
        run = answer.runs[name]
        heights = ((end.centre_above_floor_mm, end.mouth_above_floor_mm, end.in_floor) for end in run.ends)
        whole = tuple(tuple(round(value or 0.0) for value in end) for end in heights)
        ends = tuple(answer.group_of(end.vessel) for end in run.ends)
        return run.run_class, run.kind, run.pipe, ends, whole

    met = [
        name
        for name, run in answer.runs.items()
        if not run.later and {run.start, run.finish} & set(answer.vessels)
    ]
    met.sort(key=lambda name: int(answer.number(answer.runs[name])))
    return grouped(met, likeness)


def _told(answer: DesignView, names: Sequence[str]) -> list[str]:
    """A row for alike runs: name, pipe, heights of both ends, fall from water to water, loss."""
    first, loss = answer.runs[names[0]], [answer.runs[name].loss_mm for name in names]
    heights = []
    for end in first.ends:
        own = answer.vessels.get(end.vessel)
        above = end.mouth_above_floor_mm or end.centre_above_floor_mm
        if end.in_floor:
            above = end.standpipe_top_above_floor_mm or 0.0
        heights.append("-" if own is None or above is None else answer.mark(own.floor_mm + above))
    fall = fall_of(answer, first)
    figures = ["-" if fall is None else answer.mark(fall), between(loss, answer.mark)]
    return [together(names), answer.size(first), *heights, *figures]


def fall_of(answer: DesignView, run: RunRow) -> float | None:
    """From water to water along a run by gravity [mm]; None if pumped, from a junction or to no water."""
    if run.kind != GRAVITY or run.start not in answer.levels:
        return None
    end = answer.ends_in(run)
    if end is None or end == run.start:
        return None
    return answer.levels[run.start].water_mm - answer.levels[end].water_mm


def _alt(answer: DesignView, groups: Sequence[int]) -> Iterator[str]:
    """The drawing in sentences."""
    yield f"Vessels side by side in the order of the water. {answer.datum}"
    for at in groups:
        names = answer.groups[at]
        vessel, level = answer.vessels[names[0]], answer.levels[names[0]]
        rest = "" if level.rest_mm is None else f"at rest at {answer.said(level.rest_mm)}, "
        yield (
            f"{', '.join(names)}: floor at {answer.said(vessel.floor_mm)}, water {rest}running at "
            f"{answer.said(level.water_mm)}, at overload at {answer.said(level.overload_mm)}, rim at "
            f"{answer.said(vessel.rim_mm)}."
        )
        if vessel.cone_mm > 0.0:
            tip = answer.said(_tip(vessel))
            yield f"The cone below the floor of {', '.join(names)} has its tip at {tip}."
    here = {vessel for at in groups for vessel in answer.groups[at]}
    for run in answer.runs.values():
        fall = fall_of(answer, run)
        if run.start in here and fall is not None and not run.later:
            yield (
                f"{run.name}: a fall of {answer.said(fall)} from {run.start}, "
                f"loss {answer.said(run.loss_mm)}."
            )
