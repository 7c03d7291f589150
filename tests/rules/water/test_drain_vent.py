"""Drains that vent themselves, and vents on those that do not: Froude numbers and heights by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

import autoplan
from autoplan.fittings.flushing import FlushTee
from autoplan.fittings.vent import Vent
from autoplan.hydraulics.gravity import pipe_froude, self_venting_flow
from autoplan.line.laid import straights
from autoplan.line.route import Leg
from autoplan.problem.site import Draw, Site
from autoplan.rules.asked import Fitted
from autoplan.rules.book import read_rules
from autoplan.rules.water.drain_vent import DrainVent, may_gulp
from tests.lines import put, without
from tests.rules.conftest import Plan
from tests.rules.limits import Case, crossed
from tests.stored import stored

METRIC = autoplan.load_catalog("metric")
G = 9.80665
DRAIN = "biofilter drain"


@pytest.fixture(scope="module")
def demo() -> Plan:
    """The shipped problem with two filters, whose drains leave by walls."""
    outcome = stored("four-beds", Path("problems/four-beds.toml").read_text(encoding="utf-8"))
    return Plan(outcome.site, outcome.catalog, outcome.designs[0].drawing)


@pytest.fixture(scope="module")
def site() -> Site:
    """Its site."""
    return autoplan.load_problem("problems/four-beds.toml").outline


def test_the_number() -> None:
    """1 L/s in 100 mm: 0.1273 m/s over the root of 9.80665 x 0.1, 0.990 m/s; at the self-venting flow 0.3."""
    assert pipe_froude(0.001, 0.1) == pytest.approx(0.1286, abs=1e-4)
    assert pipe_froude(self_venting_flow(0.0452), 0.0452) == pytest.approx(0.3)


@pytest.mark.parametrize(("share", "asked"), [(1.001, False), (0.999, True)])
def test_the_bore_from_which_it_vents_itself(site: Site, share: float, asked: bool) -> None:
    """Q = 0.3 pi/4 D^2 sqrt(g D) solved for D: a thousandth wider it vents itself, narrower it does not."""
    (rule,) = (rule for rule in read_rules(site).rules if isinstance(rule, DrainVent))
    flow, run = site.flows[DRAIN].design_m3_s, site.runs[DRAIN]
    bore = (flow / (0.3 * math.pi / 4 * math.sqrt(G))) ** 0.4
    pipe = replace(METRIC.pipes["pn10-50-6m"], bore_m=bore * share)
    assert rule.asks(site, run, pipe) is asked
    fitted = Fitted(site, METRIC, run, pipe, Vent, None)
    assert rule.admits(fitted) is not asked
    assert rule.admits(fitted._replace(fitting=Vent("drain-tee-50")))
    assert rule.admits(fitted._replace(kind=FlushTee))


def test_of_which_drains_it_speaks(site: Site) -> None:
    """Of those from a wall: a riser's open tee is a vent, a siphon is to run full, an overflow stands dry."""
    assert {run.name for run in site.runs.values() if may_gulp(site, run)} == {"settler drain", DRAIN}
    dry = replace(site.runs[DRAIN], overflow=True)
    assert not may_gulp(site, dry)
    assert not may_gulp(site, replace(site.runs[DRAIN], draw=Draw.SOLIDS_LIFTING))


def test_without_it_gulps(demo: Plan) -> None:
    """A drain of 50 mm without its vent is refused; where no vents are wanted it is warned of."""
    bare = demo.without(DRAIN, Vent)
    assert not bare.wishes(vents=False).findings("drain-vent")
    found = bare.findings("drain-vent")[DRAIN]
    flow, bore = demo.site.flows[DRAIN].design_m3_s, demo.survey.pipe(DRAIN).bore_m
    number = flow / (math.pi / 4 * bore**2) / math.sqrt(G * bore)
    assert found.value == pytest.approx(number)
    assert found.hard
    assert not found.ok
    assert DRAIN not in demo.findings("drain-surge")
    told = bare.findings("drain-surge")[DRAIN]
    assert not told.hard
    assert not told.ok
    assert "gulps" in told.warning


def top_mm(plan: Plan) -> float:
    """Top of the drain's vent [mm]: half of its pipe over the hole's centre, and the upright on it."""
    laid = plan.survey.assembled(DRAIN)
    (upright,) = [side.item.length_m for side in laid.sides if side.item.place == "vent"]
    assert upright is not None
    centre: float = plan.drawing.runs[DRAIN].start.centre_m  # type: ignore[attr-defined]
    return (centre + plan.survey.pipe(DRAIN).outside_m / 2 + upright) * 1000


def test_its_top_over_the_rim(demo: Plan) -> None:
    """The vent ends over the biofilter's rim, above which a blocked drain's water cannot come."""
    floor = demo.site.vessels["biofilter"].floor_m
    assert demo.findings("drain-vent")[f"{DRAIN}: vent"].value == pytest.approx(top_mm(demo))

    def rim_at(plan: Plan, over_mm: float) -> Plan:
        return plan.vessel("biofilter", depth_m=(top_mm(plan) + over_mm) / 1000 - floor)

    crossed(
        demo,
        Case("drain-vent", f"{DRAIN}: vent", lambda plan: rim_at(plan, 0.4), lambda plan: rim_at(plan, 0.6)),
    )


def test_it_stands_before_the_first_turn(demo: Plan) -> None:
    """Whatever stands where a drain has come down, its vent stands at its head, where air comes in."""
    line = put(without(demo.drawing.runs[DRAIN], FlushTee), FlushTee("drain-tee-50", "plug-50"))
    line = replace(line, stands=2, legs=tuple(Leg(1.0) for _ in range(len(line.corners) + 1)))
    standing = [[type(one) for one in straight.fittings] for straight in straights(line, line.legs)]
    assert standing[0] == [Vent]
    assert standing[2] == [FlushTee]
