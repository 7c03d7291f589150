"""How drains part a vessel's water as drilled, and what sets their shares: against hand arithmetic."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest
from scipy.optimize import brentq

import autoplan
from autoplan.catalog.load import load_catalog
from autoplan.catalog.parts import Catalog
from autoplan.fittings.base import Fitting
from autoplan.fittings.corner import Corner
from autoplan.fittings.trim import Trim, TrimValve
from autoplan.fittings.valve import ValveSet
from autoplan.problem.flows import least_kept, shared_outlets
from autoplan.problem.site import Entry, Flow
from autoplan.rules.asked import Fitted
from autoplan.rules.book import read_rules
from autoplan.rules.streams import Streams
from autoplan.rules.water.share_hole import hole_tolerances
from tests.lines import put
from tests.optimiser.conftest import METRIC, cut_down, tank_and_sump
from tests.optimiser.test_shares import SHELF, two_drains
from tests.rules.conftest import Plan

PROBLEMS = Path(__file__).parents[3] / "problems"
GRAVITY = 9.80665
LITRES_PER_HOUR = 3.6e6
BORE = 0.044
FLUSH_K = 0.5
"""Entrance of a drain whose coupling, which keeps it from sliding out, ends at the wall: Crane TP-410."""

HALF, QUARTER = (0.2461, 0.5 + (1 + FLUSH_K) * 0.19635), (0.06466, 0.25 + (1 + FLUSH_K) * 0.08865)
"""A round drain with critical depth at half and a quarter of its bore, by hand from A and T of a segment.

