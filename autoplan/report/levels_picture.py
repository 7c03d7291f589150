"""A small picture of levels: each vessel's floor, water and rim side by side, in a few lines of text."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from autoplan.report.alike import shortly
from autoplan.report.units import INCH_M

AXIS, NARROWEST, WIDEST = 8, 10, 16
"""Characters: the scale on the left, and a vessel with the gap behind it at least and at most."""

STEPS_M = (0.02, 0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.35, 0.4, 0.5, 0.6, 0.8, 1.0, 1.5, 2.0, 5.0)
STEPS_US_M = tuple(
    INCH_M * step for step in (1, 2, 3, 4, 6, 8, 9, 10, 12, 14, 16, 18, 20, 24, 36, 48, 120, 240)
)
"""What one line may stand for [m]."""


@dataclass(frozen=True, slots=True)
class Standing:
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


def levels_picture(
    vessels: Sequence[Standing],
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
    stands = _alike(vessels)
    if not stands:
        return ()
    room = max(1, (width - AXIS) // NARROWEST)
    shown, left_out = stands[:room], stands[room:]
    each = min(WIDEST, max(NARROWEST, (width - AXIS) // len(shown)))
    scale = _Scale.of(shown, height - 2, STEPS_US_M if us else STEPS_M)
    names = "".join(vessel.name[: each - 1].center(each - 1) + " " for vessel in shown)
    lines = [" " * AXIS + names]
    for row in range(scale.top, scale.bottom - 1, -1):
        ground = marks.ground if row == 0 else " "
        axis = said(row * scale.step_m).rjust(AXIS - 2) + " " + ground
        cells = (_cell(vessel, row, scale, each - 1, said, marks) + ground for vessel in shown)
        lines.append(axis + "".join(cells))
    if left_out:
        told = f"Not drawn: {', '.join(vessel.name for vessel in left_out)}"
        lines.append(told if len(told) <= width else f"{told[: width - 3]}...")
    return tuple(line.rstrip() for line in lines)


@dataclass(frozen=True, slots=True)
class _Scale:
    """Which heights the lines stand for; `top` and `bottom` in lines above the datum."""

    step_m: float
    top: int
    bottom: int

    @classmethod
    def of(cls, vessels: Sequence[Standing], rows: int, steps: Sequence[float]) -> _Scale:
        """The finest scale on which the vessels fit into so many lines."""
        high, low = max(v.rim_m for v in vessels), min(v.floor_m for v in vessels)
        coarse = (math.ceil((high - low) / (rows * steps[-1])) * steps[-1],)
        for step in (*steps, *coarse):
            scale = cls(step, _line(high, step), _line(low, step))
            if scale.top - scale.bottom < rows:
                return scale
        return cls(2 * coarse[0], _line(high, 2 * coarse[0]), _line(low, 2 * coarse[0]))

    def rows_of(self, vessel: Standing) -> tuple[int, int, int | None]:
        """Lines of floor, rim and water; water stands over the floor, and a rim over both where it can."""
        floor, rim = _line(vessel.floor_m, self.step_m), _line(vessel.rim_m, self.step_m)
        if vessel.water_m is None:
            return floor, rim, None
        return floor, rim, max(floor, min(rim, _line(vessel.water_m, self.step_m)))


def _line(height_m: float, step_m: float) -> int:
    return math.floor(height_m / step_m + 0.5)


def _alike(vessels: Sequence[Standing]) -> list[Standing]:
    """Neighbours that stand alike as one, by all their names."""
    groups: list[list[Standing]] = []
    for vessel in vessels:
        if groups and replace(groups[-1][0], name="") == replace(vessel, name=""):
            groups[-1].append(vessel)
        else:
            groups.append([vessel])
    return [replace(group[0], name=_names([vessel.name for vessel in group])) for group in groups]


def _names(names: list[str]) -> str:
    """Names over one drawing: "bed 1-4" for a row of numbered ones, else as elsewhere in a report."""
    said = shortly(names)
    first, to, last = said.partition(" to ")
    if to and first.rpartition(" ")[0] == last.rpartition(" ")[0]:
        return f"{first}-{last.rpartition(' ')[2]}"
    return said


def _cell(
    vessel: Standing, row: int, scale: _Scale, width: int, said: Callable[[float], str], marks: Marks
) -> str:
    """What one vessel shows in one line."""
    floor, rim, water = scale.rows_of(vessel)
    inside = width - 2
    if not floor <= row <= rim:
        return (marks.ground if row == 0 else " ") * width
    if row == floor:
        return f"{marks.left}{_figure(said(vessel.floor_m), inside, marks.floor)}{marks.right}"
    if row == water and vessel.water_m is not None:
        filling = _figure(said(vessel.water_m), inside, marks.surface)
    elif row == rim:
        filling = _figure(said(vessel.rim_m), inside, " ")
    else:
        filling = (marks.body if water is not None and row < water else " ") * inside
    return f"{marks.wall}{filling}{marks.wall}"


def _figure(text: str, width: int, around: str) -> str:
    """A figure in the middle of a line, or the bare line where it does not fit."""
    return (f" {text} " if len(text) + 2 <= width else "").center(width, around)


def legend(unit: str) -> str:
    """How to read the picture, in a line; `unit` is that of its figures."""
    return f"Heights in {unit} above the ground: rim, ~ water ~, floor."
