"""A collector of beds' drains by hand: Darcy-Weisbach with Blasius' friction, Crane's joining tee."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

import autoplan
from autoplan.catalog.load import load_catalog
from autoplan.catalog.parts import Catalog
from autoplan.drawing import Drawing
from autoplan.fittings.vent import Vent
from autoplan.outcome import Finding
from autoplan.places import InVessel, OnPath, OnRun
from autoplan.problem.site import Site
from autoplan.rules.beds.free_outlet import FreeOutlet
from autoplan.rules.book import read_rules
from autoplan.rules.survey import Survey
from autoplan.rules.water.collector import Collector
from autoplan.rules.water.drain_fall import DrainFall
from autoplan.rules.water.shared_drain import SharedDrain
from autoplan.verdict.faults.scenarios import Scenarios
from autoplan.verdict.hours.waterworks import Waterworks
from autoplan.verdict.steady.network import steady
from autoplan.verdict.steady.supplies import Supplies
from tests.lines import without
from tests.optimiser.conftest import cut_down
from tests.optimiser.test_collector import SHELF, site_of
from tests.short_list import gone

METRIC = Path(__file__).parents[3] / "catalogs" / "metric"

VISCOSITY, G = 1.003e-6, 9.80665
"""Of water at 20 C [m2/s], any text; [m/s2]."""

BORE, PEAK = 0.034, 500 / 3.6e6
"""Bore of the collector [m], 40 mm outside with a wall of 3 mm; what one bed lets go at its peak [m3/s]."""


def head_of(flow: float) -> float:
    """Velocity head in the collector [m]."""
    return (flow / (math.pi / 4 * BORE**2)) ** 2 / (2 * G)


def friction(flow: float, length: float) -> float:
    """Darcy-Weisbach with Blasius' factor for smooth pipes, 0.3164 / Re^0.25, good from Re 4000 to 100000."""
    number = flow / (math.pi / 4 * BORE**2) * BORE / VISCOSITY
    assert 4000 < number < 100_000
    return 0.3164 / number**0.25 * length / BORE * head_of(flow)


STRAIGHT_ON = 1.55 * 0.5 - 0.5**2
"""K straight on through a joining tee whose branch brings half: Crane TP-410 (2009), equation 2-35."""

LEAST_FALL_M = friction(PEAK, 1.2) + (1 + STRAIGHT_ON) * head_of(2 * PEAK) - head_of(PEAK)
"""What water needs from the head to the tee: friction, the tee, and to be twice as fast behind it."""


@cache
def shelf() -> Catalog:
    """A short price list."""
    return cut_down(load_catalog(METRIC), SHELF)


@cache
def designed() -> Drawing:
    """The cheapest design with 30 mm from head to tee: a collector of 40 mm."""
    drawing = autoplan.design(site_of(0.030), shelf(), top=1).designs[0].drawing
    assert shelf().pipes[drawing.runs["head"].pipe].bore_m == pytest.approx(BORE)
    return drawing


def surveyed(site: Site | None = None, drawing: Drawing | None = None) -> Survey:
    """A drawing measured, by default as designed on its own site."""
    return Survey(site or site_of(0.030), shelf(), drawing or designed())


def found(rule: type, survey: Survey, place: object) -> Finding:
    """What a rule finds at one place."""
    asked = rule(read_rules(survey.site).settings[rule.id])
    (finding,) = [one for one in asked.check(survey) if one.place == place]
    return finding


def test_fall_by_hand() -> None:
    """Head to tee and tee to sump: what is left of the fall, each counted from crown to crown or to water."""
    survey = surveyed()
    head = found(DrainFall, survey, OnPath(("head",)))
    assert head.value == pytest.approx(1000 * (0.030 - LEAST_FALL_M), rel=0.01)
    falls = 0.60 + BORE / 2 + head_of(2 * PEAK) - 0.40
    end = found(DrainFall, survey, OnPath(("end",)))
    assert end.value == pytest.approx(1000 * (falls - friction(2 * PEAK, 1.1) - head_of(2 * PEAK)), rel=0.01)


@pytest.mark.parametrize(("more_mm", "ok"), [(0.1, True), (-0.1, False)])
def test_limit_of_fall(more_mm: float, ok: bool) -> None:
    """A tenth of a millimetre more than worked out by hand is enough, one less is not."""
    site = site_of(LEAST_FALL_M + more_mm / 1000)
    assert found(DrainFall, surveyed(site), OnPath(("head",))).ok is ok


def test_a_bed_falls_to_the_air() -> None:
    """What a bed lets go hangs on the height of the head and not on the sump; without heights on the sump."""
    site, drawing = site_of(0.030), designed()
    whole = {name: replace(joint, height_m=None) for name, joint in site.junctions.items()}
    raised = replace(drawing.levels["sump"], design_m=0.55)
    fuller = replace(drawing, levels={**drawing.levels, "sump": raised})
    for seen, hangs in ((site, False), (replace(site, junctions=whole), True)):
        usual, full = (surveyed(seen, made).siphon_flow("drain 2", 1.0) for made in (drawing, fuller))
        assert (usual - full > 1e-6) is hangs
    assert surveyed().siphon_flow("drain 2", 0.63 + BORE / 2) == 0.0
    assert surveyed(site_of(0.050)).siphon_flow("drain 2", 1.0) < surveyed().siphon_flow("drain 2", 1.0)


