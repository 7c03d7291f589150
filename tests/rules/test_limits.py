"""Every rule on both sides of its limit: a good plan, brought by hand to just inside and just past it.

Each case names the finding that must turn. Distances are in millimetres; a rule whose heights the optimiser
rounds to tenths of a millimetre is tolerant of that rounding, so "just past" is a fifth of one.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import pytest

from autoplan.catalog.parts import SundryKind, TurnStyle
from autoplan.drawing import CutStick
from autoplan.fittings.corner import Corner
from autoplan.fittings.riser import Riser
from autoplan.fittings.valve import ValveSet
from autoplan.line.needs import Want
from autoplan.rules.book import ALL, read_rules
from autoplan.rules.order.supply import short
from tests.rules import by_hand
from tests.rules.joint_cases import JOINT_CASES, walled
from tests.rules.limits import (
    Case,
    Change,
    at_least,
    at_most,
    bent_over,
    by_flow,
    crossed,
    drilled,
    owning,
    packs,
)
from tests.rules.siphon_cases import SIPHON_CASES


def bore(run: str, limit_mm: float, flow: float = 1.0) -> Case:
    """A drain whose pipe is bored to its least, and a tenth under."""
    return Case(
        "drain-bore",
        run,
        lambda plan: plan.flow(run, flow).pipe_of(run, bore_m=limit_mm / 1000),
        lambda plan: plan.flow(run, flow).pipe_of(run, bore_m=(limit_mm - 0.1) / 1000),
    )


BENT = "bed feed 1"
"""A run over a rim at its end, as it is drawn or of pipe that bends by itself."""


def crest(plan: Any, run: str) -> float:
    """Height of a run's axis over the rim that it crosses [m]."""
    height: float = plan.drawing.runs[run].finish.centre_m
    return height


def lift(plan: Any, share: float, more: float | None = None) -> Any:
    """The pump's curve brought to just what the tank asks, or at so much more flow, times a share."""
    pump = plan.drawing.pumps["sump"].part
    asked, gives = by_hand.asked_of_the_pump(plan, "tank feed"), by_hand.pump_gives(plan)
    if more is not None:
        flow = more * plan.site.flows["main"].design_m3_s
        asked = by_hand.asked_of_the_pump(plan, "tank feed", 1.0, more)
        gives = by_hand.pump_gives(plan, flow)
    factor = asked / gives * share
    curve = tuple((flow, head * factor) for flow, head in plan.catalog.pumps[pump].curve)
    return plan.part(pump, curve=curve)


def turned(plan: Any, run: str, angle: int, style: TurnStyle) -> Any:
    """A run whose first turn is made otherwise, the one under its riser if it has one."""
    line = plan.drawing.runs[run]
    first = replace(line.turns[0], angle=angle, style=style)
    if line.one(Riser) is not None:
        return plan.fitting(run, Riser, corner=first)
    return plan.put(run, first, *line.all(Corner)[1:])


def hole(run: str, side: str) -> Change:
    """The part in the wall at one end of a run."""
    return lambda plan: getattr(plan.drawing.runs[run], side).penetration


def wall(
    run: str, side: str, at: str, key: str, inside_m: float, past_m: float, made: Change = lambda plan: plan
) -> Case:
    """A wall part whose row allows just the wall it is in (6 mm), or not quite, of a plan made so."""
    part = hole(run, side)

    def row(plan: Any, limit_m: float) -> Any:
        return made(plan).part(part(made(plan)), **{key: limit_m})

    return Case(
        "penetration-fit",
        f"{run} at {at}",
        lambda plan: row(plan, inside_m),
        lambda plan: row(plan, past_m),
    )


def unplanned(plan: Any, run: str) -> Any:
    """A run of the site whose legs were measured, as long as they are drawn."""
    legs = tuple(leg.length_m for leg in plan.drawing.runs[run].legs)
    turns = tuple(turn.angle for turn in plan.drawing.runs[run].corners)
    measured = replace(plan.site.runs[run], plan=None, legs_m=legs, turns=turns[: len(legs) - 1])
    return replace(plan, site=replace(plan.site, runs={**plan.site.runs, run: measured}))


