"""A later search that finds something cheaper than a proven best is a fault, not a line of text."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

import autoplan
from autoplan.advice.contradiction import never_cheaper
from autoplan.advice.remedies import part_missed
from autoplan.errors import InternalError
from autoplan.optimiser.search.attempt import Attempt
from autoplan.optimiser.search.ranking import Ranked, Ranking
from autoplan.rules.book import read_rules

PROBLEM = Path(__file__).parents[2] / "problems" / "one-tank-one-bed.toml"


def ranked(cents: int, *parts: str, proven: bool = True, paid: float | None = None) -> Ranked:
    """A design that comes to so much, with so many parts on its order."""
    drawing: Any = SimpleNamespace(purchases=[SimpleNamespace(part=part) for part in parts])
    to_pay = cents / 100 if paid is None else paid
    verdict: Any = SimpleNamespace(cost=SimpleNamespace(to_pay=to_pay))
    return Ranked(drawing, verdict, cents, cents, proven, {})


@pytest.mark.parametrize(("later", "fault"), [(9_999, True), (10_000, False), (10_001, False)])
def test_a_cent_less_than_what_is_proven(later: int, fault: bool) -> None:
    """A cent less is a fault, as much is none; where nothing was proven nothing is."""
    never_cheaper(ranked(10_000, proven=False), ranked(later), "without a part")
    if not fault:
        never_cheaper(ranked(10_000), ranked(later), "without a part")
        return
    with pytest.raises(InternalError, match=r"without a part a design comes to 99\.99, though 100\.00"):
        never_cheaper(ranked(10_000), ranked(later), "without a part")


def missed(with_it: Ranked, without: Ranked) -> tuple[str, ...]:
    """What is said of a part that is not to be had, for given answers with and without it."""
    site = autoplan.load_problem(PROBLEM)
    found = Attempt(Ranking([with_it]))
    return part_missed(
        site, autoplan.load_catalog("metric"), read_rules(site.outline), ["pipe"], without, lambda *_: found
    )


def test_losing_a_part_never_makes_a_plan_cheaper() -> None:
    """Cheaper than the proven best with the part is a fault; than the best found in time it is said."""
    with pytest.raises(InternalError, match="without pipe"):
        missed(ranked(10_000, "pipe"), ranked(9_000, "hose"))
    (said,) = missed(ranked(10_000, "pipe", proven=False), ranked(9_000, "hose"))
    assert "Without pipe the plan costs 90.00" in said
    assert "in the time given" in said


def test_dearer_over_the_years_and_less_to_buy() -> None:
    """Ranked by ownership a plan without a part may cost less to buy, and the note says so."""
    said = missed(ranked(10_000, "pipe", paid=80.0), ranked(11_000, "hose", paid=75.0))
    assert said[0].endswith("costs 75.00 EUR instead of 80.00, 5.00 less to buy.")
    said = missed(ranked(10_000, "pipe"), ranked(11_000, "hose"))
    assert said[0].endswith("costs 110.00 EUR instead of 100.00, 10.00 more.")
