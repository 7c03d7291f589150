"""Timed beds through hours and nights: clock, closed forms, every litre, what comes of their faults."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from autoplan.hydraulics.basins import walk
from autoplan.hydraulics.drain_hole import filling_time, hole_flow, running_empty_time
from autoplan.line.water import inlet_bore
from autoplan.outcome import Fault, Outcome
from autoplan.rules.survey import Survey
from autoplan.verdict.faults.scenarios import NIGHT_S, Scenarios
from autoplan.verdict.faults.walk import faults
from autoplan.verdict.hours.clockwork import BedClock, Clockwork
from autoplan.verdict.hours.filling import filling
from autoplan.verdict.hours.through_time import IN_STEP, IN_TURN, clocks, running
from autoplan.verdict.hours.waterworks import Waterworks
from autoplan.verdict.steady.network import Steady, steady
from autoplan.verdict.steady.supplies import Supplies
from tests.stored import stored

PROBLEM = """
name = "Two beds on clocks"
[tank]
volume = "700 L"
depth = "750 mm"
floor = "300 mm"
[beds]
count = 2
area = "0.8 m2"
floor = "600 mm"
drain = "timer"
floods = "2/hour"
on_time = "10 min"
[sump]
volume = "700 L"
depth = "650 mm"
floor = "-550 mm"
"""


@pytest.fixture(scope="module")
def answer() -> Outcome:
    """The cheapest design of two timed beds; 80 L a flood."""
    return stored("two-beds-on-clocks", PROBLEM)


@pytest.fixture(scope="module")
def works(answer: Outcome) -> Waterworks:
    """It as basins and passages."""
    return Waterworks(Survey(answer.site, answer.catalog, answer.designs[0].drawing), {})


@pytest.fixture(scope="module")
def supplies(works: Waterworks) -> Supplies:
    """Its pump."""
    return Supplies(works)


@pytest.mark.parametrize(
    ("first_s", "expected"),
    [
        (0.0, [(0.0, True), (600.0, False), (1800.0, True), (2400.0, False)]),
        (900.0, [(0.0, False), (900.0, True), (1500.0, False), (2700.0, True)]),
        (1500.0, [(0.0, True), (300.0, False), (1500.0, True), (2100.0, False)]),
        (1200.0, [(0.0, False), (1200.0, True), (1800.0, False)]),
    ],
)
def test_a_clock_by_hand(first_s: float, expected: list[tuple[float, bool]]) -> None:
    """Open ten minutes of each half hour, from whenever it is first opened."""
    assert BedClock("bed", "feed", 600.0, 1800.0, first_s).switchings(3000.0) == expected


def test_fills_and_empties_as_the_closed_forms_say(works: Waterworks) -> None:
    """One bed at its design flow: from between the hole's lowest point and its top to the lip, and back."""
    survey, bed = works.survey, works.site.vessels["bed 1"]
    timer = works.site.timed_beds()["bed 1"]
    clock = BedClock("bed 1", "bed feed 1", timer.on_s, 1800.0)
    # With a constant supply the feed of bed 1 is left out by hand while its valve is shut.
    designed = works.as_designed()
    left = {v: {t: f for t, f in fs.items() if t != "bed 1"} for v, fs in designed.flows_m3_s.items()}
    clockwork = Clockwork(
        works, lambda shut: replace(designed, flows_m3_s=left) if shut else designed, [clock]
    )
    hours = clockwork.walk(works.at_design(), 4 * 3600.0, 3600.0)
    cycle, wet, inflow = hours.cycles["bed 1"], 0.8 * 0.4, timer.inflow_m3_s
    lip = survey.control_height("bed drain 1") - bed.floor_m - timer.height_m
    fills = filling_time(wet, timer.hole_m, inflow, lip)
    below = wet * timer.hole_m / 2 / inflow
    assert len(cycle.filling_s) == 6
    assert all(fills - below <= time <= fills + 1.1 * below for time in cycle.filling_s)
    # It stands where lip and hole together pass the inflow: a little under the problem's flood.
    highest = hours.history.highest_m["bed 1"] - bed.floor_m - timer.height_m
    over_lip = inflow - hole_flow(timer.hole_m, highest)
    assert highest == pytest.approx(lip + survey.inlet_head("bed drain 1", over_lip), abs=5e-4)
    empties = running_empty_time(wet, timer.hole_m, highest)
    assert all(time == pytest.approx(empties, rel=0.01) for time in cycle.emptying_s)


