"""Rows of `systems.csv`: what each size of each system means, its limits checked against each other."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Annotated, Self

from autoplan.catalog.columns import Column, Mm, Unbroken, mm
from autoplan.catalog.rows import RowModel
from autoplan.catalog.sheet import Row

LOOSEST_M = 0.001
"""Most play of a pipe in a socket's mouth that cement fills; from memory [m]."""

TIGHTEST_M = 0.0006
"""Most by which a pipe may be larger than the mouth, softened by the cement; from memory [m]."""

GRIP_SHARE, GRIP_M = 1.4, 0.02
"""What a compression end takes of a pipe: this share of its outside, and so much more [m]; from memory of
what makers state for polypropylene fittings of 20 to 63 mm, about 48 to 108 mm."""

NAMES = (
    Unbroken("family of sizes that fit each other, one word", name="system"),
    Unbroken("name of a size in it, without a blank", name="size"),
)
"""Columns that name the size of a row."""


Maybe = float | None

_NONE = "its parts have no such end"


@dataclass(frozen=True, slots=True)
class Size(RowModel):
    """One size of one system [m]: what its name means in dimensions, None where the row does not say.

    A system is named by its outside, its bore or its thread. Without limits the outside is its own.
    """

    outside_m: Annotated[Maybe, Mm("outside of a pipe of this size", _NONE)]
    bore_m: Annotated[Maybe, Mm("bore of a hose or pipe of this size", _NONE)]
    thread_major_m: Annotated[Maybe, Mm("largest diameter of a thread of this size", _NONE)]
    socket_m: Annotated[Maybe, Mm("depth of a socket of this size", "estimated")]
    source: Annotated[str, Column("standard or catalogue that the figures come from")]
    outside_min_m: Annotated[Maybe, Mm("least outside of a pipe within its tolerance", "outside_mm")] = None
    outside_max_m: Annotated[Maybe, Mm("greatest outside of a pipe within its tolerance", "outside_mm")] = (
        None
    )
    mouth_min_m: Annotated[Maybe, Mm("least inside of a socket at its mouth", "not looked at")] = None
    mouth_max_m: Annotated[Maybe, Mm("greatest inside of a socket at its mouth", "not looked at")] = None
    grip_m: Annotated[
        Maybe, Mm("length of pipe that a compression end or a rubber seal takes", "1.4 outsides and 20 mm")
    ] = None

    @property
    def grips_m(self) -> float:
        """Length [m] that passes ring and grip of a compression end; infinite of what has no outside."""
        if self.grip_m is not None:
            return self.grip_m
        return math.inf if self.outside_m is None else GRIP_SHARE * self.outside_m + GRIP_M

    def checked(self, row: Row) -> Self:
        """Itself with limits of its outside, within which that is and which a socket takes."""
        outside = self.outside_m
        if not any((outside, self.bore_m, self.thread_major_m)):
            row.wrong("none of outside_mm, bore_mm, thread_major_mm is given", "give what names the size")
        least = outside if self.outside_min_m is None else self.outside_min_m
        most = outside if self.outside_max_m is None else self.outside_max_m
        if outside is None:
            if least is not None or most is not None:
                problem = "limits of the outside are given without outside_mm"
                row.wrong(problem, "give the nominal outside too")
        elif least is not None and most is not None:
            if not least <= outside <= most:
                problem = f"outside_mm {mm(outside)} is not between its limits {mm(least)} and {mm(most)}"
                row.wrong(problem, "correct one of them")
            else:
                self._check_mouth(row, least, most)
        return replace(self, outside_min_m=least, outside_max_m=most)

    def _check_mouth(self, row: Row, least: float, most: float) -> None:
        """A pipe goes into the socket of its size, at both ends of both tolerances [m]."""
        narrow, wide, tightest, loosest = (
            self.mouth_min_m,
            self.mouth_max_m,
            most - TIGHTEST_M,
            least + LOOSEST_M,
        )
        if narrow is not None and narrow < tightest - 1e-9:
            problem = f"mouth_min_mm {mm(narrow)} is too tight for pipe of {mm(most)}"
            row.wrong(problem, f"give {mm(tightest)} or more")
        if wide is not None and not least - 1e-9 <= wide <= loosest + 1e-9:
            problem = f"mouth_max_mm {mm(wide)} does not hold pipe of {mm(least)}"
            row.wrong(problem, f"give {mm(least)} to {mm(loosest)}")
        elif narrow is not None and wide is not None and narrow > wide:
            row.wrong(
                f"mouth_min_mm {mm(narrow)} is more than mouth_max_mm {mm(wide)}", "swap or correct them"
            )
