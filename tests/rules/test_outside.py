"""The rules of siphon pipes outside beds: both sides of each limit on one small plan, and what they decide.

Flows by hand: V = 0.54 sqrt(g D) drives the air out of a level pipe (Benjamin 1968); Darcy and Weisbach with
the friction factor of Swamee and Jain and handbook losses for the rest, as of a bell siphon's drain.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

import autoplan
from autoplan.catalog.parts import Pipe
from autoplan.fittings.outside import OutsideSiphon
from autoplan.fittings.screen import InletScreen
from autoplan.fittings.wall import ThroughWall
from autoplan.line.route import Leg
from autoplan.optimiser.options.standpipes import BARE
from autoplan.outcome import Status
from autoplan.problem.flows import under_suction
from autoplan.problem.site import Draw
from autoplan.rules.asked import Fitted, OfAirTube, OfPipe, Taped
from autoplan.rules.book import read_rules
from autoplan.rules.survey import Survey
from tests.outside import BEDS, DRAIN, answer, problem
from tests.rules.conftest import Plan
from tests.rules.limits import Case, by_flow, crossed
from tests.rules.siphon_by_hand import EXIT, head, narrowing, pipe_loss
from tests.words import why_none

G, L_H = 9.80665, 3.6e6
BORE, OUTSIDE = 0.0212, 0.025
"""Of the pipe that is drawn, 25 x 1.9 mm [m]."""

AIR_M, FLOOD_M, WET_M2 = 0.070, 0.250, 0.6
"""Mouth of the air tube and flood over the floor; 1.5 m2, two fifths of it water."""

FLUSH, STRAINER = 0.5, 1 / 0.6**2
"""Handbook losses: a flush inlet; a screen, as an orifice of Cd 0.6."""

SWEPT_FT, STEEL_M = 14.0, 0.046e-3
"""Crane TP-410, from memory: a 90 degree bend of r/D 1.5 14 fT, in steel pipe."""


@pytest.fixture(scope="module")
def plan() -> Plan:
    """The plan of the cheapest design."""
    outcome = answer()
    assert outcome.status is Status.PROVEN
    return Plan(outcome.site, outcome.catalog, outcome.designs[0].drawing)


def start(plan: Any) -> OutsideSiphon:
    """How its drain begins."""
    begun = plan.drawing.runs[DRAIN].start
    assert isinstance(begun, OutsideSiphon)
    return begun


def starts_from() -> float:
    """0.54 A sqrt(g D) [m3/s]."""
    return 0.54 * math.pi / 4 * BORE**2 * math.sqrt(G * BORE)


def loss(plan: Any, flow: float) -> float:
    """From the bed's water to the end of the pipe [m]: screen, inlet, friction, five bends, jet."""
    drawn = plan.drawing.runs[DRAIN]
    area = plan.catalog.fixtures[drawn.one(InletScreen).part].open_m2 / 2
    lost = STRAINER * (flow / area) ** 2 / (2 * G) + FLUSH * head(flow, BORE)
    coupling = plan.catalog.adaptors["coupling-25"].bore_m
    lost += 2 * narrowing(flow, BORE, coupling, BORE)
    lost += pipe_loss(flow, BORE, sum(leg.length_m for leg in drawn.legs))
    full = 0.25 / math.log10(STEEL_M / BORE / 3.7) ** 2
    return lost + (len(drawn.turns) * SWEPT_FT * full + EXIT) * head(flow, BORE)


def carries(plan: Any, depth_m: float) -> float:
    """Flow with so much water over the floor [m3/s], falling free of the sump's water, by bisection."""
    fall = 0.550 + depth_m - (plan.drawing.runs[DRAIN].finish.centre_m + OUTSIDE / 2)
    low, high = 1e-9, 1e-2
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if loss(plan, middle) < fall else (low, middle)
    return low


def floods_per_hour(plan: Any) -> float:
    """An hour over the time to fill from the tube's mouth and to empty to it, in 100 slices."""
    inflow = plan.site.flows[DRAIN].design_m3_s
    slice_m = (FLOOD_M - AIR_M) / 100
    seconds = 0.0
    for number in range(100):
        gains = carries(plan, AIR_M + (number + 0.5) * slice_m) - inflow
        seconds += WET_M2 * slice_m / inflow + WET_M2 * slice_m / gains
    return 3600 / seconds


