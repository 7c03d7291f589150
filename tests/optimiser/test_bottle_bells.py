"""Bells made of bottles: only where they are asked for, and only of bottles that do not cave in."""

from __future__ import annotations

from pathlib import Path

import pytest

import autoplan
from autoplan.errors import InputError
from autoplan.problem.site import BellOf
from autoplan.problem.toml.write import expand_to_toml
from tests.short_list import from_shortest_list

NO_SUMP = (Path(__file__).parents[2] / "problems" / "no-sump.toml").read_text(encoding="utf-8")
"""Two beds on a bench over the tank, 200 mm deep."""


def asking(beds: str, rules: str = "") -> str:
    """The shipped problem with more said of its beds, from the short list."""
    return from_shortest_list(NO_SUMP.replace("[beds]", f"[beds]\n{beds}") + rules)


def bells(folder: Path, text: str) -> set[str | None]:
    """The bells of the cheapest design."""
    path = folder / "bench.toml"
    path.write_text(text, encoding="utf-8")
    outcome = autoplan.design(autoplan.load_problem(path), autoplan.load_catalog("metric"), top=1)
    (design,) = outcome.designs
    made = [run.floor.siphon for run in design.drawing.runs.values() if run.floor is not None]
    return {siphon.bell for siphon in made if siphon is not None}


@pytest.mark.parametrize(
    ("beds", "rules", "bell"),
    [
        ('bell = "bottle"', "", "bell-bottle-88"),
        ('bell = "any"', "", "bell-bottle-88"),
        ('bell = "bottle"', "\n[rules.bell-made]\nfactor = 0.5\n", "bell-bottle-90"),
    ],
)
def test_the_cheapest_bottle_that_holds(tmp_path: Path, beds: str, rules: str, bell: str) -> None:
    """The thin bottle is cheaper and caves in; with no more asked than half the suction it is taken."""
    assert bells(tmp_path, asking(beds, rules)) == {bell}


def test_no_bottle_unless_it_is_asked_for(tmp_path: Path) -> None:
    """A bottle costs a fifth of what a bell of pipe does, and is not taken where nothing is said."""
    (bell,) = bells(tmp_path, asking(""))
    assert bell is not None
    assert "bottle" not in bell


def test_what_is_asked_for_is_written_back(tmp_path: Path) -> None:
    """The long form says what the short one does, and a bed without a word counts as asking for pipe."""
    path = tmp_path / "bench.toml"
    for beds, asked in (('bell = "bottle"', BellOf.BOTTLE), ("", BellOf.PIPE)):
        path.write_text(asking(beds), encoding="utf-8")
        problem = autoplan.load_problem(path)
        bed = problem.outline.vessels["bed 1"].bed
        assert bed is not None
        assert bed.bell is asked
        path.write_text(expand_to_toml(problem), encoding="utf-8")
        assert f'bell = "{asked}"' in path.read_text(encoding="utf-8")
        again = autoplan.load_problem(path).outline.vessels["bed 1"].bed
        assert again == bed


def test_a_bell_is_for_a_siphon(tmp_path: Path) -> None:
    """Of a bed with a plain standpipe nothing is to be said of bells."""
    path = tmp_path / "bench.toml"
    path.write_text(asking('bell = "bottle"\ndrain = "standpipe"'), encoding="utf-8")
    with pytest.raises(InputError, match='"bell" is for a bed with a siphon'):
        autoplan.load_problem(path)
