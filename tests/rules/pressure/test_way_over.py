"""A pump's line that goes higher on its way than it ends: the pump must bring its water over that too."""

from __future__ import annotations

from functools import cache

import pytest

import autoplan
from autoplan.catalog.parts import Catalog
from autoplan.outcome import Finding, Outcome, Status
from autoplan.problem.toml.load import load_problem, problem_from
from autoplan.problem.toml.write import expand_to_toml
from autoplan.rules.survey import Survey
from tests.short_list import from_shortest_list
from tests.words import by_place, why_none

LONG = expand_to_toml(load_problem("problems/one-tank-one-bed.toml"))
MAIN = 'level = ["600 mm"]\ncorners = []\nheight = "150 mm"'
"""Where the main lies: between the sump's rim at 50 mm and a tee at 150 mm; outlets are at 900 mm or so."""


@cache
def priced() -> Catalog:
    """The metric price list."""
    return autoplan.load_catalog("metric")


@cache
def with_main_at(height: str) -> Outcome:
    """The design from the shortest list with the main going so high between the sump and its tee."""
    assert MAIN in LONG
    text = LONG.replace(MAIN, MAIN.replace("150 mm", height))
    return autoplan.design(problem_from(from_shortest_list(text), "over.toml"), priced(), top=1)


def duty(outcome: Outcome) -> tuple[Survey, dict[str, Finding]]:
    """What the first design's pump has and what is asked of it, by vessel."""
    (design,) = outcome.designs
    found = by_place(one for one in design.verdict.findings if one.rule == "pump-duty")
    return Survey(outcome.site, outcome.catalog, design.drawing), found


@pytest.mark.parametrize(("height", "top_m"), [("1.5 m", 1.5), ("2.2 m", 2.2)])
def test_the_lift_counts_to_the_highest_place(height: str, top_m: float) -> None:
    """From the lowest sump water to the underside of the pipe up there, and losses with a tenth over."""
    outcome = with_main_at(height)
    survey, found = duty(outcome)
    main = outcome.designs[0].drawing.runs["main"]
    under = top_m - outcome.catalog.pipes[main.pipe].outside_m / 2
    for path, vessel in ((("main", "tank feed"), "tank"), (("main", "bed feed 1"), "bed 1")):
        lost = survey.path_loss(path, survey.flows_at(), grown_m=0.15e-3)
        lift = under - survey.low_level("sump")
        assert found[vessel].limit == pytest.approx(lift + 1.1 * lost)
    assert outcome.solver.rejected == 0


def test_a_line_that_goes_no_higher_than_it_ends_asks_for_no_more() -> None:
    """At 600 mm, under all outlets, the lift is that to the crest of each inlet."""
    survey, found = duty(with_main_at("600 mm"))
    for path, vessel in ((("main", "tank feed"), "tank"), (("main", "bed feed 1"), "bed 1")):
        lost = survey.path_loss(path, survey.flows_at(), grown_m=0.15e-3)
        lift = survey.discharge_height(path[-1]) - survey.low_level("sump")
        assert found[vessel].limit == pytest.approx(lift + 1.1 * lost)


def test_no_pump_that_ends_under_it_is_taken() -> None:
    """Over 2.2 m goes no pump that has 2.4 m with its outlet shut, which does for 600 mm."""
    heads = []
    for height in ("600 mm", "2.2 m"):
        outcome = with_main_at(height)
        (pump,) = outcome.designs[0].drawing.pumps.values()
        heads.append(outcome.catalog.pumps[pump.part].curve[0][1])
    assert heads[0] == pytest.approx(2.4)
    assert heads[1] > 2.4
    assert heads[1] > 2.2 - duty(with_main_at("2.2 m"))[0].low_level("sump") - 0.05


def test_higher_than_any_pump_there_is_none() -> None:
    """Over 9 m none goes, and that is said at once with the height."""
    outcome = with_main_at("9 m")
    assert outcome.status is Status.NONE
    assert "must lift water to 9000 mm" in why_none(outcome)[0]