def setting(rule: str, key: str, value: Callable[[Any], str]) -> Callable[[Any], Any]:
    """A plan with a setting of a rule given."""
    return lambda plan: plan.rules({rule: {key: value(plan)}})


def by_margin(share: float) -> Callable[[Any], Any]:
    """A plan whose siphon must carry a share of what it does by hand at its lowest water."""

    def margin(plan: Any) -> str:
        return f"{(carries(plan, AIR_M) / plan.site.flows[DRAIN].design_m3_s * share - 1) * 100:.9f} %"

    return setting("siphon-break", "margin", margin)


def by_rate(key: str, share: float) -> Callable[[Any], Any]:
    """A plan whose bed must flood so often, a share of what it does by hand."""
    return setting("flood-rate", key, lambda plan: f"{floods_per_hour(plan) * share:.9f}/hour")


def full_bed(share: float) -> Callable[[Any], Any]:
    """A plan that asks of the full bed's inflow a share of what that is."""

    def margin(plan: Any) -> str:
        got = plan.findings("full-bed-start")["bed 1"].value
        return f"{(got * share / (starts_from() * L_H) - 1) * 100:.9f} %"

    return setting("full-bed-start", "margin", margin)


def hole(extra_mm: float) -> Callable[[Any], Any]:
    """A plan whose pipe in the wall lies just 5 mm under the tube's mouth, 70 mm over the floor."""
    return lambda plan: plan.end(
        DRAIN, "start", centre_m=0.550 + AIR_M - 0.005 - OUTSIDE / 2 + extra_mm / 1000
    )


def mouth(height_mm: float) -> Callable[[Any], Any]:
    """A plan whose air tube ends so high over the floor, 250 mm under water when the bed is full."""
    return lambda plan: plan.end(DRAIN, "start", air_m=height_mm / 1000)


def crest(extra_mm: float) -> Callable[[Any], Any]:
    """A plan whose bore at the crest ends just 20 mm under the rim, 320 mm over the floor."""
    return lambda plan: plan.end(DRAIN, "start", lip_m=0.870 - 0.020 - BORE + extra_mm / 1000)


def tube(extra_mm: float) -> Callable[[Any], Any]:
    """A plan whose tube is as long as from its mouth to the rim and to the crest, 6 + 60 + 50 mm besides."""

    def changed(plan: Any) -> Any:
        way = 0.320 - AIR_M + 0.870 - (start(plan).lip_m + BORE) + 0.006 + 0.060 + 0.050  # type: ignore[operator]
        return plan.part("snorkel-6", tallest_m=way + extra_mm / 1000)

    return changed


def screen(opening_mm: float) -> Callable[[Any], Any]:
    """A plan with such a screen."""

    def changed(plan: Any) -> Any:
        return plan.part(plan.drawing.runs[DRAIN].one(InletScreen).part, slot_m=opening_mm / 1000)

    return changed


def wide(inside_mm: float) -> Callable[[Any], Any]:
    """A plan whose air tube is so wide inside."""
    return lambda plan: plan.part("snorkel-6", inside_m=inside_mm / 1000)


CASES = (
    by_flow(
        "crest-start",
        "bed 1",
        DRAIN,
        lambda plan: 1.1 * starts_from() / plan.site.flows[DRAIN].design_m3_s,
        -1,
    ),
    Case(
        "crest-start",
        "bed 1: bore",
        setting("siphon-start", "least_bore", lambda _: "21.1999 mm"),
        setting("siphon-start", "least_bore", lambda _: "21.2001 mm"),
    ),
    Case("full-bed-start", "bed 1", full_bed(0.9999), full_bed(1.0001)),
    # Two readings of what a handful of fittings lose agree to 3 per cent.
    Case("siphon-break", "bed 1", by_margin(0.97), by_margin(1.03)),
    Case("flood-rate", "bed 1", by_rate("least", 0.97), by_rate("least", 1.03)),
    Case("flood-rate", "bed 1", by_rate("most", 1.03), by_rate("most", 0.97)),
    Case("crest-fit", "bed 1: air tube over the hole", hole(-0.01), hole(0.01)),
    Case("crest-fit", "bed 1: flood over the air tube", mouth(244.99), mouth(245.01)),
    Case("crest-fit", "bed 1: rim over the crest", crest(-0.01), crest(0.01)),
    Case("crest-fit", "bed 1: length of the air tube", tube(0.01), tube(-0.01)),
    Case("crest-fit", "bed 1: openings of the screen", screen(2.001), screen(1.999)),
    Case("air-tube", "bed 1: inside of the air tube", wide(6.001), wide(5.999)),
    Case("air-tube", "bed 1: inside of the air tube", wide(7.999), wide(8.001)),
)


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.rule}, {case.place}")
def test_both_sides_of_the_limit(plan: Plan, case: Case) -> None:
    """Just inside the rule holds; just past it does not."""
    inside, past = crossed(plan, case)
    assert inside.hard
    assert past.hard