def pipe(run: str) -> Change:
    """The pipe of a run."""
    return lambda plan: plan.drawing.runs[run].pipe


def alike(plan: Any) -> tuple[str, int]:
    """A part, not pipe, of which several packs of one piece are ordered, and how many."""
    return next(
        (line.part, line.packs)
        for line in plan.drawing.purchases
        if line.part not in plan.catalog.pipes and line.packs == line.quantity > 1
    )


def pair(plan: Any) -> str:
    """That part."""
    return alike(plan)[0]


def many(plan: Any) -> int:
    """How many of it are ordered."""
    return alike(plan)[1]


def off_by(plan: Any, by_mm: float) -> Any:
    """The bed's standpipe so far over or under where it holds the drawn level to the last digit."""
    held = by_hand.stands(plan, "bed 1", 1.0) - plan.drawing.levels["bed 1"].design_m
    return plan.raised("bed drain 1", "start", by_mm - 1000 * held)


def outlet_off_by(plan: Any, by_mm: float) -> Any:
    """The tank's outlet so far over where it holds the drawn level to the last digit."""
    held = by_hand.stands(plan, "tank", 1.0) - plan.drawing.levels["tank"].design_m
    return plan.raised("tank drain", "start", by_mm - 1000 * held)


def fed(plan: Any, more_m: float) -> Any:
    """The bed's feed as long as it was cut, and a little."""
    *before, (piece,) = plan.drawing.runs["bed feed 1"].slots_m
    return plan.run("bed feed 1", slots_m=(*before, (piece + more_m,)))


def sold(plan: Any, part: str, packs: int) -> Any:
    """A part that one shop alone has, and only so many packs of it."""
    return plan.part(part, offers=(replace(plan.catalog.part(part).offers[0], stock=packs),))


def missing(plan: Any, part: str) -> Any:
    """A part that is not to be had."""
    return replace(plan, site=replace(plan.site, unavailable=frozenset({part})))


def stick(plan: Any, pipe: str, change: Callable[[CutStick], CutStick]) -> Any:
    """The sticks of one pipe cut otherwise."""
    cuts = tuple(change(cut) if cut.pipe == pipe else cut for cut in plan.drawing.cuts)
    return replace(plan, drawing=replace(plan.drawing, cuts=cuts))


def planned_m(cut: CutStick) -> float:
    """Pieces of a stick [m] as planned for: those drawn may be a tenth of a millimetre longer."""
    return sum(piece - 0.0001 for piece in cut.pieces_m)


def sawn(plan: Any, pipe: str, more_mm: float) -> Any:
    """A saw so wide that its cuts take just what pieces, their fiftieth and 10 mm leave of the stick."""
    (cut,) = [cut for cut in plan.drawing.cuts if cut.pipe == pipe]
    cuts = len(cut.pieces_m) - 1
    width = (cut.stick_m - 0.010 - 1.02 * planned_m(cut)) / cuts * 1000 + more_mm
    return plan.rules({"purchase-list": {"kerf": f"{width:.6f} mm"}})


def wasting(plan: Any, pipe: str, more: float) -> Any:
    """So large a share of waste that pieces, cuts and 10 mm just fit on the stick, and a little more."""
    (cut,) = [cut for cut in plan.drawing.cuts if cut.pipe == pipe]
    cuts = 0.003 * (len(cut.pieces_m) - 1)
    share = (cut.stick_m - 0.010 - cuts) / planned_m(cut) - 1 + more
    return plan.rules({"purchase-list": {"waste": f"{share:.9f}"}})


def keeping(plan: Any, pipe: str, more_mm: float) -> Any:
    """As much to be kept of each stick as pieces, their waste and cuts of 3 mm leave, and a little more."""
    (cut,) = [cut for cut in plan.drawing.cuts if cut.pipe == pipe]
    left = cut.stick_m - 1.02 * planned_m(cut) - 0.003 * (len(cut.pieces_m) - 1)
    return plan.rules({"purchase-list": {"each": f"{1000 * left + more_mm:.6f} mm"}})


