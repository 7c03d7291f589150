"""A vessel from above with the places of its holes and brackets round the wall; not to scale."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TypeAlias

from autoplan.report.contract.built import HoleRow, RimRow, VesselRow
from autoplan.report.drawings.canvas import EDGE, SMALL, WIDTH, Canvas, fold, ident
from autoplan.report.drawings.paint import FAINT, GROUND, HOLE, INK, THIN, Look

RADIUS = 38.0
"""Half the width of the vessel [px]."""

LINES_FROM = EDGE + 2 * RADIUS + 56.0
"""Where the words beside it begin [px]."""

OPPOSITE = "opposite the inlet of "

BESIDE = math.radians(28.0)
"""From one hole to the next beside it."""

CORNERS = {"to the left of the corner": -math.radians(20.0), "to the right of the corner": math.radians(20.0)}
"""How far round from the middle of a side one by a corner is drawn; left as seen from outside."""

LEAST, ROUND = 0.3, 0.45
"""Between two places as drawn at least [rad], and the share of the way round that all may keep so."""

BRACKET = 4.5
"""Half the width of a bracket [px]."""

Place: TypeAlias = HoleRow | RimRow
"""What has a place round a wall: a hole in it, or a pipe over its rim."""

OUTLINE = Look(INK, 2.4, (), GROUND)


def ring(canvas: Canvas, y: float, vessel: VesselRow, lettered: Sequence[tuple[str, Place]]) -> float:
    """The vessel with the letters of its holes and brackets round it, and in words where each sits.

    Args:
        canvas: where; `y` its top [px].
        vessel: whose wall.
        lettered: its holes in walls and pipes over its rim, each with the letter by which it is drawn.

    Returns:
        Where what comes next begins [px].
    """
    if not any(hole.around for _, hole in lettered):
        return y
    top, middle = y + 16.0, EDGE + RADIUS + 18.0
    centre = top + RADIUS
    if vessel.shape == "round":
        canvas.disc(middle, centre, RADIUS, OUTLINE, ident("round", vessel.name))
    else:
        box = middle - RADIUS, centre - RADIUS, middle + RADIUS, centre + RADIUS
        canvas.box(*box, OUTLINE, ident("round", vessel.name))
    for (letter, hole), angle in zip(lettered, angles([hole for _, hole in lettered]), strict=True):
        dx, dy = math.cos(angle), math.sin(angle)
        # Round a flat wall the place is on the side that the angle points to.
        far = RADIUS if vessel.shape == "round" else RADIUS / max(abs(dx), abs(dy))
        x, at = middle + far * dx, centre + far * dy
        gid = ident("place", hole.run, hole.vessel)
        if isinstance(hole, RimRow):
            canvas.box(x - BRACKET, at - BRACKET, x + BRACKET, at + BRACKET, HOLE, gid)
        else:
            canvas.disc(x, at, 4.0, HOLE, gid)
        canvas.text(middle + (far + 12.0) * dx, at + 12.0 * dy + 3.6, letter, SMALL, "middle", bold=True)
    lines = [line for words in _words(lettered) for line in fold(words, WIDTH - EDGE - LINES_FROM, SMALL)]
    base = max(top, centre - len(lines) * 6.5)
    canvas.text(LINES_FROM, base, "From above, not to scale:", SMALL, tone=FAINT)
    for number, line in enumerate(lines, start=1):
        canvas.text(LINES_FROM, base + number * 13.0, line, SMALL)
    bottom = max(centre + RADIUS + 26.0, base + (len(lines) + 1) * 13.0)
    canvas.line(((EDGE, bottom - 4.0), (WIDTH - EDGE, bottom - 4.0)), THIN)
    return bottom + 2.0


def _words(lettered: Sequence[tuple[str, Place]]) -> list[str]:
    """Where each sits; those of one letter and place once."""
    said = dict.fromkeys((letter, hole.around) for letter, hole in lettered)
    return [f"{letter} {around}" for letter, around in said]


def angles(holes: Sequence[Place]) -> list[float]:
    """Where each hole is drawn, from the right with the hand of a clock [rad].

    What they lead to is spread over the way round, the first at the left; what is opposite an inlet is so;
    those side by side follow each other closely. What would lie on one before it is moved on.
    """
    towards = _towards(holes)
    sides = list(dict.fromkeys(side for side in towards if not side.startswith(OPPOSITE)))
    free = [math.pi, 1.5 * math.pi, 0.5 * math.pi, 0.0]
    inlets = {hole.run: side for hole, side in zip(holes, towards, strict=True)}
    crossed = [side for side in towards if side.startswith(OPPOSITE)]
    place: dict[str, float] = {}
    if crossed:
        free.remove(0.0)
        free.append(0.25 * math.pi)
    for number, side in enumerate(sides):
        place[side] = free[number] if number < len(free) else math.tau * number / len(sides) + 0.3
    for side in crossed:
        inlet = inlets.get(side.removeprefix(OPPOSITE), "")
        place[side] = place.get(inlet, math.pi) + math.pi
    return _clear([place[side] + _off(holes[at], _beside(towards, at)) for at, side in enumerate(towards)])


def _towards(holes: Sequence[Place]) -> list[str]:
    """The side that each is on; of one beside another that of the other, whatever it leads to."""
    sides: dict[str, str] = {}
    for hole in holes:
        side, _, other = hole.around.partition(", beside ")
        beside = sides.get(other.removeprefix("that of ").removeprefix("the hole for "))
        sides[hole.run] = beside or side.partition(", ")[0]
    return [sides[hole.run] for hole in holes]


def _off(hole: Place, beside: float) -> float:
    """How far round from the middle of its side it is drawn [rad]; what is beside one by a corner off it."""
    corner = next((angle for words, angle in CORNERS.items() if words in hole.around), 0.0)
    return corner - math.copysign(beside, corner) if corner else beside


def _clear(wanted: Sequence[float]) -> list[float]:
    """Angles, each moved on with the hand of a clock until it is clear of those before it [rad]."""
    apart = min(LEAST, ROUND * math.tau / max(1, len(wanted)))
    found: list[float] = []
    for angle in wanted:
        tried = (angle + step * apart / 8 for step in range(8 * int(math.tau / apart) + 1))
        free = (at for at in tried if all(_between(at, other) >= apart - 1e-9 for other in found))
        found.append(next(free, angle))
    return found


def _between(one: float, other: float) -> float:
    return abs(math.remainder(one - other, math.tau))


def _beside(towards: Sequence[str], at: int) -> float:
    """How far round a hole is from the first of those that lead the same way."""
    return BESIDE * towards[:at].count(towards[at])


def by_letter(groups: Mapping[str, Sequence[HoleRow]]) -> list[tuple[str, HoleRow]]:
    """The holes in walls of some groups, each with the letter of its group."""
    return [(letter, hole) for letter, holes in groups.items() for hole in holes if hole.place == "wall"]
