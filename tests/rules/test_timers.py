"""The rules of timed beds: both sides of each limit on one small plan, and what they make of designs.

A lip with its drain hole is held against a bisection of its own. Weir all round a lip, Q = 1.83 pi D H^1.5,
and orifice, Q = 0.6 A sqrt(2 g H): US EPA, Storm Water Management Model reference manual. Drain hole,
Q = 0.6 a sqrt(2 g h) over its centre: Torricelli, for a sharp edge.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

import autoplan
from autoplan.fittings.floor import SideHole
from autoplan.fittings.valve import ValveSet
from autoplan.hydraulics.drain_hole import head_over_hole, hole_flow
from autoplan.line.row import Line
from autoplan.line.water import inlet_bore
from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.options.lip import lip_under_water
from autoplan.optimiser.options.making import NoOptionError
from autoplan.outcome import Outcome, Status
from autoplan.problem.site import BedDrain, BedWater
from autoplan.rules.beds.timer_drain import TimerDrain
from autoplan.rules.book import read_rules
from autoplan.rules.lip import head_over_lip, held_depth
from autoplan.rules.survey import Survey
from autoplan.verdict.steady.network import steady
from tests.lines import ended, the
from tests.rules import by_hand
from tests.rules.by_hand import over_lip
from tests.rules.conftest import Plan
from tests.rules.limits import Case, crossed
from tests.short_list import from_shortest_list
from tests.stored import stored

G = 9.80665

WET_M2, HOLE_M2 = 1.2 * 0.4, math.pi / 4 * 0.011**2
"""Water surface of the bed between its stones, and the drain hole that is drilled."""

PROBLEM = """
name = "One bed on a clock"
[tank]
volume = "700 L"
depth = "750 mm"
floor = "300 mm"
[beds]
count = 1
area = "1.2 m2"
floor = "600 mm"
drain = "timer"
floods = "1/hour"
{beds}
[sump]
volume = "600 L"
depth = "650 mm"
floor = "-550 mm"
{more}
"""


def designed(folder: Path, beds: str = "", more: str = "") -> Outcome:
    """The cheapest design of the small system with a timed bed."""
    path = folder / "timed.toml"
    path.write_text(from_shortest_list(PROBLEM.format(beds=beds, more=more)))
    return autoplan.design(autoplan.load_problem(path), autoplan.load_catalog("metric"), top=1)


@pytest.fixture(scope="module")
def answer() -> Outcome:
    """The cheapest design: 750 L/h in for 24 min, then out by a hole of 11 mm for 36."""
    return stored("one-bed-on-a-clock", PROBLEM.format(beds="", more=""))


@pytest.fixture(scope="module")
def timed(answer: Outcome) -> Plan:
    """The plan of that design."""
    return Plan(answer.site, answer.catalog, answer.designs[0].drawing)


def lip_m(plan: Any) -> float:
    """The bed's lip over its floor [m]."""
    return float(plan.drawing.runs["bed drain 1"].start.standpipe_top_m) - 0.600


def fills_min(plan: Any) -> float:
    """Time to fill: 2 A h / (q s^2) (-ln(1 - s) - s), s the share that leaks at the lip [min]."""
    over, inflow = lip_m(plan) - 0.040, plan.site.flows["bed feed 1"].design_m3_s
    share = 0.6 * HOLE_M2 * math.sqrt(2 * G * over) / inflow
    return float(2 * WET_M2 * over / inflow * (-math.log(1 - share) - share) / share**2 / 60)


def empties_min() -> float:
    """Time to run empty from 250 mm to half a hole over its centre at 40 mm: Torricelli [min]."""
    fallen = math.sqrt(0.21) - math.sqrt(0.0055)
    return 2 * WET_M2 * fallen / (0.6 * HOLE_M2 * math.sqrt(2 * G)) / 60


