"""A trunk keeps its bore until enough of its water has left it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from autoplan.rules.book import read_rules
from autoplan.rules.pressure.trunk_bore import TrunkBore
from tests.rules.conftest import Plan
from tests.stored import stored

PROBLEMS = Path(__file__).parents[3] / "problems"


@pytest.fixture(scope="module")
def beds() -> Plan:
    """Four beds behind a shed: the main sheds five sevenths at the tank, the trunk a quarter at each bed."""
    outcome = stored("four-beds", (PROBLEMS / "four-beds.toml").read_text(encoding="utf-8"))
    return Plan(outcome.site, outcome.catalog, outcome.designs[0].drawing)


def kept(plan: Plan) -> dict[str, str]:
    """By stretch that may not step down the one that its trunk began with."""
    (rule,) = [rule for rule in read_rules(plan.site).rules if isinstance(rule, TrunkBore)]
    return dict(rule.kept(plan.site))


def bored(plan: Plan, first_mm: float, after_mm: float) -> Plan:
    """The plan with the trunk's first stretch of one bore and its second of another."""
    pipes = plan.catalog.pipes
    rows = {
        name: replace(pipes[plan.drawing.runs[name].pipe], id=f"{name} pipe", bore_m=bore_mm / 1000)
        for name, bore_mm in (("trunk 1", first_mm), ("trunk 2", after_mm))
    }
    plan = replace(
        plan, catalog=replace(plan.catalog, pipes={**pipes, **{row.id: row for row in rows.values()}})
    )
    for name, row in rows.items():
        plan = plan.run(name, pipe=row.id)
    return plan


def test_it_begins_anew_where_half_has_left(beds: Plan) -> None:
    """Behind the tank's tee 2/7 are left, a new trunk; 3/4 of that keep its bore, and half need not."""
    assert kept(beds) == {"trunk 2": "trunk 1"}


@pytest.mark.parametrize(("left", "found"), [("49.9 %", 1), ("50 %", 1), ("50.1 %", 2), ("75.1 %", 4)])
def test_the_share_is_the_builders(beds: Plan, left: str, found: int) -> None:
    """Half left is enough at 50 %; beyond it the third stretch keeps on, beyond 5/7 the whole from the pump.

    At 75.1 % it is the main's own behind the tank, 2/7 of that, and begins anew with 3/14 of it.
    """
    asked = beds.rules({"trunk-bore": {"left": left}})
    expected = {
        1: {"trunk 2": "trunk 1"},
        2: {"trunk 2": "trunk 1", "trunk 3": "trunk 1"},
        4: {"trunk 1": "main", "trunk 3": "trunk 2"},
    }
    assert kept(asked) == expected[found]


@pytest.mark.parametrize(("after_mm", "holds"), [(28.8, True), (25.92, True), (25.91, False), (17.0, False)])
def test_both_sides_of_its_bore(beds: Plan, after_mm: float, holds: bool) -> None:
    """Nine tenths of 28.8 mm are 25.92 mm: another wall of the same size does, the next size does not."""
    found = bored(beds, 28.8, after_mm).findings("trunk-bore")
    assert list(found) == ["trunk 2"]
    assert found["trunk 2"].ok is holds
    assert (found["trunk 2"].value, found["trunk 2"].limit) == pytest.approx((after_mm, 25.92))


def test_all_of_it_is_asked_for(beds: Plan) -> None:
    """Where the whole bore is to be kept the same pipe does, and a hundredth less does not."""
    whole = beds.rules({"trunk-bore": {"keeps": "100 %"}})
    assert bored(whole, 26.64, 26.64).findings("trunk-bore")["trunk 2"].ok
    assert not bored(whole, 26.64, 26.63).findings("trunk-bore")["trunk 2"].ok


def test_branches_may_step_down(beds: Plan) -> None:
    """No feed of a vessel is judged, however much of the flow it takes."""
    for left in ("1 %", "50 %", "99 %"):
        assert not {name for name in kept(beds.rules({"trunk-bore": {"left": left}})) if "feed" in name}


def test_sites_without_a_trunk_know_nothing_of_it(plan: Plan, beds: Plan) -> None:
    """One tee has no trunk beyond it."""
    assert not TrunkBore.concerns(plan.site)
    assert TrunkBore.concerns(beds.site)
