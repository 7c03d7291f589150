"""Where to drill: the wall of each vessel seen from inside, to scale, and its floor where that has holes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from autoplan.report.alike import together
from autoplan.report.contract.built import HoleRow, RimRow, VesselRow
from autoplan.report.drawings.canvas import (
    EDGE,
    SMALL,
    TALLEST,
    Canvas,
    begun,
    ident,
    letter,
    spread,
    width_of,
)
from autoplan.report.drawings.paint import FAINT, GROUND, INK, OVERLOAD, REST, RUNNING, THIN, WALL, Look
from autoplan.report.drawings.ring import by_letter, ring
from autoplan.report.drawings.tables import ROW_HEIGHT, TableColumn, table
from autoplan.report.drawings.view import DesignView, Sheet, paged
from autoplan.report.units import MM_M

WALL_RIGHT = 280.0
"""Where the drawn part of the wall ends; the levels are named to its right [px]."""

PICTURE = 250.0
"""Height of the wall from floor to rim at most [px]."""

LARGEST = 0.9
"""Scale at most [px/mm]."""

FLOOR = 46.0
"""Height of the strip of floor that is shown, more where a hole is wider [px]."""

MOST = TALLEST + 5 * ROW_HEIGHT
"""Height of a drawing from which on brackets have one of their own [px]."""

APART = 6.0
"""Between two holes side by side [px]."""

WALL_FACE = Look(INK, 0.0, (), GROUND)
UPRIGHT = Look(FAINT, 0.8, (), GROUND)


@dataclass(frozen=True, slots=True)
class _Alike:
    """Holes that are drilled alike: their letter, the holes, what they are in."""

    letter: str
    holes: tuple[HoleRow, ...]

    @property
    def one(self) -> HoleRow:
        """Any of them."""
        return self.holes[0]

    @property
    def centre_mm(self) -> float:
        """Their height; of those in the floor that of the floor."""
        return self.one.centre_above_floor_mm or 0.0


class _Wall:
    """One vessel's wall, or as much of it as its holes take.

    Args:
        canvas: where; `top` where the picture begins [px].
        answer: what; `vessel` whose wall.
        some: the holes that are shown.
    """

    def __init__(
        self, canvas: Canvas, answer: DesignView, vessel: VesselRow, some: Sequence[_Alike], top: float
    ) -> None:
        self.canvas, self.answer, self.vessel, self.some = canvas, answer, vessel, some
        self.level = answer.levels[vessel.name]
        self.top = top + 14.0
        self.scale = scale_of(vessel)
        self.floor = self.top + vessel.depth_mm * self.scale

    def y(self, mm: float) -> float:
        """Where a height above the inside floor is [px]."""
        return self.floor - mm * self.scale

    def draw(self) -> float:
        """All of it; answers where what comes next begins."""
        canvas = self.canvas
        water = self.y(self.level.water_mm - self.vessel.floor_mm)
        canvas.water(EDGE, water, WALL_RIGHT, self.floor)
        clear = self._levels()
        walls = [group for group in self.some if group.one.place != "floor"]
        x, bottom = EDGE + 6.0, self.floor
        for group in walls:
            x = self._group(group, x)
        floors = [group for group in self.some if group.one.place == "floor"]
        if floors:
            widest = max(group.one.hole_mm for group in floors) * self.scale
            bottom += max(FLOOR, widest + 2 * APART)
            canvas.box(EDGE, self.floor, WALL_RIGHT, bottom, WALL_FACE)
            x = EDGE + 6.0
            for group in floors:
                x = self._in_floor(group, x, (self.floor + bottom) / 2)
            canvas.line(((EDGE, bottom), (WALL_RIGHT, bottom)), THIN)
        name = self.vessel.name
        canvas.line(((EDGE, self.floor), (WALL_RIGHT, self.floor)), WALL, ident("floor", name))
        canvas.line(((EDGE, self.top), (WALL_RIGHT, self.top)), WALL, ident("rim", name))
        return max(bottom + 10.0, clear)

    def _levels(self) -> float:
        """Rim, water and floor, named at the right; answers what is clear of the words."""
        floor, name = self.vessel.floor_mm, self.vessel.name
        lines = [("rim", self.vessel.rim_mm, None), ("overload", self.level.overload_mm, OVERLOAD)]
        lines += [("running", self.level.water_mm, RUNNING)]
        if self.level.rest_mm is not None:
            lines.append(("at rest", self.level.rest_mm, REST))
        lines.append(("floor", floor, None))
        ys = [self.y(mm - floor) for _, mm, _ in lines]
        places = spread(ys, 13.0, self.top - 4.0, self.floor + 8.0)
        for (what, mm, look), y, place in zip(lines, ys, places, strict=True):
            if look is not None:
                self.canvas.line(((EDGE, y), (WALL_RIGHT, y)), look, ident("level", name, what))
            self.canvas.leader(WALL_RIGHT, y, WALL_RIGHT + 9.0, place)
            self.canvas.text(WALL_RIGHT + 11.0, place + 3.5, f"{what} {self.answer.mark(mm - floor)}", SMALL)
        return max(places) + 10.0

    def _group(self, group: _Alike, x: float) -> float:
        """Holes alike, side by side, their height told once; answers where the next begin."""
        radius = group.one.hole_mm / 2 * self.scale
        pitch = _pitch(group, self.scale)
        wide = _wide(self.answer, group, self.scale)
        centre = self.y(group.centre_mm)
        first = x + (wide - pitch * (len(group.holes) - 1)) / 2
        if group.one.place != "wall":
            self._upright(group, first)
        for number, hole in enumerate(group.holes):
            at = first + number * pitch
            gid = ident("hole", hole.run, hole.vessel, hole.place)
            self.canvas.hole(at, centre, radius, gid)
        foot = first + pitch * (len(group.holes) - 1) + max(radius, 3.0) + 3.5
        self.canvas.line(((foot - 6.0, centre), (foot + 3.0, centre)), THIN)
        self.canvas.line(((foot, centre), (foot, self.floor)), THIN)
        self.canvas.arrow(foot, centre, 0.0, -1.0, FAINT)
        self.canvas.arrow(foot, self.floor, 0.0, 1.0, FAINT)
        self._label(group, x + wide / 2, centre, radius)
        return x + wide + APART

    def _label(self, group: _Alike, middle: float, centre: float, radius: float) -> None:
        """The letter and the height, over the holes, or under them where the rim is near."""
        text = f"{group.letter}  {self.answer.mark(group.centre_mm)}"
        above = centre - radius - 6.0
        y = above if above - SMALL > self.top + 2.0 else centre + radius + SMALL + 5.0
        self.canvas.text(middle, y, text, SMALL, "middle", bold=True, halo=True)

    def _upright(self, group: _Alike, x: float) -> None:
        """The pipe that a hole is in which is not in the wall."""
        outside = self.answer.wide(group.one.part)
        half = max(3.0, outside / 2 * self.scale, group.one.hole_mm / 2 * self.scale + 1.5)
        top = self.y(_top_of(self.answer, group.one))
        self.canvas.box(x - half, top, x + half, self.floor, UPRIGHT)

    def _in_floor(self, group: _Alike, x: float, middle: float) -> float:
        """Holes alike in the floor, seen from above; answers where the next begin."""
        radius, pitch = group.one.hole_mm / 2 * self.scale, _pitch(group, self.scale)
        wide = _wide(self.answer, group, self.scale)
        for number, hole in enumerate(group.holes):
            at = x + 16.0 + radius + number * pitch
            gid = ident("hole", hole.run, hole.vessel, "floor")
            self.canvas.hole(at, middle, radius, gid)
        self.canvas.text(x, middle + 3.6, group.letter, SMALL, bold=True)
        last = x + 16.0 + 2 * radius + pitch * (len(group.holes) - 1)
        self.canvas.text(
            last + 8.0, middle + 3.6, "in the floor, seen from above", SMALL, tone=FAINT, halo=True
        )
        return x + wide + APART


def scale_of(vessel: VesselRow) -> float:
    """Pixels to a millimetre of a vessel's wall."""
    return min(LARGEST, PICTURE / vessel.depth_mm)