@pytest.mark.parametrize("in_turn", [False, True])
def test_every_litre_by_the_clock(works: Waterworks, supplies: Supplies, in_turn: bool) -> None:
    """Six hours of two clocks: what was there is there still, to 1e-9, and what each bed got it gave."""
    start = works.at_design()
    hours = Clockwork(works, supplies.with_shut, clocks(works, in_turn=in_turn)).walk(start, 6 * 3600.0)
    history = hours.history
    had, has = (sum(water.volumes_m3.values()) for water in (start, history.waters))
    assert has + sum(history.spilled_m3.values()) == pytest.approx(had, rel=1e-9)
    assert sum(history.spilled_m3.values()) == 0.0
    assert history.seconds == pytest.approx(6 * 3600.0)
    for bed in ("bed 1", "bed 2"):
        got, gave = history.moved_m3[f"pump in sump to {bed}"], history.moved_m3[f"bed drain {bed[-1]}"]
        assert got == pytest.approx(gave + history.waters.volumes_m3[bed], rel=1e-9)
        assert got > 12 * 0.080


def test_the_running_system(works: Waterworks, supplies: Supplies) -> None:
    """Twice an hour each; in turn the sump moves less, and never goes under what is allowed for."""
    found = running(works, supplies.with_shut)
    assert [one.phase for one in found] == [IN_STEP, IN_TURN]
    timer = works.site.timed_beds()["bed 1"]
    for one in found:
        assert [bed.bed for bed in one.beds] == ["bed 1", "bed 2"]
        for bed in one.beds:
            assert bed.floods_per_hour == pytest.approx(2.0, rel=1e-4)
            assert bed.filling_s is not None
            assert bed.emptying_s is not None
            assert bed.filling_s < timer.on_s
            assert bed.emptying_s < 0.8 * 1200.0 * 1.001
    moves = [one.sumps[0].highest_m - one.sumps[0].lowest_m for one in found]
    assert moves[1] < 0.7 * moves[0]
    assert all(one.sumps[0].lowest_m > works.survey.low_level("sump") for one in found)
    assert all(one.sumps[0].highest_m <= works.survey.level("sump") + 1e-6 for one in found)


def test_what_stays_open_gets_more(works: Waterworks, supplies: Supplies) -> None:
    """With one valve shut, and with both, the tank gets more, and each shut bed nothing."""
    feeds = works.survey.timed_feeds()
    assert feeds == {"bed 1": "bed feed 1", "bed 2": "bed feed 2"}
    got = []
    for shut in ((), ("bed feed 1",), ("bed feed 1", "bed feed 2")):
        flows = supplies.with_shut(frozenset(shut)).flows_m3_s["sump"]
        got.append(flows["tank"][1])
        for bed, feed in feeds.items():
            assert (max(flows[bed]) == 0.0) is (feed in shut)
    assert got[0] < got[1] < got[2]
    assert supplies.with_shut(frozenset(("bed feed 1",))) is supplies.with_shut(frozenset(("bed feed 1",)))
    quiet = supplies.quiet.as_set.flows_m3_s["sump"]["tank"]
    assert quiet[1] == pytest.approx(got[2], rel=1e-6)


def test_no_network_is_solved_twice(works: Waterworks, monkeypatch: pytest.MonkeyPatch) -> None:
    """Through hours and all faults the pumps are never asked the same again, whichever valves stay shut."""
    asked: list[tuple[object, ...]] = []

    def counted(survey: Survey, **case: Any) -> Steady:
        levels, shut = case.get("levels", {}), frozenset(case.get("shut", ()))
        rest = [case.get(name) for name in ("burst", "flat_out", "unfilled", "water", "balanced")]
        asked.append((id(survey), tuple(levels.items()), shut, *rest))
        return steady(survey, **case)

    monkeypatch.setattr("autoplan.verdict.steady.supplies.steady", counted)
    pumps = Supplies(works)
    running(works, pumps.with_shut)
    faults(works, pumps)
    assert len(asked) == len(set(asked)) > 20


def test_every_litre_of_every_fault(works: Waterworks, supplies: Supplies) -> None:
    """In each fault, valves open or shut all night, what was there is there or was lost, to 1e-9."""
    trials = Scenarios(works, supplies)
    assert len(trials.moods) == 2
    for trial in trials.all():
        for mood in trials.moods:
            links, start = trial.links(mood), trial.start(mood)
            night = walk(trial.works.basins, links, start, NIGHT_S)
            lost = sum(night.spilled_m3.values())
            lost += sum(night.moved_m3[link.name] for link in links if link.target is None)
            had, has = sum(start.volumes_m3.values()), sum(night.waters.volumes_m3.values())
            assert has + lost == pytest.approx(had, rel=1e-9), trial.what