def margin(rule: str, takes: Callable[[Any], float], whole_min: float, off: float) -> Callable[[Any], Any]:
    """A plan whose rule asks for all the time that there is to spare by hand, and so much more of it."""
    return lambda plan: plan.rules({rule: {"margin": f"{(1 - takes(plan) / whole_min + off) * 100:.9f} %"}})


def asked(rule: str, key: str, value: str) -> Callable[[Any], Any]:
    """A plan with a setting of a rule given."""
    return lambda plan: plan.rules({rule: {key: value}})


def guarded(key: str, least_mm: Callable[[Any], float], extra_mm: float) -> Callable[[Any], Any]:
    """A plan whose guard measures what it must, give or take."""

    def changed(plan: Any) -> Any:
        guard = plan.drawing.runs["bed drain 1"].start.drain_hole.guard
        return plan.part(guard, **{key: (least_mm(plan) + extra_mm) / 1000})

    return changed


def round_the_pipe_mm(_: Any) -> float:
    """10 mm all round a pipe of 40 mm."""
    return 40.0 + 2 * 10.0


def over_the_lip_mm(plan: Any) -> float:
    """From the floor to 25 mm over the lip."""
    return lip_m(plan) * 1000 + 25.0


def alone(plan: Any) -> float:
    """The most that the tank can get of the pump, with the timed valve shut, over its design flow [-].

    Its own valve was set to take what head it had too much of, X, and takes f^2 X of f times the flow. It
    lifts to the water if its pipe ends under that, else over the rim; what the main loses is left out, on the
    safe side.
    """
    design, main = (plan.site.flows[name].design_m3_s for name in ("tank feed", "main"))
    water, low = (plan.drawing.levels[name].design_m for name in ("tank", "sump"))
    feed = plan.drawing.runs["tank feed"]
    crest = feed.finish.centre_m + plan.catalog.pipes[feed.pipe].outside_m / 2
    lift = (crest if feed.finish.mouth_m > water else water) - low
    lost = plan.survey.path_loss(("main", "tank feed"), plan.survey.flows_at())
    too_much = by_hand.pump_gives(plan) - lift - lost

    def has_head(factor: float) -> bool:
        own = plan.survey.line("tank feed").loss(factor * design, plan.survey.water)
        return bool(by_hand.pump_gives(plan, factor * design) >= lift + own + too_much * factor**2)

    return by_hand.halved(has_head, 1.0, main / design)


def overloaded(share: float) -> Callable[[Any], Any]:
    """A plan whose overload is so many times what its tank gets with the timed valve shut."""
    return lambda plan: plan.wishes(overload_factor=alone(plan) * share)


def valved(run: str, part: str) -> Callable[[Any], Any]:
    """A plan with another valve on a run."""
    return lambda plan: plan.fitting(run, ValveSet, valve=part)