def _pitch(group: _Alike, scale: float) -> float:
    return group.one.hole_mm * scale + APART


def _wide(answer: DesignView, group: _Alike, scale: float) -> float:
    """Width that holes alike take with their height beside them and their label [px]."""
    holes = _pitch(group, scale) * len(group.holes) + 12.0
    if group.one.place == "floor":
        return holes + 190.0
    text = f"{group.letter}  {answer.mark(group.centre_mm)}"
    return max(holes, width_of(text, SMALL, bold=True) + 6.0)


def _top_of(answer: DesignView, hole: HoleRow) -> float:
    """How high the pipe reaches that a hole is in, over the floor [mm]."""
    for run, end, _ in answer.ends_at(hole.vessel):
        if run.name == hole.run:
            tops = (end.standpipe_top_above_floor_mm, end.centre_above_floor_mm)
            return max(top for top in (*tops, 0.0) if top is not None)
    return hole.centre_above_floor_mm or 0.0


@dataclass(frozen=True, slots=True)
class _OverRim:
    """Pipes over a rim that are held alike: their letter, and each."""

    letter: str
    rims: tuple[RimRow, ...]


def drilling(answer: DesignView) -> Iterator[Sheet]:
    """A drawing for each vessel that has holes, alike vessels once; several where there are many holes.

    What goes over its rim is in the first of them; of a vessel without holes, or where a page would not hold
    both, it has one of its own.
    """
    for names in answer.groups:
        holes = [hole for hole in answer.design.holes if hole.vessel == names[0]]
        groups = _groups(holes)
        rims = _rims(answer, names[0], len(groups))
        pages = list(_pages(answer, answer.vessels[names[0]], groups))
        about = ident("drilling", names[0]), f"Holes to drill: {together(names)}"
        waiting = rims
        for name, title, some in paged(*about, pages):
            sheet = _sheet(answer, names, some, waiting, name, title)
            if waiting and sheet.canvas.height > MOST:
                sheet = _sheet(answer, names, some, (), name, title)
            elif waiting:
                waiting = []
            yield sheet
        if waiting:
            yield _rim_sheet(answer, names, waiting)


