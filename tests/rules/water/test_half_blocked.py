"""Half-blocked drains: the level at twice the flow by hand, an overflow that takes it, designs by night."""

from __future__ import annotations

import math
import tempfile
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest

import autoplan
from autoplan.optimiser.search import merge
from autoplan.outcome import Design, Outcome, Status
from autoplan.problem.brief import Survives
from autoplan.rules.water.half_blocked import fed_while_shut
from tests.rules import by_hand
from tests.rules.conftest import Plan
from tests.rules.limits import at_least, crossed
from tests.short_list import from_shortest_list, gone
from tests.stored import stored

METRIC = autoplan.load_catalog("metric")
LITRES_H = 3.6e6

NARROW = """
name = "A long way to a settler that stands nearly as high"
unavailable = {large}
[tank]
volume = "1000 L"
depth = "900 mm"
floor = "200 mm"
water_min = "760 mm"
water_max = "760 mm"
{overflow}
[settler]
volume = "220 L"
depth = "880 mm"
floor = "200 mm"
water_min = "610 mm"
water_max = "610 mm"
[sump]
volume = "600 L"
depth = "700 mm"
floor = "-600 mm"
[distances]
tank_to_settler = "17 m"
[wishes]
turnover = "1.8/hour"
flushing_points = false
"""
"""With no pipe wider than 50 mm the fall of 150 mm carries 1800 L/h, but not 3600 L/h below the rim."""


def dry_mm(plan: Any, vessel: str, times: float = 2.0) -> float:
    """Wall over the water at twice the flow, the vessel below as it runs: half a drain lets half by [mm]."""
    (run,) = (run for run in plan.site.runs.values() if run.start == vessel and not run.overflow)
    flow = times * plan.site.flows[run.name].design_m3_s
    if plan.site.vessels[vessel].bed is not None:
        level = by_hand.stands(plan, vessel, times)
    else:
        level = by_hand.passes(plan, run.name, flow, plan.drawing.levels[run.finish].design_m)
    return float((plan.site.vessels[vessel].rim_m - level) * 1000)


@pytest.mark.parametrize("vessel", ["tank", "bed 1"])
def test_the_level_at_twice_the_flow(plan: Plan, vessel: str) -> None:
    """10 mm of wall are enough with the drain half blocked; a hundredth of a millimetre less is not."""
    (run,) = (run.name for run in plan.site.runs.values() if run.start == vessel and not run.overflow)
    assert plan.findings("half-blocked")[vessel].value == pytest.approx(dry_mm(plan, vessel), abs=1e-6)
    crossed(
        plan,
        at_least(
            "half-blocked",
            vessel,
            10.0,
            lambda p: dry_mm(p, vessel),
            lambda p, mm: p.raised(run, "start", mm),
        ),
    )


def test_only_where_it_is_wished(plan: Plan) -> None:
    """It is unless the builder says otherwise, and speaks of no vessel that a pump empties."""
    assert set(plan.findings("half-blocked")) == {"tank", "bed 1"}
    assert not plan.wishes(survives=Survives.NOTHING).findings("half-blocked")


def test_an_overflow_takes_the_rest() -> None:
    """A drain of 500 m would push the tank over its rim; its overflow carries all 1500 L/h below it."""
    outcome = stored("two-drains", Path("problems/two-drains.toml").read_text(encoding="utf-8"))
    bench = Plan(outcome.site, outcome.catalog, outcome.designs[0].drawing)
    long = bench.run("solids drain", length_m=500.0)
    found = long.findings("half-blocked")["fish tank"]
    sump = long.drawing.levels["sump"].design_m
    running = by_hand.passes(long, "overflow", 1500 / LITRES_H, sump)
    assert found.value == pytest.approx((long.site.vessels["fish tank"].rim_m - running) * 1000, abs=1e-6)
    assert found.ok
    dry = replace(long.site.runs["overflow"], waste=True, overflow=False)
    without = replace(long, site=replace(long.site, runs={**long.site.runs, "overflow": dry}))
    assert not without.findings("half-blocked")["fish tank"].ok


@pytest.mark.parametrize(("problem", "fed"), [("timed-beds", {"tank"}), ("four-beds", set())])
def test_what_timed_valves_leave_to_others(problem: str, fed: set[str]) -> None:
    """While the clock shuts the beds' valves the tank beside them gets more, and without a clock nothing."""
    assert fed_while_shut(autoplan.load_problem(f"problems/{problem}.toml").outline) == fed


def designed(text: str, folder: Path) -> Outcome:
    """The cheapest design of a problem from the short price list."""
    path = folder / "problem.toml"
    path.write_text(from_shortest_list(text), encoding="utf-8")
    return autoplan.design(autoplan.load_problem(path), METRIC, top=1)


