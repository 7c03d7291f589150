"""The judge: a spoilt drawing is refused, and the figures agree with hand arithmetic."""

from __future__ import annotations

import math
from dataclasses import fields, replace
from itertools import pairwise

import pytest
from fluids.friction import friction_factor

from autoplan.catalog.parts import Shop, TurnStyle, Way
from autoplan.drawing import DrawnPump
from autoplan.fittings.corner import Corner
from autoplan.fittings.riser import Riser
from autoplan.fittings.valve import ValveSet
from autoplan.hydraulics.fittings import ball_valve_k, dividing_tee_k, turn_k
from autoplan.outcome import Verdict
from autoplan.rules.beds.bell_fit import BellFit
from autoplan.rules.book import read_rules
from autoplan.verdict.judge import complete, judge
from tests.lines import the

GRAVITY = 9.80665
VISCOSITY = 1.0034e-6
"""Kinematic viscosity of water at 20 degrees Celsius [m2/s]; handbooks, from memory."""


def judged(plan) -> Verdict:
    """The whole verdict on a plan under the rules of its problem."""
    book = read_rules(plan.site)
    verdict = judge(plan.site, plan.catalog, book, plan.drawing)
    return complete(plan.site, plan.catalog, book, plan.drawing, verdict)


def pump_of(plan) -> str:
    """The part id of the sump's pump."""
    return plan.drawing.pumps["sump"].part


def pumped(plan, part: str, speed: float = 1.0):
    """The plan with another pump, ordered in the place of the one it had."""
    old = pump_of(plan)
    lines = tuple(replace(line, part=part) if line.part == old else line for line in plan.drawing.purchases)
    pump = {"sump": DrawnPump("sump", part, "slowed" if speed < 1 else "throttled", speed)}
    return replace(plan, drawing=replace(plan.drawing, pumps=pump, purchases=lines))


def without_line(plan, part: str):
    """The plan with one line of its order forgotten."""
    lines = tuple(line for line in plan.drawing.purchases if line.part != part)
    return replace(plan, drawing=replace(plan.drawing, purchases=lines))


def tight(plan):
    """The plan with one turn of the tank's drain made tight."""
    riser = the(plan.drawing.runs["tank drain"], Riser)
    corner = Corner(90, TurnStyle.TIGHT, riser.corner.pieces[:1])
    return plan.put("tank drain", replace(riser, corner=corner))


SPOILT = {
    "smaller drain": (lambda p: p.run("tank drain", pipe="pn10-40-3m"), "drain-bore"),
    "smaller drain does not fit its bends": (lambda p: p.run("tank drain", pipe="pn10-40-3m"), "joint-fit"),
    "smaller drain was not bought": (lambda p: p.run("tank drain", pipe="pn10-40-3m"), "purchase-list"),
    "no wall part on the order": (
        lambda p: without_line(p, p.drawing.runs["tank drain"].start.penetration),
        "purchase-list",
    ),
    "no pump on the order": (lambda p: without_line(p, pump_of(p)), "purchase-list"),
    "no pipe on the order": (lambda p: without_line(p, p.drawing.runs["bed feed 1"].pipe), "purchase-list"),
    "outlet 50 mm too high": (lambda p: p.raised("tank drain", "start", 50), "level-range"),
    "inlet 100 mm too low": (lambda p: p.raised("tank feed", "finish", -100), "siphon-back"),
    "standpipe 50 mm too high": (lambda p: p.raised("bed drain 1", "start", 50), "overload"),
    "standpipe 50 mm too low": (lambda p: p.raised("bed drain 1", "start", -50), "level-range"),
    "sump 50 mm too full": (lambda p: p.water("sump", 50), "sump-high"),
    "weaker pump": (lambda p: pumped(p, "pump-2200"), "pump-duty"),
    "slower pump": (lambda p: pumped(p, pump_of(p), 0.9), "pump-duty"),
    "tight turn in a drain": (tight, "drain-turns"),
    "no balancing valve": (lambda p: p.without("tank feed", ValveSet), "branch-valve"),
    "wall part for a thicker wall": (lambda p: p.vessel("tank", wall_m=0.014), "penetration-fit"),
    "less money": (lambda p: p.wishes(budget=100.0), "budget"),
}


