"""Guards against siphoning back, each on both sides of its limits, and what they let run back."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

import autoplan
from autoplan.catalog.parts import Catalog, Way
from autoplan.fittings.valve import CheckValveSet, ValveSet
from autoplan.outcome import Status
from autoplan.problem.site import Entry, Guard, Site
from autoplan.rules.pressure.over_rim_start import _fraction
from autoplan.rules.pressure.pump_duty import required_head
from autoplan.rules.water.run_back import backdrain_volume
from autoplan.verdict.steady.network import steady
from tests.lines import the
from tests.optimiser.conftest import cut_down, tank_and_sump
from tests.optimiser.test_guards import SHELF
from tests.rules.conftest import Plan

FLOW_L_H = 1000.0


@pytest.fixture(scope="module")
def shelf() -> Catalog:
    """Two sizes of pipe, three pumps, check valves."""
    return cut_down(autoplan.load_catalog("metric"), SHELF + " ball-25")


def designed(site: Site, catalog: Catalog) -> Plan:
    """The cheapest design of a site, which no verdict refused."""
    outcome = autoplan.design(site, catalog, top=1)
    assert outcome.status is Status.PROVEN
    assert outcome.solver.rejected == 0
    return Plan(site, catalog, outcome.designs[0].drawing)


@pytest.fixture(scope="module")
def hole(shelf: Catalog) -> Plan:
    """A tank of 0.8 m2 fed over its rim, with a siphon-break hole; its drain and the sump of 0.9 m2."""
    site = tank_and_sump(flow_l_h=FLOW_L_H, tank_water_m=(0.55, 0.55), guard=Guard.HOLE)
    return designed(site, shelf)


@pytest.fixture(scope="module")
def check(shelf: Catalog) -> Plan:
    """The same tank fed through its wall, with a check valve."""
    given = {"flow_l_h": FLOW_L_H, "tank_water_m": (0.55, 0.55), "entry": Entry.WALL}
    return designed(tank_and_sump(guard=Guard.CHECK_VALVE, **given), shelf)


def end(plan: Plan):
    """The inlet."""
    return plan.drawing.runs["main"].finish


# --- the hole ---------------------------------------------------------------------------------------------


def test_the_hole_as_drawn(hole: Plan) -> None:
    """30 mm under 0.55 m, 6 mm wide in a bore of 21.2, the mouth 50 mm under its lower edge at 517 mm."""
    inlet = end(hole)
    assert (inlet.guard, inlet.way) == (Guard.HOLE, Way.OVER_RIM)
    assert (inlet.air_hole_m, inlet.air_hole_width_m) == (pytest.approx(0.520), pytest.approx(0.006))
    assert inlet.mouth_m == pytest.approx(0.467)
    assert hole.survey.draws_down_to("main") == pytest.approx(0.517)
    # Crest axis 30 mm and half of 25 mm over a rim at 0.75 m.
    assert inlet.centre_m == pytest.approx(0.7925)
    assert hole.drawing.runs["main"].length_m == pytest.approx(2.6 + 0.7925 - 0.467)


@pytest.mark.parametrize(("up_mm", "ok"), [(0.0, True), (0.1, True), (0.2, False)])
def test_water_over_the_hole(hole: Plan, up_mm: float, ok: bool) -> None:
    """30 mm of running water stand over the hole, or it draws air; tenths are rounding."""
    moved = hole.end("main", "finish", air_hole_m=end(hole).air_hole_m + up_mm / 1000)
    assert moved.findings("siphon-back")["main: water over its hole"].ok is ok


@pytest.mark.parametrize(
    ("bore_mm", "width_mm", "ok"),
    [(21.2, 6.0, True), (21.2, 5.9, False), (40.0, 8.0, True), (40.0, 7.9, False)],
)
def test_width_of_the_hole(hole: Plan, bore_mm: float, width_mm: float, ok: bool) -> None:
    """6 mm at least, and a fifth of the bore: 8 mm in 40."""
    moved = hole.pipe_of("main", bore_m=bore_mm / 1000).end(
        "main", "finish", air_hole_width_m=width_mm / 1000
    )
    assert moved.findings("siphon-back")["main: width of its hole"].ok is ok


@pytest.mark.parametrize(("up_mm", "ok"), [(0.0, True), (0.1, True), (0.2, False)])
def test_mouth_under_the_hole(hole: Plan, up_mm: float, ok: bool) -> None:
    """The mouth stays 50 mm under what the water falls to."""
    moved = hole.end("main", "finish", mouth_m=end(hole).mouth_m + up_mm / 1000)
    assert moved.findings("siphon-back")["main: mouth under its hole"].ok is ok


def test_a_mouth_under_water_without_a_guard(hole: Plan, check: Plan) -> None:
    """Called an air gap, the same inlets siphon back, and the rule says by how much they lack air."""
    for plan in (hole, check):
        bare = plan.end("main", "finish", guard=Guard.AIR_GAP)
        finding = bare.findings("siphon-back")["main"]
        assert not finding.ok
        assert finding.value < 0


def both_pipes(plan: Plan) -> float:
    """Room in the feed and in the drain [m3]."""
    lines = (plan.drawing.runs[name] for name in ("main", "drain"))
    return sum(math.pi / 4 * plan.catalog.pipes[line.pipe].bore_m ** 2 * line.length_m for line in lines)


@pytest.mark.parametrize(("deep_mm", "tank_l", "runs"), [(20, 0.0, "drain"), (150, 122.4, "hole")])
def test_what_a_hole_lets_back_by_hand(shelf: Catalog, deep_mm: int, tank_l: float, runs: str) -> None:
    """At 150 mm and half of 6 the tank falls by 153 mm x 0.8 m2 = 122.4 L; at 20 its drain draws it lower."""
    site = tank_and_sump(flow_l_h=FLOW_L_H, tank_water_m=(0.55, 0.55), guard=Guard.HOLE)
    site = replace(site, rule_settings={"siphon-back": {"hole_depth": f"{deep_mm} mm"}})
    plan = designed(site, shelf)
    survey, pipe_l = plan.survey, 1000 * both_pipes(plan)
    if runs == "drain":
        tank_l = 1000 * 0.8 * (0.55 - survey.control_height("drain"))
        assert survey.control_height("drain") < 0.55 - 0.023
    assert 1000 * backdrain_volume(survey, "sump") == pytest.approx(tank_l + pipe_l)
    dry = plan.findings("sump-high")["sump"].value
    assert dry == pytest.approx(200 - (tank_l + pipe_l) / 0.9, abs=1e-6)


# --- over the rim -----------------------------------------------------------------------------------------


def scaled(plan: Plan, share: float) -> Plan:
    """The pump's heads times a share."""
    pump = plan.drawing.pumps["sump"].part
    curve = tuple((flow, head * share) for flow, head in plan.catalog.pumps[pump].curve)
    return plan.part(pump, curve=curve)


