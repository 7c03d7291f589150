"""How a builder writes the values of a problem file: readers from text to SI floats and words.

Each is an annotated type for the tables of `tables.schema`. What is wrong with a value is said
in the builder's words, with how it would be written.
"""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator, Field, GetCoreSchemaHandler
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from autoplan.errors import QuantityError
from autoplan.problem.brief import (
    BedDrains,
    DrainGrade,
    DrainJoints,
    Flushing,
    Mouth,
    SettlerInletBy,
    Survives,
    WasteBy,
)
from autoplan.problem.site import (
    BedDrain,
    BellOf,
    Draw,
    Entry,
    Guard,
    OverflowOffer,
    RunKind,
    VesselKind,
)
from autoplan.units import Dimension, quoted, read

MOST_LENGTH_M = 500.0
MOST_DEPTH_M = 10.0
MOST_HEIGHT_M = 20.0
MOST_PLACE_M = 100.0
MOST_BURIED_M = 2.0
MOST_BEDS = 40
WIDEST_HOLE_M = 0.05
MOST_FALL = 0.03
"""Beyond these a number is a slip of the pen and not a backyard system."""


class Lie(StrEnum):
    """Where a line lies, in words."""

    RIM = "over the rim"
    GROUND = "on the ground"
    BEDS = "under the beds"
    BURIED = "buried"
    HEIGHT = "at a height"


@dataclass(frozen=True, slots=True)
class RunsAt:
    """At what height a line runs: where it lies, and how deep or how high [m] where that says so."""

    lie: Lie
    metres: float = 0.0


class Shape(StrEnum):
    """Shape of a vessel's walls."""

    ROUND = "round"
    SQUARE = "square"


def wrong(problem: str, remedy: str, lacks: str = "") -> PydanticCustomError:
    """The error that validators raise; `validate` turns it into a mistake.

    Args:
        problem, remedy: what is wrong, what would be right.
        lacks: the key without which it is wrong, if it is that.
    """
    return PydanticCustomError("mistake", "{problem}", {"problem": problem, "remedy": remedy, "lacks": lacks})


def closest(word: str, known: Sequence[str], otherwise: str) -> str:
    """A remedy: the known word that is nearest to a wrong one, or what to write otherwise."""
    close = difflib.get_close_matches(word.lower(), [name.lower() for name in known], n=1)
    if not close:
        return otherwise
    return f'did you mean "{next(name for name in known if name.lower() == close[0])}"'


@dataclass(frozen=True, slots=True)
class Converter:
    """Pydantic metadata that reads a value by calling itself before pydantic's own check.

    Attributes:
        example: how such a value is written in the file.
    """

    example: str

    def __call__(self, value: object) -> object:
        """The value as the model keeps it.

        Raises:
            PydanticCustomError: with problem and remedy.
        """
        raise NotImplementedError

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_before_validator_function(self, handler(source))


@dataclass(frozen=True, slots=True)
class WithUnit(Converter):
    """A quantity (SI) from `low` to `high`; `low` itself is too small where `above` is set."""

    dimension: Dimension
    low: float
    high: float
    above: bool = True

    def __call__(self, value: object) -> float:
        """The value in SI."""
        try:
            number = read(value, self.dimension)
        except QuantityError as error:
            raise wrong(error.problem, error.remedy) from error
        if number < self.low or (self.above and number == self.low):
            raise wrong(f"{quoted(value)} is too small", f"write something like {self.example}")
        if number > self.high:
            raise wrong(f"{quoted(value)} is too large", f"write something like {self.example}")
        return number


@dataclass(frozen=True, slots=True)
class Word(Converter):
    """One word of an enumeration, but for those that mean nothing here."""

    kind: type[StrEnum]
    but: tuple[StrEnum, ...] = ()

    @property
    def members(self) -> list[StrEnum]:
        """What may be written."""
        return [member for member in self.kind if member not in self.but]

    def __call__(self, value: object) -> StrEnum:
        """The member of that name."""
        known = [str(member) for member in self.members]
        if isinstance(value, str) and value in known:
            return self.kind(value)
        remedy = f"write one of {', '.join(quoted(name) for name in known)}"
        if isinstance(value, str):
            remedy = closest(value, known, remedy)
        raise wrong(f"{quoted(value)} is not known here", remedy)


