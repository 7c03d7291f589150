"""Bell siphons against the relations that their limits come from, and where they are not asked for."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

import autoplan
from autoplan.catalog.parts import Catalog, End, SiphonKind, Way
from autoplan.fittings.floor import BellSiphon, ThroughFloor
from autoplan.outcome import Design, Outcome, Status
from autoplan.report.render.plain import plain_text
from autoplan.report.sections.siphons import siphons
from autoplan.report.units import SI
from autoplan.rules.asked import LetIn, Starting
from autoplan.rules.book import read_rules
from tests.one_bed import one_bed
from tests.optimiser.conftest import cut_down

G = 9.80665
L_H = 3.6e6
BELL_RULES = {"siphon-start", "full-bed-start", "siphon-break", "flood-rate", "bell-fit"}
WIDE = "drain-110-2m"
"""A drain that runs full at no inflow of a bed."""


def friction(speed: float, bore_m: float, roughness_m: float) -> float:
    """Friction factor of Swamee and Jain, within 1 % of Colebrook, at 20 degrees (1.004e-6 m2/s)."""
    reynolds = speed * bore_m / 1.004e-6
    return 0.25 / math.log10(roughness_m / bore_m / 3.7 + 5.74 / reynolds**0.9) ** 2


def foot_flow(plan: Any, bell: str, stood: str, length_m: float, head_m: float, narrow_m: float) -> float:
    """Flow [m3/s] of a standpipe under a bell, open at its foot: Bernoulli with textbook losses.

    Re-entrant entrance 1.0 (White, after Idelchik) and exit 1.0; a bell's 3.5 on the velocity in its ring;
    a contraction's 0.5 (1 - area ratio) where the floor's fitting is narrower.
    """
    pipe, ring = plan.catalog.pipes[stood], plan.catalog.siphons[bell].inside_m
    area = pipe.bore_m**2
    bends = 3.5 * (area / (ring**2 - pipe.outside_m**2)) ** 2
    ratio = (min(narrow_m, pipe.bore_m) / pipe.bore_m) ** 2
    speed = 0.5
    for _ in range(50):
        k = 1.0 + bends + (0.5 * (1 - ratio) + 1.0) / ratio**2
        k += friction(speed, pipe.bore_m, pipe.roughness_m) * length_m / pipe.bore_m
        speed = math.sqrt(2 * G * head_m / k)
    return speed * math.pi / 4 * area


def rule(plan: Any, rule_id: str) -> Any:
    """A rule of the plan's book."""
    return next(rule for rule in read_rules(plan.site).rules if rule.id == rule_id)


def admits(plan: Any, rule_id: str, pipe: str, stood: str | None, flare: str | None = None) -> bool:
    """Whether a rule allows a siphon with this standpipe on the bed's drain."""
    siphon = BellSiphon("bell-75", None, None, flare, 0.025)
    end = ThroughFloor(at="bed 1", way=Way.BULKHEAD, penetration="", standpipe=stood, siphon=siphon)
    run = plan.site.runs["bed drain 1"]
    asked = (plan.site, plan.catalog, run, plan.catalog.pipes[pipe], end)
    held = rule(plan, rule_id)
    return bool(held.admits(Starting(*asked)) and held.admits(LetIn(*asked, None)))


def inflow(plan: Any, flow_m3_s: float) -> Any:
    """The plan with another inflow of its bed."""
    return plan.flow("bed drain 1", flow_m3_s / plan.site.flows["bed drain 1"].design_m3_s)


def test_a_drain_too_wide_to_run_full_leaves_the_standpipe_alone(plan) -> None:
    """What it carries from 25 mm over the floor, over 1.5: three per cent less is admitted, more is not."""
    vessel = plan.site.vessels["bed 1"]
    most = foot_flow(plan, "bell-75", "pn16-25-3m", vessel.water_max_m - vessel.floor_m, 0.025, 1.0) / 1.5
    assert admits(inflow(plan, 0.97 * most), "siphon-break", WIDE, "pn16-25-3m")
    assert not admits(inflow(plan, 1.03 * most), "siphon-break", WIDE, "pn16-25-3m")