def spilled_l(design: Design) -> float:
    """The most that any half blocked drain lets run over in a night [L]."""
    return max(fault.spilled_l for fault in design.verdict.faults if "half blocked" in fault.name)


def test_a_shipped_problem_that_would_run_over(tmp_path: Path) -> None:
    """The tank beside the beds on a clock spills through a night without the wish, and not a drop with it."""
    text = Path("problems/timed-beds.toml").read_text(encoding="utf-8")
    on, off = (designed(text + extra, tmp_path) for extra in ("", 'survives = "nothing"\n'))
    assert on.status is off.status is Status.PROVEN
    assert spilled_l(off.designs[0]) > 0
    assert spilled_l(on.designs[0]) == 0
    assert on.designs[0].verdict.cost.purchase > off.designs[0].verdict.cost.purchase


def narrow(overflow: str = "") -> str:
    """That problem, the tank's overflow said so; of pipe over 32 mm only what is wide inside."""
    large = {pipe.id for pipe in METRIC.pipes.values() if pipe.outside_m > 0.055}
    soft = {part for part in gone("shortest") if not part.startswith("pn10-50-")}
    return NARROW.format(large=sorted(large | soft), overflow=overflow)


def test_an_overflow_where_there_is_no_doing_without(tmp_path: Path) -> None:
    """In narrow pipe the wish has no answer but by an overflow, which is found; forbidden there is none."""
    path = tmp_path / "problem.toml"
    path.write_text(narrow(), encoding="utf-8")
    (design,) = autoplan.design(autoplan.load_problem(path), METRIC, top=1).designs
    assert "tank overflow" in design.drawing.runs
    assert design.variant == "emergency overflow built"
    assert spilled_l(design) == 0
    path.write_text(narrow("overflow = false"), encoding="utf-8")
    none = autoplan.design(autoplan.load_problem(path), METRIC, top=1)
    assert none.status is Status.NONE
    assert none.clash is not None
    assert "half-blocked" in none.clash.rules


def cheapest(path: Path, text: str) -> Design:
    """The proven cheapest design, nothing left unweighed."""
    path.write_text(text, encoding="utf-8")
    outcome = autoplan.design(autoplan.load_problem(path), METRIC, top=1)
    assert outcome.status is Status.PROVEN
    assert not outcome.unweighed
    return outcome.designs[0]


@cache
def said_so(text: str) -> Design:
    """The same of a problem that says whether there is an overflow: nothing is bounded meanwhile."""
    with tempfile.TemporaryDirectory() as folder:
        return cheapest(Path(folder) / "problem.toml", text)


@pytest.mark.parametrize("slow_s", [0.0, math.inf])
def test_an_overflow_that_comes_cheaper(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, slow_s: float
) -> None:
    """An overflow is built unasked where it costs less than a wider drain, and not where it costs more.

    Whether what it costs at least is worked out meanwhile or not.
    """
    monkeypatch.setattr(merge, "SLOW_S", slow_s)
    soft = sorted(part for part in gone("shortest") if not part.startswith("pn10-50-"))
    path = tmp_path / "problem.toml"

    unasked = cheapest(path, NARROW.format(large=soft, overflow=""))
    without = said_so(NARROW.format(large=soft, overflow="overflow = false"))
    assert unasked.variant == "emergency overflow built"
    assert unasked.objective < 0.9 * without.objective
    assert spilled_l(unasked) == spilled_l(without) == 0
    small = Path("problems/one-tank-one-bed.toml").read_text(encoding="utf-8")
    offered, asked = (
        from_shortest_list(small.replace("[tank]", f"[tank]\noverflow = {said}"))
        for said in ('"any"', "true")
    )
    plain, forced = cheapest(path, offered), said_so(asked)
    assert not plain.variant
    assert plain.objective < forced.objective


@pytest.mark.parametrize(("cents", "built"), [(0.0, True), (10000.0, True), (1e9, False)])
def test_what_one_costs_at_least_decides_if_it_is_searched(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, cents: float, *, built: bool
) -> None:
    """Of a variant with an overflow only what it costs at least is asked, where that is too much."""
    monkeypatch.setattr(merge, "SLOW_S", 0.0)
    monkeypatch.setattr(merge._Merger, "_floor", lambda _merger, _variant: iter([cents]))
    soft = sorted(part for part in gone("shortest") if not part.startswith("pn10-50-"))
    path = tmp_path / "problem.toml"
    path.write_text(NARROW.format(large=soft, overflow='overflow = "any"'), encoding="utf-8")
    outcome = autoplan.design(autoplan.load_problem(path), METRIC, top=1)
    assert outcome.status is Status.PROVEN
    assert ("tank overflow" in outcome.designs[0].drawing.runs) is built
    assert not outcome.unweighed
