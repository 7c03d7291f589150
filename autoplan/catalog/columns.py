"""Columns of a price list: what each holds, its unit, what an empty cell says, how a cell is read into SI."""

from __future__ import annotations

import math
import re
from collections.abc import Collection
from dataclasses import dataclass
from functools import cached_property, partial
from itertools import pairwise
from typing import Any, ClassVar

from autoplan.catalog.sheet import Row, shortened, suggest

BAR_M = 1e5 / 9806.65
"""Metres of water in a bar, by the conventional metre of water of 9806.65 Pa."""

MOST_PRICE = 1_000_000
"""Dearest price that is read; beyond it whole cents would crowd the solver's integers."""

_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)")
_WITH_UNIT = re.compile(r"[+-]?[0-9.]+\s*[A-Za-zµ°%\"']+\d?")
_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]*")


def mm(length_m: float) -> str:
    """A length as the price lists write it."""
    return f"{length_m * 1000:g}"


def rising(row: Row, **limits_m: float) -> None:
    """Note two lengths, by column, of which the first is more than the second."""
    (low, least), (high, most) = limits_m.items()
    if least > most:
        row.wrong(f"{low} {mm(least)} is more than {high} {mm(most)}", "swap or correct them")


def walled(row: Row, **diameters_m: float) -> None:
    """Note two diameters, by column, of which the first does not lie inside the second."""
    (inner, inside), (outer, outside) = diameters_m.items()
    if inside >= outside:
        problem = f"{inner} {mm(inside)} is not smaller than {outer} {mm(outside)}"
        row.wrong(problem, f"it must be under {mm(outside)}")


@dataclass(frozen=True, slots=True)
class Unit:
    """How the cells of a column are measured.

    Attributes:
        word: what the unit is called.
        end: how the names of its columns end.
        per, times: what a number is divided and multiplied by to be SI, or m of water for a pressure; two
            of them, since a decimal fraction is not kept exactly.
        most: more is taken for a slip where the column says nothing else.
    """

    word: str
    end: str = ""
    per: float = 1.0
    times: float = 1.0
    most: float = math.inf


@dataclass(frozen=True, eq=False)
class Column:
    """A column of a price list, here one of texts.

    Attributes:
        meaning: half a sentence on what it holds.
        empty: what an empty cell says; None where it must be filled in.
        otherwise: what is read from an empty cell.
        only: kinds of row that fill it in; the others leave it empty. All if none is named.
        name: its title, where that does not follow from the attribute that it is for (`rows.attributes`).
        spare: whether a file may do without it.
        unit: how its cells are measured.
    """

    meaning: str
    empty: str | None = None
    otherwise: Any = None
    only: tuple[object, ...] = ()
    name: str = ""
    spare: bool = False
    unit: Unit = Unit("text")

    unreadable: ClassVar[Any] = ""
    """What stands for a cell that cannot be read."""

    @property
    def said_by_empty(self) -> str | None:
        """What an empty cell says, None where it must be filled in."""
        return "its kind has none" if self.only and self.empty is None else self.empty

    def value(self, row: Row) -> Any:
        """What a row says in this column, or leaves to be taken; what is wrong is noted there."""
        cell = row.cells.get(self.name)
        if self.only and row.kind not in self.only:
            if cell and row.kind is not None:
                row.wrong(f"{self.name} is given{row.whom or f' for {row.kind}'}", "leave it empty")
            return self.otherwise
        if cell:
            before = len(row.mistakes)
            value = self.read(cell, row)
            return value if len(row.mistakes) == before else self.unreadable
        if self.empty is not None and not self.only:
            return self.otherwise
        if self.name not in row.absent:
            row.wrong(f"{self.name} is empty{row.whom if self.only else ''}", "fill it in")
        return self.unreadable

    def read(self, cell: str, row: Row) -> Any:
        """What a cell with something in it says; what is wrong is noted on the row."""
        del row
        return cell