def bracket(plan: Any, run: str) -> str:
    """The bracket that holds a run's pipe on a rim."""
    outside = plan.catalog.pipes[plan.drawing.runs[run].pipe].outside_m
    rows = plan.catalog.sundries.values()
    return next(
        row.id for row in rows if row.kind is SundryKind.BRACKET and row.least_m <= outside <= row.most_m
    )


def floor_under_hole(plan: Any, strip_mm: float) -> Any:
    """The tank's floor raised to a strip of wall under its outlet."""
    end = plan.drawing.runs["tank drain"].start
    half = plan.catalog.penetrations[end.penetration].hole_m / 2
    return plan.vessel("tank", floor_m=end.centre_m - half - strip_mm / 1000)


def budget(plan: Any, cents: int) -> Any:
    """A budget of what the order costs, and some cents."""
    return plan.wishes(budget=(by_hand.paid(plan) + cents) / 100)


CASES = (
    Case(
        "as-asked",
        "tank feed",
        lambda p: p.run("tank feed", length_m=p.drawing.runs["tank feed"].length_m - 0.0005),
        lambda p: p.run("tank feed", length_m=p.site.runs["tank feed"].length_m - 0.01),
    ),
    Case("as-asked", "tank feed", lambda p: p, lambda p: p.without("tank feed", Corner)),
    Case("as-asked", "tank drain", lambda p: p, lambda p: p.without("tank drain", Riser)),
    # Over a rim goes only a drain that is known on the plan.
    Case("as-asked", "tank drain", lambda p: p, lambda p: unplanned(p, "tank drain")),
    Case("as-asked", "bed feed 1", lambda p: p, lambda p: p.run("bed feed 1", slots_m=((0.0358,), (0.5,)))),
    Case("as-asked", "tank feed", lambda p: p, lambda p: p.end("tank feed", "finish", at="sump")),
    Case("joint-fit", "bed drain 1", lambda p: p, lambda p: p.end("bed drain 1", "start", inner_chain=())),
    Case("turnover", "tank", lambda p: p.flow("tank feed", 1.0), lambda p: p.flow("tank feed", 0.9999)),
    Case("turnover", "bed 1", lambda p: p.flow("bed feed 1", 1.01), lambda p: p.flow("bed feed 1", 0.9999)),
    Case("flow-balance", "split", lambda p: p, lambda p: p.flow("main", 1.0001)),
    Case("flow-balance", "tank", lambda p: p.flow("main", 1.5), lambda p: p.flow("tank drain", 0.9999)),
    at_least(
        "drain-fall",
        "tank drain",
        10.0,
        lambda p: by_hand.fall_mm(p, "tank drain"),
        lambda p, mm: p.water("tank", -mm),
    ),
    at_least(
        "drain-fall",
        "bed drain 1",
        10.0,
        lambda p: by_hand.fall_mm(p, "bed drain 1"),
        lambda p, mm: p.vessel("bed 1", floor_m=p.site.vessels["bed 1"].floor_m - mm / 1000),
    ),
    at_least(
        "overload",
        "tank",
        20.0,
        lambda p: by_hand.dry_mm(p, "tank"),
        lambda p, mm: p.raised("tank drain", "start", mm),
    ),
    at_least(
        "overload",
        "bed 1",
        20.0,
        lambda p: by_hand.dry_mm(p, "bed 1"),
        lambda p, mm: p.raised("bed drain 1", "start", mm),
    ),
    at_least(
        "overload", "sump", 20.0, lambda p: by_hand.dry_mm(p, "sump"), lambda p, mm: p.water("sump", mm)
    ),
    # The optimiser works in tenths of a millimetre, so half of one is let pass.
    at_most(
        "level-range",
        "tank",
        720.0,
        lambda p: by_hand.deep_mm(p, "tank"),
        lambda p, mm: p.water("tank", mm),
        past_mm=0.06,
    ),
    Case("level-range", "bed 1", lambda p: p.water("bed 1", 0.05), lambda p: p.water("bed 1", 0.06)),
    at_most(
        "level-range",
        "sump",
        520.0,
        lambda p: by_hand.deep_mm(p, "sump"),
        lambda p, mm: p.water("sump", mm),
        past_mm=0.06,
    ),
    Case(
        "level-range",
        "bed 1: level against outlet",
        lambda p: off_by(p, 0.99),
        lambda p: off_by(p, 1.01),
    ),
    Case(
        "level-range",
        "bed 1: level against outlet",
        lambda p: off_by(p, -0.99),
        lambda p: off_by(p, -1.01),
    ),
    Case(
        "level-range",
        "tank: level against outlet",
        lambda p: outlet_off_by(p, 0.99),
        lambda p: outlet_off_by(p, 1.01),
    ),
    bore("tank drain", 45.0),
    bore("tank drain", 34.0, flow=1000 / 1800),
    bore("bed drain 1", 20.0),
    # A part in the wall may narrow a drain to nine tenths of its least bore.
    Case(
        "drain-bore",
        "bed drain 1 at bed 1",
        lambda p: p.part(hole("bed drain 1", "start")(p), bore_m=0.018),
        lambda p: p.part(hole("bed drain 1", "start")(p), bore_m=0.0179),
    ),
    Case(
        "drain-rigid",
        "tank drain",
        lambda p: p.pipe_of("main", bend_radius_m=0.3),
        lambda p: p.pipe_of("tank drain", bend_radius_m=0.3),
    ),
    Case(
        "drain-turns",
        "tank drain",
        lambda p: turned(p, "tank drain", 90, TurnStyle.SWEPT),
        lambda p: turned(p, "tank drain", 90, TurnStyle.TIGHT),
    ),
    Case(
        "drain-turns",
        "bed drain 1",
        lambda p: turned(p, "bed drain 1", 45, TurnStyle.TIGHT),
        lambda p: turned(p, "bed drain 1", 90, TurnStyle.TIGHT),
    ),
    by_flow("drain-velocity", "tank drain", "tank drain", lambda p: 0.3 / by_hand.speed(p, "tank drain"), -1),
    Case("pump-duty", "tank", lambda p: lift(p, 1 + 1e-6), lambda p: lift(p, 1 - 1e-6)),
    Case(
        "pump-spare",
        "tank",
        lambda p: lift(p.wishes(spare=0.15), 1 + 1e-6, 1.15),
        lambda p: lift(p.wishes(spare=0.15), 1 - 1e-6, 1.15),
    ),
    by_flow("pressure-velocity", "main", "main", lambda p: 1.5 / by_hand.speed(p, "main"), 1),
    by_flow("pressure-velocity", BENT, BENT, lambda p: 1.5 / by_hand.speed(p, BENT), 1),
    # Poly line of 19 mm bends at 200 mm by its row.
    at_least(
        "bend-room",
        f"{BENT}: over the rim",
        200.0,
        lambda p: by_hand.hangs_mm(bent_over(p, BENT), BENT),
        lambda p, mm: bent_over(p, BENT).end(
            BENT, "finish", centre_m=crest(bent_over(p, BENT), BENT) - mm / 1000
        ),
    ),
    Case("branch-valve", "tank feed", lambda p: p, lambda p: p.without("tank feed", ValveSet)),
    at_least(
        "siphon-back",
        BENT,
        30.0,
        lambda p: by_hand.air_mm(p, BENT),
        lambda p, mm: p.raised(BENT, "finish", -mm),
        past_mm=0.12,
    ),
    # The pump is to be covered by 60 mm, by its row.
    at_least("sump-low", "sump", 60.0, by_hand.beds_full_mm, lambda p, mm: p.water("sump", -mm)),
    at_least("sump-high", "sump", 20.0, by_hand.run_back_mm, lambda p, mm: p.water("sump", mm)),
    wall("tank drain", "start", "tank", "wall_min_m", 0.006, 0.0061),
    wall("tank drain", "finish", "sump", "wall_max_m", 0.006, 0.0059, drilled),
    wall("tank drain", "start", "tank", "head_max_m", 0.8, 0.799),
    wall("tank drain", "start", "tank", "curved_ok", True, False),
    Case(
        "penetration-fit",
        "bed drain 1 at bed 1",
        lambda p: p.part(hole("bed drain 1", "start")(p), wall_min_m=0.001, thin_flexing_ok=False).vessel(
            "bed 1", base_m=0.003
        ),
        lambda p: p.part(hole("bed drain 1", "start")(p), wall_min_m=0.001, thin_flexing_ok=False).vessel(
            "bed 1", base_m=0.0029
        ),
    ),
    at_least(
        "hole-place",
        "tank drain at sump",
        20.0,
        lambda p: by_hand.strip_mm(drilled(p), "tank drain", "finish"),
        lambda p, mm: drilled(p).raised("tank drain", "finish", mm),
        past_mm=0.12,
    ),
    Case(
        "hole-place",
        "tank drain at tank",
        lambda p: floor_under_hole(p, 20.0),
        lambda p: floor_under_hole(p, 19.8),
    ),
    Case(
        "joint-fit",
        "tank drain",
        lambda p: p,
        lambda p: p.pipe_of("tank drain", end=p.catalog.pipes["pn10-32-3m"].end),
    ),
    Case(
        "joint-fit", "tank drain", lambda p: p, lambda p: p.fitting("tank drain", Riser, tee="drain-tee-40")
    ),
    Case("joint-fit", "main", lambda p: p, lambda p: p.end("main", "start", chain=())),
    Case("joint-fit", "main", lambda p: p, lambda p: p.end("main", "start", chain=("coupling-20",))),
    Case("joint-fit", "tank feed", lambda p: p, lambda p: p.fitting("tank feed", ValveSet, valve="ball-20")),
    Case(
        "joint-fit",
        "bed drain 1",
        lambda p: p,
        lambda p: p.end("bed drain 1", "start", inner_chain=("coupling-20",)),
    ),
    Case("purchase-list", "parts", lambda p: packs(p, pair(p), 1), lambda p: packs(p, pair(p), -1)),
    Case(
        "purchase-list",
        "parts",
        lambda p: owning(packs(p, pair(p), -many(p)), pair(p), many(p)),
        lambda p: owning(packs(p, pair(p), -many(p)), pair(p), many(p) - 1),
    ),
    Case("purchase-list", pipe("bed feed 1"), lambda p: fed(p, 0.0), lambda p: fed(p, 0.5)),
    Case(
        "purchase-list",
        pipe("bed drain 1"),
        lambda p: sawn(p, pipe("bed drain 1")(p), -0.01),
        lambda p: sawn(p, pipe("bed drain 1")(p), 0.01),
    ),
    Case(
        "purchase-list",
        pipe("bed drain 1"),
        lambda p: wasting(p, pipe("bed drain 1")(p), -2e-6),
        lambda p: wasting(p, pipe("bed drain 1")(p), 2e-6),
    ),
    Case(
        "purchase-list",
        pipe("bed drain 1"),
        lambda p: keeping(p, pipe("bed drain 1")(p), -0.01),
        lambda p: keeping(p, pipe("bed drain 1")(p), 0.01),
    ),
    Case(
        "purchase-list",
        pipe("bed drain 1"),
        lambda p: stick(p, pipe("bed drain 1")(p), lambda cut: replace(cut, pieces_m=cut.pieces_m[::-1])),
        lambda p: stick(p, pipe("bed drain 1")(p), lambda cut: replace(cut, pieces_m=cut.pieces_m[1:])),
    ),
    Case(
        "purchase-list",
        pipe("bed drain 1"),
        lambda p: p,
        lambda p: packs(p, pipe("bed drain 1")(p), -1),
    ),
    Case("stock", pair, lambda p: sold(p, pair(p), many(p)), lambda p: sold(p, pair(p), many(p) - 1)),
    Case(
        "stock",
        lambda p: f"{pair(p)} at {p.catalog.part(pair(p)).offers[0].shop}",
        lambda p: sold(p, pair(p), many(p)),
        lambda p: sold(p, pair(p), many(p) - 1),
    ),
    Case(
        "stock", pair, lambda p: owning(missing(p, pair(p)), pair(p), many(p)), lambda p: missing(p, pair(p))
    ),
    # The mouth at most 100 mm under the water; tenths are rounding.
    at_most(
        "free-outlet",
        "bed drain 1",
        100.0,
        lambda p: by_hand.under_mm(p, "bed drain 1"),
        lambda p, mm: p.raised("bed drain 1", "finish", -mm),
        past_mm=0.12,
    ),
    # One bracket for the tank's drain; the main leaves over the sump's rim, and takes one.
    Case(
        "rim-bracket",
        "rim bracket 50 mm",
        lambda p: owning(p, bracket(p, "tank drain"), 0),
        lambda p: packs(p, bracket(p, "tank drain"), -5),
    ),
    Case(
        "rim-bracket",
        "rim bracket 50 mm",
        lambda p: owning(packs(p, bracket(p, "tank drain"), -5), bracket(p, "tank drain"), 5),
        lambda p: owning(packs(p, bracket(p, "tank drain"), -5), "stand-40-65", 5),
    ),
    Case("budget", "order", lambda p: budget(p, 0), lambda p: budget(p, -1)),
)