def test_the_good_plan_stands(plan, outcome) -> None:
    """The judge lets the design pass, and says of it what the outcome says."""
    verdict = judged(plan)
    assert verdict.ok
    assert verdict == outcome.designs[0].verdict


def test_a_search_is_told_yes_or_no(plan) -> None:
    """The quick verdict has the same findings and cost as the whole one, and works nothing else out."""
    quick = judge(plan.site, plan.catalog, read_rules(plan.site), plan.drawing)
    whole = judged(plan)
    assert (quick.findings, quick.cost, quick.ok) == (whole.findings, whole.cost, True)
    told = {field.name for field in fields(Verdict) if getattr(quick, field.name)}
    assert told == {"findings", "cost"}
    # A bed with a siphon has no timer and no weep hole, the price list says all; all else is told.
    empty = {field.name for field in fields(Verdict) if not getattr(whole, field.name)}
    assert empty == {"timers", "unjudged", "weeps"}


def test_a_refused_plan_is_not_walked(plan) -> None:
    """What breaks a hard rule is told with its flows, and its nights are left alone."""
    refused = judged(SPOILT["sump 50 mm too full"][0](plan))
    assert not refused.ok
    assert refused.commissioning
    assert refused.running == refused.faults == ()


@pytest.mark.parametrize("spoilt", SPOILT)
def test_a_spoilt_plan_is_refused(plan, spoilt: str) -> None:
    """Each defect is refused, and the rule it breaks is among those named."""
    spoil, rule = SPOILT[spoilt]
    spoilt_plan = spoil(plan)
    verdict = judge(spoilt_plan.site, spoilt_plan.catalog, read_rules(spoilt_plan.site), spoilt_plan.drawing)
    assert not verdict.ok
    assert rule in {finding.rule for finding in verdict.findings if finding.hard and not finding.ok}


def test_a_stronger_pump_is_accepted(plan) -> None:
    """More head than is needed is no defect, up to where valves would burn more than they may of it."""
    curve = plan.catalog.pumps[pump_of(plan)].curve
    stronger, far_stronger = (tuple((q, more * h) for q, h in curve) for more in (1.15, 3.0))
    assert judged(plan.part(pump_of(plan), curve=stronger)).ok
    refused = judged(plan.part(pump_of(plan), curve=far_stronger))
    assert {found.rule for found in refused.findings if found.hard and not found.ok} == {"valve-head"}


def test_a_soft_rule_warns(plan) -> None:
    """A drain too slow to stay clean is told, and passes."""
    verdict = judged(plan.rules({"drain-velocity": {"least": "0.5 m/s"}}))
    assert "drain-velocity" in [finding.rule for finding in verdict.findings if not finding.ok]
    assert verdict.ok


def test_a_rule_switched_off_is_not_judged(plan) -> None:
    """What the builder took out is neither held nor listed."""
    spoilt = plan.water("sump", 50).rules({"sump-high": {"off": True}})
    assert "sump-high" not in {finding.rule for finding in judged(spoilt).findings}
    assert "sump-high" in {finding.rule for finding in judged(plan.water("sump", 50)).findings}


def velocity_head(flow: float, bore: float) -> float:
    """Velocity head [m] by hand."""
    speed = flow / (math.pi / 4 * bore**2)
    return speed**2 / (2 * GRAVITY)


def widening(narrow: float, wide: float, flow: float) -> float:
    """Sudden expansion by Borda and Carnot [m]: (1 - area ratio)^2 on the narrow bore."""
    return (1 - (narrow / wide) ** 2) ** 2 * velocity_head(flow, narrow)


def narrowing(wide: float, narrow: float, flow: float) -> float:
    """Sudden contraction [m]: 0.5 (1 - area ratio) on the narrow bore (Crane TP-410)."""
    return 0.5 * (1 - (narrow / wide) ** 2) * velocity_head(flow, narrow)


def friction(flow: float, bore: float, length: float, rough: float) -> float:
    """Darcy-Weisbach with Colebrook's factor from the reference library [m]."""
    speed = flow / (math.pi / 4 * bore**2)
    factor = friction_factor(Re=speed * bore / VISCOSITY, eD=rough / bore)
    return factor * length / bore * velocity_head(flow, bore)