class Id(Column):
    """One plain word that can be typed on a command line."""

    def read(self, cell: str, row: Row) -> str:
        """The word."""
        if not _ID.fullmatch(cell):
            row.wrong(f'id "{cell}" is not one plain word', "use letters, digits, hyphen, dot, underline")
        return cell


class Unbroken(Column):
    """A text without a blank."""

    def read(self, cell: str, row: Row) -> str:
        """The text."""
        if " " in cell:
            row.wrong(f'{self.name} "{cell}" has a blank', f'write it as "{cell.replace(" ", "-")}"')
        return cell


@dataclass(frozen=True, eq=False)
class Named(Column):
    """The name of a shop or a part that is told elsewhere.

    Attributes:
        among: which of the names that the row knows, an attribute of `Known`.
    """

    among: str = ""

    def read(self, cell: str, row: Row) -> str:
        """The name, empty if none could be known."""
        known = getattr(row.known, self.among)
        return cell if _is_known(self.name, cell, known, row) else ""


@dataclass(frozen=True, eq=False)
class Words(Column):
    """One of some words.

    Attributes:
        choices: what the words stand for, each written as its text.
    """

    choices: tuple[object, ...] = ()

    unreadable: ClassVar[Any] = None

    @cached_property
    def _by_word(self) -> dict[str, object]:
        return {str(choice): choice for choice in self.choices}

    def read(self, cell: str, row: Row) -> Any:
        """What the word stands for."""
        return self._by_word[cell] if _is_known(self.name, cell, self._by_word, row) else None


def _is_known(column: str, word: str, known: Collection[str], row: Row) -> bool:
    """Whether a word is one of those known; if not it is noted, where any could be known."""
    if known and word not in known:
        row.wrong(f'{column} "{shortened(word)}" is not known', suggest(word, known))
    return word in known


@dataclass(frozen=True, eq=False)
class Kinds(Words):
    """The word that decides which columns with `only` are filled in.

    Attributes:
        called: how a row of a kind is called in a sentence, with {} for the word; the bare word if empty.
    """

    called: str = ""

    def read(self, cell: str, row: Row) -> Any:
        """What the word stands for."""
        row.kind = super().read(cell, row)
        row.whom = f" for {self.called.format(row.kind)}" if self.called else ""
        return row.kind


@dataclass(frozen=True, eq=False)
class Yes(Column):
    """A cell that says yes or no."""

    unit: Unit = Unit("yes or no")

    def read(self, cell: str, row: Row) -> bool:
        """Whether it says yes."""
        if cell.lower() not in ("yes", "no"):
            row.wrong(f'{self.name} is "{shortened(cell)}"', 'write "yes" or "no"')
        return cell.lower() == "yes"


@dataclass(frozen=True, eq=False)
class Number(Column):
    """A number, read into SI.

    Attributes:
        most: greatest that is taken, in the column's unit; what its unit says if None.
        least: what it must be more than, or at least be.
        above: whether it must be more than the least.
    """

    unit: Unit = Unit("number")
    most: float | None = None
    least: float = 0.0
    above: bool = True

    unreadable: ClassVar[Any] = math.nan

    def read(self, cell: str, row: Row) -> Any:
        """The number."""
        return self.figure(cell, row) * self.unit.times / self.unit.per

    def figure(self, cell: str, row: Row) -> float:
        """The number in the column's unit."""
        return self.within(cell, row, self.unit.most if self.most is None else self.most, self.above)

    def within(self, cell: str, row: Row, most: float, above: bool) -> float:
        """The number that a text in this column says, NaN if it is none or beyond its limits."""
        plain = cell.replace("\u2212", "-")
        if row.decimal_comma and "." not in plain:
            plain = plain.replace(",", ".")
        value = float(plain) if _NUMBER.fullmatch(plain) else math.nan
        if not math.isfinite(value):
            self._no_number(cell, plain, row)
        elif (value <= self.least if above else value < self.least) or value > most:
            lower = f"more than {self.least:g}" if above else f"{self.least:g} or more"
            upper = f" and up to {most:.12g}" if math.isfinite(most) else ""
            row.wrong(f"{self.name} is {cell}", f"it must be {lower}{upper}")
            return math.nan
        return value

    def _no_number(self, cell: str, plain: str, row: Row) -> None:
        if "," in plain and row.decimal_comma:
            fault, remedy = "has both a comma and a point", "write 1234.5 or 1234,5"
        elif "," in plain:
            fault = "has a comma"
            remedy = "write decimals with a point and no mark for thousands, as in 1.50 or 1500"
        elif _WITH_UNIT.fullmatch(plain):
            fault, remedy = "has a unit", "write the number alone; the header names the unit"
        else:
            fault, remedy = "is not a number", "write a number such as 12 or 1.5"
        row.wrong(f'{self.name} "{shortened(cell)}" {fault}', remedy)


