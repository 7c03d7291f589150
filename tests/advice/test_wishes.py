"""What each wish is told to cost: at most, or exactly where a search without it is asked for."""

from __future__ import annotations

import tempfile
from functools import cache
from pathlib import Path

import pytest

import autoplan
from autoplan.outcome import Outcome, Status
from autoplan.problem.problem import Problem
from autoplan.report.contract import outcome_json
from autoplan.wished import WishCost
from tests.short_list import from_shortest_list

PROBLEM = Path(__file__).parents[2] / "problems" / "one-tank-one-bed.toml"


@cache
def problem(spare: str) -> Problem:
    """A shipped problem with that spare."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "problem.toml"
        wishes = f'\n[wishes]\nspare = "{spare}"\nsurvives = "nothing"\n'
        text = PROBLEM.read_text(encoding="utf-8") + wishes
        file.write_text(from_shortest_list(text), encoding="utf-8")
        return autoplan.load_problem(file)


@cache
def designed(spare: str, *, exact: bool = False, rank_by: str = "purchase") -> Outcome:
    """Its cheapest design."""
    found = autoplan.design(
        problem(spare), autoplan.load_catalog("metric"), top=1, rank_by=rank_by, price_wishes=exact
    )
    assert found.status is Status.PROVEN
    return found


def spare_of(outcome: Outcome) -> WishCost:
    """What the spare costs."""
    return next(wish for wish in outcome.wishes if wish.wish == "spare")


def test_what_a_search_says_is_the_difference() -> None:
    """Exactly: what the design costs less what it costs without a spare; at most: that or more."""
    least, exact = (spare_of(designed("40 %", exact=exact)) for exact in (False, True))
    dearer = designed("40 %").designs[0].objective - designed("none").designs[0].objective
    assert exact.dearer == pytest.approx(dearer)
    assert dearer > 1.0, "the spare decides on something"
    assert (least.exact, exact.exact) == (False, True)
    assert least.dearer >= exact.dearer
    assert "40 %" in exact.words


def test_nothing_is_told_of_what_is_not_wished() -> None:
    """Without a spare there is no such wish; with one it is in the JSON."""
    assert "spare" not in {wish.wish for wish in designed("none").wishes}
    (row,) = [row for row in outcome_json(designed("40 %"))["wishes"] if row["wish"] == "spare"]
    assert (row["rule"], row["exact"]) == ("pump-spare", False)
    assert row["dearer"] == spare_of(designed("40 %")).dearer


def test_of_a_rule_that_refuses_parts_only_a_search_tells() -> None:
    """Its draft lacks what comes back without it, so that no bound is told; a search tells what it costs."""
    bounded, searched = (
        {one.wish for one in designed("40 %", exact=exact).wishes} for exact in (False, True)
    )
    assert "drain_grade" not in bounded
    assert "drain_grade" in searched


def test_where_time_is_up_a_wish_is_not_told_to_cost_all(monkeypatch: pytest.MonkeyPatch) -> None:
    """A bound that is not worked out any more says nothing, not that the whole order might be saved."""
    monkeypatch.setattr("autoplan.advice.wishes.least_without", lambda *_: 0)
    found = autoplan.design(problem("40 %"), autoplan.load_catalog("metric"), top=1)
    assert found.designs
    assert not found.wishes
