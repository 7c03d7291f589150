"""The site seen from the side, in plain characters: every vessel's floor, water and rim to one scale.

There are two of it by the same hand: `levels_picture` in a few lines, with the figures of each vessel, and
`heights` in as many lines as the site takes, with where drains pass the walls.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from autoplan.fittings.ends import AtVessel
from autoplan.fittings.floor import ThroughFloor
from autoplan.outcome import Design, Outcome
from autoplan.problem.flows import gravity_paths
from autoplan.problem.site import RunKind, Site, VesselKind
from autoplan.report.alike import shortly
from autoplan.report.blocks import Block, Heading, Para, Picture, Points
from autoplan.report.units import FOOT_M, INCH_M, Units

AXIS = 7
"""Characters of the scale on the left."""

NARROWEST, WIDEST = 10, 16
"""Characters of a vessel with the gap behind it in a few lines, at least and at most."""

MOST_ROWS = 32
"""Most lines that the heights may take."""

ABREAST, MOST_ABREAST_WIDE = 8, 13
"""Most vessels side by side among the heights, and characters of one at most; more stand in a second picture
on the same scale."""

FEW_M = (0.02, 0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.35, 0.4, 0.5, 0.6, 0.8, 1.0, 1.5, 2.0, 5.0)
FEW_US_M = tuple(
    INCH_M * step for step in (1, 2, 3, 4, 6, 8, 9, 10, 12, 14, 16, 18, 20, 24, 36, 48, 120, 240)
)
"""What one of a few lines may stand for [m]."""

STEPS_M = {
    "mm": (0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0),
    "in": (INCH_M, 2 * INCH_M, 3 * INCH_M, 6 * INCH_M, FOOT_M, 2 * FOOT_M, 5 * FOOT_M, 10 * FOOT_M),
}
"""What one line of the heights may stand for [m], by the unit of heights."""


@dataclass(frozen=True, slots=True)
class Profile:
    """One vessel where it stands.

    Attributes:
        name: as it is to be called.
        floor_m, rim_m: inside floor and rim above the site's datum [m].
        water_m: its water above the datum [m]; None where it is not known.
    """

    name: str
    floor_m: float
    water_m: float | None
    rim_m: float


@dataclass(frozen=True, slots=True)
class Marks:
    """The characters that a picture is drawn with: walls, floor, its two corners, water, what is under it,
    ground."""

    wall: str
    floor: str
    left: str
    right: str
    surface: str
    body: str
    ground: str


ASCII = Marks("|", "-", "+", "+", "~", ".", "_")
LINES = Marks("│", "─", "└", "┘", "~", "·", "╌")


def marks_for(encoding: str | None) -> Marks:
    """Drawn lines where the encoding of a stream has them, else plain characters."""
    try:
        "".join((LINES.wall, LINES.floor, LINES.left, LINES.right, LINES.body, LINES.ground)).encode(
            encoding or "ascii"
        )
    except (UnicodeEncodeError, LookupError):
        return ASCII
    return LINES


@dataclass(frozen=True, slots=True)
class _Face:
    """A vessel in a picture; heights in lines above the datum.

    `said` are the figures of floor, water and rim, "" for none; `openings` the lines where drains come in by
    the wall on the left, and leave by that on the right.
    """

    name: str
    floor: int
    water: int | None
    rim: int
    said: tuple[str, str, str]
    body: str
    pump: bool = False
    openings: tuple[frozenset[int], frozenset[int]] = (frozenset(), frozenset())

    def cell(self, row: int, width: int, marks: Marks) -> str:
        """What it shows in one line."""
        room = width - 2
        if not self.floor <= row <= self.rim:
            return (marks.ground if row == 0 else " ") * width
        if row == self.floor:
            return f"{marks.left}{_within(self.said[0], room).center(room, marks.floor)}{marks.right}"
        if row == self.water:
            inside = _within(self.said[1], room).center(room, marks.surface)
        elif row == self.rim:
            inside = _within(self.said[2], room).center(room)
        elif self.water is not None and row < self.water:
            pump = "pump" if self.pump and row == self.floor + 1 else ""
            inside = pump.center(room, self.body)
        else:
            inside = " " * room
        left, right = (">" if row in side else marks.wall for side in self.openings)
        return f"{left}{inside}{right}"


def _within(figure: str, room: int) -> str:
    """A figure that finds room and has something beside it, or nothing."""
    return figure if len(figure) < room or (figure[:1] == " " and len(figure) == room) else ""


def _line(height_m: float, step_m: float) -> int:
    return math.floor(height_m / step_m + 0.5)


def _lines(
    faces: Sequence[_Face],
    names: Sequence[Sequence[str]],
    rows: tuple[int, int],
    width: int,
    axis: Callable[[int], str],
    marks: Marks,
) -> Iterator[str]:
    """Names over their vessels, then line by line from the top what each shows."""
    tallest = max(map(len, names))
    for at in range(tallest):
        titles = (name[at - tallest + len(name)] if at >= tallest - len(name) else "" for name in names)
        yield " " * len(axis(0)) + "".join(f"{title.center(width)} " for title in titles)
    for row in range(rows[0], rows[1] - 1, -1):
        gap = marks.ground if row == 0 else " "
        yield axis(row) + "".join(face.cell(row, width, marks) + gap for face in faces)


# --- in a few lines --------------------------------------------------------------------------------------


def levels_picture(
    vessels: Sequence[Profile],
    said: Callable[[float], str],
    *,
    width: int = 80,
    height: int = 10,
    us: bool = False,
    marks: Marks = ASCII,
) -> tuple[str, ...]:
    """The vessels side by side to one scale of height, with the figures of floor, water and rim.

    Args:
        vessels: in the order in which they are to stand; neighbours that stand alike are drawn once.
        said: a height [m] in a few characters, without its unit.
        width: most characters in a line, 30 or more.
        height: most lines, 6 or more; one more names what found no place.
        us: whether lines stand for whole inches and not for whole centimetres.
        marks: what it is drawn with.

    Returns:
        The lines, none wider than `width` and none ending in a blank; none for no vessel. The ground is drawn
        at the height of 0 where that lies between the lowest floor and the highest rim.
    """
    stands = _neighbours(vessels)
    if not stands:
        return ()
    space = width - AXIS - 1
    room = max(1, space // NARROWEST)
    shown, left_out = stands[:room], stands[room:]
    each = min(WIDEST, max(NARROWEST, space // len(shown))) - 1
    step, *rows = _few(shown, height - 2, FEW_US_M if us else FEW_M)
    faces = [_face(vessel, step, rows[1], said, marks) for vessel in shown]

    def axis(row: int) -> str:
        return f"{said(row * step).rjust(AXIS - 1)} {marks.ground if row == 0 else ' '}"

    lines = [*_lines(faces, [[face.name[:each]] for face in faces], (rows[0], rows[1]), each, axis, marks)]
    if left_out:
        told = f"Not drawn: {', '.join(vessel.name for vessel in left_out)}"
        lines.append(told if len(told) <= width else f"{told[: width - 3]}...")
    return tuple(line.rstrip() for line in lines)


def legend(unit: str) -> str:
    """How to read that picture, in a line; `unit` is that of its figures."""
    return f"Heights in {unit} above the ground: rim, ~ water ~, floor."


def _few(vessels: Sequence[Profile], rows: int, steps: Sequence[float]) -> tuple[float, int, int]:
    """The finest step [m] by which the vessels fit into so many lines; the highest and the lowest of them."""
    high, low = max(v.rim_m for v in vessels), min(v.floor_m for v in vessels)
    coarse = math.ceil((high - low) / (rows * steps[-1])) * steps[-1]
    for step in (*steps, coarse, 2 * coarse):
        top, bottom = _line(high, step), _line(low, step)
        if top - bottom < rows:
            break
    return step, top, bottom


def _face(vessel: Profile, step_m: float, lowest: int, said: Callable[[float], str], marks: Marks) -> _Face:
    """Lines of floor, rim and water; a rim stands over both where it can.

    A floor in the same line as the water would hide it: it moves a line down, where there is one.
    """
    floor, rim = _line(vessel.floor_m, step_m), _line(vessel.rim_m, step_m)
    if vessel.water_m is not None and vessel.water_m > vessel.floor_m:
        floor = max(lowest, min(floor, _line(vessel.water_m, step_m) - 1))
    water = None if vessel.water_m is None else max(floor, min(rim, _line(vessel.water_m, step_m)))
    heights = (vessel.floor_m, vessel.water_m or 0.0, vessel.rim_m)
    low, middle, high = (f" {said(at)} " for at in heights)
    return _Face(vessel.name, floor, water, rim, (low, middle, high), marks.body)


def _neighbours(vessels: Sequence[Profile]) -> list[Profile]:
    """Neighbours that stand alike as one, by all their names."""
    alike = groupby(vessels, lambda vessel: replace(vessel, name=""))
    return [replace(one, name=_names([vessel.name for vessel in group])) for one, group in alike]


def _names(names: list[str]) -> str:
    """Names over one drawing: "bed 1-4" for a row of numbered ones, else as elsewhere in a report."""
    said = shortly(names)
    first, to, last = said.partition(" to ")
    if to and first.rpartition(" ")[0] == last.rpartition(" ")[0]:
        return f"{first}-{last.rpartition(' ')[2]}"
    return said


# --- in as many lines as the site takes ------------------------------------------------------------------


def heights(outcome: Outcome, design: Design, units: Units) -> Iterator[Block]:
    """The picture, and the fall from water to water along every drain."""
    site = outcome.site
    step = _fine(site, units)
    faces = _alike(_drained(site, design, name, step, units) for name in design.drawing.levels)
    if not faces:
        return
    rows = max(face.rim for face in faces), min(face.floor for face in faces)
    marks = replace(ASCII, ground=" ")

    def axis(row: int) -> str:
        return units.piece.text(row * step).rjust(AXIS - 1) + " "

    yield Heading("Heights")
    yield Para(
        f"Each line is {units.piece.said(step)}, counted from 0. ~ is the water's surface "
        "with its height, . water, : gravel and water; > in a wall is where a drain leaves or arrives."
    )
    room = min(MOST_ABREAST_WIDE, (100 - AXIS) // ABREAST - 1)
    for first in range(0, len(faces), ABREAST):
        some = faces[first : first + ABREAST]
        width = max(NARROWEST, min(room, max(len(face.name) for face in some)))
        names = [textwrap.wrap(face.name, width) or [""] for face in some]
        yield Picture(tuple(_lines(some, names, rows, width, axis, marks)))
    yield Points(tuple(falls(site, design, units)))


def _alike(faces: Iterable[_Face]) -> list[_Face]:
    """Vessels that look the same, drawn once."""
    grouped: dict[_Face, list[str]] = {}
    for face in faces:
        grouped.setdefault(replace(face, name=""), []).append(face.name)
    return [replace(face, name=shortly(names)) for face, names in grouped.items()]


def _fine(site: Site, units: Units) -> float:
    """The finest scale on which the whole site fits [m per line]."""
    spread = max(v.rim_m for v in site.vessels.values()) - min(v.floor_m for v in site.vessels.values())
    steps = STEPS_M[units.piece.unit]
    return next((step for step in steps if spread / step < MOST_ROWS), math.ceil(spread / MOST_ROWS) + 1.0)


def _drained(site: Site, design: Design, name: str, step: float, units: Units) -> _Face:
    """A vessel with what is in it and where its drains pass its walls."""
    vessel, water = site.vessels[name], design.drawing.levels[name].design_m
    floor = _line(vessel.floor_m, step)
    surface = max(floor + 1, _line(water, step))
    drains = [run for run in site.runs.values() if run.kind is RunKind.GRAVITY]
    starts = [design.drawing.runs[run.name].start for run in drains if run.start == name]
    ends = [design.drawing.runs[run.name].finish for run in drains if run.finish == name]
    leaving = [
        end.standpipe_top_m if isinstance(end, ThroughFloor) else end.centre_m
        for end in starts
        if isinstance(end, AtVessel)
    ]
    sides = ((end.centre_m for end in ends if isinstance(end, AtVessel)), leaving)
    comes_in, goes_out = (frozenset(_line(at, step) for at in side if at is not None) for side in sides)
    return _Face(
        name=name,
        floor=floor,
        water=surface,
        rim=max(surface, _line(vessel.rim_m, step)),
        said=("", units.piece.text(water), ""),
        body=":" if vessel.kind is VesselKind.BED else ".",
        pump=name in design.drawing.pumps,
        openings=(comes_in, goes_out),
    )


def falls(site: Site, design: Design, units: Units) -> Iterator[str]:
    """From water to water along every way by gravity; alike falls between alike runs once."""
    grouped: dict[tuple[tuple[str, ...], str, str], list[str]] = {}
    for path in gravity_paths(site):
        start, finish = site.runs[path[0]].start, site.runs[path[-1]].finish
        fall = design.drawing.levels[start].design_m - design.drawing.levels[finish].design_m
        alike = tuple(site.runs[name].run_class for name in path)
        grouped.setdefault((alike, finish, units.height.said(fall)), []).append(start)
    for (_, finish, said), starts in grouped.items():
        named = starts[0] if len(starts) == 1 else f"{shortly(starts)}, each"
        yield f"{named} to {finish}: a fall of {said} from water to water."