def _rims(answer: DesignView, vessel: str, letters: int) -> list[_OverRim]:
    """Pipes over a vessel's rim by what they are built as and held by, behind so many letters of holes."""
    alike: dict[tuple[object, ...], list[RimRow]] = {}
    for rim in answer.design.rims:
        if rim.vessel == vessel:
            alike.setdefault((answer.runs[rim.run].run_class, rim.bracket), []).append(rim)
    return [_OverRim(letter(at), tuple(same)) for at, same in enumerate(alike.values(), start=letters)]


def _rim_sheet(answer: DesignView, names: Sequence[str], rims: Sequence[_OverRim]) -> Sheet:
    """A vessel that has brackets on its rim and no hole."""
    title = f"Brackets on the rim: {together(names)}"
    each = "" if len(names) == 1 else "The same on each. "
    canvas, y = begun(title, f"{each}Where on the way round the rim each pipe that goes over it is held.")
    y = ring(canvas, y + 6.0, answer.vessels[names[0]], _placed(rims))
    table(canvas, y, COLUMNS, [_held(answer, names, rim) for rim in rims])
    alt = " ".join([f"The rim of {', '.join(names)} from above.", *_rim_alt(answer, names, rims)])
    return Sheet(ident("rim", names[0]), title, alt, canvas, names[0])


