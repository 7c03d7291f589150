"""Guarded inlets in a night without power: what holds, what fails, and what is lost, by hand arithmetic."""

from __future__ import annotations

import math

import pytest

import autoplan
from autoplan.catalog.parts import Catalog
from autoplan.hydraulics.basins import walk
from autoplan.outcome import Fault, Status
from autoplan.problem.site import Entry, Guard
from autoplan.verdict.faults.scenarios import NIGHT_S, Scenarios
from autoplan.verdict.faults.walk import faults
from autoplan.verdict.hours.waterworks import Waterworks
from autoplan.verdict.steady.network import steady
from autoplan.verdict.steady.supplies import Supplies
from tests.optimiser.conftest import cut_down, tank_and_sump
from tests.optimiser.test_guards import SHELF
from tests.rules.conftest import Plan

TANK_M2, SUMP_M2 = 0.8, 0.9

STUCK = "main check valve stuck open in a power cut"
BLOCKED = "main siphon-break hole blocked in a power cut"
NEVER = "main never fills behind the rim"


@pytest.fixture(scope="module")
def shelf() -> Catalog:
    """Two sizes of pipe, three pumps, check valves."""
    return cut_down(autoplan.load_catalog("metric"), SHELF)


@pytest.fixture(scope="module")
def plans(shelf: Catalog) -> dict[Guard, Plan]:
    """A tank over a sump, its inlet guarded in each way."""
    found = {}
    for guard in (Guard.AIR_GAP, Guard.HOLE, Guard.CHECK_VALVE):
        entry = Entry.WALL if guard is Guard.CHECK_VALVE else Entry.OVER_RIM
        site = tank_and_sump(flow_l_h=1000.0, tank_water_m=(0.55, 0.55), guard=guard, entry=entry)
        outcome = autoplan.design(site, shelf, top=1)
        assert outcome.status is Status.PROVEN
        found[guard] = Plan(site, shelf, outcome.designs[0].drawing)
    return found


def told(plan: Plan) -> dict[str, Fault]:
    """Every fault by its name."""
    works = Waterworks(plan.survey, {})
    return {fault.name: fault for fault in faults(works, Supplies(works))}


def after(plan: Plan, name: str) -> dict[str, float]:
    """Level of each vessel after a night with a fault [m]."""
    works = Waterworks(plan.survey, {})
    trials = Scenarios(works, Supplies(works))
    (mood,) = trials.moods
    (trial,) = [trial for trial in trials.all() if f"{trial.place} {trial.what}".strip() == name]
    volumes = walk(works.basins, trial.links(mood), trial.start(mood), NIGHT_S).waters.volumes_m3
    return {basin.name: basin.level(volumes[basin.name]) for basin in works.basins}


def in_pipes_m3(plan: Plan) -> float:
    """Water in the main and in the drain; nobody measured how its legs fall, so all of it runs out."""
    areas = {run: math.pi / 4 * plan.survey.pipe(run).bore_m ** 2 for run in ("main", "drain")}
    return sum(area * plan.drawing.runs[run].length_m for run, area in areas.items())


def deeper(plan: Plan, by_m: float) -> Plan:
    """The plan with a main whose hole and mouth lie deeper, under the drain's invert."""
    end = plan.drawing.runs["main"].finish
    return plan.end("main", "finish", air_hole_m=end.air_hole_m - by_m, mouth_m=end.mouth_m - by_m)


def test_a_power_cut_draws_down_to_the_hole(plans: dict[Guard, Plan]) -> None:
    """A hole 130 mm deeper ends at 387 mm: the tank falls to it, and the sump takes that and the pipes'."""
    plan = deeper(plans[Guard.HOLE], 0.130)
    levels = after(plan, "power cut")
    assert levels["tank"] == pytest.approx(0.387, abs=1e-3)
    risen = (0.55 - 0.387) * TANK_M2 + in_pipes_m3(plan)
    assert levels["sump"] == pytest.approx(0.10 + risen / SUMP_M2, abs=2e-3)