CASES = (
    Case(
        "timer-fill",
        "bed 1",
        margin("timer-fill", fills_min, 24.0, -1e-6),
        margin("timer-fill", fills_min, 24.0, 1e-6),
    ),
    Case(
        "timer-drain",
        "bed 1",
        margin("timer-drain", lambda _: empties_min(), 36.0, -1e-6),
        margin("timer-drain", lambda _: empties_min(), 36.0, 1e-6),
    ),
    Case(
        "drain-hole",
        "bed 1: drain hole",
        asked("drain-hole", "least", "11 mm"),
        asked("drain-hole", "least", "11.001 mm"),
    ),
    Case(
        "drain-hole",
        "bed 1: bore of the standpipe",
        lambda plan: plan.pipe_of("bed drain 1", bore_m=0.0220001),
        lambda plan: plan.pipe_of("bed drain 1", bore_m=0.0219999),
    ),
    Case(
        "drain-hole",
        "bed 1: inside of the guard",
        guarded("inside_m", round_the_pipe_mm, 0.01),
        guarded("inside_m", round_the_pipe_mm, -0.01),
    ),
    Case(
        "drain-hole",
        "bed 1: height of the guard",
        guarded("tallest_m", over_the_lip_mm, 0.01),
        guarded("tallest_m", over_the_lip_mm, -0.01),
    ),
    Case("timer-shut", "tank feed", overloaded(1.00001), overloaded(0.9999)),
    Case(
        "flood-rate",
        "bed 1",
        asked("flood-rate", "least", "0.9999/hour"),
        asked("flood-rate", "least", "1.0001/hour"),
    ),
    Case(
        "flood-rate",
        "bed 1",
        lambda plan: plan.rules({"flood-rate": {"most": "1.0001/hour", "least": "0.1/hour"}}),
        lambda plan: plan.rules({"flood-rate": {"most": "0.9999/hour", "least": "0.1/hour"}}),
    ),
    Case(
        "branch-valve",
        "bed feed 1",
        valved("bed feed 1", "timed-thread-34"),
        valved("bed feed 1", "ball-thread-34"),
    ),
    Case("branch-valve", "tank feed", valved("tank feed", "ball-25"), valved("tank feed", "timed-25")),
    Case("branch-valve", "bed feed 1", lambda plan: plan, lambda plan: plan.without("bed feed 1", ValveSet)),
)


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.rule} {case.place}")
def test_both_sides_of_the_limit(timed: Plan, case: Case) -> None:
    """Just inside the rule holds; just past it does not."""
    inside, past = crossed(timed, case)
    assert inside.hard
    assert past.hard


def test_every_rule_holds(timed: Plan) -> None:
    """The plan that is spoiled is itself in order, and its rules' settings are assumptions."""
    rules = read_rules(timed.site).rules
    found = [finding for rule in rules for finding in rule.check(timed.survey) if finding.hard]
    assert [finding for finding in found if not finding.ok] == []
    said = {assumed.place for assumed in read_rules(timed.site).assumptions}
    assert {"rules.timer-fill.margin", "rules.timer-drain.margin", "rules.drain-hole.least"} <= said
    assert "rules.bell-fit.ring" not in said


def test_times_by_hand(timed: Plan) -> None:
    """Fill and empty take what they do by hand, of 24 minutes less a tenth and of 36 less a fifth."""
    assert timed.findings("timer-fill")["bed 1"].value == pytest.approx(fills_min(timed), rel=1e-6)
    assert timed.findings("timer-fill")["bed 1"].limit == pytest.approx(0.9 * 24)
    assert timed.findings("timer-drain")["bed 1"].value == pytest.approx(empties_min(), rel=1e-6)
    assert timed.findings("timer-drain")["bed 1"].limit == pytest.approx(0.8 * 36)


def hole_of(line: Line) -> SideHole:
    """The hole in the side of a bed's standpipe."""
    assert line.floor is not None
    assert line.floor.drain_hole is not None
    return line.floor.drain_hole


def with_hole(plan: Plan, hole_mm: float) -> Plan:
    """The plan with another hole drilled than the problem's."""
    hole = hole_of(plan.drawing.runs["bed drain 1"])
    return plan.end("bed drain 1", "start", drain_hole=replace(hole, hole_m=hole_mm / 1000))


@pytest.mark.parametrize(
    ("hole_mm", "fills", "empties"), [(10, True, False), (11, True, True), (15, False, True)]
)
def test_the_hole_that_is_drilled_counts(timed: Plan, hole_mm: float, fills: bool, empties: bool) -> None:
    """10 mm do not empty the bed in time, 11 do, and by 15 more leaks than comes in.

    15 mm let out 0.6 x 176.7 mm2 x 1.93 m/s = 737 L/h at a lip of 190 mm over the hole, which 750 L/h just
    out-run, but not in 21.6 minutes.
    """
    plan = with_hole(timed, hole_mm)
    assert plan.findings("timer-fill")["bed 1"].ok is fills
    assert plan.findings("timer-drain")["bed 1"].ok is empties


