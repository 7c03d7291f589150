"""The tables of a problem file as pydantic models, and what is wrong with one in the builder's words.

Every quantity is text with its unit in the file and an SI float in the model. None means not given.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Self, get_args

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from autoplan.errors import Mistake
from autoplan.problem.site import BedDrain, VesselKind
from autoplan.problem.values import (
    MOST_BEDS,
    Area,
    BedDrainWord,
    BedsFull,
    Celsius,
    Choose,
    Converter,
    Depth,
    DrawWord,
    EntryWord,
    Floods,
    GuardWord,
    Height,
    Hole,
    HoleHeight,
    JointsWord,
    KindWord,
    Legs,
    Length,
    Minutes,
    Money,
    Name,
    OverloadValue,
    Peak,
    Price,
    RunKindWord,
    ShapeWord,
    Share,
    Thickness,
    Turnover,
    Turns,
    Void,
    Volume,
    WasteWord,
    Water,
    Years,
    closest,
    wrong,
)
from autoplan.units import quoted


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


TIMER_KEYS = ("on_time", "hole", "hole_height")
"""What may be said of a timed bed alone."""


class BedTable(VesselTable):
    """What may be said of a bed."""

    flood: Depth | None = None
    void: Void | None = None
    floods: Floods | None = None
    drain_peak: Peak | None = None
    drain: BedDrainWord | None = None
    on_time: Minutes | None = None
    hole: Hole | None = None
    hole_height: HoleHeight | None = None

    @model_validator(mode="after")
    def _by_the_clock(self) -> Self:
        if self.drain is BedDrain.TIMER:
            if isinstance(self.floods, tuple):
                raise wrong(
                    "a timed bed floods by the clock, not within a range", 'write e.g. floods = "2/hour"'
                )
            return self
        beds = getattr(self, "kind", VesselKind.BED) is VesselKind.BED
        for key in TIMER_KEYS if beds else ():
            if getattr(self, key) is not None:
                raise wrong(f'"{key}" is for a timed bed', f'write drain = "timer" too, or take {key} out')
        return self


class LongVessel(BedTable, ChosenTable):
    """One `[[vessel]]`."""

    name: Name
    kind: KindWord
    turnover: Turnover | None = None
    spare: bool | None = Field(default=None, examples=["true"])

    @model_validator(mode="after")
    def _keys_of_kind(self) -> Self:
        only_beds = ("flood", "void", "floods", "drain_peak", "drain", "spare", *TIMER_KEYS)
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
    legs: Legs | None = None
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
    siphon_back: GuardWord | None = None


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

    siphon_back: GuardWord | None = None
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
    overload: OverloadValue | None = None
    budget: Money | None = None
    water: Celsius | None = None
    power_price: Price | None = None
    years: Years | None = None
    drain_joints: JointsWord | None = None
    beds_full: BedsFull | None = None
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