def test_a_hole_over_the_drain_costs_nothing(plans: dict[Guard, Plan]) -> None:
    """As drawn the tank's drain draws it lower than its hole: a power cut is as with an air gap."""
    for guard in (Guard.HOLE, Guard.AIR_GAP, Guard.CHECK_VALVE):
        plan = plans[guard]
        assert after(plan, "power cut")["tank"] == pytest.approx(
            plan.survey.control_height("drain"), abs=2e-3
        )


def test_a_blocked_hole_draws_down_to_the_mouth(plans: dict[Guard, Plan]) -> None:
    """The mouth is 50 mm under the hole's lower edge at 517 mm."""
    assert after(plans[Guard.HOLE], BLOCKED)["tank"] == pytest.approx(0.467, abs=1e-3)


def test_a_stuck_check_valve_draws_down_to_the_pipe(plans: dict[Guard, Plan]) -> None:
    """A 25 mm pipe with its crown at 0.55 m lets the tank fall to 525 mm, and no further than the drain."""
    plan = plans[Guard.CHECK_VALVE]
    bottom = plan.survey.mouth_height("main")
    assert bottom == pytest.approx(0.525, abs=2e-4)
    invert = plan.survey.control_height("drain")
    assert after(plan, STUCK)["tank"] == pytest.approx(min(bottom, invert), abs=2e-3)
    low = plan.raised("main", "finish", -200)
    assert after(low, STUCK)["tank"] == pytest.approx(0.325, abs=1e-3)
    assert after(low, "power cut")["tank"] == pytest.approx(invert, abs=2e-3)


def test_what_a_stuck_check_valve_spills(plans: dict[Guard, Plan]) -> None:
    """An inlet 200 mm lower lets 0.8 m2 x 225 mm = 180 L back; the sump has room for 50 mm of 0.9 m2."""
    low = plans[Guard.CHECK_VALVE].raised("main", "finish", -200).water("sump", 150)
    back = TANK_M2 * (0.55 - low.survey.mouth_height("main")) + in_pipes_m3(low)
    fault = told(low)[STUCK]
    assert fault.spilled_l == pytest.approx(1000 * (back - 0.05 * SUMP_M2), rel=0.01)
    assert fault.where == "sump"
    assert fault.minutes is not None
    assert told(low)["power cut"].spilled_l == 0.0


def test_faults_are_told_where_they_can_be(plans: dict[Guard, Plan]) -> None:
    """A hole can be blocked, a valve stuck, a down-leg stay empty: each only where there is one."""
    names = {guard: set(told(plan)) & {STUCK, BLOCKED, NEVER} for guard, plan in plans.items()}
    assert names == {Guard.AIR_GAP: set(), Guard.HOLE: {BLOCKED, NEVER}, Guard.CHECK_VALVE: {STUCK}}
    assert "falls to its inlet's mouth" in told(plans[Guard.HOLE])[BLOCKED].saved_by


def test_a_check_valve_is_one_way(plans: dict[Guard, Plan]) -> None:
    """With the pump stopped and the tank full nothing runs back past it; past a hole that is full it does."""
    back = {
        guard: steady(plans[guard].survey, stopped=("sump",)).flows["main"]
        for guard in (Guard.AIR_GAP, Guard.HOLE, Guard.CHECK_VALVE)
    }
    assert back[Guard.AIR_GAP] == pytest.approx(0.0, abs=1e-12)
    assert back[Guard.CHECK_VALVE] == pytest.approx(0.0, abs=1e-12)
    assert back[Guard.HOLE] < -1e-5


def test_an_empty_down_leg_lifts_to_the_crest(plans: dict[Guard, Plan]) -> None:
    """The pump's head at the lesser flow is the crest's top over the sump, and what that flow loses."""
    survey = plans[Guard.HOLE].survey
    flow = steady(survey, unfilled=("main",)).flows["main"]
    lifted = 0.75 + 0.030 + 0.025 - 0.10
    needed = lifted + survey.path_loss(("main",), {"main": flow})
    assert survey.pump_curve("sump").head(flow) == pytest.approx(needed, abs=1e-6)
    assert flow < steady(survey).flows["main"]