def test_a_drawing_without_its_hole_is_refused(timed: Plan) -> None:
    """A standpipe that nobody drilled never lets its bed run empty."""
    plan = timed.end("bed drain 1", "start", drain_hole=None)
    assert not plan.findings("timer-drain")["bed 1"].ok
    assert not plan.findings("timer-fill")["bed 1"].ok


def test_no_more_runs_to_the_tank_than_the_rule_says(timed: Plan) -> None:
    """The network solved with the timed valve shut gives the tank more than before, less than the bound."""
    survey = timed.survey
    settings = steady(survey, balanced=True).valves
    levels = {"sump": survey.level("sump")}
    before = steady(survey, settings=settings, levels=levels).flows["tank feed"]
    after = steady(survey, settings=settings, levels=levels, shut=("bed feed 1",)).flows["tank feed"]
    bound = timed.findings("timer-shut")["tank feed"].value / 3.6e6
    assert before == pytest.approx(survey.design_flow("tank feed"), rel=1e-3)
    assert before * 1.02 < after < bound
    assert after > 0.9 * bound


@pytest.mark.parametrize(("siphon", "times"), [("20 %", 1.2), ("50 %", 1.5), ("90 %", 1.5)])
def test_a_siphon_beside_must_still_break(timed: Plan, siphon: str, times: float) -> None:
    """A bed with a siphon may get so much over its flow, never over overload; here the tank is one."""
    plan = timed.vessel("tank", bed=BedWater(0.25, 0.4, 1 / 3600, 2.0, BedDrain.SIPHON))
    found = plan.rules({"timer-shut": {"siphon": siphon}}).findings("timer-shut")["tank feed"]
    assert found.limit == pytest.approx(times * timed.survey.design_flow("tank feed") * 3.6e6)
    assert timed.findings("timer-shut")["tank feed"].limit == pytest.approx(
        1.5 * timed.survey.design_flow("tank feed") * 3.6e6
    )


def test_a_wide_hole_asks_for_a_wide_standpipe(answer: Outcome, tmp_path: Path) -> None:
    """A hole of 19 mm sits in a standpipe of 38 mm or more, so the bed's drain is a size wider."""
    bores = []
    for hole, outcome in ((11, answer), (19, designed(tmp_path, 'hole = "19 mm"'))):
        assert outcome.status is Status.PROVEN
        drawing = outcome.designs[0].drawing
        bores.append(outcome.catalog.pipes[drawing.runs["bed drain 1"].pipe].bore_m)
        assert bores[-1] >= 2 * hole / 1000
        assert hole_of(drawing.runs["bed drain 1"]).hole_m == hole / 1000
    assert bores[0] < 0.038 <= bores[1]


def drafted(folder: Path, text: str) -> Draft:
    """The model of a problem under its own rules."""
    path = folder / "drafted.toml"
    path.write_text(text)
    site = autoplan.load_problem(path).outline
    return Draft(site, autoplan.load_catalog("metric"), read_rules(site))


def test_a_small_hole_leaves_no_way_to_build_the_drain(tmp_path: Path) -> None:
    """Through 10 mm the bed does not run empty in time: nothing is left of its drain."""
    with pytest.raises(NoOptionError, match="bed drain") as caught:
        drafted(tmp_path, PROBLEM.format(beds='hole = "10 mm"', more=""))
    assert "timer-drain" in caught.value.rules
    assert "larger hole" in TimerDrain.hint


@pytest.mark.parametrize(("floods", "refused"), [("0.99/hour", True), ("1/hour", False)])
def test_a_clock_out_of_the_range_leaves_no_design(tmp_path: Path, floods: str, refused: bool) -> None:
    """Fewer floods than one an hour are too few by the rule's own setting: a row that nothing can mend."""
    model = drafted(tmp_path, PROBLEM.format(beds="", more="").replace("1/hour", floods)).model
    rows = [row.left for row in model.inequalities if row.rule == "flood-rate"]
    assert any(not row.terms and row.constant < 0 for row in rows) is refused


