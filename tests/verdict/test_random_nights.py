"""Nights of designs changed at random: no litre is lost sight of, and nothing spills untold."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from autoplan.hydraulics.basins import walk
from autoplan.outcome import Fault
from autoplan.verdict.faults.scenarios import NIGHT_S, Scenarios
from autoplan.verdict.faults.walk import Judge, faults
from autoplan.verdict.hours.through_time import running
from autoplan.verdict.hours.waterworks import BedSiphon, Waterworks
from autoplan.verdict.steady.supplies import Supplies

CHANGES = st.fixed_dictionaries(
    {
        "tank_m2": st.floats(0.5, 4.0),
        "sump_m2": st.floats(0.4, 3.0),
        "bed_m2": st.floats(0.3, 2.0),
        "gravel": st.floats(0.3, 0.9),
        "sump_mm": st.floats(-150, 80),
        "lip_mm": st.floats(-150, 60),
        "outlet_mm": st.floats(-150, 60),
        "feed_mm": st.floats(-400, 30),
        "pump": st.floats(0.6, 2.0),
        "bore": st.floats(0.7, 1.4),
        "start_l_h": st.one_of(st.none(), st.floats(20, 600)),
    }
)


def changed(plan, how: dict[str, float]):
    """The plan with other vessels, levels, holes, bores and another pump, and its siphons."""
    pump, sump = plan.drawing.pumps["sump"].part, plan.site.vessels["sump"]
    curve = tuple((flow * how["pump"], head * how["pump"]) for flow, head in plan.catalog.pumps[pump].curve)
    bed = plan.site.vessels["bed 1"]
    lowest = sump.floor_m + 0.1 - plan.survey.level("sump")
    plan = (
        plan.vessel("tank", area_m2=how["tank_m2"])
        .vessel("sump", area_m2=how["sump_m2"])
        .vessel("bed 1", area_m2=how["bed_m2"], bed=replace(bed.bed, void_fraction=how["gravel"]))
        .water("sump", max(how["sump_mm"], 1000 * lowest))
        .raised("bed drain 1", "start", how["lip_mm"])
        .raised("tank drain", "start", how["outlet_mm"])
        .raised("tank feed", "finish", how["feed_mm"])
        .part(pump, curve=curve)
    )
    pipe = plan.drawing.runs["tank drain"].pipe
    plan = plan.part(pipe, bore_m=plan.catalog.pipes[pipe].bore_m * how["bore"])
    start = how["start_l_h"]
    siphons = {} if start is None else {"bed drain 1": BedSiphon(start / 3.6e6, bed.floor_m + 0.025)}
    return Waterworks(plan.survey, siphons)


def is_sound(fault: Fault) -> None:
    """Every figure is one, and litres, minutes and margins say the same."""
    figures = [fault.spilled_l, fault.margin_m, fault.minutes or 0.0, fault.lowest_cover_m or 0.0]
    assert all(map(math.isfinite, figures)), fault
    assert fault.spilled_l >= 0.0
    assert fault.saved_by.endswith(".")
    dry = fault.lowest_cover_m is not None and fault.lowest_cover_m < 0.0
    if fault.spilled_l > 0.0 or dry:
        assert fault.minutes is not None, fault
    outside = "bursts" in fault.name or "comes apart" in fault.name
    if not outside and fault.spilled_l > 0.0:
        assert fault.margin_m < 1e-9, fault


def accounted_for(works: Waterworks) -> None:
    """What was there at the start of each fault is there at its end or was lost, to 1e-9; losses are told."""
    trials = Scenarios(works, Supplies(works))
    judge = Judge(trials)
    for trial in trials.all():
        told = judge.worst(trial)
        is_sound(told)
        for mood, normal in zip(trials.moods, judge.normal, strict=True):
            links, start = trial.links(mood), trial.start(mood)
            end = walk(works.basins, links, start, NIGHT_S)
            lost = sum(end.spilled_m3.values())
            lost += sum(end.moved_m3[link.name] for link in links if link.target is None)
            had, has = sum(start.volumes_m3.values()), sum(end.waters.volumes_m3.values())
            assert has + lost == pytest.approx(had, rel=1e-9), trial.what
            # Steps that end on other events lie a hair's breadth apart.
            assert told.spilled_l >= 995 * lost - 0.5, trial.what
            high = max(end.highest_m[told.where], normal.highest_m[told.where])
            assert told.margin_m <= works.site.vessels[told.where].rim_m - high + 1e-3, trial.what


def tried(plan, examples: int, *, hours: bool = False) -> None:
    """So many systems changed at random, right or wrong."""

    @settings(deadline=None, derandomize=True, max_examples=examples)
    @given(how=CHANGES)
    def one(how: dict[str, float]) -> None:
        works = changed(plan, how)
        accounted_for(works)
        for phase in running(works, Supplies(works).with_shut) if hours else ():
            assert all(sump.lowest_m <= sump.highest_m for sump in phase.sumps)

    one()


def test_random_nights(plan) -> None:
    """Of a few systems changed at random figures are sound and every litre is accounted for."""
    tried(plan, 6)


@pytest.mark.long
def test_a_thousand_random_nights(plan) -> None:
    """The same a thousand times, the running hours as well."""
    tried(plan, 1000, hours=True)


def test_all_faults_of_a_changed_system_are_sound(plan) -> None:
    """The table of a system that spills at rest is sound too: worst first, each name once."""
    works = changed(plan, {**EXAMPLE, "outlet_mm": 200.0})
    table = faults(works, Supplies(works))
    assert len({fault.name for fault in table}) == len(table)
    litres = [fault.spilled_l for fault in table]
    assert litres == sorted(litres, reverse=True)


EXAMPLE = {
    "tank_m2": 1.5,
    "sump_m2": 1.0,
    "bed_m2": 1.0,
    "gravel": 0.4,
    "sump_mm": 0.0,
    "lip_mm": 0.0,
    "outlet_mm": 0.0,
    "feed_mm": 0.0,
    "pump": 1.0,
    "bore": 1.0,
    "start_l_h": 100.0,
}
