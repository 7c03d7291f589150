"""A bed that fills oftener than it may flood, in words and figures that are a builder's."""

from __future__ import annotations

import re

import pytest

import autoplan
from autoplan.outcome import Status
from autoplan.problem.toml.load import problem_from
from autoplan.report.units import SI
from autoplan.rules.beds.flood_rate import FloodRate
from autoplan.rules.book import read_rules
from tests.optimiser.conftest import cut_down
from tests.test_walk import WIDE_ONLY
from tests.words import why_none


def balcony(area: str) -> str:
    """A tank of 200 L whose pump gives it all to one bed, once an hour."""
    return f"""
arrangement = "no sump"
[tank]
volume = "200 L"
depth = "800 mm"
floor = "0 mm"
shape = "square"
[beds]
count = 1
area = "{area}"
depth = "300 mm"
flood = "200 mm"
floor = "900 mm"
[wishes]
turnover = "1/hour"
"""


def asked(area: str) -> list[str]:
    """What is said of how often the bed floods."""
    site = problem_from(balcony(area), "balcony.toml").outline
    (rule,) = [rule for rule in read_rules(site).rules if isinstance(rule, FloodRate)]
    return [SI.told(text) for text in rule.told_at_once(site)]


@pytest.mark.parametrize(("area", "said"), [("0.3 m2", True), ("0.69 m2", True), ("0.71 m2", False)])
def test_how_often_a_bed_fills(area: str, said: bool) -> None:
    """0.3 m2 hold 0.4 of that by 200 less 25 mm: 21 L, which 200 L/h fill 9.5 times; 50 L they fill 4 times.

    0.714 m2 hold 50 L; with a fiftieth less any siphon will do that carries 50 times its inflow.
    """
    found = asked(area)
    assert bool(found) is said
    if area == "0.3 m2":
        assert found == [
            "bed 1 gets 200 L/h, which fills the 21 L of its flood 9.5 times an hour; it is to flood 4 times "
            "at most, which only a slow siphon keeps to. With a flood of 50 L (a larger bed or a higher "
            "flood), or an inflow of 84 L/h, any would."
        ]


def test_a_refusal_says_how_often() -> None:
    """Besides the height that would slow the siphon it is said what that is for, and how often it fills."""
    shelf = cut_down(autoplan.load_catalog("metric"), f"{WIDE_ONLY} pn16-20-metre bush-32-20 bulkhead-20")
    outcome = autoplan.design(problem_from(balcony("0.3 m2"), "balcony.toml"), shelf, top=1)
    assert outcome.status is Status.NONE
    said = why_none(outcome)
    assert re.search(r"at least \(flood-rate, so that a siphon floods .* nor too often\)", said[0])
    assert said[1:2] == tuple(asked("0.3 m2"))
