"""Beds with a weep hole through hours and nights: full while fed, empty when the pump stops, every litre."""

from __future__ import annotations

import math

import pytest

from autoplan.hydraulics.basins import walk
from autoplan.hydraulics.drain_hole import filling_time, hole_flow, running_empty_time
from autoplan.outcome import Fault
from autoplan.rules.survey import Survey
from autoplan.rules.water.run_back import backdrain_volume
from autoplan.verdict.faults.scenarios import NIGHT_S, Scenarios
from autoplan.verdict.hours.filling import filling, water_left
from autoplan.verdict.hours.through_time import STEADY
from autoplan.verdict.hours.waterworks import Waterworks
from autoplan.verdict.steady.supplies import Supplies
from tests.weeps import answer

WET_M2 = 0.4


@pytest.fixture(scope="module")
def works() -> Waterworks:
    """The cheapest design as basins and passages: one bed that holds 100 L when full."""
    outcome = answer()
    return Waterworks(Survey(outcome.site, outcome.catalog, outcome.designs[0].drawing), {})


@pytest.fixture(scope="module")
def trials(works: Waterworks) -> Scenarios:
    """What may befall it."""
    return Scenarios(works, Supplies(works))


def night(trials: Scenarios, what: str):  # type: ignore[no-untyped-def]
    """A night of the fault of that name."""
    trial = next(trial for trial in trials.all() if trial.what == what)
    (mood,) = trials.moods
    start = trial.start(mood)
    return start, walk(trial.works.basins, trial.links(mood), start, NIGHT_S)


def test_it_stands_full_while_the_pump_runs(works: Waterworks) -> None:
    """Hours on the bed is at its flood, and the sump lower than drawn by the 100 L that are in it."""
    (found,) = answer().designs[0].verdict.running
    assert (found.phase, found.beds) == (STEADY, ())
    (sump,) = found.sumps
    drawn = works.survey.level("sump")
    area = works.site.vessels["sump"].area_m2
    # Pumped as low as that a little less comes than at the drawn level, and the bed stands a little lower.
    assert drawn - sump.lowest_m == pytest.approx(0.1 / area, rel=0.03)
    assert sump.lowest_m >= works.survey.low_level("sump")
    assert sump.highest_m - sump.lowest_m < 0.001


def test_figures_by_closed_forms(works: Waterworks) -> None:
    """Leak, time to the lip and time to empty are those of the hole at 210 mm and at the lip."""
    (facts,) = answer().designs[0].verdict.weeps.values()
    lip = works.survey.control_height("bed drain 1") - works.site.vessels["bed 1"].floor_m - 0.040
    assert facts.bed == "bed 1"
    assert facts.leak_m3_s == pytest.approx(hole_flow(0.006, 0.210), rel=1e-6)
    assert facts.inflow_m3_s == pytest.approx(0.2 / 3600 + facts.leak_m3_s, rel=1e-6)
    assert facts.filling_s == pytest.approx(filling_time(WET_M2, 0.006, facts.inflow_m3_s, lip), rel=1e-9)
    assert facts.emptying_s == pytest.approx(running_empty_time(WET_M2, 0.006, 0.210), rel=1e-6)


def test_a_power_cut_empties_it(works: Waterworks, trials: Scenarios) -> None:
    """By the morning it holds what is under the hole, and the sump has the rest without running over."""
    start, after = night(trials, "power cut")
    left = water_left(works.survey)["bed 1"]
    assert left == pytest.approx(WET_M2 * 0.037)
    assert start.volumes_m3["bed 1"] > 0.095
    assert left * 0.99 < after.waters.volumes_m3["bed 1"] < WET_M2 * 0.043
    moved = start.volumes_m3["bed 1"] - after.waters.volumes_m3["bed 1"]
    assert after.moved_m3["bed drain 1"] == pytest.approx(moved, rel=1e-9)
    assert sum(after.spilled_m3.values()) == 0.0
    survey, vessel = works.survey, works.site.vessels["sump"]
    highest = survey.level("sump") + backdrain_volume(survey, "sump") / vessel.area_m2
    # All of it came back but what stays in the bed, and as much as its feed was short of.
    assert after.highest_m["sump"] == pytest.approx(highest - left / vessel.area_m2, abs=0.01)
    assert after.highest_m["sump"] < highest


def test_the_resting_levels_are_told(works: Waterworks) -> None:
    """At rest the bed's water is told at the hole's lower edge."""
    floor = works.site.vessels["bed 1"].floor_m
    assert answer().designs[0].verdict.resting["bed 1"] == pytest.approx(floor + 0.037)


def test_a_clogged_hole(trials: Scenarios) -> None:
    """All of the flow goes over the lip, nothing runs over, and the builder hears what no longer works."""
    _, after = night(trials, "weep hole clogged")
    _, whole = night(trials, "water at 30 C")
    assert sum(after.spilled_m3.values()) == 0.0
    assert after.waters.volumes_m3["bed 1"] > whole.waters.volumes_m3["bed 1"]
    fault = next(one for one in answer().designs[0].verdict.faults if "weep hole clogged" in one.name)
    assert isinstance(fault, Fault)
    assert "bed 1 no longer runs empty when the pump stops" in fault.saved_by


def test_one_mood_and_every_litre(trials: Scenarios) -> None:
    """Such a bed is full as any fault begins; in each of them what was there is there or was lost."""
    assert len(trials.moods) == 1
    for trial in trials.all():
        (mood,) = trials.moods
        links, start = trial.links(mood), trial.start(mood)
        after = walk(trial.works.basins, links, start, NIGHT_S)
        lost = sum(after.spilled_m3.values())
        lost += sum(after.moved_m3[link.name] for link in links if link.target is None)
        had, has = sum(start.volumes_m3.values()), sum(after.waters.volumes_m3.values())
        assert has + lost == pytest.approx(had, rel=1e-9), trial.what


def test_the_same_water_at_each_level(works: Waterworks) -> None:
    """Low with the bed full, running with it empty, high with the power off: no litre comes or goes."""
    facts, site, survey = filling(works.survey), works.site, works.survey
    (sump,) = facts.moving
    area = site.vessels["sump"].area_m2
    assert (sump.running_m - sump.low_m) * area == pytest.approx(0.1)
    standing = site.vessels["tank"].held_m3(survey.level("tank"))
    pipes = sum(
        math.pi / 4 * survey.pipe(run).bore_m ** 2 * survey.drawn(run).length_m
        for run in site.runs
        if not survey.run(run).idle
    )
    for level, in_bed in ((sump.low_m, 0.1), (sump.running_m, 0.0)):
        held = site.vessels["sump"].held_m3(level) + in_bed + standing + pipes
        assert facts.total_m3 == pytest.approx(held)
    assert sump.low_m < sump.running_m < sump.high_m
