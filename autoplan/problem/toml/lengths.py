"""Lists and tables of lengths whose keys no model knows beforehand: offcuts by pipe, lines by vessels."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from pydantic_core import PydanticCustomError

from autoplan.errors import Mistake
from autoplan.problem.tables.defaults import LINES
from autoplan.problem.tables.schema import Found
from autoplan.problem.tables.values import closest, line_length
from autoplan.units import quoted


def lengths_from(values: Sequence[object], file: str, place: str) -> tuple[tuple[float, ...], list[Mistake]]:
    """The lengths [m] of a list, and a mistake for each that is none."""
    good: list[float] = []
    mistakes: list[Mistake] = []
    for value in values:
        try:
            good.append(line_length(value))
        except PydanticCustomError as error:
            said = error.context or {}
            mistakes.append(Mistake(file, place, str(said["problem"]), str(said["remedy"])))
    return tuple(good), mistakes


def lines_table(
    table: object, file: str, place: str, known: Sequence[str], each: Callable[[object], Any]
) -> Found:
    """Check `[distances]` or `[turns]`, whose keys depend on which vessels there are."""
    if not isinstance(table, Mapping):
        return Found(
            {},
            (
                Mistake(
                    file, place, f"{quoted(table)} is not a table", f"write [{place}] and its keys below it"
                ),
            ),
            (),
        )
    good: dict[str, Any] = {}
    mistakes: list[Mistake] = []
    for key, value in table.items():
        if key not in known:
            remedy = closest(key, known, f"known are {', '.join(known)}")
            what = "this system has no such line" if key in LINES else f'there is no key "{key}" here'
            mistakes.append(Mistake(file, f"{place}.{key}", what, remedy))
            continue
        try:
            good[key] = each(value)
        except PydanticCustomError as error:
            context = error.context or {}
            mistakes.append(Mistake(file, f"{place}.{key}", context["problem"], context["remedy"]))
    return Found(good, tuple(mistakes), ())
