"""Two drains with given shares and an emergency overflow: the shipped problem, inside and past its limits."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import autoplan
from autoplan.errors import InputError
from autoplan.fittings.riser import Riser
from autoplan.optimiser.search.solve import Ending
from autoplan.problem.toml.load import load_problem
from autoplan.problem.toml.write import expand_to_toml
from tests.rules import by_hand
from tests.rules.conftest import Plan
from tests.rules.limits import at_least, crossed
from tests.searched import searched
from tests.short_list import from_shorter_list
from tests.stored import stored

PROBLEM = "problems/two-drains.toml"
METRIC = autoplan.load_catalog("metric")
LITRES_H = 3.6e6


@pytest.fixture(scope="module")
def bench() -> Plan:
    """The cheapest design of the shipped problem."""
    outcome = stored("two-drains", Path(PROBLEM).read_text(encoding="utf-8"))
    return Plan(outcome.site, outcome.catalog, outcome.designs[0].drawing)


def test_shares_are_kept(bench: Plan) -> None:
    """Seven tenths leave from the floor, three from the surface, and the overflow takes nothing."""
    flows = bench.site.flows
    assert flows["solids drain"].design_m3_s * LITRES_H == pytest.approx(1050)
    assert flows["surface drain"].design_m3_s * LITRES_H == pytest.approx(450)
    assert flows["settler drain"].design_m3_s * LITRES_H == pytest.approx(1050)
    assert flows["overflow"].design_m3_s == 0
    assert flows["overflow"].peak_m3_s * LITRES_H == pytest.approx(1500)
    drawn = bench.drawing.runs
    assert drawn["solids drain"].one(Riser) is not None
    assert drawn["surface drain"].one(Riser) is None


def gap_mm(plan: Any) -> float:
    """From the tank's water at one and a half times the design flow up to the overflow's inlet [mm].

    Of the two drains one needs more over its inlet; one goes to the settler, the other to a bed far below.
    """
    flows = {name: 1.5 * flow.design_m3_s for name, flow in plan.site.flows.items()}
    sump, bed = (plan.drawing.levels[name].design_m for name in ("sump", "bed"))
    settler = by_hand.passes(plan, "settler drain", flows["settler drain"], sump)
    solids = by_hand.passes(plan, "solids drain", flows["solids drain"], settler)
    surface = by_hand.passes(plan, "surface drain", flows["surface drain"], bed + 0.1)
    return float((by_hand.invert(plan, "overflow") - max(solids, surface)) * 1000)


def dry_mm(plan: Any) -> float:
    """From the tank's water, all 1500 L/h in the overflow, up to its rim at 1400 mm [mm]."""
    sump = plan.drawing.levels["sump"].design_m
    return float(1400 - by_hand.passes(plan, "overflow", 1500 / LITRES_H, sump) * 1000)


def test_it_stands_dry_and_carries_all(bench: Plan) -> None:
    """Over both drains' levels at overload, and the whole 1500 L/h below the rim; both by hand."""
    found = bench.findings("emergency-overflow")
    assert found["overflow"].value == pytest.approx(dry_mm(bench), abs=1e-6)
    assert found["overflow: inlet"].value == pytest.approx(gap_mm(bench), abs=1e-6)
    assert found["overflow"].ok
    assert found["overflow: inlet"].ok


def risen(plan: Any, by_mm: float) -> Any:
    """The overflow's hole higher up the tank."""
    return plan.raised("overflow", "start", by_mm)


def test_inlet_too_low(bench: Plan) -> None:
    """5 mm over the overload level it is high enough; an eighth of a millimetre less is too low."""
    gap = at_least(
        "emergency-overflow", "overflow: inlet", 5.0, gap_mm, lambda p, mm: risen(p, -mm), past_mm=0.12
    )
    crossed(bench, gap)


def test_rim_too_near(bench: Plan) -> None:
    """10 mm of wall over its water are enough; with a hundredth of a millimetre less it runs over."""
    crossed(bench, at_least("emergency-overflow", "overflow", 10.0, dry_mm, risen))


def test_pipe_too_long(bench: Plan) -> None:
    """Where the pipe's loss and not its inlet decides, a sump that stands nearly as high breaks it."""
    high = bench.vessel("sump", depth_m=3.0)
    high = high.water("sump", 1365.0 - high.drawing.levels["sump"].design_m * 1000)
    over_inlet = by_hand.over_inlet(high, "overflow", 1500 / LITRES_H)
    assert by_hand.passes(high, "overflow", 1500 / LITRES_H, 1.365) > over_inlet + 0.010
    crossed(high, at_least("emergency-overflow", "overflow", 10.0, dry_mm, lambda p, mm: p.water("sump", mm)))


def found_with(extra: str, folder: Path, change: Callable[[str], str] = str) -> Ending:
    """How a search for the problem with something added ends, without what comes after."""
    path = folder / "problem.toml"
    text = change(Path(PROBLEM).read_text(encoding="utf-8"))
    path.write_text(from_shorter_list(text) + extra, encoding="utf-8")
    site = load_problem(path).outline
    return searched(site, METRIC).ranking.ending


@pytest.mark.parametrize(
    ("setting", "ending"),
    [
        ('freeboard = "60 mm"', Ending.PROVEN),
        ('freeboard = "100 mm"', Ending.NONE),
        ("off = true", Ending.PROVEN),
    ],
)
def test_the_model_knows_it(tmp_path: Path, setting: str, ending: Ending) -> None:
    """The tank's lowest water leaves 135 mm of wall: some 50 for its flow, the rest for freeboard."""
    assert found_with(f"[rules.emergency-overflow]\n{setting}\n", tmp_path) is ending


def test_short_form(tmp_path: Path) -> None:
    """`overflow = true` below [tank] makes the run, with a length of its own, and is written out again."""
    path = tmp_path / "short.toml"
    text = (
        '[tank]\nvolume = "1000 L"\noverflow = true\n[sump]\nvolume = "600 L"\n'
        '[distances]\ntank_overflow = "4 m"\n'
    )
    path.write_text(text, encoding="utf-8")
    site = load_problem(path).outline
    run = site.runs["tank overflow"]
    assert (run.start, run.finish, run.overflow) == ("tank", "sump", True)
    assert math.isclose(run.length_m, 4.0, abs_tol=0.003)
    path.write_text(expand_to_toml(site), encoding="utf-8")
    assert load_problem(path).outline.runs == site.runs
    path.write_text(text.replace("overflow = true", "overflow = false"), encoding="utf-8")
    with pytest.raises(InputError, match="tank_overflow"):
        load_problem(path)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("overflow = true", 'overflow = true\nshare = "5 %"', "no share"),
        ("overflow = true", 'overflow = true\ndraw = "standpipe"', "from the wall"),
        ('height = "200 mm"\nvalve = true', 'height = "200 mm"\noverflow = true', "gravity run"),
    ],
)
def test_wrong_overflows(tmp_path: Path, old: str, new: str, said: str) -> None:
    """An overflow has no share, takes water at the wall, and is no pump's run."""
    path = tmp_path / "problem.toml"
    path.write_text(Path(PROBLEM).read_text(encoding="utf-8").replace(old, new), encoding="utf-8")
    with pytest.raises(InputError, match=said):
        load_problem(path)
