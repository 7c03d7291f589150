"""What each wish is told to cost: at most, or exactly where a search without it is asked for."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

import autoplan
from autoplan.outcome import Outcome, Status
from autoplan.problem.problem import Problem
from autoplan.report.contract import outcome_json
from tests.short_list import from_short_list

PROBLEM = Path(__file__).parents[2] / "problems" / "one-tank-one-bed.toml"


@cache
def problem(spare: str) -> Problem:
    """A shipped problem with that spare."""
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "problem.toml"
        text = PROBLEM.read_text(encoding="utf-8") + f'\n[wishes]\nspare = "{spare}"\n'
        file.write_text(from_short_list(text), encoding="utf-8")
        return autoplan.load_problem(file)


@cache
def designed(spare: str, *, exact: bool = False, rank_by: str = "purchase") -> Outcome:
    """Its cheapest design."""
    found = autoplan.design(
        problem(spare), autoplan.load_catalog("metric"), top=1, rank_by=rank_by, price_wishes=exact
    )
    assert found.status is Status.PROVEN
    return found


def test_what_a_search_says_is_the_difference() -> None:
    """Exactly: what the design costs less what it costs without a spare; at most: that or more."""
    (least,), (exact,) = designed("40 %").wishes, designed("40 %", exact=True).wishes
    dearer = designed("40 %").designs[0].objective - designed("none").designs[0].objective
    assert exact.dearer == pytest.approx(dearer)
    assert dearer > 1.0, "the spare decides on something"
    assert (least.exact, exact.exact) == (False, True)
    assert least.dearer >= exact.dearer
    assert "40 %" in exact.words


def test_nothing_is_told_of_what_is_not_wished() -> None:
    """Without a spare there is no wish; with one it is in the JSON."""
    assert designed("none").wishes == ()
    (row,) = outcome_json(designed("40 %"))["wishes"]
    assert (row["wish"], row["rule"], row["exact"]) == ("spare", "pump-spare", False)
    assert row["dearer"] == designed("40 %").wishes[0].dearer