MM = Unit("mm", "_mm", 1000, most=5000)
Mm = partial(Number, unit=MM)
Metres = partial(Number, unit=Unit("m", "_m", most=1000))
SquareMetres = partial(Number, unit=Unit("m2", "_m2", most=1000))
SquareCm = partial(Number, unit=Unit("cm2", "_cm2", 1e4, most=1e5))
Litres = partial(Number, unit=Unit("L", "_l", 1000, most=1e6))
LitresPerHour = partial(Number, unit=Unit("L/h", "_l_h", 3.6e6, most=1e7))
Kv = partial(Number, unit=Unit("m3/h", "_m3_h", most=1e5))
Bar = partial(Number, unit=Unit("bar", "_bar", times=BAR_M, most=1000))
DEGREES = Unit("degrees", "_deg")
Watts = partial(Number, unit=Unit("W", most=1e5))


@dataclass(frozen=True, eq=False)
class Whole(Number):
    """A whole number."""

    unit: Unit = Unit("whole number", most=1e6)
    least: float = 1
    above: bool = False

    def read(self, cell: str, row: Row) -> float:
        """The number."""
        value = self.figure(cell, row)
        if value % 1 > 0:
            row.wrong(f"{self.name} is {cell}", "it must be a whole number")
        return value if math.isnan(value) else int(value)


@dataclass(frozen=True, eq=False)
class Money(Number):
    """An amount of money, read into whole cents."""

    unit: Unit = Unit("money", most=MOST_PRICE)

    def read(self, cell: str, row: Row) -> float:
        """The amount [cents]."""
        value = self.figure(cell, row) * 100
        if math.isnan(value):
            return value
        if abs(round(value) - value) > 1e-6:
            row.wrong(f"{self.name} is {cell}", "an amount has at most two decimals")
        return round(value)


@dataclass(frozen=True, eq=False)
class Curve(Number):
    """Points flow:head of a pump, from shut-off to run-out."""

    unit: Unit = Unit("L/h and m", "_l_h_m")

    unreadable: ClassVar[Any] = ()

    def read(self, cell: str, row: Row) -> tuple[tuple[float, float], ...]:
        """Points (flow [m3/s], head [m])."""
        points: list[tuple[float, float]] = []
        for word in cell.split():
            flow, colon, head = word.partition(":")
            if not colon:
                remedy = 'write "flow:head", as in "0:2.0 800:1.4 1600:0"'
                row.wrong(f'{self.name}: "{word}" is not a point', remedy)
                return ()
            points.append(
                (self.within(flow, row, 1e7, above=False), self.within(head, row, 1e4, above=False))
            )
        if any(math.isnan(value) for point in points for value in point):
            return ()
        if len(points) < 3 or points[0][0] != 0:
            problem = f"{self.name} has {len(points)} points from flow {points[0][0]:g}"
            row.wrong(problem, "give three or more, the first at 0")
        for (before, high), (after, low) in pairwise(points):
            if after <= before:
                row.wrong(
                    f"{self.name}: flow {after:g} follows {before:g}", "put the points in order of flow"
                )
            if low >= high:
                problem = f"{self.name}: head {low:g} m follows {high:g} m"
                row.wrong(problem, "along the curve the head must fall")
        return tuple((litres / 3.6e6, metres) for litres, metres in points)