def test_steady_network() -> None:
    """The steady network's beds stand at their lips, whatever the sump does under the collector."""
    survey = surveyed()
    low, usual = (steady(survey, levels={"sump": water}) for water in (0.2, 0.40))
    for bed in ("bed 1", "bed 2"):
        assert low.levels[bed] == pytest.approx(usual.levels[bed], abs=0.02)
        assert usual.levels[bed] >= survey.site.vessels[bed].floor_m


def test_through_the_night() -> None:
    """No water below changes what a bed lets go to the collector; at its crown it lets go nothing."""
    works = Waterworks(surveyed(), {})
    drain = replace(works.paths["drain 2", "head", "end"], inlet=None, control_m=0.0)
    crown = 0.63 + BORE / 2
    assert drain.rate(1.10, 0.2)[0] == drain.rate(1.10, 0.5)[0] > 0.0
    assert drain.rate(crown + 1e-3, 0.2)[0] > 0.0
    assert drain.rate(crown - 1e-3, 0.2)[0] == 0.0
    assert drain.rate(1.10, 0.2)[0] < replace(drain, stretches=()).rate(1.10, 0.2)[0]


def test_half_blocked() -> None:
    """A collector half blocked below the tee halves both beds' drains, above it only the far one's."""
    works = Waterworks(surveyed(), {})
    for blocked, halved in (("end", {"drain 1", "drain 2"}), ("head", {"drain 2"})):
        channels = works.drains({blocked: 0.5})
        shares = {channel.name.split(" + ")[0]: channel.passage.open_share for channel in channels}  # type: ignore[union-attr]
        assert {name for name, share in shares.items() if share == 0.5} == halved
    scenarios = Scenarios(works, Supplies(works, {}))
    tried = {(trial.what, trial.place) for trial in scenarios.all()}
    assert {("half blocked", "head"), ("half blocked", "end"), ("fully blocked", "end")} <= tried


@pytest.mark.parametrize(("lower_mm", "ok"), [(20.0, True), (21.0, False)])
def test_vent_over_the_rims(lower_mm: float, ok: bool) -> None:
    """A vent cut so that it ends at the beds' rims holds the rule, one a millimetre shorter does not."""
    drawing = designed()
    line, (upright,) = drawing.runs["head"], surveyed().assembled("head").sides
    (number,) = [n for n, slot in enumerate(line.slots_m) if sum(slot) == upright.item.length_m]
    slots = list(line.slots_m)
    slots[number] = (slots[number][0] - lower_mm / 1000,)
    cut = replace(drawing, runs={**drawing.runs, "head": replace(line, slots_m=tuple(slots))})
    finding = found(Collector, surveyed(drawing=cut), OnRun("head"))
    assert finding.ok is ok
    assert finding.value == pytest.approx(1240 - lower_mm, abs=0.2)


def test_no_vent() -> None:
    """Without its vent the head of the collector is not open to the air, and the rule is broken."""
    drawing = designed()
    bare = {**drawing.runs, "head": without(drawing.runs["head"], Vent)}
    survey = surveyed(drawing=replace(drawing, runs=bare))
    assert not found(Collector, survey, OnRun("head")).ok
    assert survey.falls.in_air == {"low"}
    assert surveyed().falls.in_air == {"top", "low"}


def test_tee_turned() -> None:
    """A bed's drain that goes straight on, with the collector on the branch, is refused."""
    drawing = designed()
    ports = drawing.junctions["low"].ports
    turned = replace(drawing.junctions["low"], ports=(ports[0], ports[2], ports[1]))
    bad = replace(drawing, junctions={**drawing.junctions, "low": turned})
    assert found(Collector, surveyed(), InVessel("low")).ok
    assert not found(Collector, surveyed(drawing=bad), InVessel("low")).ok


TWO_LINES = Path(__file__).parents[3] / "problems" / "two-lines.toml"


def test_siphons_that_share_a_height_nobody_knows() -> None:
    """Where siphons meet a junction without a height is warned of; with one it is not."""
    site = autoplan.load_problem(TWO_LINES).outline
    kind = SharedDrain(read_rules(site).settings[SharedDrain.id])
    unknown, known = (replace(site.junctions["drain wye"], height_m=height) for height in (None, 0.3))
    for joint, warned in ((unknown, True), (known, False)):
        seen = replace(site, junctions={**site.junctions, "drain wye": joint})
        (finding,) = kind.check(Survey(seen, shelf(), designed()))
        assert finding.ok is not warned
        assert not finding.hard
    assert not SharedDrain.concerns(site_of())


def test_its_outlet_is_free() -> None:
    """A siphon that falls to the air at a junction is asked nothing of the end below; another is."""
    site, catalog = autoplan.load_problem(TWO_LINES).outline, load_catalog(METRIC)
    site = replace(site, unavailable=frozenset(gone("shortest")))
    rule = FreeOutlet(read_rules(site).settings[FreeOutlet.id])
    unknown = replace(site.junctions["drain wye"], height_m=None)
    free, whole = site, replace(site, junctions={**site.junctions, "drain wye": unknown})
    drawing = autoplan.design(free, catalog, top=1).designs[0].drawing
    (last,) = (run.name for run in site.runs.values() if run.start == "drain wye")
    assert [one.place for one in rule.check(Survey(free, catalog, drawing))] == []
    assert [one.place for one in rule.check(Survey(whole, catalog, drawing))] == [OnRun(last)]