def _floods(value: object) -> object:
    """Floods of a bed [1/s], or the least and the most of them."""
    if not isinstance(value, list):
        return floods_rate(value)
    if len(value) != 2:
        raise wrong(
            f"{quoted(value)} is not a range of floods",
            'write the least and the most, e.g. ["1/hour", "4/hour"], or one value',
        )
    least, most = floods_rate(value[0]), floods_rate(value[1])
    if least >= most:
        raise wrong(f"{quoted(value)} does not begin with the lesser", 'write e.g. ["1/hour", "4/hour"]')
    return least, most


def _choose(value: object) -> tuple[str, ...]:
    """Ids of vessels in the price list; none for any of them."""
    if value == "any":
        return ()
    if (
        isinstance(value, list)
        and value
        and all(isinstance(part, str) and part for part in value)
        and len(set(value)) == len(value)
    ):
        return tuple(value)
    raise wrong(f"{quoted(value)} is not a list of vessels", 'write e.g. ["tub-600", "tub-1000"], or "any"')


def _level(value: object) -> tuple[float, ...]:
    """A level distance, or its pieces from corner to corner."""
    return _legs(value) if isinstance(value, list) else (line_length(value),)


def _at(value: object) -> tuple[float, float]:
    """A place on the plan: along and across from a point of the builder's own."""
    if not isinstance(value, list) or len(value) != 2:
        raise wrong(
            f"{quoted(value)} is not a place on the plan",
            'write how far it is along and across from a point of your own, e.g. ["2.4 m", "0 m"]',
        )
    return _coordinate(value[0]), _coordinate(value[1])


