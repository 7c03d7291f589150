"""What builders know by heart, asked of whole designs: rules of thumb."""

from __future__ import annotations

from functools import cache

import pytest

import autoplan
from autoplan.catalog.mating import JointKind, is_poly
from autoplan.catalog.parts import Catalog, End, TurnStyle, Way
from autoplan.fittings.riser import Riser
from autoplan.outcome import Design, Outcome, Status
from autoplan.problem.site import Draw, RunKind
from autoplan.rules.survey import Survey
from tests.lines import the
from tests.short_list import gone
from tests.stored import read
from tests.words import at

LITRES_PER_HOUR = 3_600_000.0

TANK_AND_SUMP = """
name = "A tank over a buried sump"
[tank]
volume = "{volume} L"
floor = "150 mm"
[sump]
volume = "500 L"
floor = "-600 mm"
[wishes]
turnover = "{turnover}/hour"
"""


@cache
def metric() -> Catalog:
    """The metric price list, read once."""
    return autoplan.load_catalog("metric")


def tank_over_sump(volume: float, turnover: float, rules: str = "") -> str:
    """The problem of a tank over a sump."""
    return TANK_AND_SUMP.format(volume=volume, turnover=turnover) + rules


@cache
def cheapest(problem: str) -> tuple[Outcome, Design]:
    """The cheapest design of a problem, which must be proven; searched once for all tests.

    Neither soft pipe nor pipe wider than 75 mm is to be had: no rule of thumb here is about them.
    """
    left_out = [part for part in gone("shorter") if not part.startswith("pn10-")]
    site, _ = read(f"unavailable = {left_out}\n{problem}")
    outcome = autoplan.design(site, metric(), top=1)
    assert outcome.status is Status.PROVEN
    return outcome, outcome.designs[0]


def drain_bore_mm(design: Design) -> float:
    """Bore of the tank's drain [mm]."""
    return design.verdict.runs["tank drain"].bore_m * 1000


def test_a_thousand_litres_wants_fifteen_hundred_an_hour() -> None:
    """1,000 L at 1.5 turnovers: 1,500 L/h in, and out again by 50 mm pipe (common practice, no source)."""
    outcome, design = cheapest(tank_over_sump(1000, 1.5))
    assert outcome.site.flows["main"].design_m3_s * LITRES_PER_HOUR == pytest.approx(1500)
    assert outcome.site.flows["tank drain"].design_m3_s * LITRES_PER_HOUR == pytest.approx(1500)
    pump = design.verdict.pumps["sump"]
    assert pump.duty_flow_m3_s * LITRES_PER_HOUR == pytest.approx(1500)
    assert metric().pipes[design.drawing.runs["tank drain"].pipe].end.size == "50"
    assert drain_bore_mm(design) >= 45


def test_under_a_thousand_litres_an_hour_not_under_size_forty() -> None:
    """900 L/h still leaves by 40 mm pipe or wider, 34 mm bore at least (common practice, no source)."""
    outcome, design = cheapest(tank_over_sump(1000, 0.9))
    assert outcome.site.flows["tank drain"].design_m3_s * LITRES_PER_HOUR == pytest.approx(900)
    pipe = metric().pipes[design.drawing.runs["tank drain"].pipe]
    assert int(pipe.end.size) >= 40
    assert drain_bore_mm(design) >= 34


@pytest.mark.parametrize(("turnover", "least_mm"), [(1.0, 34.0), (1.001, 45.0)])
def test_the_large_bore_starts_above_a_thousand(turnover: float, least_mm: float) -> None:
    """1,000 L/h itself asks for the small bore, 1,001 L/h for the large (common practice, no source)."""
    _, design = cheapest(tank_over_sump(1000, turnover))
    (limit,) = [
        finding.limit
        for finding in design.verdict.findings
        if finding.rule == "drain-bore" and at(finding) == "tank drain"
    ]
    assert limit == pytest.approx(least_mm)
    assert drain_bore_mm(design) >= least_mm