ELSEWHERE = {
    "check-valve",
    "crest-fit",
    "crest-start",
    "drain-down",
    "drowned-mouth",
    "over-rim-start",
    "over-rim-fill",
    "pressure-rating",
    "air-supply",
    "air-back",
    "emergency-overflow",
    "surge",
    "screens",
    "waste-drain",
    "flushing-point",
    "spare-bed",
    "child-safe",
    "feed-bore",
    "feed-handle",
    "fish-safe",
    "drinking-water",
    "pipe-clips",
    "timer-fill",
    "timer-drain",
    "drain-hole",
    "timer-shut",
    "weep-lip",
    "weep-empty",
    "siphon-tight",
    "strainer",
    "trunk-bore",
    "valve-head",
    "route",
    "share-trim",
    "share-hole",
    "collector",
    "shared-drain",
    "rain-room",
    "sump-rim",
    "half-blocked",
    "drain-vent",
    "drain-surge",
    "settler-inlet",
    "second-half",
    "riser-screw",
}
"""Rules with tests of their own beside this file or below."""

WARNED = {"rain-room", "sump-rim"}
"""What the good plan is warned of: its sump is small, low and in the open."""


def test_every_rule_has_a_case() -> None:
    """No rule is left out below, and none is tested that is not in the book."""
    tried = {case.rule for case in (*CASES, *JOINT_CASES, *SIPHON_CASES)}
    assert tried | ELSEWHERE == {kind.id for kind in ALL}