Flow over sqrt(g) D^2.5, A^1.5 / T^0.5: (pi / 8)^1.5 and 0.15355^1.5 / 0.86603^0.5; head over its invert
over D, y + (1 + K) A / 2 T.
"""


def flow_at(depth: tuple[float, float]) -> float:
    """Flow of a drain of the shelf at a critical depth [m3/s]."""
    return depth[0] * math.sqrt(GRAVITY) * BORE**2.5


@pytest.fixture(scope="module")
def shelf() -> Catalog:
    """A short price list in which nothing sets a share."""
    return replace(cut_down(load_catalog(METRIC), f"{SHELF} ball-50"), trims={})


def planned(shelf: Catalog, whole_m3_s: float, smaller: float) -> Plan:
    """The cheapest plan of a tank whose two drains part so much water, whatever sets it taken off again."""
    site = two_drains(tank_and_sump(entry=Entry.WALL, flow_l_h=whole_m3_s * LITRES_PER_HOUR), smaller)
    free = replace(site, rule_settings={**site.rule_settings, "share-trim": {"off": True}})
    outcome = autoplan.design(free, shelf, top=1)
    plan = Plan(site, shelf, outcome.designs[0].drawing).without("clear drain", Trim, TrimValve)
    for name in ("drain", "clear drain"):
        line = plan.drawing.runs[name]
        assert shelf.pipes[line.pipe].bore_m == pytest.approx(BORE)
        assert line.start.penetration == "seal-50"
        assert line.start.inner_chain == ("drain-coupling-50",)
    return plan


@pytest.fixture(scope="module")
def plan(shelf: Catalog) -> Plan:
    """Seven and three tenths of what one drain passes half full and another a quarter full."""
    return planned(shelf, flow_at(HALF) + flow_at(QUARTER), 0.3)


def drilled(plan: Plan, over_mm: float) -> Plan:
    """The plan with the invert of its smaller stream so far over that of the other."""
    centres = [plan.drawing.runs[name].start.centre_m for name in ("drain", "clear drain")]
    return plan.raised("clear drain", "start", over_mm - (centres[1] - centres[0]) * 1000)


def hand_head(flow: float) -> float:
    """Head over the invert of a round drain at a flow [m], by critical depth."""

    def segment(angle: float) -> tuple[float, float]:
        return BORE**2 / 8 * (angle - math.sin(angle)), BORE * math.sin(angle / 2)

    def misfit(angle: float) -> float:
        area, top = segment(angle)
        return flow**2 * top / (GRAVITY * area**3) - 1

    angle = brentq(misfit, 1e-3, 2 * math.pi - 1e-3)
    area, top = segment(angle)
    return BORE / 2 * (1 - math.cos(angle / 2)) + (1 + FLUSH_K) * area / top / 2


# --- the split --------------------------------------------------------------------------------------------


def test_half_and_quarter_full(plan: Plan) -> None:
    """With inverts as far apart as their heads one drain runs half full and the other a quarter, by hand."""
    flows = Streams(drilled(plan, (HALF[1] - QUARTER[1]) * BORE * 1000).survey).flows
    assert flows["drain"] == pytest.approx(flow_at(HALF), rel=2e-3)
    assert flows["clear drain"] == pytest.approx(flow_at(QUARTER), rel=5e-3)
    assert sum(flows[name] for name in ("drain", "clear drain")) == pytest.approx(flows["main"], rel=1e-9)


@pytest.mark.parametrize("over_mm", [-8.0, 0.0, 5.0, 12.0, 16.0])
def test_any_split_by_hand(plan: Plan, over_mm: float) -> None:
    """Wherever the second hole is, both heads stand at one level, found without the code."""
    whole = flow_at(HALF) + flow_at(QUARTER)
    small = brentq(
        lambda flow: hand_head(whole - flow) - hand_head(flow) - over_mm / 1000, 1e-6, whole - 1e-6
    )
    flows = Streams(drilled(plan, over_mm).survey).flows
    assert flows["clear drain"] == pytest.approx(small, rel=2e-3)


def test_a_hole_over_the_water_takes_nothing(plan: Plan) -> None:
    """A drain whose invert lies over the water that the other one holds by itself runs dry."""
    over = hand_head(flow_at(HALF) + flow_at(QUARTER)) * 1000
    assert Streams(drilled(plan, over - 0.5).survey).flows["clear drain"] > 0
    flows = Streams(drilled(plan, over + 0.5).survey).flows
    assert flows["clear drain"] == pytest.approx(0.0, abs=1e-12)
    assert flows["drain"] == pytest.approx(flows["main"])


@pytest.mark.parametrize("trim", [Trim("trim-sleeve-50"), TrimValve("ball-50"), ValveSet("ball-50")])
def test_what_is_set_by_hand_takes_its_share(plan: Plan, shelf: Catalog, trim: Fitting) -> None:
    """With a part that sets it the smaller stream is three tenths, and both stand at one level."""
    stocked = replace(plan, catalog=replace(shelf, trims=load_catalog(METRIC).trims))
    for over_mm in (5.0, 12.0):
        survey = drilled(stocked, over_mm).put("clear drain", trim).survey
        flows = Streams(survey).flows
        assert flows["clear drain"] == pytest.approx(0.3 * flows["main"], rel=1e-9)
        levels = [
            survey.control_height(name) + survey.inlet_head(name, survey.design_flow(name))
            for name in ("drain", "clear drain")
        ]
        assert levels[1] == pytest.approx(levels[0], abs=1e-9)


@pytest.mark.parametrize(("trim", "power"), [(Trim("trim-sleeve-50"), 0), (TrimValve("ball-50"), 2)])
def test_a_valve_takes_more_the_more_runs(plan: Plan, shelf: Catalog, trim: Trim, power: int) -> None:
    """At half as much again a valve that raises the water by 6 mm raises it by 13.5; an edge stays at 6."""
    stocked = replace(plan, catalog=replace(shelf, trims=load_catalog(METRIC).trims))
    fitted = drilled(stocked, 0.0).put("clear drain", trim)
    raised = fitted.survey.control_height("clear drain") - fitted.survey.drilled_height("clear drain")
    survey = fitted.raised("clear drain", "start", (raised - 0.006) * 1000).survey
    flow = 1.5 * survey.design_flow("clear drain")
    drill, head = survey.drilled_height("clear drain"), survey.inlet_head("clear drain", flow)
    idle = dict.fromkeys(survey.site.runs, 0.0)
    assert survey.level_at("tank", {**idle, "clear drain": flow}) == pytest.approx(
        drill + head + 0.006 * 1.5**power, abs=1e-9
    )


@pytest.fixture(scope="module")
def pond(plan: Plan) -> Plan:
    """The plan with the smaller stream led to a pond that asks for 28 % of all water, and on from there."""
    drawing, whole = plan.drawing, plan.site.flows["main"].design_m3_s
    below = replace(
        plan.site.vessels["sump"], name="pond", turnover_volume_m3=1.0, turnover_per_s=0.28 * whole
    )
    on = replace(plan.site.runs["drain"], name="pond drain", start="pond", share=None)
    runs = {**plan.site.runs, "pond drain": on}
    runs["clear drain"] = replace(plan.site.runs["clear drain"], finish="pond")
    flows = {**plan.site.flows, "pond drain": plan.site.flows["clear drain"]}
    clear, drain = drawing.runs["clear drain"], replace(drawing.runs["drain"], run="pond drain")
    lines = {
        **drawing.runs,
        "clear drain": clear.with_ends(clear.start, replace(clear.finish, at="pond")),
        "pond drain": drain.with_ends(replace(drain.start, at="pond"), drain.finish),
    }
    level = replace(drawing.levels["sump"], vessel="pond")
    site = replace(plan.site, vessels={**plan.site.vessels, "pond": below}, runs=runs, flows=flows)
    return replace(
        plan,
        site=site,
        drawing=replace(drawing, runs=lines, levels={**drawing.levels, "pond": level}),
    )


@pytest.mark.parametrize(("by_mm", "holds"), [(-0.05, True), (0.05, False)])
def test_a_vessel_below_is_judged_by_what_comes(pond: Plan, by_mm: float, holds: bool) -> None:
    """By hand its hole gives the pond 28 % at one height, and less 0.05 mm higher, whatever is asked."""
    whole = pond.site.flows["main"].design_m3_s
    over_mm = (hand_head(0.72 * whole) - hand_head(0.28 * whole)) * 1000
    found = drilled(pond, over_mm + by_mm).findings("turnover")["pond"]
    assert found.ok is holds
    assert found.value == pytest.approx(found.limit, rel=0.01)
    assert least_kept(pond.site, "clear drain") == pytest.approx(0.28 / 0.3)
    assert least_kept(pond.site, "drain") == 0.0


def test_no_water_is_lost(plan: Plan) -> None:
    """As much leaves the tank and reaches the sump as the pump gives, wherever the holes are."""
    for over_mm in (0.0, 9.0):
        found = drilled(plan, over_mm).findings("flow-balance")
        assert found
        assert all(one.ok for one in found.values())
    assert not plan.flow("main", 1.01).findings("flow-balance")["tank"].ok


# --- what is asked ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("over_mm", "holds"), [(20.01, True), (19.99, False), (-19.99, False), (-20.01, True)]
)
def test_inverts_closer_than_20_mm_are_trimmed(plan: Plan, over_mm: float, holds: bool) -> None:
    """20 mm apart, whichever is the higher, needs nothing; a hundredth less needs a part."""
    ((place, found),) = drilled(plan, over_mm).findings("share-trim").items()
    assert "clear drain" in place
    assert found.ok is holds
    assert found.value == pytest.approx(abs(over_mm))


@pytest.mark.parametrize(("lower_mm", "holds"), [(0.0, True), (-0.2, False), (25.0, True), (25.2, False)])
def test_a_sleeve_moves_no_further_than_it_can(
    plan: Plan, shelf: Catalog, lower_mm: float, holds: bool
) -> None:
    """A sleeve only raises the edge, by 25 mm at most: a hole too high or too low by more is found out."""
    stocked = replace(plan, catalog=replace(shelf, trims=load_catalog(METRIC).trims))
    fitted = drilled(stocked, 0.0).put("clear drain", Trim("trim-sleeve-50"))
    asked = fitted.survey.control_height("clear drain") - fitted.survey.drilled_height("clear drain")
    moved = fitted.raised("clear drain", "start", asked * 1000 - lower_mm)
    ((_, found),) = moved.findings("share-trim").items()
    assert found.ok is holds


@pytest.mark.parametrize("name", ["drain", "clear drain"])
def test_the_tolerance_is_where_a_share_is_a_tenth_off(plan: Plan, name: str) -> None:
    """Moved by the tolerance to one side a stream is just a tenth off, and to neither side more."""
    asked = {run: plan.survey.design_flow(run) for run in ("drain", "clear drain")}
    exact = drilled(plan, (hand_head(asked["drain"]) - hand_head(asked["clear drain"])) * 1000)
    off = hole_tolerances(exact.survey, ("drain", "clear drain"), 0.1)[name] * 1000

    def worst(by_mm: float) -> float:
        flows = Streams(exact.raised(name, "start", by_mm).survey).flows
        return max(abs(flows[run] / asked[run] - 1) for run in asked)

    assert max(worst(off), worst(-off)) == pytest.approx(0.1, rel=0.01)
    assert max(worst(0.9 * off), worst(-0.9 * off)) < 0.1
    # By hand: the smaller stream is the first to be a tenth off.
    ways = [
        hand_head(asked["clear drain"] * way)
        - hand_head(asked["drain"] - asked["clear drain"] * (way - 1))
        - hand_head(asked["clear drain"])
        + hand_head(asked["drain"])
        for way in (1.1, 0.9)
    ]
    assert off == pytest.approx(min(map(abs, ways)) * 1000, rel=0.01)


def test_three_drains_hang_on_each_other(plan: Plan) -> None:
    """Of three drains each may be off until one stream, its own or another's, is a tenth off."""
    third = replace(plan.drawing.runs["clear drain"], run="third")
    part = plan.site.flows["clear drain"].design_m3_s / 2
    runs = {**plan.site.runs, "third": replace(plan.site.runs["clear drain"], name="third")}
    flows = {**plan.site.flows, "clear drain": Flow(part, part), "third": Flow(part, part)}
    site = replace(plan.site, runs=runs, flows=flows)
    names = shared_outlets(site)["tank"]
    assert names == ("drain", "clear drain", "third")
    asked = {run: site.flows[run].design_m3_s for run in names}
    lower = hand_head(asked["drain"]) - hand_head(part)
    exact = drilled(replace(plan, site=site), lower * 1000)
    low = replace(third.start, centre_m=exact.drawing.runs["clear drain"].start.centre_m)
    exact = exact.line(third.with_ends(low, third.finish))
    for name, off in hole_tolerances(exact.survey, names, 0.1).items():

        def worst(by_mm: float, name: str = name) -> float:
            solved = Streams(exact.raised(name, "start", by_mm).survey).flows
            return max(abs(solved[run] / asked[run] - 1) for run in names)

        assert max(worst(off * 1000), worst(-off * 1000)) == pytest.approx(0.1, rel=0.02)


