"""Lists and tables of lengths whose keys no model knows beforehand: offcuts by pipe, lines by vessels."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from pydantic_core import PydanticCustomError

from autoplan.errors import Mistake
from autoplan.problem.tables.defaults import LINES
from autoplan.problem.tables.validate import Found
from autoplan.problem.tables.values import closest, line_length
from autoplan.units import quoted


def lengths_from(values: Sequence[object], file: str, place: str) -> tuple[tuple[float, ...], list[Mistake]]:
    """The lengths [m] of a list, and a mistake for each that is none."""
    read = [_read(line_length, value, file, place) for value in values]
    return tuple(each for each in read if isinstance(each, float)), [
        each for each in read if isinstance(each, Mistake)
    ]


def lines_table(
    table: object, file: str, place: str, known: Sequence[str], each: Callable[[object], Any]
) -> Found:
    """Check `[distances]`, `[corners]` or `[heights]`, whose keys depend on which vessels there are."""
    if not isinstance(table, Mapping):
        remedy = f"write [{place}] and its keys below it"
        return Found({}, (Mistake(file, place, f"{quoted(table)} is not a table", remedy),), ())
    good: dict[str, Any] = {}
    mistakes: list[Mistake] = []
    for key, value in table.items():
        read = _read(each, value, file, f"{place}.{key}")
        if key not in known:
            remedy = closest(key, known, f"known are {', '.join(known)}")
            what = "this system has no such line" if key in LINES else f'there is no key "{key}" here'
            mistakes.append(Mistake(file, f"{place}.{key}", what, remedy))
        elif isinstance(read, Mistake):
            mistakes.append(read)
        else:
            good[key] = read
    return Found(good, tuple(mistakes), ())


def _read(reader: Callable[[object], Any], value: object, file: str, place: str) -> Any:
    """A value as its reader takes it, or the mistake that it is."""
    try:
        return reader(value)
    except PydanticCustomError as error:
        said = error.context or {}
        return Mistake(file, place, said["problem"], said["remedy"])