@pytest.mark.parametrize("kind", ALL, ids=lambda kind: kind.id)
def test_the_good_plan_keeps_every_rule(plan, kind) -> None:
    """The plan that the others are made from by spoiling is itself in order."""
    found = plan.findings(kind.id).values()
    assert all(finding.ok or not finding.hard for finding in found)
    assert kind.id in WARNED or all(finding.ok for finding in found)


@pytest.mark.parametrize("case", [*CASES, *JOINT_CASES, *SIPHON_CASES], ids=lambda case: case.rule)
def test_both_sides_of_the_limit(plan, case: Case) -> None:
    """Just inside the rule holds; just past it does not."""
    inside, past = crossed(plan, case)
    assert inside.hard == past.hard == (case.rule != "drain-velocity")
    assert (inside.rule, inside.sentence, inside.unit) == (past.rule, past.sentence, past.unit)


@pytest.mark.parametrize(("wall_m", "asked"), [(0.002, True), (0.0059, True), (0.006, False), (0.007, False)])
def test_the_wall_that_carries_a_seal(plan, wall_m: float, asked: bool) -> None:
    """Under 6 mm a stand is asked for, at 6 mm itself and at 7 mm none (common practice, no source)."""
    assert bool(walled(plan, wall_m).findings("seal-stand")) is asked


