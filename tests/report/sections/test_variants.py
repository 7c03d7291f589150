"""A problem that stands for several sites: each design is shown with the vessels of its own."""

from __future__ import annotations

from dataclasses import replace

import pytest

from autoplan.outcome import Outcome
from autoplan.problem.brief import Assumption
from autoplan.problem.site import Site
from autoplan.report.contract import outcome_json
from autoplan.report.lists import lists
from autoplan.report.render.plain import plain_text
from autoplan.report.render.show import report
from autoplan.report.units import SI


def _words(text: str) -> str:
    """The text with every fold undone."""
    return " ".join(text.split())


@pytest.fixture
def deeper(outcome: Outcome) -> Site:
    """The problem's site with its sump 100 mm lower, and an assumption of its own."""
    sump = outcome.site.vessels["sump"]
    vessels = {**outcome.site.vessels, "sump": replace(sump, floor_m=sump.floor_m - 0.1)}
    chosen = Assumption("beds.floods", "1.5/hour", "chosen by the program", "floods that are asked for")
    return replace(outcome.site, vessels=vessels, assumptions=(chosen,))


@pytest.fixture
def several(outcome: Outcome, deeper: Site) -> Outcome:
    """The hand-made answer, its first design on the deeper sump."""
    first = replace(outcome.designs[0], site=deeper, variant="series, floods 1.5/hour")
    return replace(outcome, designs=(first, *outcome.designs[1:]))


def test_the_variant_is_named(several: Outcome) -> None:
    """Which variant rank 1 is stands with the answer and over its plan."""
    text = plain_text(report(several))
    assert "Rank 1 is: series, floods 1.5/hour." in _words(text)
    assert "Cost of rank 1: series, floods 1.5/hour" in text


def test_the_plan_is_of_its_own_site(outcome: Outcome, several: Outcome) -> None:
    """Heights over the floor and what was assumed are those of the variant, not of the first site."""
    own, first = (plain_text(report(each)) for each in (several, outcome))
    assert "beds.floods = 1.5/hour: floods that are asked for (chosen by the program)." in " ".join(
        own.split()
    )
    assert "-500 (0)" in own
    assert "-400 (0)" in first
    design = several.designs[0]
    drilled = lists(several.about(design), design, SI)["drilling.csv"]
    assert drilled != lists(outcome, outcome.designs[0], SI)["drilling.csv"]


def test_json_says_which(outcome: Outcome, several: Outcome) -> None:
    """Each such design has its variant and assumptions; without variants there are no such keys."""
    own, first = (outcome_json(each)["designs"] for each in (several, outcome))
    assert isinstance(own, list)
    assert isinstance(first, list)
    assert own[0]["variant"] == "series, floods 1.5/hour"
    assert [assumed["place"] for assumed in own[0]["assumptions"]] == ["beds.floods"]
    assert not {"variant", "assumptions"} & set(first[0])
    floors = [
        next(level["floor_mm"] for level in design["levels"] if level["vessel"] == "sump")
        for design in (own[0], first[0])
    ]
    assert floors == [-500, -400]


def test_a_design_without_a_site_of_its_own(outcome: Outcome) -> None:
    """Where a problem stands for itself the answer is about the design as it is."""
    assert outcome.about(outcome.designs[0]) is outcome