@pytest.fixture(scope="module")
def found(works: Waterworks, supplies: Supplies) -> dict[str, Fault]:
    """What comes of each fault, by its name without how many are alike."""
    return {fault.name.partition(" (or")[0]: fault for fault in faults(works, supplies)}


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("bed feed {} timed valve stuck open", "the standpipe of bed {} takes it, and its roots want air"),
        ("bed feed {} timed valve stuck shut", "bed {} stays empty, and its roots want water"),
        ("bed drain {} drain hole clogged", "bed {} stands full, and its roots want air"),
    ],
)
def test_faults_of_timers_spill_nothing(found: dict[str, Fault], name: str, words: str) -> None:
    """Each is told, for whichever bed is worse off, with what saves it."""
    (number,) = [n for n in "12" if name.format(n) in found]
    fault = found[name.format(number)]
    assert fault.spilled_l == 0.0
    assert fault.minutes is None
    assert fault.margin_m > 0.0
    assert fault.lowest_cover_m is not None
    assert fault.lowest_cover_m > 0.0
    assert words.format(number) in fault.saved_by


def night_of(trials: Scenarios, what: str, mood: int):  # type: ignore[no-untyped-def]
    """A night of the first fault of that name, in one mood."""
    trial = next(trial for trial in trials.all() if trial.what == what)
    chosen = trials.moods[mood]
    return walk(trial.works.basins, trial.links(chosen), trial.start(chosen), NIGHT_S)


def test_where_the_water_is_after_each(works: Waterworks, supplies: Supplies) -> None:
    """Stuck open from empty: a little over its flood. Stuck shut from full: empty. Clogged: well over it.

    Stuck open it gets what the other bed's shut valve leaves it, and the hole takes its part. Clogged, all of
    its own goes over the lip: 1.83 pi D H^1.5 or 0.6 A sqrt(2 g H), whichever takes more head.
    """
    trials, basin = Scenarios(works, supplies), works.basins[1]
    assert basin.name == "bed 1"
    lip, flood = works.survey.control_height("bed drain 1"), works.site.vessels["bed 1"].water_max_m
    timer = works.site.timed_beds()["bed 1"]
    stuck_open = night_of(trials, "timed valve stuck open", 1).waters.volumes_m3
    (hole, _) = [hole for _, _, hole in works.survey.drain_holes()]
    bore = inlet_bore(works.survey.catalog, works.survey.drawn("bed drain 1"))

    def over(flow: float) -> float:
        weir = (flow / (1.83 * math.pi * bore)) ** (2 / 3)
        return max(weir, (flow / (0.6 * math.pi / 4 * bore**2)) ** 2 / (2 * 9.80665))

    alone = supplies.with_shut(frozenset({"bed feed 2"})).flows_m3_s["sump"]["bed 1"][1]
    stands = basin.level(stuck_open["bed 1"])
    leaks = hole_flow(hole.hole_m, stands - basin.floor_m - hole.height_m)
    assert stands == pytest.approx(lip + over(alone - leaks), abs=1e-3)
    assert flood - 1e-4 < stands < flood + 0.01
    assert works.basins[2].level(stuck_open["bed 2"]) < basin.floor_m + timer.height_m
    stuck_shut = night_of(trials, "timed valve stuck shut", 0).waters.volumes_m3
    assert basin.level(stuck_shut["bed 1"]) < basin.floor_m + timer.height_m
    assert works.basins[2].level(stuck_shut["bed 2"]) > lip - 0.01
    clogged, plain = (night_of(trials, what, 0) for what in ("drain hole clogged", "every bore 5 % less"))
    inflow = works.survey.design_flow("bed drain 1")
    assert lip + over(inflow) > flood + 0.005
    assert basin.level(clogged.waters.volumes_m3["bed 1"]) == pytest.approx(lip + over(inflow), abs=1e-3)
    assert clogged.highest_m["bed 1"] > plain.waters.volumes_m3["bed 1"] / basin.wet_m2 + basin.floor_m


def test_a_power_cut_drains_the_beds_to_the_sump(works: Waterworks, supplies: Supplies) -> None:
    """The valves shut, both full beds run down to their holes, and the sump has room for it and the pipes."""
    trials = Scenarios(works, supplies)
    night, start = night_of(trials, "power cut", 0), trials.moods[0].running
    timer, wet = works.site.timed_beds()["bed 1"], works.basins[1].wet_m2
    for bed in ("bed 1", "bed 2"):
        fell = start.volumes_m3[bed] - night.waters.volumes_m3[bed]
        left = wet * timer.height_m
        assert fell == pytest.approx(start.volumes_m3[bed] - left, abs=wet * timer.hole_m / 2 + 1e-6)
    rim = works.site.vessels["sump"].rim_m
    assert night.spilled_m3["sump"] == 0.0
    allowed = works.survey.level("sump")
    assert allowed < night.highest_m["sump"] < rim


def test_water_stays_under_the_drain_holes(works: Waterworks) -> None:
    """Down to its lower edge a hole runs on: 2 x 0.8 m2 x 0.4 x (40 mm - half the hole) stay."""
    (hole, _) = [hole for _, _, hole in works.survey.drain_holes()]
    left = 2 * 0.8 * 0.4 * (0.040 - hole.hole_m / 2)
    assert filling(works.survey).left_m3 == pytest.approx(left, rel=1e-9)