def test_every_rule_holds(plan: Plan) -> None:
    """The plan that the others are made from by spoiling is itself in order."""
    survey = Survey(plan.site, plan.catalog, plan.drawing)
    found = [one for rule in read_rules(plan.site).rules for one in rule.check(survey)]
    assert all(one.ok for one in found if one.hard)


def test_rules_of_bells_say_nothing(plan: Plan) -> None:
    """There is no bell, no guard, no standpipe to judge; with a bell the rules of crests say nothing."""
    ids = {type(rule).id for rule in read_rules(plan.site).rules if type(rule).concerns(plan.site)}
    assert not {"siphon-start", "bell-fit", "bell-made", "flange-fit", "guard-rim"} & ids
    assert {"crest-start", "crest-fit", "full-bed-start", "siphon-break", "siphon-tight", "air-tube"} <= ids
    bell = problem('floods = "2.5/hour"').outline
    assert not {"crest-start", "crest-fit"} & {
        type(rule).id for rule in read_rules(bell).rules if type(rule).concerns(bell)
    }


def rule(plan: Plan, rule_id: str) -> Any:
    """A rule of the plan's book."""
    return next(rule for rule in read_rules(plan.site).rules if rule.id == rule_id)


def test_parts_are_refused_before_anything_is_drawn(plan: Plan) -> None:
    """Pipe that the inflow does not fill or that is too narrow, tubes of 4 mm, meshes of 0.8 mm."""
    run, pipe = plan.site.runs[DRAIN], plan.catalog.pipes["pn16-25-3m"]

    def fills(asked: Pipe, at: Plan = plan) -> bool:
        return bool(rule(at, "crest-start").admits(OfPipe(at.site, run, asked)))

    share = 1.1 * starts_from() / plan.site.flows[DRAIN].design_m3_s
    assert fills(pipe, plan.flow(DRAIN, share * 1.0001))
    assert not fills(pipe, plan.flow(DRAIN, share * 0.9999))
    assert fills(replace(pipe, bore_m=0.0150001))
    assert not fills(replace(pipe, bore_m=0.0149999))
    assert not rule(plan, "air-tube").admits(OfAirTube(plan.catalog, "snorkel-4"))
    assert rule(plan, "air-tube").admits(OfAirTube(plan.catalog, "snorkel-6"))
    for part, ok in (("screen-mesh-25", False), ("screen-long-25", True)):
        asked = Fitted(plan.site, plan.catalog, run, pipe, InletScreen, InletScreen(part))
        assert rule(plan, "crest-fit").admits(asked) is ok


def test_all_of_it_is_under_suction(plan: Plan) -> None:
    """Its joints are glued, and a taped one is refused and found."""
    assert under_suction(plan.site) == (DRAIN,)
    assert not rule(plan, "siphon-tight").admits(Taped(plan.site, plan.site.runs[DRAIN]))
    taped = replace(plan, drawing=replace(plan.drawing, screwed_drains=True, glued=()))
    assert not taped.findings("siphon-tight")[DRAIN].ok
    assert plan.findings("siphon-tight")[DRAIN].ok


def test_it_rises_once(plan: Plan) -> None:
    """Up to its crest it may rise, and nowhere behind it."""
    assert plan.findings("route")[f"{DRAIN}: tilt"].value == 0.0
    legs = list(plan.drawing.runs[DRAIN].legs)
    legs[4] = Leg(legs[4].length_m, legs[4].toward, 0.005)
    assert not plan.run(DRAIN, legs=tuple(legs)).findings("route")[f"{DRAIN}: tilt"].ok