def _facing(value: object) -> float:
    """A direction on the plan [degrees]."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not -360 <= value <= 360:
        raise wrong(f"{quoted(value)} is not a direction", "write degrees from along to across, e.g. 30")
    return float(value)


def _turns(value: object) -> tuple[int, ...]:
    """A list of turns, or how many 90s there are."""
    if isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= 20:
        return (90,) * value
    if (
        isinstance(value, list)
        and len(value) <= 20
        and all(type(turn) is int and turn in (45, 90) for turn in value)
    ):
        return tuple(value)
    raise wrong(
        f"{quoted(value)} is not a list of turns",
        "write each turn as 45 or 90, e.g. [90, 45], or how many 90s",
    )


def _name(value: str) -> str:
    if value.strip() != value or not value or len(value) > 40 or not value.isprintable():
        raise wrong(
            f"{quoted(value)} is not a good name",
            "write 1 to 40 visible characters without a blank at either end",
        )
    return value


def _text(value: object) -> str:
    if not isinstance(value, str) or not value.strip() or not value.isprintable() or len(value) > 200:
        raise wrong(f"{quoted(value)} is not a short text", 'write a short text in quotes, e.g. "metric"')
    return value


def _runs_at(value: object) -> RunsAt:
    """Where a line lies: a height, or words."""
    if isinstance(value, str):
        for lie in (Lie.RIM, Lie.GROUND, Lie.BEDS):
            if value == lie:
                return RunsAt(lie)
        word, _, deep = value.partition(" ")
        if word == Lie.BURIED and deep:
            return RunsAt(Lie.BURIED, _depth(deep))
        if value[:1].isalpha():
            raise wrong(
                f"{quoted(value)} is no height",
                'write a height such as "250 mm", or "over the rim", "on the ground", "under the beds" or '
                '"buried 300 mm"',
            )
    return RunsAt(Lie.HEIGHT, _height(value))


line_length = WithUnit('"2.5 m"', Dimension.LENGTH, 0, MOST_LENGTH_M)
"""Length of a piece of pipe [m] from its text."""

line_level = _level
"""Level distance of a line [m], or its pieces from corner to corner, from their text."""

line_turns = _turns
"""Turns of a line [degrees] from their list or count."""

line_height = _runs_at
"""Where a line lies, from its words or height."""

_depth = WithUnit('"300 mm"', Dimension.LENGTH, 0, MOST_DEPTH_M)
_coordinate = WithUnit('"2.4 m"', Dimension.LENGTH, -MOST_PLACE_M, MOST_PLACE_M, above=False)
_height = WithUnit('"250 mm"', Dimension.LENGTH, -MOST_HEIGHT_M, MOST_HEIGHT_M)

Length = Annotated[float, line_length]
Depth = Annotated[float, WithUnit('"900 mm"', Dimension.LENGTH, 0, MOST_DEPTH_M)]
Thickness = Annotated[float, WithUnit('"6 mm"', Dimension.LENGTH, 0, 1)]
Height = Annotated[float, WithUnit('"400 mm"', Dimension.LENGTH, -MOST_HEIGHT_M, MOST_HEIGHT_M)]
Level = Annotated[tuple[float, ...], BeforeValidator(_level), Field(examples=['"2.2 m"'])]
At = Annotated[tuple[float, float], BeforeValidator(_at), Field(examples=['["2.4 m", "0 m"]'])]
Facing = Annotated[float, BeforeValidator(_facing), Field(examples=["30"])]
Water = Annotated[float, WithUnit('"750 mm"', Dimension.LENGTH, 0, MOST_DEPTH_M, above=False)]
Volume = Annotated[float, WithUnit('"1600 L"', Dimension.VOLUME, 0, 1000)]
Area = Annotated[float, WithUnit('"1.2 m2"', Dimension.AREA, 0, 1000)]
floods_rate = WithUnit('"2/hour"', Dimension.RATE, 0, 1 / 60)
Floods = Annotated[float | tuple[float, float], BeforeValidator(_floods), Field(examples=['"2/hour"'])]
Turnover = Annotated[float, WithUnit('"1.5/hour"', Dimension.RATE, 0, 1 / 60)]
Void = Annotated[float, WithUnit("0.4", Dimension.NUMBER, 0, 1)]
Share = Annotated[float, WithUnit('"50 %"', Dimension.NUMBER, 0, 1)]
Peak = Annotated[float, WithUnit("3", Dimension.NUMBER, 1, 100, above=False)]
Fall = Annotated[float, WithUnit('"10 mm/m"', Dimension.NUMBER, 0, MOST_FALL)]
Minutes = Annotated[float, WithUnit('"12 min"', Dimension.TIME, 0, 86400)]
Rain = Annotated[float, WithUnit('"30 mm"', Dimension.LENGTH, 0, 1, above=False)]
TopUp = Annotated[float, WithUnit('"60 L/h"', Dimension.FLOW, 0, 0.01)]
Hole = Annotated[float, WithUnit('"8 mm"', Dimension.LENGTH, 0, WIDEST_HOLE_M)]
HoleHeight = Annotated[float, WithUnit('"40 mm"', Dimension.LENGTH, 0, 0.5)]
Money = Annotated[float, WithUnit("900", Dimension.NUMBER, 0, 1e7)]
Price = Annotated[float, WithUnit("0.3", Dimension.ENERGY_PRICE, 0, 1000, above=False)]
Stocking = Annotated[float, WithUnit('"20 kg/m3"', Dimension.STOCKING, 0, 500)]
Years = Annotated[float, WithUnit("3", Dimension.YEARS, 0, 100, above=False)]
Celsius = Annotated[float, WithUnit('"20 degC"', Dimension.TEMPERATURE, 1, 45, above=False)]
Name = Annotated[str, BeforeValidator(_text), AfterValidator(_name), Field(examples=['"tank"'])]
Turns = Annotated[tuple[int, ...], BeforeValidator(_turns), Field(examples=["[90, 45]"])]
Choose = Annotated[tuple[str, ...], BeforeValidator(_choose), Field(examples=['["tub-600", "tub-1000"]'])]
ShapeWord = Annotated[Shape, Word('"round"', Shape)]
DrawWord = Annotated[Draw, Word('"wall"', Draw)]
TankDrawWord = Annotated[Draw, Word('"wall"', Draw, (Draw.OUTSIDE,))]
KindWord = Annotated[VesselKind, Word('"tank"', VesselKind)]
RunKindWord = Annotated[RunKind, Word('"gravity"', RunKind)]
BedDrainWord = Annotated[BedDrain, Word('"siphon"', BedDrain)]
BellWord = Annotated[BellOf, Word('"bottle"', BellOf)]
BedDrainsWord = Annotated[BedDrains, Word('"each"', BedDrains)]
WasteWord = Annotated[WasteBy, Word('"gravity"', WasteBy)]
JointsWord = Annotated[DrainJoints, Word('"welded"', DrainJoints)]
SurvivesWord = Annotated[Survives, Word('"nothing"', Survives)]
GradeWord = Annotated[DrainGrade, Word('"drain"', DrainGrade)]
MouthWord = Annotated[Mouth, Word('"below water"', Mouth)]
SettlerInletWord = Annotated[SettlerInletBy, Word('"stilling well"', SettlerInletBy)]
GuardWord = Annotated[Guard, Word('"air gap"', Guard)]
EntryWord = Annotated[Entry, Word('"over the rim"', Entry)]


FRY = "fry"
"""Of a screen: one that holds back fry."""

_factor = WithUnit("1.5", Dimension.NUMBER, 1, 20, above=False)


def _legs(value: object) -> tuple[float, ...]:
    if not isinstance(value, list) or not 1 <= len(value) <= 21:
        raise wrong(
            f"{quoted(value)} is not a list of lengths",
            'write the straight pieces in order, e.g. ["1.2 m", "0.8 m"]',
        )
    return tuple(line_length(leg) for leg in value)


def _screen(value: object) -> object:
    """True or false, or the word for the smallest fish."""
    if isinstance(value, bool) or value == FRY:
        return value
    raise wrong(f"{quoted(value)} is neither true nor false", 'write screen = true, or "fry" for a fine mesh')


def _beds_full(value: object) -> object:
    """A number of beds, or "all" or "most"."""
    if type(value) is int and 0 <= value <= MOST_BEDS:
        return value
    if value in ("all", "most"):
        return value
    raise wrong(
        f"{quoted(value)} is no number of beds",
        'write how many may be full at once, or "all", or "most" for as many as the sump can fill',
    )


def _flushing(value: object) -> Flushing:
    """True, false, or the word for drains ahead of a settler."""
    if isinstance(value, bool):
        return Flushing.ALL if value else Flushing.NOWHERE
    if value == str(Flushing.AHEAD):
        return Flushing.AHEAD
    raise wrong(f"{quoted(value)} is not known here", f'write true, false, or "{Flushing.AHEAD}"')


def _overflow(value: object) -> bool | OverflowOffer:
    """Whether there is an emergency overflow, or one of the words that leave it to the program."""
    if isinstance(value, bool):
        return value
    known = [str(word) for word in OverflowOffer]
    if isinstance(value, str) and value in known:
        return OverflowOffer(value)
    words = ", ".join(quoted(word) for word in known)
    raise wrong(f"{quoted(value)} is not known here", f"write true, false, or one of {words}")


def _overload(value: object) -> object:
    """The word "pump", or a multiple of the design flow."""
    if isinstance(value, str) and value.strip()[:1].isalpha():
        if value == "pump":
            return value
        raise wrong(
            f"{quoted(value)} is not known here", 'write a multiple of the design flow like 1.5, or "pump"'
        )
    return _factor(value)


A_BED = "a bed"
"""Spare of a pump for one bed more."""

_spare_share = WithUnit('"15 %"', Dimension.NUMBER, 0, 2, above=False)


def _spare(value: object) -> object:
    """A share of the design flow, "a bed", or "none"."""
    if isinstance(value, str) and value.strip()[:1].isalpha():
        if value in (A_BED, "none"):
            return value
        raise wrong(
            f"{quoted(value)} is not known here",
            'write a share of the flow like "15 %", or "a bed", or "none"',
        )
    return _spare_share(value)


Legs = Annotated[tuple[float, ...], BeforeValidator(_legs), Field(examples=['["1.2 m", "0.8 m"]'])]
FlushingWord = Annotated[Flushing, BeforeValidator(_flushing), Field(examples=["true"])]
Overflows = Annotated[bool | OverflowOffer, BeforeValidator(_overflow), Field(examples=["true", '"any"'])]
ScreenWord = Annotated[bool | str, BeforeValidator(_screen), Field(examples=["true"])]
BedsFull = Annotated[int | str, BeforeValidator(_beds_full), Field(examples=['"all"'])]
OverloadValue = Annotated[float | str, BeforeValidator(_overload), Field(examples=["1.5"])]
Spare = Annotated[float | str, BeforeValidator(_spare), Field(examples=['"15 %"'])]
