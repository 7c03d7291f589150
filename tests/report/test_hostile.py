"""Names and texts meant to do harm come out harmless on the screen, on the page, in CSV and in JSON."""

from __future__ import annotations

import csv
import io
import json
import re
from pathlib import Path

import pytest

from autoplan.cli import run
from autoplan.outcome import Outcome
from autoplan.report.blocks import clean
from autoplan.report.contract import json_text, outcome_json
from autoplan.report.lists import lists, safe
from autoplan.report.page.sheet import sheet_html
from autoplan.report.render import terminal
from autoplan.report.render.plain import plain_text
from autoplan.report.render.show import report
from autoplan.report.units import SI
from tests.hostile import CURRENCY, EVIL, LONG, hostile
from tests.report.page.reading import read

CONTROL = re.compile(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u200e\u200f\u202a-\u202e\u2066-\u2069]")
"""What moves a cursor or turns the reading direction; a new line ends a line."""


@pytest.fixture(scope="module")
def evil() -> Outcome:
    """The design."""
    return hostile()


def test_on_a_screen(evil: Outcome) -> None:
    """No control character is printed, no line is forged, and markup stands there as it was written."""
    assert clean("a\r\nb\x1b\u202ec") == "a  b  c"
    stream = io.StringIO()
    terminal.show(report(evil), stream, width=100)
    for text in (plain_text(report(evil)), stream.getvalue()):
        shown = re.sub(r"\x1b\[[0-9;]*m", "", text) if text is stream.getvalue() else text
        assert CONTROL.search(shown) is None
        assert "[red]" in re.sub(r"\s", "", shown)
        assert max(map(len, shown.splitlines())) <= 100


def test_on_the_page(evil: Outcome) -> None:
    """What looks like markup is text: no element comes of it, no control character, nothing worked out."""
    page = sheet_html(outcome_json(evil))
    found = read(page)
    kinds = [tag for tag, _ in found.elements]
    assert not set(kinds) & {"script", "img", "iframe", "object"}
    assert [kinds.count(once) for once in ("html", "style", "main")] == [1, 1, 1]
    assert not any(name.startswith("on") for _, attrs in found.elements for name in attrs)
    assert CONTROL.search(page) is None
    words = " ".join(found.words.values())
    assert "<script>alert(1)</script>" in words
    assert "{{ 7 * 7 }}" in words
    assert LONG in words


def test_in_csv(evil: Outcome) -> None:
    """No cell is a formula, whether cells end at commas, semicolons or bars; no row is forged."""
    for text in lists(evil, evil.designs[0], SI).values():
        assert CONTROL.search(text.replace("\r\n", "\n")) is None
        header, *rows = csv.reader(io.StringIO(text))
        assert {len(row) for row in rows} == {len(header)}
        for cell in (cell for row in rows for cell in row):
            for part in re.split(r"[;|]", cell):
                assert part.strip()[:1] not in {"=", "@", "+"}


def test_in_json(evil: Outcome) -> None:
    """Strict JSON of plain ASCII, from which every text comes back as it was."""
    text = json_text(evil)
    assert text.isascii()
    data = json.loads(text, parse_constant=lambda word: pytest.fail(word))
    assert data["problem"] == EVIL
    assert data["designs"][0]["cost"]["currency"] == CURRENCY
    assert "\x1b" not in text


@pytest.mark.parametrize(
    ("cell", "made"),
    [
        ("a;=1+1", "a;'=1+1"),
        ("a; =1+1", "a;' =1+1"),
        ("a|@b", "a|'@b"),
        ("1;-2", "1;'-2"),
        ("a;b", "a;b"),
        ("a = b", "a = b"),
        ("-12.5", "-12.5"),
        ("=a;=b", "'=a;'=b"),
    ],
)
def test_formulas_after_a_semicolon(cell: str, made: str) -> None:
    """Where cells end at semicolons, what follows one is no formula either; numbers stay numbers."""
    assert safe(cell) == made


def test_keys_and_ids_in_messages(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What is said of wrong files carries no escape out of keys, ids and names, and no line of its own."""
    problem = tmp_path / "p.toml"
    problem.write_text('"a\\u001b[31m\\u202e\\nforged.toml: x" = 1\nname = "b\\u001b[0m"\n')
    shop = tmp_path / "list"
    shop.mkdir()
    (shop / "catalog.toml").write_text('name = "x"\ncurrency = "E\\u001b[31m"\n"k\\u001b[1m\\ny" = 1\n')
    (shop / "pipes.csv").write_text("id\x1b[31m,description\r\np\x1b[31m,x\r\n")
    for command in (
        ["design", str(problem), "--catalog", str(shop)],
        ["parts", str(shop)],
        ["expand", str(problem)],
    ):
        assert run(command) == 2
        said = capsys.readouterr().err
        assert said
        assert CONTROL.search(said) is None
        assert all(line.startswith(str(tmp_path)) for line in said.splitlines())
