"""The list of keys: whole, true to what the program takes, found by a word, the same in the README."""

from __future__ import annotations

import csv
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest

from autoplan.catalog.load import COLUMNS, load_catalog
from autoplan.catalog.parts import COMMON, KINDS, PartKind
from autoplan.catalog.rows import read
from autoplan.catalog.sheet import References, Row
from autoplan.cli import run
from autoplan.problem.tables.air import AirTable
from autoplan.problem.tables.defaults import GEOMETRY
from autoplan.problem.tables.schema import Table, WishesTable
from autoplan.problem.tables.top import BOTH, BY_NAME, LONG, SHORT
from autoplan.problem.tables.validate import validate
from autoplan.problem.toml.load import load_problem
from autoplan.problem.toml.long import ARRAYS, HandPumpTable
from autoplan.problem.toml.short import TABLES
from autoplan.report.key_list import NEEDED, about, all_keys, near
from autoplan.rules.book import ALL
from tests.readme import BEGIN, END, with_table

HERE = Path(__file__).parents[2]
PROBLEMS = sorted((HERE / "problems").glob("*.toml"))
KEYS = tuple(all_keys())


def tables_below(kind: type[Table]) -> Iterator[type[Table]]:
    """Every table that a problem file may have."""
    for below in kind.__subclasses__():
        if below.__module__.startswith("autoplan."):
            yield below
            yield from tables_below(below)


def test_no_key_is_without_a_meaning() -> None:
    """Each field of each table, each top key, setting and column says what it is."""
    found = {AirTable, HandPumpTable, *tables_below(Table)}
    assert len(found) > 10
    for table in found:
        for name, field in table.model_fields.items():
            assert (field.description or "").strip(), f"{table.__name__}.{name}"
    for name, top in {**SHORT, **LONG, **BOTH, **BY_NAME}.items():
        assert top.meaning.strip(), name
    assert all(setting.why.strip() for rule in ALL for setting in rule.settings)
    for file, columns in COLUMNS.items():
        assert all(column.meaning.strip() for column in columns), file
    assert all(key.meaning and key.unit and key.default and key.table for key in KEYS)