def test_a_tolerance_under_what_a_drill_is_warns(plan: Plan) -> None:
    """The finding of each hole holds down to 1 mm; it never refuses a plan."""
    asked = {run: plan.survey.design_flow(run) for run in ("drain", "clear drain")}
    exact = drilled(plan, (hand_head(asked["drain"]) - hand_head(asked["clear drain"])) * 1000)
    found = exact.findings("share-hole")
    assert len(found) == 2
    value = min(one.value for one in found.values())
    for drill, holds in ((value - 0.01, True), (value + 0.01, False)):
        told = exact.rules({"share-hole": {"drill": f"{drill} mm"}}).findings("share-hole")
        assert all(one.ok for one in told.values()) is holds
        assert not any(one.hard for one in told.values())


# --- parts ------------------------------------------------------------------------------------------------


def test_a_sleeve_loses_as_a_sharp_hole_of_its_slots() -> None:
    """Of 8.7 cm2 and at 0.3 L/s, (Q / A)^2 / 2 g / 0.6^2: 16.8 mm."""
    catalog = load_catalog(METRIC)
    trim = Trim("trim-sleeve-50").resistance(catalog, catalog.pipes["drain-50-2m"])
    assert trim.loss(3e-4) == pytest.approx((3e-4 / 8.7e-4) ** 2 / (2 * GRAVITY) / 0.36, rel=1e-6)
    assert trim.loss(3e-4) * 1000 == pytest.approx(16.8, abs=0.05)


