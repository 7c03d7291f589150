"""Beds with a siphon pipe outside through hours and nights: by the crest, by the tube, by the hole."""

from __future__ import annotations

import pytest

from autoplan.hydraulics.basins import walk
from autoplan.rules.survey import Survey
from autoplan.verdict.faults.scenarios import NIGHT_S, Scenario, Scenarios
from autoplan.verdict.hours.filling import water_left
from autoplan.verdict.hours.waterworks import Waterworks, bed_siphons
from autoplan.verdict.steady.supplies import Supplies
from tests.outside import DRAIN, answer
from tests.rules.test_outside import AIR_M, FLOOD_M, WET_M2, Plan, carries, floods_per_hour, starts_from

FLOOR_M, HOLE_M, HALF_BORE_M = 0.550, 0.044, 0.0106


@pytest.fixture(scope="module")
def plan() -> Plan:
    """The plan of the cheapest design."""
    outcome = answer()
    return Plan(outcome.site, outcome.catalog, outcome.designs[0].drawing)


@pytest.fixture(scope="module")
def works(plan: Plan) -> Waterworks:
    """It as basins and passages."""
    survey = Survey(plan.site, plan.catalog, plan.drawing)
    return Waterworks(survey, bed_siphons(survey))


@pytest.fixture(scope="module")
def trials(works: Waterworks) -> Scenarios:
    """What may befall it."""
    return Scenarios(works, Supplies(works))


def trial(trials: Scenarios, what: str) -> Scenario:
    """What is called so of the bed's drain."""
    return next(one for one in trials.all() if one.what == what and DRAIN in (one.place or DRAIN))


def test_it_starts_at_its_limit_and_stops_at_its_tube(works: Waterworks) -> None:
    """0.54 sqrt(g D) in the pipe by hand; air comes in 70 mm over the floor."""
    (siphon,) = works.siphons.values()
    assert siphon.start_m3_s == pytest.approx(starts_from(), rel=1e-6)
    assert siphon.cut_out_m == pytest.approx(FLOOR_M + AIR_M)
    assert water_left(works.survey) == {"bed 1": pytest.approx(WET_M2 * AIR_M)}


def test_its_figures_by_hand(plan: Plan) -> None:
    """What it carries full and at its lowest water, and how often it floods, within 3 per cent."""
    (facts,) = answer().designs[0].verdict.siphons.values()
    assert facts.bed == "bed 1"
    assert facts.bore_m == pytest.approx(0.0212)
    assert facts.fastest_m3_s == pytest.approx(carries(plan, FLOOD_M), rel=0.03)
    assert facts.slowest_m3_s == pytest.approx(carries(plan, AIR_M), rel=0.03)
    assert facts.filling_s == pytest.approx(WET_M2 * (FLOOD_M - AIR_M) / facts.inflow_m3_s, rel=1e-6)
    assert facts.floods_per_s * 3600 == pytest.approx(floods_per_hour(plan), rel=0.03)


def test_it_floods_by_itself() -> None:
    """Watched for hours it starts and stops: it empties as fast as the figures say, and fills more slowly.

    Its feed gets less as the sump sinks, and the last of the water runs over the crest before it starts.
    """
    (facts,) = answer().designs[0].verdict.siphons.values()
    (found,) = answer().designs[0].verdict.running
    (bed,) = found.beds
    assert bed.emptying_s == pytest.approx(facts.emptying_s, rel=0.1)
    assert facts.filling_s < bed.filling_s < 1.4 * facts.filling_s
    assert bed.floods_per_hour == pytest.approx(3600 / (bed.filling_s + bed.emptying_s), rel=0.01)


def test_a_siphon_that_never_starts_is_an_overflow(plan: Plan, trials: Scenarios) -> None:
    """The bed stands no higher than its flood all night, over its crest, and nothing is spilled."""
    found = trial(trials, "siphon never starts")
    for mood in trials.moods:
        after = walk(found.works.basins, found.links(mood), found.start(mood), NIGHT_S)
        assert sum(after.spilled_m3.values()) == 0.0
        assert after.highest_m["bed 1"] <= FLOOR_M + FLOOD_M + 0.001
        lip = plan.drawing.runs[DRAIN].lip_m
        assert lip is not None
        assert after.highest_m["bed 1"] > lip


def test_one_that_comes_apart_empties_the_bed_to_its_hole(trials: Scenarios) -> None:
    """Outside its wall no crest holds the water: what is over the lower edge of its hole is lost."""
    found = trial(trials, "comes apart")
    full = next(mood for mood in trials.moods if found.start(mood).volumes_m3["bed 1"] > 0.1)
    links, start = found.links(full), found.start(full)
    after = walk(found.works.basins, links, start, NIGHT_S)
    lost = sum(after.moved_m3[link.name] for link in links if link.target is None)
    assert after.waters.volumes_m3["bed 1"] == pytest.approx(WET_M2 * (HOLE_M - HALF_BORE_M), rel=0.05)
    had, has = sum(start.volumes_m3.values()), sum(after.waters.volumes_m3.values())
    assert has + lost + sum(after.spilled_m3.values()) == pytest.approx(had, rel=1e-9)
