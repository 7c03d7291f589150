"""Row models: frozen dataclasses each of whose attributes says by which columns it is read.

An attribute is annotated with its column, or with several and what makes one value of them (else they are a
tuple): `bore_m: Annotated[float, Mm("inside diameter")]` is read by the column `bore_mm`. So a column stands
in one place, and whoever lists columns, checks a header or reads a row goes over the model.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import MISSING, dataclass, fields, is_dataclass, replace
from functools import cache
from typing import Any, Self, TypeVar, get_type_hints

from autoplan.catalog.columns import Column
from autoplan.catalog.sheet import Row

_UNIT = re.compile("_(m3_s|m3_h|m3|m2|m|cents)$")
"""Units of attributes, at the end of their names."""


class RowModel:
    """What a row of a price list is read into."""

    __slots__ = ()

    def checked(self, row: Row) -> Self:
        """Itself with what follows from several cells; what they contradict each other in goes to the row.

        What could not be read is not a number, None or `NO_END`, and noted already.
        """
        del row
        return self


M = TypeVar("M", bound=RowModel)


@dataclass(frozen=True, slots=True)
class Attribute:
    """An attribute of a row model: its columns and what makes its value of theirs."""

    name: str
    columns: tuple[Column, ...]
    make: Callable[..., Any] | None


def attributes(model: type) -> tuple[Attribute, ...]:
    """What is read by columns, in their order, a model's own after those that it has from another.

    A column that says no name has its attribute's, with its own unit in place of the part's. One whose
    attribute has a default may be absent, and an empty cell is read as that.
    """
    return _attributes(model)


@cache
def _attributes(model: type) -> tuple[Attribute, ...]:
    has = {one.name: one.default for one in fields(model) if one.default is not MISSING}
    found = []
    for name, hint in get_type_hints(model, include_extras=True).items():
        marks = getattr(hint, "__metadata__", ())
        makers = [mark for mark in marks if not isinstance(mark, Column)]
        columns = tuple(
            replace(
                mark,
                name=mark.name or _UNIT.sub("", name) + mark.unit.end,
                spare=name in has,
                otherwise=has.get(name, mark.otherwise),
            )
            for mark in marks
            if isinstance(mark, Column)
        )
        if columns:
            found.append(Attribute(name, columns, makers[0] if makers else None))
    return tuple(found)


def columns_of(model: type) -> tuple[Column, ...]:
    """Its columns: first those that must be there, last those that may be absent.

    What a model has from another frames its own: needed columns come before them, the rest after.
    """
    base = model.__base__
    inherited = {column.name for column in columns_of(base)} if base and is_dataclass(base) else set()
    columns = [column for attribute in attributes(model) for column in attribute.columns]
    return tuple(sorted(columns, key=lambda one: (one.spare, (one.name in inherited) is one.spare)))


def read(model: type[M], row: Row, **beside: Any) -> M:
    """A row as its model, every cell looked at.

    Args:
        model: what to read it as.
        row: gets what is wrong with it.
        beside: attributes that no column tells.
    """
    for attribute in attributes(model):
        first, *others = attribute.columns
        value = first.value(row)
        if others:
            value = (value, *(column.value(row) for column in others))
        row.so_far[attribute.name] = attribute.make(value) if attribute.make else value
    return model(**row.so_far, **beside).checked(row)