def test_the_head_that_starts_it_by_hand(hole: Plan) -> None:
    """1 / (1 - 0.5^1.75) = 1.423 times from the water at 0.55 m to the crest's top at 0.805 m."""
    finding = hole.findings("over-rim-start")["main"]
    assert finding.limit == pytest.approx(1.42309 * (0.805 - 0.55), abs=1e-5)
    flow = hole.survey.pump_flow("sump")
    head = hole.survey.pump_curve("sump").head(flow) / 1.1
    passage = hole.survey.pump_passage("main")
    assert passage is not None
    assert finding.value == pytest.approx(head - (0.55 - 0.10) - passage.loss(flow))


def test_both_sides_of_the_start(hole: Plan) -> None:
    """A pump with just that head starts it, and one with a thousandth less does not."""
    flow, passage = hole.survey.pump_flow("sump"), hole.survey.pump_passage("main")
    assert passage is not None
    asked = 1.42309 * (0.805 - 0.55) + (0.55 - 0.10) + passage.loss(flow)
    enough = 1.1 * asked / hole.survey.pump_curve("sump").head(flow)
    assert scaled(hole, enough * 1.0001).findings("over-rim-start")["main"].ok
    assert not scaled(hole, enough * 0.999).findings("over-rim-start")["main"].ok


@pytest.mark.parametrize(("check_valve", "heads"), [(None, (0.0, 0.0)), ("check-25", (2.2, 2.4 * 1.1**2))])
def test_half_of_the_flow_comes_at_the_start(
    hole: Plan, check_valve: str | None, heads: tuple[float, float]
) -> None:
    """A pump of one head at any flow, just what is asked: with its valve as set half of the flow comes.

    The flap of a check valve is one more head to overcome, in velocity heads at 1.35 m/s (see below).
    """
    plan = hole
    if check_valve is not None:
        plan = hole.put("main", CheckValveSet(check_valve)).end("main", "finish", guard=Guard.CHECK_VALVE)
    survey = plan.survey
    flow, passage = survey.pump_flow("sump"), survey.pump_passage("main")
    assert passage is not None
    limit = plan.findings("over-rim-start")["main"].limit
    flap = limit - hole.findings("over-rim-start")["main"].limit
    assert heads[0] <= flap / (1.35**2 / (2 * 9.80665)) <= heads[1]
    head = limit + 0.45 + passage.loss(flow)
    pump = plan.drawing.pumps["sump"].part
    flat = ((0.0, head * 1.0001), (2 * flow, head), (3 * flow, 0.0))
    weak = plan.part(pump, curve=flat).put("main", ValveSet("ball-25")).survey
    set_ = steady(weak, balanced=True).valves
    assert set_["main"].loss_m > 0.0
    start = steady(weak, settings=set_, unfilled=("main",)).flows["main"]
    # The valve's share of the loss goes with the square of the flow, so a little more than half comes.
    assert 0.5 <= start / flow < 0.55