def test_an_elbow_loses_as_one_tight_turn() -> None:
    """What it takes is what a tight elbow of its bore in the line would."""
    catalog = load_catalog(METRIC)
    pipe = catalog.pipes["drain-50-2m"]
    same = replace(catalog.turns["elbow-50-90"], bore_m=catalog.trims["turn-elbow-50"].bore_m)
    turned = replace(catalog, turns={**catalog.turns, same.id: same})
    turn = Corner(90, same.style, (same.id,)).resistance(turned, pipe)
    assert Trim("turn-elbow-50").resistance(catalog, pipe).loss(3e-4) == pytest.approx(turn.loss(3e-4))


def test_it_takes_the_place_of_the_stop(plan: Plan, shelf: Catalog) -> None:
    """On the bare end of the piece in a seal it joins that piece; it goes on nothing that has no such end."""
    catalog = replace(shelf, trims=load_catalog(METRIC).trims)
    line = plan.drawing.runs["clear drain"]
    trim, pipe = Trim("trim-sleeve-50"), catalog.pipes[line.pipe]
    assert trim.goes_with(line.start, catalog, pipe)
    bare = replace(line.start, inner_chain=())
    assert not trim.goes_with(bare, catalog, pipe)
    assert TrimValve("ball-50").goes_with(bare, catalog, pipe)
    fitted = Plan(plan.site, catalog, plan.drawing).line(put(line.with_ends(bare, line.finish), trim))
    items = fitted.survey.assembled("clear drain").items
    assert (items[0].part, items[1].through) == (trim.part, "seal-50")
    assert fitted.findings("joint-fit")
    assert all(found.ok for found in fitted.findings("joint-fit").values())
    assert Trim.suits(plan.site, plan.site.runs["clear drain"])
    assert not Trim.suits(plan.site, plan.site.runs["drain"])
    assert not Trim.suits(plan.site, plan.site.runs["main"])


