"""What runs out of a drain when the power fails, by hand, and which drains hold water at all."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

from autoplan import load_problem
from autoplan.line.route import Leg, Toward
from autoplan.problem.flows import running_drains
from autoplan.problem.site import BedDrain
from autoplan.rules.water.run_back import pipe_volume, runs_out
from tests.rules.conftest import Plan

PROBLEMS = Path(__file__).parents[3] / "problems"


def laid(plan: Plan, begins_m: float, *legs: Leg) -> Plan:
    """The tank's drain from that height by these legs."""
    length = sum(leg.length_m for leg in legs)
    return plan.end("tank drain", "start", centre_m=begins_m).run("tank drain", legs=legs, length_m=length)


def out_m(plan: Plan) -> float:
    """What runs out of the tank's drain, as a length of its pipe [m]."""
    bore = plan.survey.pipe("tank drain").bore_m
    return runs_out(plan.survey, "tank drain") / (math.pi / 4 * bore**2)


def test_a_drain_that_ends_over_the_water_runs_out(plan: Plan) -> None:
    """Down 1 m and along 2 m over the sump's water: 3 m of pipe run empty."""
    water = plan.drawing.levels["sump"].design_m
    over = laid(plan, water + 1.2, Leg(1.0, Toward.DOWN, -1.0), Leg(2.0, Toward.ALONG))
    assert out_m(over) == pytest.approx(3.0)
    assert runs_out(over.survey, "tank drain") == pytest.approx(pipe_volume(over.survey, "tank drain"))


@pytest.mark.parametrize(("up_mm", "left_m"), [(-0.1, 2.0), (0.1, 0.0)])
def test_a_level_piece_stays_full_under_water(plan: Plan, up_mm: float, left_m: float) -> None:
    """Its 2 m stay while their crown is under the sump's water, and run out once it is over it."""
    half, water = plan.survey.pipe("tank drain").bore_m / 2, plan.drawing.levels["sump"].design_m
    level = water - half + up_mm / 1000
    low = laid(plan, level + 1.0, Leg(1.0, Toward.DOWN, -1.0), Leg(2.0, Toward.ALONG))
    assert out_m(low) == pytest.approx(3.0 - left_m, abs=2e-4)


def test_an_upright_runs_out_down_to_the_water(plan: Plan) -> None:
    """Of an upright of 1 m whose lower 400 mm are under water 600 mm run out, and half a bore."""
    half, water = plan.survey.pipe("tank drain").bore_m / 2, plan.drawing.levels["sump"].design_m
    deep = laid(plan, water + 0.6, Leg(1.0, Toward.DOWN, -1.0))
    assert out_m(deep) == pytest.approx(0.6 + half)


@pytest.mark.parametrize(("rises_m", "runs_m"), [(0.5, 1.0), (0.0, 5.5)])
def test_water_stays_in_a_dip(plan: Plan, rises_m: float, runs_m: float) -> None:
    """Down 1 m, along 2 m, up 0.5 m and along 2 m: what lies under the last piece's invert stays in it."""
    bore, water = plan.survey.pipe("tank drain").bore_m, plan.drawing.levels["sump"].design_m
    up = Leg(0.5, Toward.UP, rises_m)
    legs = Leg(1.0, Toward.DOWN, -1.0), Leg(2.0, Toward.ALONG), up, Leg(2.0, Toward.ALONG)
    dip = laid(plan, water + 2.0, *legs)
    # Of both uprights stays what is a bore under the middle of the last piece: 2 x (0.5 m - bore).
    kept = 2.0 + 2 * (0.5 - bore) if rises_m else 0.0
    assert out_m(dip) == pytest.approx(5.5 - kept)
    assert out_m(dip) >= runs_m


def test_measured_legs_run_out_whole(plan: Plan) -> None:
    """Where nobody knows how high its legs lie all of a drain counts."""
    measured = plan.run("tank drain", legs=(), length_m=3.0)
    assert out_m(measured) == pytest.approx(3.0)


@pytest.mark.parametrize(
    ("problem", "held"),
    [
        ("four-beds", {"tank drain", "settler drain", "biofilter drain"}),
        ("no-sump", set()),
        ("series", {"tank drain", "bed feed 1"}),
    ],
)
def test_drains_that_water_runs_in_all_the_time(problem: str, held: set[str]) -> None:
    """Those of tanks and filters; what beds under siphons let go is back in the sump as they are empty."""
    assert running_drains(load_problem(PROBLEMS / f"{problem}.toml").outline) == held


def test_a_bed_that_stands_full_holds_its_drain_full(plan: Plan) -> None:
    """A siphon's drain holds water only as it runs, that of a bed with a standpipe all the time."""
    bed = plan.site.vessels["bed 1"].bed
    assert bed is not None
    full = plan.vessel("bed 1", bed=replace(bed, drain=BedDrain.STANDPIPE))
    assert running_drains(plan.site) == {"tank drain"}
    assert running_drains(full.site) == {"tank drain", "bed drain 1"}