def _placed(rims: Sequence[_OverRim]) -> list[tuple[str, RimRow]]:
    return [(over.letter, rim) for over in rims for rim in over.rims]


def _held(answer: DesignView, names: Sequence[str], over: _OverRim) -> list[str]:
    """A row for brackets alike."""
    count = "" if len(over.rims) == 1 else f"{len(over.rims)} x "
    runs = together(_runs_over(answer, names, over))
    return [over.letter, f"{count}none", "-", "", f"{runs}, over the rim", _bracket(answer, over)]


def _bracket(answer: DesignView, over: _OverRim) -> str:
    rim = over.rims[0]
    what = "a bracket on the rim" if rim.bracket is None else answer.describe(rim.bracket)
    return f"{what}, {rim.bracket_from}"


def _runs_over(answer: DesignView, names: Sequence[str], over: _OverRim) -> list[str]:
    """The runs that the brackets hold, in each of the vessels that are drawn as one."""
    built = answer.runs[over.rims[0].run].run_class
    others = [
        rim.run
        for rim in answer.design.rims
        if rim.vessel in names[1:] and answer.runs[rim.run].run_class == built
    ]
    return list(dict.fromkeys([*(rim.run for rim in over.rims), *others]))


def _rim_alt(answer: DesignView, names: Sequence[str], rims: Sequence[_OverRim]) -> Iterator[str]:
    for over in rims:
        around = {rim.run: rim.around for rim in answer.design.rims if rim.vessel in names}
        for run in _runs_over(answer, names, over):
            yield f"{over.letter}: {run} goes over the rim {around[run]}, held by {_bracket(answer, over)}."


def _groups(holes: Sequence[HoleRow]) -> list[_Alike]:
    """Holes by what is drilled: where, how high, how wide, for which part."""
    alike: dict[tuple[object, ...], list[HoleRow]] = {}
    for hole in holes:
        centre = hole.centre_above_floor_mm
        key = (hole.place, centre and round(centre), hole.hole_mm, hole.part, hole.stand)
        alike.setdefault(key, []).append(hole)
    return [_Alike(letter(at), tuple(same)) for at, same in enumerate(alike.values())]


def _pages(answer: DesignView, vessel: VesselRow, groups: Sequence[_Alike]) -> Iterator[list[_Alike]]:
    """The holes, divided where they are too many for one width of wall."""
    room = WALL_RIGHT - EDGE - 12.0
    page: list[_Alike] = []
    taken = {True: 0.0, False: 0.0}
    for group in _divided(vessel, groups, room):
        floor = group.one.place == "floor"
        wide = _wide(answer, group, scale_of(vessel)) + APART
        if page and taken[floor] + wide > room + APART:
            yield page
            page, taken = [], {True: 0.0, False: 0.0}
        page.append(group)
        taken[floor] += wide
    if page:
        yield page


