"""Pieces of pipe that the builder has: read, written out again, and every mistake in them told at once."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

import autoplan
from autoplan.errors import InputError
from autoplan.problem.site import Site
from autoplan.problem.toml.load import load_problem
from autoplan.problem.toml.write import expand_to_toml

TANK = '[tank]\nvolume = "1000 L"\n[sump]\nvolume = "800 L"\n'


def load(folder: Path, text: str) -> Site:
    """The site of a problem written into a folder."""
    path = folder / "p.toml"
    path.write_text(text)
    return load_problem(path).outline


def told(folder: Path, text: str) -> list[str]:
    """The mistakes in a problem, without the file's name."""
    with pytest.raises(InputError) as caught:
        load(folder, text)
    return [str(mistake).split("p.toml: ", 1)[-1] for mistake in caught.value.mistakes]


def test_lengths_are_read_in_any_unit(tmp_path: Path) -> None:
    """By part id, in the order of the file, in metres; an empty list is none, and so is no table."""
    site = load(tmp_path, f'{TANK}[offcuts]\npn10-50-3m = ["800 mm", "1.2 m", "10 in"]\ndrain-50-3m = []\n')
    assert site.offcuts == {"pn10-50-3m": pytest.approx((0.8, 1.2, 0.254))}
    assert load(tmp_path, TANK).offcuts == {}


def test_the_long_form_keeps_them(tmp_path: Path) -> None:
    """Written out and read again they are the same lengths."""
    site = load(tmp_path, f'{TANK}[offcuts]\npn10-50-3m = ["800 mm", "47.25 in"]\nhose-25-metre = ["3 m"]\n')
    again = load(tmp_path, expand_to_toml(site))
    assert replace(again, assumptions=site.assumptions) == site


def test_every_wrong_length_is_told(tmp_path: Path) -> None:
    """A wrong unit, no unit, nothing, too much, no text, no list: each with its place and a remedy."""
    lines = told(
        tmp_path,
        f'{TANK}[offcuts]\npn10-50-3m = ["800 L", "0.8", "0 m", "501 m", 3, "1.2 m"]\ndrain-50-3m = "1 m"\n',
    )
    assert len(lines) == 6
    assert all(line.startswith("offcuts.pn10-50-3m: ") for line in lines[:5])
    for line, wrong in zip(lines, ('"800 L"', '"0.8"', '"0 m"', '"501 m"', "3"), strict=False):
        assert wrong in line
        assert "; write" in line
    assert "too small" in lines[2]
    assert "too large" in lines[3]
    assert lines[5] == (
        'offcuts.drain-50-3m: "1 m" is not a list of lengths; write e.g. drain-50-3m = ["800 mm", "1.2 m"].'
    )


def test_no_table_at_all(tmp_path: Path) -> None:
    """A list in place of the table is one mistake."""
    assert told(tmp_path, f'offcuts = ["1 m"]\n{TANK}') == [
        'offcuts: ["1 m"] is not a table; write [offcuts] and its keys below it.'
    ]


def test_only_pipe_has_offcuts(tmp_path: Path) -> None:
    """An unknown part and a part that is no pipe: both are told, with the file and the place."""
    site = load(tmp_path, f'{TANK}[offcuts]\npn10-50-3n = ["1 m"]\nseal-50 = ["1 m"]\npn10-50-3m = ["1 m"]\n')
    with pytest.raises(InputError) as caught:
        autoplan.design(site, autoplan.load_catalog("metric"), top=1)
    lines = [str(mistake) for mistake in caught.value.mistakes]
    assert len(lines) == 2
    assert all("p.toml" in line and "offcuts" in line for line in lines)
    assert "'pn10-50-3n'" in lines[0]
    assert "did you mean 'pn10-50-3m'" in lines[0]
    assert lines[1].endswith("offcuts.seal-50: 'seal-50' is not a pipe; name a pipe of the price list.")