def test_valves_take_power_while_they_are_open(answer: Outcome, timed: Plan) -> None:
    """A valve of 5 W open 24 of 60 minutes takes 2 W: 17.5 kWh a year beside the pump's."""
    verdict = answer.designs[0].verdict
    valve = the(timed.drawing.runs["bed feed 1"], ValveSet).valve
    watts = timed.catalog.valves[valve].watts * 0.4
    pump = verdict.pumps["sump"].watts
    assert verdict.timers["bed 1"].watts == pytest.approx(watts)
    assert verdict.cost.running_per_year == pytest.approx((pump + watts) * 8.760 * 0.3)


def out(depth: float, lip: float, bore: float, hole: float = 0.0, height: float = 0.0) -> float:
    """What leaves a bed at a depth [m3/s]: over the lip the lesser of weir and orifice, and by the hole."""
    over = max(0.0, depth - lip)
    weir = 1.83 * math.pi * bore * over**1.5
    opening = 0.6 * math.pi / 4 * bore**2 * math.sqrt(2 * G * over)
    below = 0.6 * math.pi / 4 * hole**2 * math.sqrt(2 * G * max(0.0, depth - height))
    return min(weir, opening) + below


def standing(flow: float, leaves: Callable[[float], float]) -> float:
    """The depth at which as much leaves as comes [m], by halving."""
    low, high = 0.0, 2.0
    for _ in range(100):
        middle = (low + high) / 2
        low, high = (middle, high) if leaves(middle) < flow else (low, middle)
    return high


def bed_of(survey: Survey) -> tuple[float, float, float, float, float]:
    """Inflow [m3/s], lip over the floor, bore of the lip, drain hole and its height [m]."""
    drawn = survey.drawn("bed drain 1")
    hole = hole_of(drawn)
    lip = survey.control_height("bed drain 1") - 0.6
    bore = inlet_bore(survey.catalog, drawn)
    return survey.design_flow("bed drain 1"), lip, bore, hole.hole_m, hole.height_m


def test_the_flood_asked_for_is_reached(timed: Plan) -> None:
    """With the hole open as much leaves at 250 mm as comes in; by the lip alone it would be less."""
    inflow, lip, bore, hole, height = bed_of(timed.survey)
    stands = standing(inflow, lambda depth: out(depth, lip, bore, hole, height))
    # The lip is cut to a tenth of a millimetre, never too high.
    assert 0.250 - 1.0e-4 - 1e-9 <= stands <= 0.250 + 1e-9
    assert timed.survey.standing_level("bed 1", 1.0) - 0.6 == pytest.approx(stands, abs=1e-7)
    whole = standing(inflow, lambda depth: out(depth, lip, bore))
    assert whole > stands + 0.003


def test_overload_goes_over_the_lip_whole(answer: Outcome, timed: Plan) -> None:
    """1.5 times the inflow with the hole clogged; the model's level is that, rounded up."""
    inflow, lip, bore, hole, height = bed_of(timed.survey)
    clogged = standing(1.5 * inflow, lambda depth: out(depth, lip, bore))
    assert timed.survey.standing_level("bed 1", 1.5, clogged=True) - 0.6 == pytest.approx(clogged, abs=1e-7)
    drawn = answer.designs[0].drawing.levels["bed 1"].overload_m - 0.6
    assert clogged - 1e-9 <= drawn <= clogged + 3e-4
    open_hole = standing(1.5 * inflow, lambda depth: out(depth, lip, bore, hole, height))
    assert timed.survey.standing_level("bed 1", 1.5) - 0.6 == pytest.approx(open_hole, abs=1e-7)
    assert open_hole < clogged - 0.003


