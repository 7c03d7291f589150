"""A problem file to a frozen, validated `Problem`, or every mistake in it at once."""

from __future__ import annotations

import difflib
import math
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from autoplan.errors import InputError, Mistake
from autoplan.problem.brief import PrintUnits
from autoplan.problem.checks.scene import Scene
from autoplan.problem.checks.water import sound_flows
from autoplan.problem.flows import flows
from autoplan.problem.problem import Arranged, Problem
from autoplan.problem.tables.air import read_air
from autoplan.problem.tables.build import Ledger, wishes_from
from autoplan.problem.tables.defaults import CATALOG
from autoplan.problem.tables.schema import WishesTable
from autoplan.problem.tables.top import BOTH, GONE, LONG, SHORT
from autoplan.problem.tables.validate import validate
from autoplan.problem.tables.values import closest
from autoplan.problem.toml.effect import with_effect
from autoplan.problem.toml.lengths import lengths_from
from autoplan.problem.toml.long import read_hand_pumps, read_long
from autoplan.problem.toml.short import ShortWay, arrangements_of, build_short, read_short, ways_of
from autoplan.sentence import Text, say
from autoplan.units import quoted


class WrongProblemError(InputError):
    """The mistakes of a problem file, with what can be told of it all the same.

    Attributes:
        asking: what it asks of its price list and of the rules, whatever is wrong with its vessels and runs:
            a problem without layouts; None where its price list cannot be told.
    """

    def __init__(self, mistakes: Sequence[Mistake], asking: Problem | None) -> None:
        super().__init__(mistakes)
        self.asking = asking


def load_problem(path: str | Path) -> Problem:
    """Read a problem file.

    Args:
        path: TOML file, in the short or the long form.

    Returns:
        What it asks for, with every value that the file does not give as an assumption.

    Raises:
        WrongProblemError: what it says is wrong; with every mistake that could be found.
        InputError: it cannot be read.
    """
    file = str(path)
    return _problem(file, _parse(Path(path), file))


def problem_from(text: str, file: str) -> Problem:
    """The problem of a text that is in no file yet.

    Args:
        text: what would be in it.
        file: how to name it in mistakes.

    Raises:
        InputError: as `load_problem`.
    """
    return _problem(file, _tables(file, text))


def _problem(file: str, tables: Mapping[str, Any]) -> Problem:
    """The problem of a file's tables, or every mistake in them."""
    reader = _Reader(file, tables)
    problem = reader.problem()
    if reader.mistakes:
        unnamed = any(mistake.place == "catalog" for mistake in reader.mistakes)
        asking = None if unnamed else problem
        raise WrongProblemError(list(dict.fromkeys(reader.mistakes)), asking)
    return problem


def _parse(path: Path, file: str) -> dict[str, Any]:
    """The tables of a file.

    Raises:
        InputError: no such file, not text, or not TOML.
    """
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        raise InputError([Mistake(file, "", "there is no such file", _nearby(path))]) from None
    except IsADirectoryError:
        raise InputError([Mistake(file, "", "is a folder", "name the problem file inside it")]) from None
    except UnicodeDecodeError as error:
        line = path.read_bytes()[: error.start].count(b"\n") + 1
        remedy = "save the file as text in UTF-8"
        raise InputError([Mistake(file, f"line {line}", "is not text in UTF-8", remedy)]) from None
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or str(error)
        raise InputError(
            [Mistake(file, "", f"cannot be read ({why.lower()})", "name a readable file")]
        ) from None
    return _tables(file, text)


def _tables(file: str, text: str) -> dict[str, Any]:
    """The tables of a file's text."""
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise InputError([_toml_mistake(file, text, str(error))]) from None


def _nearby(path: Path) -> str:
    folder = path.parent
    if not folder.is_dir():
        return f'there is no folder "{folder}" either'
    try:
        names = sorted(item.name for item in folder.iterdir() if item.suffix == ".toml")
    except OSError:
        names = []
    close = difflib.get_close_matches(path.name, names, n=2)
    if close:
        return "did you mean " + " or ".join(f'"{folder / name}"' for name in close)
    return "check the name and the folder"


def _toml_mistake(file: str, text: str, message: str) -> Mistake:
    found = re.search(r"^(.*?) \(at line (\d+), column (\d+)\)$", message, re.DOTALL)
    if found is None:
        lines = text.count("\n") + 1
        problem = re.sub(r" \(at end of document\)$", ", and the file ends", message)
        return Mistake(file, f"line {lines}", f"is not TOML ({_lower(problem)})", "close what was opened")
    problem, line, column = found.groups()
    again = re.match(r"Cannot (?:declare|overwrite|mutate) .*?\((.*?),?\) ?twice", problem, re.IGNORECASE)
    if again is not None:
        name = ".".join(part.strip(" '\"") for part in again[1].split(","))
        return Mistake(file, f"line {line}", f"[{name}] is there already", "write each table once")
    where = f"line {line}"
    return Mistake(
        file,
        where,
        f"is not TOML ({_lower(problem)}, column {column})",
        'write key = value, with text in "quotes"',
    )