@pytest.mark.parametrize(("up_mm", "ok"), [(-0.2, True), (0.3, False)])
def test_the_hole_is_under_water_at_the_start(hole: Plan, up_mm: float, ok: bool) -> None:
    """At half the flow the tank stands lower by what its drain's inlet needs less, and covers the hole."""
    low = hole.survey.standing_level("tank", 0.5)
    assert 0.005 < 0.55 - low < 0.030
    moved = hole.end("main", "finish", air_hole_m=low - 0.003 + up_mm / 1000)
    assert moved.findings("over-rim-start")["main: water over its hole"].ok is ok


@pytest.mark.parametrize(("share", "ok"), [(1.001, True), (0.999, False)])
def test_both_sides_of_the_fill(hole: Plan, share: float, ok: bool) -> None:
    """A Froude number of 1.2 in a bore of 21.2 mm is 0.547 m/s or 695 L/h."""
    flow = 1.2 * math.sqrt(9.80665 * 0.0212) * math.pi / 4 * 0.0212**2 * 3.6e6
    assert flow == pytest.approx(695, abs=1)
    changed = hole.flow("main", share * flow / FLOW_L_H)
    assert changed.findings("over-rim-fill")["main"].ok is ok


def test_lift_counts_to_the_water(hole: Plan, check: Plan) -> None:
    """Under water the pump lifts to 0.55 m and no higher, from 0.10 m; the rest is loss."""
    for plan in (hole, check):
        survey = plan.survey
        loss = survey.path_loss(("main",), survey.flows_at())
        assert required_head(survey, ("main",), 1.0, 0.0) == pytest.approx(0.45 + loss, abs=1e-4)
        dry = plan.end("main", "finish", guard=Guard.AIR_GAP).survey
        assert required_head(dry, ("main",), 1.0, 0.0) == pytest.approx(dry.crest("main") - 0.10 + loss)


# --- the check valve --------------------------------------------------------------------------------------


def test_the_check_valve_as_drawn(check: Plan) -> None:
    """Its inlet's crown is at the water, 0.55 m; a valve stands on the run and on the order."""
    inlet, valve = end(check), the(check.drawing.runs["main"], CheckValveSet).valve
    assert (inlet.guard, inlet.way) == (Guard.CHECK_VALVE, Way.BULKHEAD)
    assert inlet.centre_m + check.survey.pipe("main").outside_m / 2 == pytest.approx(0.55, abs=2e-4)
    assert check.survey.used_pieces()[valve] == 1
    assert any(line.part == valve for line in check.drawing.purchases)
    roles = [str(item.role) for item in check.survey.assembled("main").items]
    assert roles.count("check valve") == 1


def test_a_check_valve_is_there_or_not(check: Plan) -> None:
    """A ball valve lets water back, and so does nothing at all."""
    valve = the(check.drawing.runs["main"], CheckValveSet).valve
    assert check.findings("check-valve")["main"].ok
    assert not check.part(valve, style="ball").findings("check-valve")["main"].ok
    assert not check.without("main", CheckValveSet).findings("check-valve")["main"].ok


def test_a_check_valve_takes_head_and_holds_pressure(check: Plan) -> None:
    """100 fT (Crane TP-410): 2.4 velocity heads at 3/4 in, 2.2 at 1 in, 21.2 mm between; from memory.

    Its flap is out of the way from 35 ft/s times the root of 1/62.4 (the same page; from memory), 1.35 m/s,
    or up to a tenth more as metric editions round it; the water is slower.
    """
    survey, valve = check.survey, the(check.drawing.runs["main"], CheckValveSet).valve
    bare = check.without("main", CheckValveSet).survey
    flow = survey.design_flow("main")
    assert flow / (math.pi / 4 * 0.0212**2) < 1.35
    head = 1.35**2 / (2 * 9.80665)
    lost = survey.line("main").loss(flow, survey.water) - bare.line("main").loss(flow, bare.water)
    assert 2.2 * head < lost < 2.4 * 1.1**2 * head
    shut_off = survey.pump_curve("sump").shut_off_m
    assert check.part(valve, rating_m=shut_off).findings("pressure-rating")["main"].ok
    assert not check.part(valve, rating_m=shut_off - 0.001).findings("pressure-rating")["main"].ok


def test_a_check_valve_lets_nothing_back(check: Plan) -> None:
    """The tank falls to its drain's invert and no lower; both pipes are counted as if they emptied."""
    survey, pipe = check.survey, both_pipes(check)
    drained = 0.8 * (0.55 - survey.control_height("drain"))
    assert math.isinf(survey.draws_down_to("main"))
    assert backdrain_volume(survey, "sump") == pytest.approx(pipe + drained)


@pytest.mark.parametrize("share", [0.0, 0.1, 0.3, 0.5, 0.6, 0.8, 0.9, 0.95])
def test_the_factor_of_the_model_is_no_less_and_hardly_more(share: float) -> None:
    """Few parts keep rows small however many ways there are: at most 2 % over 1 / (1 - s^1.75)."""
    factor = 1 / (1 - share**1.75)
    over, under = _fraction(factor)
    assert factor <= over / under + 1e-9
    assert over / under <= 1.02 * factor
    assert _fraction(1 / (1 - 0.5**1.75)) == (10, 7)
