"""Drawings of one design, made from the answer's JSON alone: SVG whose text stays text, and PNG.

matplotlib is loaded when the first of them is drawn, and not before.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from autoplan.report.drawings.answer import Sheet
    from autoplan.report.units import Units


@dataclass(frozen=True)
class Drawing:
    """One drawing.

    Attributes:
        name: of letters, digits and hyphens, unlike any other of the design: "levels", "drilling-sump".
        title: its heading, which also stands in the drawing.
        alt: the same in plain sentences, with the main numbers.
        svg: an <svg> element without prolog, 390 px wide; ids begin with the name; colours are CSS variables
            (`paint.VARIABLES`, for a dark page `paint.DARK`) that fall back to dark lines on a white ground.
        about: the vessel, run or bed that it belongs to, the first of those that it is alike for; None where
            it is about the whole.
    """

    name: str
    title: str
    alt: str
    svg: str
    about: str | None = None


def drawings(answer: Mapping[str, Any], rank: int = 1, units: Units | None = None) -> tuple[Drawing, ...]:
    """Every drawing of a design, in the order in which a builder wants them.

    Args:
        answer: what `contract.outcome_json` gives and `design --json` writes.
        rank: which design.
        units: in which to draw; by default those that the problem asked for.

    Raises:
        ValueError: the answer has no design of that rank.
    """
    from autoplan.report.drawings.render import svg

    return tuple(
        Drawing(
            sheet.name,
            sheet.title,
            sheet.alt,
            svg(sheet.canvas, sheet.name, sheet.title, sheet.alt),
            sheet.about,
        )
        for sheet in sheets(answer, rank, units)
    )


def pngs(answer: Mapping[str, Any], rank: int = 1, units: Units | None = None) -> dict[str, bytes]:
    """The same as PNG files, three pixels for each of the drawing's, by the drawings' names.

    Raises:
        ValueError: the answer has no design of that rank.
    """
    from autoplan.report.drawings.render import png

    return {sheet.name: png(sheet.canvas) for sheet in sheets(answer, rank, units)}


def sheets(answer: Mapping[str, Any], rank: int = 1, units: Units | None = None) -> tuple[Sheet, ...]:
    """What is on each drawing, before it is rendered.

    Raises:
        ValueError: the answer has no design of that rank.
    """
    from autoplan.report.drawings.answer import Answer
    from autoplan.report.drawings.drilling import drilling
    from autoplan.report.drawings.hours import hours
    from autoplan.report.drawings.levels import levels
    from autoplan.report.drawings.parts import parts
    from autoplan.report.drawings.plan import plan
    from autoplan.report.drawings.pump import pumps
    from autoplan.report.drawings.render import quiet
    from autoplan.report.drawings.siphon import siphons
    from autoplan.report.drawings.sticks import sticks

    told = Answer(answer, rank, units)
    makers = (levels, plan, drilling, parts, sticks, siphons, pumps, hours)
    with quiet():
        return _apart(sheet for make in makers for sheet in make(told))


def _apart(made: Iterator[Sheet]) -> tuple[Sheet, ...]:
    """The sheets, each with a name of its own."""
    from dataclasses import replace

    known: dict[str, int] = {}
    found = []
    for sheet in made:
        known[sheet.name] = known.get(sheet.name, 0) + 1
        again = known[sheet.name]
        found.append(sheet if again == 1 else replace(sheet, name=f"{sheet.name}--{again}"))
    return tuple(found)