@pytest.mark.parametrize(("off_mm", "kept"), [(-0.9, True), (0.9, True), (-1.2, False), (1.2, False)])
def test_a_lip_cut_wrong_is_refused(timed: Plan, off_mm: float, kept: bool) -> None:
    """Over 1 mm from what holds the level the rule `level-range` does not agree, upwards and downwards."""
    hole = hole_of(timed.drawing.runs["bed drain 1"])
    inflow, _, bore, *_ = bed_of(timed.survey)
    exact = 0.6 + lip_for(0.250, inflow, bore, hole)
    spoiled = timed.end("bed drain 1", "start", standpipe_top_m=exact + off_mm / 1000)
    found = spoiled.findings("level-range")["bed 1: level against outlet"]
    assert found.ok is kept


def lip_for(depth: float, flow: float, bore: float, hole: SideHole) -> float:
    """The lip at which a flow stands at a depth [m over the floor]."""
    by_hole = 0.6 * math.pi / 4 * hole.hole_m**2 * math.sqrt(2 * G * (depth - hole.height_m))
    return depth - over_lip(flow - by_hole, bore)


def test_there_and_back(timed: Plan) -> None:
    """A lip set under a depth holds that depth; with a hole for all of the flow the water stays lower."""
    catalog, drawn = timed.catalog, timed.drawing.runs["bed drain 1"]
    flow = 600 / 3.6e6
    for depth in (0.10, 0.18, 0.25):
        lip = depth - lip_under_water(catalog, drawn, flow, depth)
        assert held_depth(catalog, drawn, flow, lip) == pytest.approx(depth, abs=1e-9)
    wide = ended(drawn, "start", drain_hole=replace(hole_of(drawn), hole_m=0.015))
    assert lip_under_water(catalog, wide, flow, 0.250) == 0.0
    low = held_depth(catalog, wide, flow, 0.250)
    assert low == pytest.approx(standing(flow, lambda depth: out(depth, 0.250, 0.02, 0.015, 0.040)))
    assert low < 0.250
    plain = ended(drawn, "start", drain_hole=None)
    assert held_depth(catalog, plain, flow, 0.250) == 0.250 + head_over_lip(catalog, plain, flow)


def test_head_over_a_hole() -> None:
    """A hole of 8 mm under 0.14 m lets out 0.6 x 50.27 mm2 x 1.657 m/s = 180 L/h, and back."""
    flow = hole_flow(0.008, 0.14)
    assert flow * 3.6e6 == pytest.approx(0.6 * math.pi / 4 * 0.008**2 * math.sqrt(2 * G * 0.14) * 3.6e6)
    assert head_over_hole(0.008, flow) == pytest.approx(0.14, rel=1e-12)
    assert head_over_hole(0.008, 0.0) == 0.0
    with pytest.raises(ValueError, match="0 or more"):
        head_over_hole(0.008, -1e-9)
    with pytest.raises(ValueError, match="must be positive"):
        head_over_hole(0.0, 1e-5)


def test_the_model_has_the_clogged_hole_at_overload(answer: Outcome) -> None:
    """Every way to build the drain: the water rises to 1.5 times the flow over the lip, rounded up."""
    draft = Draft(answer.site, answer.catalog, read_rules(answer.site))
    flow, rises = answer.site.flows["bed drain 1"].design_m3_s, draft.inlet_rise("bed drain 1", 1.5)
    candidates = draft.candidates(answer.site.runs["bed drain 1"].run_class)
    for var, candidate in candidates:
        drawn = candidate.drawn["bed drain 1"]
        hole, bore = hole_of(drawn), inlet_bore(answer.catalog, drawn)
        lip = lip_for(0.250, flow, bore, hole)
        rise = lip + over_lip(1.5 * flow, bore) - 0.250
        assert rise * 1e4 - 1e-3 <= rises.terms[var] <= rise * 1e4 + 1.001
    assert len(candidates) > 3