def test_a_drain_that_runs_full_is_not_judged_by_its_standpipe(plan) -> None:
    """A drain runs full from V = 0.3 sqrt(g D): then the whole fall pulls, and the model says how much."""
    bore = plan.catalog.pipes["drain-32-3m"].bore_m
    full = 0.3 * math.sqrt(G * bore) * math.pi / 4 * bore**2 / 1.5
    over, under = inflow(plan, 1.001 * full), inflow(plan, 0.999 * full)
    thin = plan.part("pn16-20-3m", bore_m=0.012)
    assert admits(over, "siphon-break", "drain-32-3m", "pn16-20-3m")
    narrow = {p: replace(x, catalog=thin.catalog) for p, x in (("over", over), ("under", under))}
    assert admits(narrow["over"], "siphon-break", "drain-32-3m", "pn16-20-3m")
    assert not admits(narrow["under"], "siphon-break", "drain-32-3m", "pn16-20-3m")


@pytest.mark.parametrize(("share", "ok"), [(0.999, True), (1.001, False)])
def test_the_check_too_leaves_it_to_the_standpipe(plan, share: float, ok: bool) -> None:
    """The drawn siphon on a wide drain carries what its standpipe does; its inflow may be that over 1.5."""
    drawn = plan.drawing.runs["bed drain 1"]
    end = drawn.start
    stood = end.standpipe or drawn.pipe
    own = plan.catalog.penetrations[end.penetration].bore_m
    bores = [plan.catalog.adaptors[part].bore_m for part in (*end.chain, *end.inner_chain)]
    height = end.standpipe_top_m - plan.site.vessels["bed 1"].floor_m
    wide = plan.run("bed drain 1", pipe=WIDE).end("bed drain 1", "start", standpipe=stood)
    expected = foot_flow(plan, end.siphon.bell, stood, height, 0.025, min([own, *bores]))
    found = wide.findings("siphon-break")["bed 1"]
    assert found.value == pytest.approx(expected * L_H, rel=0.03)
    assert found.value < plan.findings("siphon-break")["bed 1"].value
    changed = inflow(wide, found.value / L_H / 1.5 * share).findings("siphon-break")["bed 1"]
    assert changed.ok is ok


def test_a_plain_top_starts_where_its_lip_is_drowned(plan) -> None:
    """Limit = 1.1 x 0.51 A sqrt(g D) of the standpipe; with a flared top seven tenths of it, 0.35."""
    bore = plan.survey.standpipe("bed drain 1").bore_m
    limit = 1.1 * 0.51 * math.pi / 4 * bore**2 * math.sqrt(G * bore) * L_H
    made = plan.drawing.runs["bed drain 1"].start.siphon
    for flare, share in ((None, 1.0), ("reducer-50-32", 0.7)):
        drawn = plan.end("bed drain 1", "start", siphon=replace(made, flare=flare))
        assert drawn.findings("siphon-start")["bed 1"].limit == pytest.approx(share * limit, rel=1e-9)


@pytest.mark.parametrize(("flare", "share"), [(None, 1.0), ("reducer-50-32", 0.7)])
def test_both_sides_of_the_start(plan, flare: str | None, share: float) -> None:
    """A standpipe is offered to a bed whose inflow starts it, flared or not, and to no other."""
    bore = plan.catalog.pipes["drain-32-3m"].bore_m
    least = share * 1.1 * 0.51 * math.pi / 4 * bore**2 * math.sqrt(G * bore)
    assert admits(inflow(plan, 1.001 * least), "siphon-start", "drain-32-3m", None, flare)
    assert not admits(inflow(plan, 0.999 * least), "siphon-start", "drain-32-3m", None, flare)


@pytest.mark.parametrize(("bore_mm", "ok"), [(15.0, True), (14.99, False)])
def test_the_least_bore(plan, bore_mm: float, ok: bool) -> None:
    """No standpipe is narrower than 15 mm, however well it would start (common practice)."""
    thin = plan.part("pn16-20-3m", bore_m=bore_mm / 1000)
    assert admits(inflow(thin, 500 / L_H), "siphon-start", "drain-40-3m", "pn16-20-3m") is ok


def test_a_flare_asks_for_a_wider_bell(plan) -> None:
    """A 50 mm socket is 57.5 mm outside: with a 27.2 mm bore a bell of 69.1 mm, D^2 = d^2 + 2 bore^2."""
    asked = math.hypot(1.15 * 50, math.sqrt(2) * 27.2)
    for inside, ok in ((asked + 0.01, True), (asked - 0.01, False)):
        fitted = plan.part("bell-75", inside_m=inside / 1000)
        assert admits(fitted, "bell-fit", "pn16-32-3m", None, "reducer-50-32") is ok