@pytest.mark.parametrize(
    ("problem", "shared"),
    [
        ("two-drains", {"fish tank": ("solids drain", "surface drain")}),
        ("two-tanks", {"header": ("big feed", "small feed")}),
        ("one-tank-one-bed", {}),
    ],
)
def test_who_shares(problem: str, shared: dict[str, tuple[str, ...]]) -> None:
    """Drains that run at design and start at one vessel share, the widest stream first; no overflow does."""
    site = autoplan.load_problem(PROBLEMS / f"{problem}.toml").outline
    assert shared_outlets(site) == shared


def test_a_header_needs_all_that_it_gives() -> None:
    """Tanks that get just what they ask for spare nothing; the bed far below asks for 220 of 350 L/h."""
    site = autoplan.load_problem(PROBLEMS / "two-tanks.toml").outline
    assert least_kept(site, "big feed") == pytest.approx(1.0)
    assert least_kept(site, "small feed") == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("change", "settings", "admitted"),
    [
        ({}, {}, True),
        ({"run_class": "drain", "alike": True}, {}, False),
        ({"run_class": "drain"}, {}, True),
        ({"run_class": "drain", "alike": True, "valve": True}, {}, True),
        ({"run_class": "drain", "alike": True}, {"apart": "0 mm"}, True),
        ({"run_class": "drain", "alike": True}, {"off": True}, True),
    ],
)
def test_drains_built_alike_for_as_much_are_never_far_apart(
    plan: Plan, change: dict[str, object], settings: dict[str, object], admitted: bool
) -> None:
    """One that is a drain like the widest is refused without a part before anything is built."""
    flows, changed = dict(plan.site.flows), {key: to for key, to in change.items() if key != "alike"}
    if "alike" in change:
        flows["clear drain"] = flows["drain"]
    runs = {**plan.site.runs, "clear drain": replace(plan.site.runs["clear drain"], **changed)}
    site = replace(plan.site, runs=runs, flows=flows, rule_settings={"share-trim": settings})
    book = read_rules(site)
    pipe = plan.catalog.pipes["drain-50-2m"]
    for name, allowed in (("clear drain", admitted), ("drain", True)):
        asked = Fitted(site, plan.catalog, runs[name], pipe, Trim, None)
        assert (not book.refusing(asked)) is allowed