def turns_by_hand(plan, run: str, flow: float) -> float:
    """Loss of a run's turns by hand [m], each in its own bore."""
    pipe = plan.catalog.pipes[plan.drawing.runs[run].pipe]
    loss = 0.0
    for turn in plan.drawing.runs[run].turns:
        bore, radius, style = pipe.bore_m, pipe.bend_radius_m / pipe.bore_m, str(turn.style)
        if turn.pieces:
            part = plan.catalog.turns[turn.pieces[0]]
            bore, radius = min(bore, part.bore_m), part.radius_over_bore
            # What is pushed into a hose has a sharp corner.
            style = "mitred" if style == "tight" and part.ends[0].form == "barb" else style
        loss += turn_k(turn.angle, style, bore, radius, pipe.roughness_m) * velocity_head(flow, bore)
    return loss


def test_loss_of_the_main_by_hand(plan) -> None:
    """2,000 L/h for the tank and the bed through pipe and a turn."""
    facts = judged(plan).runs["main"]
    flow = 2000 / 3.6e6
    assert facts.flow_m3_s == pytest.approx(flow)
    drawn = plan.drawing.runs["main"]
    rough = plan.catalog.pipes[drawn.pipe].roughness_m
    loss = friction(flow, facts.bore_m, drawn.length_m, rough) + turns_by_hand(plan, "main", flow)
    assert facts.loss_m == pytest.approx(loss, rel=2e-3)
    assert facts.velocity_m_s == pytest.approx(flow / (math.pi / 4 * facts.bore_m**2))


def test_loss_of_the_tank_feed_by_hand(plan) -> None:
    """1,800 L/h through pipe, turns and an open ball valve, and out into the tank."""
    facts = judged(plan).runs["tank feed"]
    drawn = plan.drawing.runs["tank feed"]
    valve = the(drawn, ValveSet)
    assert valve.chain == ()
    flow, bore = 1800 / 3.6e6, facts.bore_m
    seat = min(bore, plan.catalog.valves[valve.valve].bore_m)
    rest = (ball_valve_k(seat, bore) + 1.0) * velocity_head(flow, bore)
    loss = (
        friction(flow, bore, drawn.length_m, plan.catalog.pipes[drawn.pipe].roughness_m)
        + turns_by_hand(plan, "tank feed", flow)
        + rest
    )
    assert facts.loss_m == pytest.approx(loss, rel=2e-3)


def test_loss_of_the_tank_drain_by_hand(plan) -> None:
    """1,800 L/h in by an end that stands out, up, through an open tee and turns, and out over a rim."""
    facts = judged(plan).runs["tank drain"]
    drawn = plan.drawing.runs["tank drain"]
    assert (drawn.start.way, drawn.finish.way) == (Way.SEAL, Way.OVER_RIM)
    flow, bore = 1800 / 3.6e6, facts.bore_m
    narrow = min(bore, *(plan.catalog.adaptors[part].bore_m for part in drawn.start.chain))
    assert drawn.finish.chain == ()
    tee = min(bore, plan.catalog.tees[the(drawn, Riser).tee].bore_m)

    def loss(flow: float) -> float:
        branch = dividing_tee_k("branch", 1.0, 1.0, tee, tee) * velocity_head(flow, tee)
        # The coupling at the wall is narrower than the pipe: in and out of it. The mouth is the bare pipe's.
        entrance_and_exit = 1.0 * velocity_head(flow, narrow) + 1.0 * velocity_head(flow, bore)
        entrance_and_exit += widening(narrow, bore, flow) + narrowing(bore, narrow, flow)
        turns = turns_by_hand(plan, "tank drain", flow)
        return (
            friction(flow, bore, drawn.length_m, plan.catalog.pipes[drawn.pipe].roughness_m)
            + turns
            + branch
            + entrance_and_exit
        )

    assert facts.loss_m == pytest.approx(loss(flow), rel=2e-3)
    assert facts.overload_loss_m == pytest.approx(loss(1.5 * flow), rel=2e-3)