def test_a_drain_without_its_crest_is_not_what_is_asked(plan: Plan) -> None:
    """A plain hole in the wall, or a hole in the floor, is no siphon pipe."""
    assert plan.findings("as-asked")[DRAIN].ok
    begun = start(plan)
    plain = ThroughWall(
        begun.at, begun.chain, way=begun.way, centre_m=begun.centre_m, penetration=begun.penetration
    )
    assert not plan.end(DRAIN, "start", end=plain).findings("as-asked")[DRAIN].ok
    floor = replace(BARE, at="bed 1", centre_m=0.55, standpipe_top_m=0.8, penetration="bulkhead-25")
    assert not plan.end(DRAIN, "start", end=floor).findings("as-asked")[DRAIN].ok


def test_the_bed_stands_at_its_flood(plan: Plan) -> None:
    """Its inflow runs over the crest 250 mm deep in the bed, within the tenth of a millimetre of a cut."""
    held = plan.survey.standing_level("bed 1", 1.0)
    assert held - 0.550 == pytest.approx(FLOOD_M, abs=2e-4)
    lip = start(plan).lip_m
    assert lip is not None
    for by_mm, ok in ((0.8, True), (1.2, False)):
        moved = plan.end(DRAIN, "start", lip_m=lip + by_mm / 1000)
        assert moved.findings("level-range")["bed 1: level against outlet"].ok is ok


@pytest.mark.parametrize(("floods", "status"), [("1.9/hour", Status.NONE), ("2/hour", Status.PROVEN)])
def test_less_inflow_starts_no_siphon(floods: str, status: Status) -> None:
    """In 1 m2 190 L/h are too little for the narrowest pipe, 17 mm, and 200 L/h do: both are told.

    0.54 x 0.408 m/s x 227 mm2 are 180 L/h, 198 with the margin; a full bed gets a little less than by day.
    """
    beds = f'drain = "outside siphon"\nfloods = "{floods}"'
    found = autoplan.design(problem(beds, area_m2=1.0), autoplan.load_catalog("metric"), top=1)
    assert found.status is status
    asked = 1.1 * 0.54 * math.pi / 4 * 0.017**2 * math.sqrt(G * 0.017) * L_H
    assert 190 < asked < 200
    if found.status is Status.PROVEN:
        drawn = found.designs[0].drawing.runs[DRAIN]
        assert found.catalog.pipes[drawn.pipe].bore_m == pytest.approx(0.017)
        return
    said = " ".join(why_none(found))
    assert (
        f"a siphon pipe outside of the narrowest to be had, 17.0 mm bore, starts from {asked:.0f} L/h."
        in said
    )
    assert "narrowest standpipe" not in said
    assert "more to bed 1" in said


def test_its_bore_is_its_own_matter(plan: Plan) -> None:
    """The least bore of a bed's drain, 20 mm, is none of a siphon pipe's, which its inflow must fill."""
    assert DRAIN not in plan.findings("drain-bore")
    thin = replace(plan.catalog.pipes["pn16-25-3m"], bore_m=0.017)
    held = rule(plan, "drain-bore")
    assert held.admits(OfPipe(plan.site, plan.site.runs[DRAIN], thin))
    bell = replace(plan.site.runs[DRAIN], draw=Draw.STANDPIPE)
    assert not held.admits(OfPipe(plan.site, bell, thin))


@pytest.mark.parametrize(
    ("beds", "rules"),
    [(BEDS, 'crest-fit]\nair = "250 mm"'), ('floods = "2.5/hour"', 'siphon-break]\ncut_out = "250 mm"')],
    ids=["outside", "bell"],
)
def test_a_siphon_that_breaks_at_its_flood_moves_nothing(beds: str, rules: str) -> None:
    """Outside or under a bell: then there is no design, and flood-rate or crest-fit says so."""
    asked = problem(beds, f"\n[rules.{rules}\n")
    found = autoplan.design(asked, autoplan.load_catalog("metric"), top=1, time_limit=60.0)
    assert found.status is Status.NONE
    assert found.clash is not None
    assert {"flood-rate", "crest-fit"} & set(found.clash.rules)
