"""The tables of a problem file as pydantic models, and what is wrong with one in the builder's words.

Every quantity is text with its unit in the file and an SI float in the model. None means not given.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated, Any, Self, get_args

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    ValidationError,
    model_validator,
)
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from autoplan.errors import Mistake, QuantityError
from autoplan.problem.site import BedDrain, DrainJoints, Draw, Entry, RunKind, VesselKind, WasteBy
from autoplan.units import Dimension, quoted, read

MOST_LENGTH_M = 500.0
MOST_DEPTH_M = 10.0
MOST_HEIGHT_M = 20.0
MOST_BEDS = 40
"""Beyond these a number is a slip of the pen and not a backyard system."""


class Shape(StrEnum):
    """Shape of a vessel's walls."""

    ROUND = "round"
    SQUARE = "square"


def wrong(problem: str, remedy: str) -> PydanticCustomError:
    """The error that validators raise; `validate` turns it into a mistake."""
    return PydanticCustomError("mistake", "{problem}", {"problem": problem, "remedy": remedy})


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
class Quantity(Converter):
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
    """One word of an enumeration."""

    kind: type[StrEnum]

    def __call__(self, value: object) -> StrEnum:
        """The member of that name."""
        known = [str(member) for member in self.kind]
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


line_length = Quantity('"2.5 m"', Dimension.LENGTH, 0, MOST_LENGTH_M)
"""Length of a piece of pipe [m] from its text."""

line_turns = _turns
"""Turns of a line [degrees] from their list or count."""

Length = Annotated[float, line_length]
Depth = Annotated[float, Quantity('"900 mm"', Dimension.LENGTH, 0, MOST_DEPTH_M)]
Thickness = Annotated[float, Quantity('"6 mm"', Dimension.LENGTH, 0, 1)]
Height = Annotated[float, Quantity('"400 mm"', Dimension.LENGTH, -MOST_HEIGHT_M, MOST_HEIGHT_M)]
Water = Annotated[float, Quantity('"750 mm"', Dimension.LENGTH, 0, MOST_DEPTH_M, above=False)]
Volume = Annotated[float, Quantity('"1600 L"', Dimension.VOLUME, 0, 1000)]
Area = Annotated[float, Quantity('"1.2 m2"', Dimension.AREA, 0, 1000)]
floods_rate = Quantity('"2/hour"', Dimension.RATE, 0, 1 / 60)
Floods = Annotated[float | tuple[float, float], BeforeValidator(_floods), Field(examples=['"2/hour"'])]
Turnover = Annotated[float, Quantity('"1.5/hour"', Dimension.RATE, 0, 1 / 60)]
Void = Annotated[float, Quantity("0.4", Dimension.NUMBER, 0, 1)]
Share = Annotated[float, Quantity('"50 %"', Dimension.NUMBER, 0, 1)]
Peak = Annotated[float, Quantity("3", Dimension.NUMBER, 1, 100, above=False)]
Money = Annotated[float, Quantity("900", Dimension.NUMBER, 0, 1e7)]
Price = Annotated[float, Quantity("0.3", Dimension.ENERGY_PRICE, 0, 1000, above=False)]
Years = Annotated[float, Quantity("3", Dimension.YEARS, 0, 100, above=False)]
Celsius = Annotated[float, Quantity('"20 degC"', Dimension.TEMPERATURE, 1, 45, above=False)]
Name = Annotated[str, BeforeValidator(_text), AfterValidator(_name), Field(examples=['"tank"'])]
Turns = Annotated[tuple[int, ...], BeforeValidator(_turns), Field(examples=["[90, 45]"])]
Choose = Annotated[tuple[str, ...], BeforeValidator(_choose), Field(examples=['["tub-600", "tub-1000"]'])]
ShapeWord = Annotated[Shape, Word('"round"', Shape)]
DrawWord = Annotated[Draw, Word('"wall"', Draw)]
KindWord = Annotated[VesselKind, Word('"tank"', VesselKind)]
RunKindWord = Annotated[RunKind, Word('"gravity"', RunKind)]
BedDrainWord = Annotated[BedDrain, Word('"siphon"', BedDrain)]
WasteWord = Annotated[WasteBy, Word('"gravity"', WasteBy)]
JointsWord = Annotated[DrainJoints, Word('"welded"', DrainJoints)]
EntryWord = Annotated[Entry, Word('"over the rim"', Entry)]


_factor = Quantity("1.5", Dimension.NUMBER, 1, 20, above=False)