def test_the_pump_by_hand(plan) -> None:
    """Head of the curve between its points, lift from low water to the top of the inlet, and the losses."""
    verdict = judged(plan)
    pump, row = verdict.pumps["sump"], plan.catalog.pumps[pump_of(plan)]
    flow = 2000 / 3.6e6
    low, high = next(pair for pair in pairwise(row.curve) if pair[0][0] <= flow < pair[1][0])
    share = (flow - low[0]) / (high[0] - low[0])
    assert pump.duty_head_m == pytest.approx(low[1] + share * (high[1] - low[1]))
    # One bed of 1 m2 holds 0.4 x 0.25 m of water, and takes it out of a sump of 1 m2.
    water = plan.drawing.levels["sump"].design_m - 0.1
    feed = plan.drawing.runs["tank feed"]
    lift = feed.finish.centre_m + plan.catalog.pipes[feed.pipe].outside_m / 2 - water
    lines = verdict.runs["main"].loss_m + verdict.runs["tank feed"].loss_m
    between = pump.required_head_m - lift - lines
    # Between the lines stand the thread at the pump and the tee, which the tank's water passes straight.
    junction = plan.drawing.junctions["split"]
    assert junction.ports[2] == "bed feed 1"
    tee = plan.catalog.tees[junction.tee].bore_m
    straight = dividing_tee_k("run", 2000, 1800, tee, tee) * velocity_head(flow, tee)
    # A reducing tee is taken as narrow as its branch all along; the tank's water may go on through a tail.
    main = verdict.runs["main"].bore_m
    tail = min([main, *(plan.catalog.adaptors[part].bore_m for part in feed.start.chain)])
    straight += narrowing(main, tee, flow) + velocity_head(flow, tee)
    assert straight - velocity_head(flow, tee) <= between
    assert between <= straight + velocity_head(flow, row.outlet_bore_m) + velocity_head(flow, tail)
    assert pump.watts == row.watts


def test_the_order_by_hand(plan, outcome) -> None:
    """Packs times prices and each shop's freight make the cost, and the objective, to the cent."""
    goods: dict[str, int] = {}
    for line in plan.drawing.purchases:
        (offer,) = [o for o in plan.catalog.part(line.part).offers if o.shop == line.shop]
        goods[line.shop] = goods.get(line.shop, 0) + line.packs * offer.price_cents
    freight = 0
    for shop, value in goods.items():
        terms = plan.catalog.shops[shop]
        # An order so near the free value that a spare would fill it up is a case of its own, below.
        assert terms.free_from_cents is None or value < terms.free_from_cents - terms.freight_cents
        freight += terms.freight_cents
    cost = judged(plan).cost
    assert round(cost.purchase * 100) == sum(goods.values())
    assert round(cost.freight * 100) == freight
    assert round(outcome.designs[0].objective * 100) == sum(goods.values()) + freight
    watts = plan.catalog.pumps[pump_of(plan)].watts
    assert cost.running_per_year == pytest.approx(watts * 8760 / 1000 * 0.3)
    assert cost.ownership == pytest.approx(cost.purchase + cost.freight + 3 * cost.running_per_year)


@pytest.mark.parametrize(
    ("goods", "freight"), [(0, 990), (24_010, 990), (24_011, 989), (24_999, 1), (25_000, 0), (30_000, 0)]
)
def test_freight_ends_at_the_free_value(goods: int, freight: int) -> None:
    """Freight is free from 250.00; just under it a spare that fills the order up costs less than freight."""
    assert Shop("weir", "invented", 990, 25_000).charge_cents(goods) == freight
    assert Shop("weir", "invented", 990, None).charge_cents(goods) == 990


def test_what_cannot_be_judged_is_told_once(plan, monkeypatch) -> None:
    """Sentences of a rule come with the whole verdict, in its name, and a search does not ask for them."""
    monkeypatch.setattr(BellFit, "unjudged", lambda *_: iter(("its flange is not known",)))
    book = read_rules(plan.site)
    verdict = judge(plan.site, plan.catalog, book, plan.drawing)
    assert not verdict.unjudged
    told = complete(plan.site, plan.catalog, book, plan.drawing, verdict).unjudged
    assert told[BellFit.id] == ("its flange is not known",)
    off = book.without(BellFit.id)
    assert BellFit.id not in complete(plan.site, plan.catalog, off, plan.drawing, verdict).unjudged