def _lower(text: str) -> str:
    return text[:1].lower() + " ".join(text[1:].split())


@dataclass(slots=True)
class _Reader:
    """One file on its way to a problem.

    Attributes:
        file, tables: what it is called, and what it says.
        mistakes: grow on the way.
        ledger, wished: assumptions of its top, and of its wishes.
    """

    file: str
    tables: Mapping[str, Any]
    mistakes: list[Mistake] = field(default_factory=list)
    ledger: Ledger = field(default_factory=Ledger)
    wished: Ledger = field(default_factory=Ledger)

    def problem(self) -> Problem:
        """What it asks for; after mistakes nothing is sure of it but what is asked whatever stands where."""
        asked: dict[str, Any] = {
            "name": self._title("name", Path(self.file).stem),
            "file": self.file,
            "catalog": self._catalog(),
            "unavailable": self._unavailable(),
            "owned": self._owned(),
            "rule_settings": self._rules(),
            "offcuts": self._offcuts(),
            "print_units": self._print_units(),
        }
        checked = validate(WishesTable, self.tables.get("wishes", {}), self.file, "wishes")
        self.mistakes += checked.mistakes
        table: WishesTable = checked.model or WishesTable()
        wishes = wishes_from(table, self.wished)
        found, left_out = self._layouts(table)
        return Problem(**asked, wishes=wishes, layouts=found, left_out=left_out)

    def _layouts(self, wishes: WishesTable) -> tuple[tuple[Arranged, ...], tuple[Text, ...]]:
        """Every layout that can be built, and a sentence for each other; mistakes where there is none."""
        long = any(key in self.tables for key in LONG)
        if not self._one_form(long):
            return (), ()
        ways: Sequence[ShortWay | None] = [None]
        if not long:
            words, wrong = arrangements_of(self.file, self.tables)
            self.mistakes += wrong
            form, wrong = read_short(self.file, self.tables, words)
            self.mistakes += wrong
            ways = ways_of(form, words)
        found: list[Arranged] = []
        scene: Scene | None
        failed: dict[ShortWay | None, list[Mistake]] = {}
        for way in ways:
            ledger = Ledger(dict(self.ledger.kept))
            if way is None:
                scene, wrong = read_long(self.file, self.tables, ledger)
            else:
                scene, wrong = build_short(form, wishes, way, ledger, one_of_many=len(words) > 1)
            layout, more = self._layout(scene, ledger, sound=not self.mistakes and not wrong)
            if wrong or more or layout is None:
                failed[way] = [*wrong, *more]
            else:
                found.append(layout if way is None else _named(layout, way, ways))
        if self.mistakes or not found:
            self.mistakes += _of_all(failed, ways, named=not self.mistakes)
            return (), ()
        left_out = (
            say("Left out: {}, since at {} {}; {}.", way.said, wrong[0].place, wrong[0].said, wrong[0].remedy)
            for way, wrong in failed.items()
            if way is not None
        )
        return tuple(found), tuple(left_out)

    def _layout(
        self, scene: Scene | None, ledger: Ledger, *, sound: bool
    ) -> tuple[Arranged | None, list[Mistake]]:
        """A layout from its vessels and runs, and what is wrong with it besides."""
        if scene is None:
            return None, []
        air, mistakes = None, list[Mistake]()
        if "air" in self.tables:
            air, mistakes = read_air(self.file, self.tables["air"], scene.vessels, ledger)
        by_hand, wrong = read_hand_pumps(self.file, self.tables.get("hand_pumps", {}), scene.vessels)
        mistakes += wrong
        if mistakes or not sound:
            return None, mistakes
        found, mistakes = sound_flows(scene)
        layout = Arranged(
            vessels=scene.vessels,
            junctions=scene.junctions,
            runs=scene.runs | scene.offered,
            flows=found,
            air=air,
            hand_pumps=(*scene.hand_pumps, *by_hand),
            assumptions=with_effect(scene, found, ledger.kept | self.wished.kept),
            choices=scene.choices,
        )
        return replace(layout, flows=flows(layout)) if scene.offered else layout, mistakes

    def _say(self, place: str, problem: str, remedy: str) -> None:
        self.mistakes.append(Mistake(self.file, place, problem, remedy))

    def _one_form(self, long: bool) -> bool:
        """Unknown tables; whether the file keeps to one of the two forms."""
        known = [*BOTH, *(LONG if long else (*SHORT, *LONG))]
        short = [key for key in SHORT if key in self.tables]
        if long and short:
            mixed = next(key for key in LONG if key in self.tables)
            problem = f"[{short[0]}] of the short form and [[{mixed}]] of the long form stand in one file"
            self._say(
                "", problem, "keep to one form; `autoplan expand` turns the short one into the long one"
            )
            return False
        for key in self.tables:
            if key in known:
                continue
            if key in GONE:
                self._say(key, *GONE[key])
                continue
            remedy = closest(key, known, f"known are {', '.join(known)}")
            if key in WishesTable.model_fields:
                remedy = "write it below [wishes]"
            self._say(key, f'there is no key "{key}" here', remedy)
        return True

    def _title(self, key: str, otherwise: str) -> str:
        value = self.tables.get(key, otherwise)
        if not isinstance(value, str) or not value.strip() or not value.isprintable() or len(value) > 200:
            self._say(
                key, f"{quoted(value)} is not a short text", f'write e.g. {key} = "Four beds by the shed"'
            )
            return otherwise
        return value

    def _catalog(self) -> str:
        if "catalog" not in self.tables:
            self.ledger.note("catalog", CATALOG.text, CATALOG.mark, CATALOG.why)
        value = self.tables.get("catalog", CATALOG.text)
        if not isinstance(value, str) or not value.strip() or not value.isprintable():
            self._say(
                "catalog", f"{quoted(value)} is not the name of a price list", 'write e.g. catalog = "metric"'
            )
            return CATALOG.text
        return value

    def _print_units(self) -> PrintUnits:
        value = self.tables.get("print_units", "si")
        if value not in list(PrintUnits):
            remedy = 'write print_units = "si" or print_units = "us"'
            self._say("print_units", f"{quoted(value)} is not known here", remedy)
            return PrintUnits.SI
        return PrintUnits(value)

    def _unavailable(self) -> frozenset[str]:
        value = self.tables.get("unavailable", [])
        if not isinstance(value, list) or not all(isinstance(part, str) for part in value):
            remedy = 'write e.g. unavailable = ["seal-50"]'
            self._say("unavailable", f"{quoted(value)} is not a list of part ids", remedy)
            return frozenset()
        return frozenset(value)

    def _owned(self) -> dict[str, int]:
        owned: dict[str, int] = {}
        for part, count in self._mapping("owned").items():
            if type(count) is not int or not 0 <= count <= 100_000:
                self._say(
                    f"owned.{part}", f"{quoted(count)} is not a number of pieces", f"write e.g. {part} = 2"
                )
            else:
                owned[part] = count
        return owned

    def _offcuts(self) -> dict[str, tuple[float, ...]]:
        offcuts: dict[str, tuple[float, ...]] = {}
        for part, lengths in self._mapping("offcuts").items():
            place, example = f"offcuts.{part}", f'write e.g. {part} = ["800 mm", "1.2 m"]'
            if not isinstance(lengths, list):
                self._say(place, f"{quoted(lengths)} is not a list of lengths", example)
                continue
            found, wrong = lengths_from(lengths, self.file, place)
            self.mistakes += wrong
            if found:
                offcuts[part] = found
        return offcuts

    def _rules(self) -> dict[str, dict[str, object]]:
        rules: dict[str, dict[str, object]] = {}
        for rule, settings in self._mapping("rules").items():
            if not isinstance(settings, Mapping):
                remedy = f"write [rules.{rule}] and its settings below it"
                self._say(f"rules.{rule}", f"{quoted(settings)} is not a table", remedy)
                continue
            rules[rule] = {}
            for key, value in settings.items():
                if not isinstance(value, str | bool | int | float) or _endless(value):
                    place, remedy = (
                        f"rules.{rule}.{key}",
                        "write text with a unit, a number, or true or false",
                    )
                    self._say(place, f"{quoted(value)} cannot be a setting", remedy)
                else:
                    rules[rule][key] = value
        return rules

    def _mapping(self, key: str) -> Mapping[str, Any]:
        value = self.tables.get(key, {})
        if isinstance(value, Mapping):
            return value
        self._say(key, f"{quoted(value)} is not a table", f"write [{key}] and its keys below it")
        return {}


def _named(layout: Arranged, way: ShortWay, ways: Sequence[ShortWay | None]) -> Arranged:
    """A layout with what tells it from the others."""
    known = [each for each in ways if each is not None]
    several = len({each.arrangement for each in known}) > 1
    open_drains = len({each.drains for each in known}) > 1
    return replace(
        layout,
        arrangement=way.arrangement if several else None,
        bed_drains=way.drains if open_drains else None,
    )


def _of_all(
    failed: Mapping[ShortWay | None, Sequence[Mistake]],
    ways: Sequence[ShortWay | None],
    *,
    named: bool,
) -> list[Mistake]:
    """What is wrong in every way to lay it; else, if `named`, what is wrong in each, with its name."""
    lists = [failed.get(way, ()) for way in ways]
    shared = [wrong for wrong in lists[0] if all(wrong in others for others in lists)]
    if shared or not named:
        return shared
    return [
        wrong if way is None else replace(wrong, problem=f"{way.said}: {wrong.problem}")
        for way, mistakes in failed.items()
        for wrong in mistakes
    ]


def _endless(value: object) -> bool:
    return isinstance(value, float) and not math.isfinite(value)
