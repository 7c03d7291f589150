"""Every key of a problem file and of a price list, with its unit, its default and what it means.

Nothing is written down here: meanings stand beside the keys, in `problem.tables.schema`, `top` and
`defaults`, the rules' settings and the columns of a price list.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, get_args, get_origin

from pydantic.fields import FieldInfo

from autoplan.catalog.columns import Column
from autoplan.catalog.load import COLUMNS, PARTS
from autoplan.catalog.parts import COMMON
from autoplan.problem.layouts.base import PUMPED, TO_COLLECTOR
from autoplan.problem.site import VesselKind
from autoplan.problem.tables.air import AirTable
from autoplan.problem.tables.defaults import FEEDS, HEIGHTS, LINES, VESSEL
from autoplan.problem.tables.schema import (
    NEVER_BEDS,
    ONLY_BEDS,
    OTHERWISE,
    ChosenTable,
    LongVessel,
    Table,
    VesselTable,
    WishesTable,
)
from autoplan.problem.tables.top import BOTH, BY_NAME, SHORT, Top
from autoplan.problem.tables.values import WithUnit, Word
from autoplan.problem.toml.long import ARRAYS, HandPumpTable
from autoplan.problem.toml.short import TABLES
from autoplan.rules.book import ALL
from autoplan.units import Dimension, quoted, unit_words

LEVEL = f"{unit_words(Dimension.LENGTH)}, or its pieces from corner to corner in a list"
"""How the level distance of a line is written."""

RUNS_AT = 'height (mm, in), or "over the rim", "on the ground", "under the beds", "buried 300 mm"'
"""How the height of a line is written."""

NEEDED, NOTHING = "must be given", "none"
"""What is said in place of a default."""

TOP_OF_FILE = "top of the file"
"""Where a key stands that stands in no table."""

KINDS = {"tank": VesselKind.TANK, "beds": VesselKind.BED, "sump": VesselKind.SUMP} | {
    name: VesselKind(name) for name in ("settler", "biofilter")
}
"""Kind of vessel that each table of the short form is for."""

SHARED: Mapping[str, type[Table]] = {
    "wishes": WishesTable,
    "air": AirTable,
    "hand_pumps.VESSEL": HandPumpTable,
}
"""Tables of either form."""


@dataclass(frozen=True, slots=True)
class Key:
    """One key.

    Attributes:
        table: where it stands: `TOP_OF_FILE`, "[tank]", "[[run]]", "pumps.csv".
        key: its name there.
        unit: what it measures and how it is written.
        default: what stands in for it; `NEEDED` where nothing may, `NOTHING` where nothing does.
        meaning: half a sentence.
    """

    table: str
    key: str
    unit: str
    default: str
    meaning: str


def all_keys() -> Iterator[Key]:
    """Every key, in the order in which the tables stand in a file."""
    yield from problem_keys()
    yield from price_list_keys()


def problem_keys() -> Iterator[Key]:
    """Those of a problem file: both forms, what both share, the rules."""
    for name, top in (*BOTH.items(), *SHORT.items()):
        if top.written:
            yield _single(TOP_OF_FILE, name, top)
    for name, table in TABLES.items():
        yield from _table(f"[{name}]", table.model_fields, (KINDS[name],))
    # In place of the volume a sump may have this.
    yield from _table("[sump]", {"choose": ChosenTable.model_fields["choose"]}, ())
    yield from _lines()
    for name, array in ARRAYS.items():
        yield from _table(f"[[{name}]]", array.model_fields, tuple(VesselKind) if array is LongVessel else ())
    for name, table in SHARED.items():
        yield from _table(f"[{name}]", table.model_fields, ())
    for name, top in BY_NAME.items():
        yield _single(f"[{name}]", "PART", top)
    yield from _rules()


def price_list_keys() -> Iterator[Key]:
    """Those of a price list: `catalog.toml` and the columns of each file."""
    first = True
    for file, columns in COLUMNS.items():
        if file in PARTS and first:
            first = False
            yield from _columns("every file of parts", COMMON)
        yield from _columns(file, columns)


def _columns(file: str, columns: Sequence[Column]) -> Iterator[Key]:
    for column in columns:
        empty = column.said_by_empty
        default = NEEDED if empty is None else f"empty: {empty}"
        yield Key(file, column.name, column.unit.word, default, column.meaning)


def _single(table: str, name: str, top: Top) -> Key:
    return Key(table, name, top.written, top.otherwise, top.meaning)


def _lines() -> Iterator[Key]:
    """The lines of the short form, whose keys depend on which vessels there are."""
    for name, line in LINES.items():
        yield Key("[distances]", name, LEVEL, line.length, f"level distance {line.why}")
    for name, line in LINES.items():
        corners, why = str(list(line.corners)), f"corners on the plan {line.why}"
        yield Key("[corners]", name, "degrees, as [90, 45]", corners, why)
    for name, line in LINES.items():
        if name not in (*PUMPED, TO_COLLECTOR):
            yield Key("[heights]", name, RUNS_AT, "that of its end", f"height at which it runs {line.why}")
    yield Key("[heights]", FEEDS, RUNS_AT, HEIGHTS[FEEDS].text, HEIGHTS[FEEDS].why)


def _rules() -> Iterator[Key]:
    for rule in ALL:
        table = f"[rules.{rule.id}]"
        for setting in rule.settings:
            unit = _measured(setting.dimension, share="%" in setting.default)
            yield Key(table, setting.key, unit, setting.default, setting.why)
        yield Key(table, "off", "true or false", "false", f"true leaves this rule out: {rule.sentence}")


def _table(table: str, fields: Mapping[str, FieldInfo], kinds: Sequence[VesselKind]) -> Iterator[Key]:
    for name, field in fields.items():
        default, meaning = _default(name, field, kinds), field.description or ""
        yield Key(table, field.alias or name, _unit(field), default, meaning)


def _default(name: str, field: FieldInfo, kinds: Sequence[VesselKind]) -> str:
    """What stands in for a key: by kind of vessel where that decides."""
    if field.is_required():
        return NEEDED
    extra = field.json_schema_extra
    otherwise = str(extra.get(OTHERWISE, "")) if isinstance(extra, dict) else ""
    said: dict[str, list[str]] = {}
    for kind in kinds:
        if len(kinds) > 1 and name in (NEVER_BEDS if kind is VesselKind.BED else ONLY_BEDS):
            continue
        said.setdefault(_of_kind(name, kind) or otherwise or NOTHING, []).append(kind)
    if len(said) > 1:
        return ", ".join(f"{text} ({', '.join(names)})" for text, names in said.items())
    return next(iter(said), otherwise or NOTHING)


def _of_kind(name: str, kind: VesselKind) -> str:
    if name not in VesselTable.model_fields and name not in LongVessel.model_fields:
        return ""
    if name == "water_min" and "range" in VESSEL[kind]:
        return f"{VESSEL[kind]['range'].text} of the depth"
    return VESSEL[kind][name].text if name in VESSEL[kind] else ""


def _unit(field: FieldInfo) -> str:
    """What a value measures and how it is written."""
    parts = [*_parts(field.annotation), *field.metadata]
    for part in parts:
        if isinstance(part, WithUnit):
            return _measured(part.dimension, share=part.high <= 1)
        if isinstance(part, Word):
            return _either(part.members)
    if bool in parts:
        return "true or false"
    if int in parts and str not in parts and not any(get_origin(part) is tuple for part in parts):
        return "whole number"
    examples = field.examples or next((part.examples for part in parts if getattr(part, "examples", ())), ())
    return f"as {examples[0]}" if examples else "text"


def _measured(dimension: Dimension, *, share: bool) -> str:
    """A dimension and its units; of plain numbers only a share is written in percent."""
    return "number" if dimension is Dimension.NUMBER and not share else unit_words(dimension)


def _parts(annotation: Any) -> Iterator[Any]:
    """An annotation and everything inside it, with what is annotated."""
    yield annotation
    for inner in (*getattr(annotation, "__metadata__", ()), *get_args(annotation)):
        yield from _parts(inner)


def _either(members: Sequence[StrEnum]) -> str:
    *some, last = (quoted(str(member)) for member in members)
    return f"{', '.join(some)} or {last}"


def about(word: str, keys: Sequence[Key]) -> tuple[Key, ...]:
    """The keys whose name, table or meaning has that word in it, whether large or small letters."""
    wanted = " ".join(word.casefold().split())
    return tuple(
        key for key in keys if any(wanted in text.casefold() for text in (key.key, key.table, key.meaning))
    )


def near(word: str, keys: Sequence[Key]) -> list[str]:
    """Names of keys and tables, and words of meanings, that look like one that is nowhere; nearest first."""
    names = [name for key in keys for name in (key.key, key.table.strip("[]").removeprefix("rules."))]
    words = [found for key in keys for found in re.findall(r"[a-z]{4,}", key.meaning)]
    known = list(dict.fromkeys([*names, *words]))
    return difflib.get_close_matches(word.casefold(), known, n=3)