def _legs(value: object) -> tuple[float, ...]:
    if not isinstance(value, list) or not 1 <= len(value) <= 21:
        raise wrong(
            f"{quoted(value)} is not a list of lengths",
            'write the straight pieces in order, e.g. ["1.2 m", "0.8 m"]',
        )
    return tuple(line_length(leg) for leg in value)


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


def _overload(value: object) -> object:
    """The word "pump", or a multiple of the design flow."""
    if isinstance(value, str) and value.strip()[:1].isalpha():
        if value == "pump":
            return value
        raise wrong(
            f"{quoted(value)} is not known here", 'write a multiple of the design flow like 1.5, or "pump"'
        )
    return _factor(value)


class Table(BaseModel):
    """What all tables have in common: no unknown keys, no silent conversion."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class VesselTable(Table):
    """What may be said of any vessel; heights are above the ground there."""

    area: Area | None = None
    depth: Depth | None = None
    wall: Thickness | None = None
    base: Thickness | None = None
    shape: ShapeWord | None = None
    uncertain: Water | None = None
    floor: Height | None = None
    ground: Height | None = None


class OpenTable(VesselTable):
    """What may be said of a vessel whose level the design chooses; water is above its floor."""

    volume: Volume | None = None
    freeboard: Water | None = None
    water_min: Water | None = None
    water_max: Water | None = None

    @model_validator(mode="after")
    def _one_highest(self) -> Self:
        if self.freeboard is not None and self.water_max is not None:
            raise wrong("both freeboard and water_max are given", "give one of them")
        return self


class ChosenTable(OpenTable):
    """A vessel that may be chosen from those of the price list."""

    choose: Choose | None = None

    @model_validator(mode="after")
    def _size_of_the_list(self) -> Self:
        for key in ("volume", "area", "depth", "wall", "base", "shape") if self.choose is not None else ():
            if getattr(self, key) is not None:
                raise wrong(f"both choose and {key} are given", f"take {key} out: the price list says it")
        return self


class BedTable(VesselTable):
    """What may be said of a bed."""

    flood: Depth | None = None
    void: Void | None = None
    floods: Floods | None = None
    drain_peak: Peak | None = None
    drain: BedDrainWord | None = None


class LongVessel(BedTable, ChosenTable):
    """One `[[vessel]]`."""

    name: Name
    kind: KindWord
    turnover: Turnover | None = None
    spare: bool | None = Field(default=None, examples=["true"])

    @model_validator(mode="after")
    def _keys_of_kind(self) -> Self:
        only_beds = ("flood", "void", "floods", "drain_peak", "drain", "spare")
        never_beds = ("volume", "freeboard", "water_min", "water_max", "turnover")
        for key in never_beds if self.kind is VesselKind.BED else only_beds:
            if getattr(self, key) is not None:
                raise wrong(f'a {self.kind} has no "{key}"', "take it out")
        if self.choose is not None and self.kind is not VesselKind.SUMP:
            raise wrong(f"a {self.kind} cannot be chosen", "take it out: only a sump can")
        return self


class LongJunction(Table):
    """One `[[junction]]`; one that is the open end of a waste drain has a height above the datum."""

    name: Name
    open: Height | None = None


class LongRun(Table):
    """One `[[run]]`."""

    name: Name
    kind: RunKindWord
    start: Name = Field(alias="from")
    finish: Name = Field(alias="to")
    legs: (
        Annotated[tuple[float, ...], BeforeValidator(_legs), Field(examples=['["1.2 m", "0.8 m"]'])] | None
    ) = None
    length: Length | None = None
    turns: Turns | None = None
    run_class: Name | None = Field(default=None, alias="class")
    valve: bool | None = Field(default=None, examples=["true"])
    draw: DrawWord | None = None
    entry: EntryWord | None = None
    share: Share | None = None
    overflow: bool | None = Field(default=None, examples=["true"])
    screen: bool | None = Field(default=None, examples=["true"])
    waste: bool | None = Field(default=None, examples=["true"])


class ShortVessel(OpenTable):
    """`[sump]` of the short form."""

    volume: Volume


class ShortSump(ChosenTable):
    """`[sump]` of the short form, chosen from the price list."""

    choose: Choose


class ShortFilter(ShortVessel):
    """`[tank]`, `[settler]` or `[biofilter]` of the short form."""

    screen: bool | None = Field(default=None, examples=["true"])


class ShortWaste(ShortFilter):
    """`[settler]` or `[biofilter]` of the short form, which may have a waste drain."""

    waste: bool | None = Field(default=None, examples=["true"])
    waste_height: Height | None = None
    waste_by: WasteWord | None = None


class ShortTank(ShortFilter):
    """`[tank]` of the short form."""

    draw: DrawWord | None = None
    overflow: bool | None = Field(default=None, examples=["true"])


class ShortBeds(BedTable):
    """`[beds]` of the short form, all alike."""

    screen: bool | None = Field(default=None, examples=["true"])
    count: Annotated[int, Field(ge=0, le=MOST_BEDS, examples=["4"])]
    area: Area
    spare_beds: Annotated[int, Field(ge=0, le=MOST_BEDS, examples=["1"])] | None = None


class Wishes(Table):
    """`[wishes]`."""

    turnover: Turnover | None = None
    overload: Annotated[float | str, BeforeValidator(_overload), Field(examples=["1.5"])] | None = None
    budget: Money | None = None
    water: Celsius | None = None
    power_price: Price | None = None
    years: Years | None = None
    drain_joints: JointsWord | None = None
    beds_full: Annotated[int | str, BeforeValidator(_beds_full), Field(examples=['"all"'])] | None = None
    flushing_points: bool | None = Field(default=None, examples=["true"])


@dataclass(frozen=True, slots=True)
class Found:
    """What came of one table: the model, or None, and which of its keys were wrong."""

    model: Any
    mistakes: tuple[Mistake, ...]
    bad_keys: tuple[str, ...]


def validate(kind: type[Table], table: object, file: str, place: str) -> Found:
    """Check one table against its model.

    Args:
        kind: the model.
        table: what the file says.
        file, place: where it says so.

    Returns:
        The model and no mistakes, or no model and every mistake in the table.
    """
    if not isinstance(table, Mapping):
        mistake = Mistake(file, place, f"{quoted(table)} is not a table", "write a table with its keys")
        return Found(None, (mistake,), ())
    try:
        return Found(kind.model_validate(table), (), ())
    except ValidationError as error:
        return _found(kind, table, error, file, place)


def _found(
    kind: type[Table], table: Mapping[str, object], error: ValidationError, file: str, place: str
) -> Found:
    mistakes: dict[str, Mistake] = {}
    for item in error.errors(include_url=False):
        key = str(item["loc"][0]) if item["loc"] else ""
        if key not in mistakes:
            problem, remedy = _in_words(kind, key, table.get(key), item)
            mistakes[key] = Mistake(file, f"{place}.{key}" if key else place, problem, remedy)
    order = [*table, *mistakes]
    ranked = sorted(mistakes, key=order.index)
    return Found(None, tuple(mistakes[key] for key in ranked), tuple(ranked))


def _in_words(kind: type[Table], key: str, value: object, item: Any) -> tuple[str, str]:
    """Problem and remedy of one pydantic error."""
    if item["type"] == "mistake":
        return item["ctx"]["problem"], item["ctx"]["remedy"]
    if item["type"] == "extra_forbidden":
        keys = keys_of(kind)
        return f'there is no key "{key}" here', closest(key, keys, f"known are {', '.join(keys)}")
    example = f"write e.g. {key} = {_example(kind, key)}"
    if item["type"] == "missing":
        return "is missing", example
    if item["type"] in ("bool_type", "bool_parsing"):
        return f"{quoted(value)} is neither true nor false", example
    if item["type"] == "int_type":
        return f"{quoted(value)} is not a whole number", example
    if item["type"] in ("greater_than_equal", "less_than_equal"):
        small = item["type"].startswith("greater")
        return (
            f"{quoted(value)} is too {'small' if small else 'large'}",
            f"write a whole number from 0 to {MOST_BEDS}",
        )
    return f"{quoted(value)} cannot be read", example


def keys_of(kind: type[Table]) -> list[str]:
    """The keys of a table as they stand in the file."""
    return [field.alias or name for name, field in kind.model_fields.items()]


def _example(kind: type[Table], key: str) -> str:
    """How a value of that key would be written."""
    for name, field in kind.model_fields.items():
        if key in (name, field.alias):
            here = [part.example for part in field.metadata if isinstance(part, Converter)]
            found = here or field.examples or _nested_examples(field.annotation)
            return str(found[0])
    raise KeyError(key)


def _nested_examples(annotation: object) -> list[Any]:
    """Examples inside an annotation such as `Length | None`."""
    for part in (*getattr(annotation, "__metadata__", ()), *get_args(annotation)):
        if isinstance(part, Converter):
            return [part.example]
        found = getattr(part, "examples", None) or _nested_examples(part)
        if found:
            return list(found)
    return []