# --- where they are not asked for, or not to be had -------------------------------------------------------


@pytest.fixture(scope="module")
def list_() -> Catalog:
    """The metric price list cut down to a few parts."""
    return cut_down(autoplan.load_catalog("metric"), SHELF)


SHELF = """drain-40-3m pn10-32-3m pn16-25-3m pn16-20-metre drain-bend-40-45 drain-sweep-40-90 drain-tee-40
    drain-coupling-40 elbow-32-90 elbow-25-90 elbow-25-45 seal-40 bulkhead-25 bush-25-20 union-female-32-1
    union-female-25-34 tee-32 tee-25 tee-32-25 bush-32-25 ball-32 ball-25 pump-1600 pump-2200
    bell-63 bell-75 bell-90 guard-100 guard-110 guard-125 snorkel-6"""


def designed(folder: Path, catalog: Catalog, beds: str = "", gone: frozenset[str] = frozenset()) -> Outcome:
    """The cheapest design."""
    path = folder / "bed.toml"
    path.write_text(one_bed(beds))
    site = replace(autoplan.load_problem(path), unavailable=gone)
    return autoplan.design(site, catalog, top=1)


def siphon_of(design: Design) -> BellSiphon:
    """The siphon of the bed's drain."""
    floor = design.drawing.runs["bed drain 1"].floor
    assert floor is not None
    assert floor.siphon is not None
    return floor.siphon


def test_a_plain_standpipe_switches_all_of_it_off(tmp_path: Path, list_: Catalog) -> None:
    """With `drain = "standpipe"` there is no siphon, no finding on one, and nothing of one to buy."""
    (design,) = designed(tmp_path, list_, 'drain = "standpipe"').designs
    start = design.drawing.runs["bed drain 1"].floor
    assert start is not None
    assert (start.siphon, start.standpipe) == (None, None)
    assert not BELL_RULES & {finding.rule for finding in design.verdict.findings}
    assert not {line.part for line in design.drawing.purchases} & set(list_.siphons)
    assert not design.verdict.siphons


def test_a_list_without_bells_is_not_counted_and_says_so(tmp_path: Path, list_: Catalog) -> None:
    """The siphon is designed as before but for its bell, guard and air tube, which nobody can price."""
    outcome = designed(tmp_path, replace(list_, siphons={}))
    (design,) = outcome.designs
    siphon = siphon_of(design)
    assert siphon.parts == ()
    found = {finding.rule for finding in design.verdict.findings}
    assert found & BELL_RULES == BELL_RULES - {"bell-fit"}
    text = " ".join(plain_text(siphons(outcome, design, SI)).split())
    assert "not on the price list and not counted: bell, guard, air tube." in text


def test_bells_that_may_not_be_used(tmp_path: Path, list_: Catalog) -> None:
    """Without the bell that was cheapest another is taken; without any there is no design, and it is told."""
    (design,) = designed(tmp_path, list_).designs
    used = siphon_of(design)
    assert used.bell is not None
    (other,) = designed(tmp_path, list_, gone=frozenset({used.bell})).designs
    instead = siphon_of(other)
    assert instead.bell not in (None, used.bell)
    assert other.objective > design.objective
    bells = frozenset(part.id for part in list_.siphons.values() if part.kind is SiphonKind.BELL)
    none = designed(tmp_path, list_, gone=bells)
    assert none.status is Status.NONE
    assert none.clash is not None


def test_the_published_siphon_goes_together(plan) -> None:
    """A 25 mm standpipe, flared 40 to 25, a 75 mm bell, a 110 mm guard: FAO 589, app. 8, p. 221.

    It keeps `bell-fit`, which asks for less; a 100 mm guard is too tight round that bell.
    """
    flare = plan.part("reducer-40-32", ends=(End("socket", "metric", "40"), End("socket", "metric", "25")))

    def fits(bell: str, guard: str) -> bool:
        siphon = replace(
            plan.drawing.runs["bed drain 1"].start.siphon, bell=bell, guard=guard, flare="reducer-40-32"
        )
        built = flare.end("bed drain 1", "start", standpipe="pn16-25-3m", siphon=siphon)
        return all(found.ok for found in built.findings("bell-fit").values())

    assert fits("bell-75", "guard-110")
    assert not fits("bell-75", "guard-100")
