"""Drawings of one design, made from the answer's JSON alone: SVG whose text stays text, and PNG.

matplotlib is loaded when the first of them is drawn, and not before.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from autoplan.report.contract.rows import AnswerRow
    from autoplan.report.drawings.view import Sheet
    from autoplan.report.units import Units


def sheets(
    answer: Mapping[str, Any] | AnswerRow, rank: int = 1, units: Units | None = None
) -> tuple[Sheet, ...]:
    """Every drawing of a design, in the order in which a builder wants them.

    Args:
        answer: what `contract.outcome_json` gives and `design --json` writes.
        rank: which design.
        units: in which to draw; by default those that the problem asked for.

    Raises:
        ValueError: the answer has no design of that rank.
    """
    from autoplan.report.drawings.drilling import drilling
    from autoplan.report.drawings.hours import hours
    from autoplan.report.drawings.levels import levels
    from autoplan.report.drawings.outside import outside_siphons
    from autoplan.report.drawings.parts import parts
    from autoplan.report.drawings.plan import plan
    from autoplan.report.drawings.pump import pumps
    from autoplan.report.drawings.render import quiet
    from autoplan.report.drawings.siphon import siphons
    from autoplan.report.drawings.site import site
    from autoplan.report.drawings.sticks import sticks
    from autoplan.report.drawings.view import DesignView
    from autoplan.report.drawings.ways import ways

    told = DesignView(answer, rank, units)
    makers = (levels, plan, site, ways, drilling, parts, sticks, siphons, outside_siphons, pumps, hours)
    with quiet():
        return _apart(sheet for make in makers for sheet in make(told))


def _apart(made: Iterator[Sheet]) -> tuple[Sheet, ...]:
    """The sheets, each with a name of its own."""
    known: dict[str, int] = {}
    found = []
    for sheet in made:
        known[sheet.name] = again = known.get(sheet.name, 0) + 1
        found.append(sheet if again == 1 else replace(sheet, name=f"{sheet.name}--{again}"))
    return tuple(found)