def written_keys(problem: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Table and key of everything that a problem file says, as the list has them."""
    for name, value in problem.items():
        if name == "rules":
            for rule, settings in value.items():
                yield from ((f"[rules.{rule}]", key) for key in settings)
        elif name in BY_NAME:
            yield f"[{name}]", "PART"
        elif isinstance(value, dict):
            yield from ((f"[{name}]", key) for key in value)
        elif isinstance(value, list) and value and isinstance(value[0], dict):
            yield from ((f"[[{name}]]", key) for item in value for key in item)
        else:
            yield "top of the file", name


@pytest.mark.parametrize("path", PROBLEMS, ids=lambda path: path.stem)
def test_every_key_of_a_shipped_problem_is_listed(path: Path) -> None:
    """Nothing that a problem says is missing in the list."""
    listed = {(key.table, key.key) for key in KEYS}
    for place in written_keys(tomllib.loads(path.read_text(encoding="utf-8"))):
        assert place in listed


def listed_default(place: str) -> str | None:
    """The default that the list gives for a place of a short form, None where it has no such place."""
    table, _, name = place.rpartition(".")
    found = [key for key in KEYS if key.table == (f"[{table}]" if table else "top of the file")]
    return next((key.default for key in found if key.key == name), None)


@pytest.mark.parametrize("name", ["four-beds", "series", "timed-beds", "one-tank-one-bed", "spare-beds"])
def test_defaults_are_what_is_assumed(name: str) -> None:
    """What the list says stands in for a key is what loading a problem without it assumes."""
    site = load_problem(HERE / "problems" / f"{name}.toml").outline
    compared = 0
    for assumed in site.assumptions:
        default = listed_default(assumed.place)
        assert default is not None, assumed.place
        if assumed.mark == GEOMETRY or assumed.place.endswith(("water_min", "on_time", "waste_by", ".hole")):
            continue
        assert default == assumed.text, assumed.place
        compared += 1
    assert compared > 20


GIVEN: Mapping[str, object] = {
    "volume": "500 L",
    "area": "1 m2",
    "count": 1,
    "name": "tank",
    "kind": "sump",
    "from": "tank",
    "to": "sump",
    "lift": "1 m",
    "reach": "2 m",
}


@pytest.mark.parametrize(
    ("table", "kind"),
    [
        *((f"[{name}]", kind) for name, kind in TABLES.items()),
        *((f"[[{name}]]", kind) for name, kind in ARRAYS.items()),
        ("[hand_pumps.VESSEL]", HandPumpTable),
        ("[wishes]", WishesTable),
        ("[air]", AirTable),
    ],
)
def test_what_must_be_given_must_be_given(table: str, kind: type[Table]) -> None:
    """With what the list names no default for a table is taken; without any one of it refused."""
    needed = [key.key for key in KEYS if key.table == table and key.default == NEEDED]
    given = {key: "gravity" if (key, table) == ("kind", "[[run]]") else GIVEN[key] for key in needed}
    assert not validate(kind, given, "file", table).mistakes
    for key in needed:
        less = {name: value for name, value in given.items() if name != key}
        assert [wrong.problem for wrong in validate(kind, less, "file", table).mistakes] == ["is missing"]


def rows_of(kind: PartKind, catalog: str) -> Iterator[dict[str, str]]:
    """The rows of a kind of part in one of the price lists that come along."""
    with (HERE / "catalogs" / catalog / kind.file).open(encoding="utf-8", newline="") as text:
        yield from csv.DictReader(text)


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_cells_may_be_empty_where_the_list_says_so(kind: PartKind) -> None:
    """A row without a cell that must be filled in is refused; one without any other is taken somewhere."""
    catalog = load_catalog(HERE / "catalogs" / "metric")
    known = References(catalog.systems, tuple(catalog.shops))
    rows = list(rows_of(kind, "metric"))

    def mistakes(cells: dict[str, str], column: str) -> int:
        row = Row("list.csv", 2, "list.csv: line 2", {**cells, column: ""}, frozenset(), False, known)
        read(kind.part, row, place=row.place)
        return len(row.mistakes)

    for column in (*COMMON, *kind.columns):
        refused = [mistakes(row, column.name) > 0 for row in rows]
        assert all(refused) if column.said_by_empty is None else not all(refused), column.name


def test_a_word_finds_keys_tables_and_meanings() -> None:
    """Large or small letters, in the name of a key, of a table, or in what it means."""
    assert {key.key for key in about("Bend_Radius", KEYS)} == {"bend_radius_mm"}
    assert {key.table for key in about("drain-velocity", KEYS)} == {"[rules.drain-velocity]"}
    assert ("[beds]", "void") in {(key.table, key.key) for key in about("gravel or clay", KEYS)}
    assert about("no such word", KEYS) == ()


@pytest.mark.parametrize(
    ("wrong", "right"),
    [
        ("volme", "volume"),
        ("drain-velocty", "drain-velocity"),
        ("pumps.cvs", "pumps.csv"),
        ("gravl", "gravel"),
    ],
)
def test_a_wrong_word_suggests_near_ones(wrong: str, right: str, capsys) -> None:
    """On standard error, with exit code 2 and nothing printed."""
    assert right in near(wrong, KEYS)
    assert run(["keys", wrong]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert repr(right) in said.err


def test_a_word_like_nothing_points_to_the_list(capsys) -> None:
    """There is always something to go on with."""
    assert run(["keys", "qqqqq"]) == 2
    assert "see `autoplan keys`" in capsys.readouterr().err


def test_the_command_prints_all_of_them(capsys) -> None:
    """Every key below its table, no line over 100 characters."""
    assert run(["keys"]) == 0
    said = capsys.readouterr().out
    sections = dict.fromkeys(key.table for key in KEYS)
    place = 0
    for table in sections:
        place = said.index(f"\n{table}\n---", place)
        section = said[place:].split("\n\n\n")[0]
        wanted = [key.key for key in KEYS if key.table == table]
        assert all(f"\n{name} " in section for name in wanted)
    assert max(map(len, said.splitlines())) <= 100


def test_the_command_prints_what_has_a_word(capsys) -> None:
    """Only that, with unit, default and meaning."""
    assert run(["keys", "cut-outs"]) == 0
    said = capsys.readouterr().out
    assert "[rules.siphon-break]" in said
    assert "25 mm" in said
    assert "[tank]" not in said


def test_the_readme_has_the_table_that_the_program_makes() -> None:
    """Made anew it is the same text; a key that was changed by hand would be seen."""
    text = (HERE / "README.md").read_text(encoding="utf-8")
    assert with_table(text) == text, "run: .venv/bin/python -m tests.readme"
    assert with_table(text.replace("| `cover_mm` |", "| `cover` |")) == text


def test_a_readme_without_its_marks_is_refused() -> None:
    """Rather than written over."""
    with pytest.raises(ValueError, match=BEGIN):
        with_table(f"text\n{END}\n")
    with pytest.raises(ValueError, match=END):
        with_table(f"{BEGIN}\ntext\n")


def test_a_key_that_means_the_same_elsewhere_has_one_row() -> None:
    """Its tables stand beside it, and its defaults where they differ."""
    text = (HERE / "README.md").read_text(encoding="utf-8")
    (row,) = [line for line in text.splitlines() if line.startswith("| `depth` | `[tank]`")]
    assert "`[sump]`" in row
    for said in ("900 mm (tank)", "320 mm (beds)", "600 mm (sump)"):
        assert said in row


def test_no_table_has_a_key_twice() -> None:
    """Table and key together name one row of the list."""
    assert len({(key.table, key.key) for key in KEYS}) == len(KEYS)