@pytest.mark.parametrize(
    ("turnover", "setting", "least_mm"),
    [(1.5, 'large = "56 mm"', 56.0), (1.5, 'large = "34 mm"', 34.0), (0.9, 'small = "60 mm"', 60.0)],
)
def test_the_least_bores_are_the_builders_to_change(turnover: float, setting: str, least_mm: float) -> None:
    """34 and 45 mm are defaults, marked as assumed until written (common practice, no source)."""
    key = f"rules.drain-bore.{setting.split()[0]}"
    # Half-blocked drains ask for wider ones by themselves.
    alone = "[rules.half-blocked]\noff = true\n"
    plain, usual = cheapest(tank_over_sump(1000, turnover, alone))
    assert (key, "common practice, no source") in [(a.place, a.mark) for a in plain.site.assumptions]
    outcome, design = cheapest(tank_over_sump(1000, turnover, f"{alone}[rules.drain-bore]\n{setting}\n"))
    assert key not in [assumption.place for assumption in outcome.site.assumptions]
    assert drain_bore_mm(design) >= least_mm
    # A wider demand moves the drain up in size, a narrower one lets it come down.
    assert (drain_bore_mm(design) > drain_bore_mm(usual)) == (least_mm > drain_bore_mm(usual))
    assert drain_bore_mm(design) != drain_bore_mm(usual)


@pytest.mark.parametrize("turnover", [0.9, 1.5, 2.0])
def test_no_drain_turns_tight(turnover: float) -> None:
    """Drains turn by sweeps or paired 45s, though a tight 90 is on the list (common practice, no source)."""
    outcome, design = cheapest(tank_over_sump(1000, turnover))
    turns = [
        turn
        for name, run in outcome.site.runs.items()
        if run.kind is RunKind.GRAVITY
        for turn in design.drawing.runs[name].turns
        if turn.angle == 90
    ]
    assert turns
    assert {turn.style for turn in turns} <= {TurnStyle.SWEPT, TurnStyle.PAIRED}
    assert any(part.style is TurnStyle.TIGHT and part.angle == 90 for part in metric().turns.values())


def test_the_tank_drain_lifts_solids_and_is_vented() -> None:
    """The drain rises from the floor to an open tee at the wall (common practice, no source)."""
    outcome, design = cheapest(tank_over_sump(1000, 1.5))
    assert outcome.site.runs["tank drain"].draw is Draw.SOLIDS_LIFTING
    assert the(design.drawing.runs["tank drain"], Riser).tee in metric().tees


BED = """
name = "A tank, a bed and a sump"
[tank]
volume = "1200 L"
depth = "800 mm"
floor = "200 mm"
[beds]
count = 1
area = "1 m2"
floor = "550 mm"
[sump]
volume = "600 L"
depth = "600 mm"
floor = "-550 mm"
"""


def test_a_bulkhead_of_25_in_a_bed_floor() -> None:
    """A bed's floor gets a bulkhead of 25 mm and a standpipe of 20 mm (common practice, no source)."""
    _, design = cheapest(BED)
    floor = design.drawing.runs["bed drain 1"].floor
    assert floor is not None
    assert floor.way is Way.BULKHEAD
    assert floor.penetration == "bulkhead-25"
    assert floor.standpipe is not None
    assert metric().pipes[floor.standpipe].end == End("spigot", "metric", "20")
    # The hole of its row, and the saw for it, are part of the order.
    assert "saw-43" in [line.part for line in design.drawing.purchases]


def test_poly_past_an_open_valve_has_no_clamp() -> None:
    """Past the last valve, and in poly line, no joint is clamped (common practice, no source)."""
    outcome, design = cheapest(BED)
    survey = Survey(outcome.site, metric(), design.drawing)
    clamped = [joint for joint in survey.joints if joint.kind is JointKind.CLAMPED]
    for name, run in outcome.site.runs.items():
        line = survey.assembled(name)
        past = [j for j in survey.joints if j.run == name][(line.valve_at or 0) :]
        assert not run.valve or not set(map(str, past)) & set(map(str, clamped))
        assert not any(is_poly(j.left_end) for j in clamped)
    clamps = [p for p in design.drawing.purchases if p.part.startswith("clamp-")]
    assert bool(clamps) is bool(clamped)