@pytest.mark.parametrize(("by_m", "asked"), [(0.0, 0), (0.010, 0), (0.0101, 1), (0.1, 1)])
def test_the_uncertainty_that_asks_for_rubber(plan, by_m: float, asked: int) -> None:
    """Over 10 mm a drain gets a flexible joint, at 10 mm itself none; a feed never (common practice)."""
    found = plan.vessel("tank", uncertain_m=by_m).findings("flexible-joint")
    assert list(found) == ["tank drain at tank"][:asked]


@pytest.mark.parametrize(
    ("owned", "lacking"),
    [
        ({"clamp-25-40": 1, "clamp-35-60": 1}, 0),
        ({"clamp-25-40": 2, "clamp-35-60": 0}, 0),
        ({"clamp-25-40": 1}, 1),
        ({"clamp-35-60": 2}, 1),
        ({}, 2),
    ],
)
def test_one_clamp_closes_on_one_hose(plan, owned: Mapping[str, int], lacking: int) -> None:
    """A clamp for 25 to 40 and one for 35 to 60 serve hoses of 33 and of 38 mm, each only one of them."""
    bare = replace(plan, site=replace(plan.site, owned=owned)).survey
    wanted = {Want(SundryKind.CLAMP, "330"): 1.0, Want(SundryKind.CLAMP, "380"): 1.0}
    assert sum(short(bare, wanted).values()) == pytest.approx(lacking)