def _divided(vessel: VesselRow, groups: Sequence[_Alike], room: float) -> Iterator[_Alike]:
    """Groups with no more holes each than fit side by side."""
    for group in groups:
        pitch = _pitch(group, scale_of(vessel))
        besides = 202.0 if group.one.place == "floor" else 12.0
        most = max(1, int((room - besides) // pitch))
        for first in range(0, len(group.holes), most):
            yield _Alike(group.letter, group.holes[first : first + most])


def _sheet(
    answer: DesignView,
    names: Sequence[str],
    some: Sequence[_Alike],
    rims: Sequence[_OverRim],
    name: str,
    title: str,
) -> Sheet:
    vessel = answer.vessels[names[0]]
    each = "" if len(names) == 1 else "The same in each. "
    canvas, y = begun(
        title,
        f"{each}The wall from inside, heights and holes to scale, in {answer.unit} above the floor inside. "
        "Holes are drawn side by side; where on the way round each sits, and how much higher or lower it may "
        "come before a rule breaks, is told below.",
    )
    y = _Wall(canvas, answer, vessel, some, y).draw() + 4.0
    rows = [_told(answer, names, group) for group in some]
    rows += [_held(answer, names, over) for over in rims]
    placed = by_letter({group.letter: group.holes for group in some})
    y = ring(canvas, y, vessel, [*placed, *_placed(rims)])
    y = table(canvas, y, COLUMNS, rows)
    walls = answer.said(vessel.wall_mm), answer.said(vessel.base_mm)
    canvas.para(
        EDGE, y, f"Wall {walls[0]} thick, floor {walls[1]}. Drill round; clean off all swarf.", size=SMALL
    )
    alt = " ".join([*_alt(answer, names, some), *_rim_alt(answer, names, rims)])
    return Sheet(name, title, alt, canvas, names[0])


COLUMNS = (
    TableColumn("", 22.0, figures=False),
    TableColumn("hole", 58.0, figures=False),
    TableColumn("centre", 60.0),
    TableColumn("", 6.0),
    TableColumn("for", 112.0, figures=False),
    TableColumn("takes", 112.0, figures=False),
)


def _runs_of(answer: DesignView, names: Sequence[str], group: _Alike) -> list[str]:
    """The runs that the holes are for, in each of the vessels that are drawn as one."""
    classes = {answer.runs[hole.run].run_class for hole in group.holes}
    own = [hole.run for hole in group.holes]
    others = [
        hole.run
        for hole in answer.design.holes
        if hole.vessel in names[1:]
        and hole.place == group.one.place
        and hole.part == group.one.part
        and answer.runs[hole.run].run_class in classes
    ]
    return list(dict.fromkeys([*own, *others]))


def _told(answer: DesignView, names: Sequence[str], group: _Alike) -> list[str]:
    """A row for holes alike."""
    hole = group.one
    centre = "-" if hole.centre_above_floor_mm is None else answer.mark(hole.centre_above_floor_mm)
    runs = together(_runs_of(answer, names, group))
    takes, where = answer.describe(hole.part), ""
    if hole.place in ("pipe", "standpipe"):
        takes, where = "drilled through one side", f", in its {hole.place}"
    stand = f", on {answer.describe(hole.stand)}" if hole.stand else ""
    saw = "" if hole.saw is None else f"; {answer.describe(hole.saw)}, {hole.saw_from}"
    count = "" if len(group.holes) == 1 else f"{len(group.holes)} x "
    return [
        group.letter,
        f"{count}{answer.saw(hole.hole_mm)}",
        centre + _room(answer, hole),
        "",
        runs + where,
        f"{takes}{stand}{saw}",
    ]


def _room(answer: DesignView, hole: HoleRow) -> str:
    """How much higher and lower a hole may come, behind its height; that it must be exact."""
    if hole.higher_mm is None or hole.lower_mm is None:
        return ""
    down = answer.units.piece.text_down
    exact = ", exact" if hole.exact else ""
    return f" +{down(hole.higher_mm * MM_M)} -{down(hole.lower_mm * MM_M)}{exact}"


def _alt(answer: DesignView, names: Sequence[str], some: Sequence[_Alike]) -> Iterator[str]:
    vessel = answer.vessels[names[0]]
    yield f"The wall of {', '.join(names)} from inside, {answer.said(vessel.depth_mm)} from floor to rim."
    for group in some:
        hole = group.one
        height = hole.centre_above_floor_mm
        where = (
            "in the floor" if height is None else f"its centre {answer.said(height)} above the floor inside"
        )
        saw = "" if hole.saw is None else f" with {answer.describe(hole.saw)} ({hole.saw_from})"
        for run in _runs_of(answer, names, group):
            sits = f", {hole.around}" if hole.around else ""
            yield f"{group.letter}: a hole of {answer.saw(hole.hole_mm)}{saw} for {run}, {where}{sits}."
