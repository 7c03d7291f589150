"""Numbers and texts as they stand in JSON."""

from __future__ import annotations

import math
from typing import TypeAlias

from autoplan.errors import InternalError
from autoplan.report.units import mm

Json: TypeAlias = "bool | int | float | str | list[Json] | dict[str, Json] | None"


def millimetres(metres: float, what: str) -> float:
    """A length [m] in millimetres."""
    return number(mm(metres), what)


def number(value: float, what: str) -> float:
    """The number without floating-point dust: six decimals are finer than anything measured here."""
    if not math.isfinite(value):
        raise InternalError(f"{what} is {value}, not a finite number")
    return round(float(value), 6) or 0.0


def or_none(value: float | None) -> float | None:
    """A number that may be unknown; infinity stands for unknown."""
    return round(float(value), 6) if value is not None and math.isfinite(value) else None