@pytest.mark.parametrize(
    ("rule", "kinds"),
    [
        ("sundries", ("cleaner", "seal lubricant", "solvent cement")),
        ("seal-stand", ("support stand",)),
        ("hole-saw", ("hole saw",)),
        ("pipe-clips", ("pipe clip",)),
    ],
)
def test_what_the_list_does_not_have_is_the_builders(plan, rule: str, kinds: tuple[str, ...]) -> None:
    """A price list without sundries leaves cement, stands, clips, saws to the builder, who is told."""
    thin = walled(plan, 0.002)
    assert thin.findings(rule)
    bare = replace(thin, catalog=replace(thin.catalog, sundries={}))
    assert bare.findings(rule) == {}
    (asked,) = [one for one in read_rules(thin.site).rules if one.id == rule]
    assert not list(asked.unjudged(thin.survey))
    (said,) = asked.unjudged(bare.survey)
    assert all(kind in said for kind in kinds)


def under_pressure(plan: Any, run: str) -> set[str]:
    """Every part of a pressure run that has a rating, with the tee it starts from."""
    drawn = plan.drawing.runs[run]
    parts = {drawn.pipe, *drawn.couplings, *drawn.start.chain, *drawn.finish.chain}
    parts |= {part for turn in drawn.turns for part in turn.pieces}
    parts |= {part for valve in drawn.all(ValveSet) for part in (valve.valve, *valve.chain)}
    junction = plan.drawing.junctions.get(drawn.start.at)
    return parts | ({junction.tee} if junction is not None else set())


@pytest.mark.parametrize("run", ["main", "tank feed", "bed feed 1"])
def test_any_part_under_pressure_may_be_the_weak_one(plan, run: str) -> None:
    """Each part rated just at the pump's shut-off head holds, and a millimetre under it does not."""
    shut_off = plan.survey.pump_curve("sump").shut_off_m
    parts = under_pressure(plan, run)
    assert len(parts) >= 2
    for part in sorted(parts):
        assert plan.part(part, rating_m=shut_off).findings("pressure-rating")[run].ok, part
        assert not plan.part(part, rating_m=shut_off - 0.001).findings("pressure-rating")[run].ok, part
