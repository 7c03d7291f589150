"""How runs go: legs and heights worked out on paper, in words and as JSON."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from itertools import pairwise

import pytest

import autoplan
from autoplan.fittings.rim import OverRim
from autoplan.fittings.wall import ThroughWall
from autoplan.line.route import Leg, Toward
from autoplan.outcome import Outcome
from autoplan.problem.site import OnPlan, Spot
from autoplan.report.contract import json_text
from autoplan.report.render.plain import plain_text
from autoplan.report.sections.build import runs
from autoplan.report.sections.ways import on_plan, way_of, way_words
from autoplan.report.units import SI, US, Units, whole_marks

BESIDE, ALONG, ACROSS = 0.08, 0.92, 0.5


def drawn(outcome: Outcome, *legs: Leg, plan: OnPlan | None = None) -> Outcome:
    """The outcome with legs in its tank's drain, from a hole at 1234.5 mm to one at 50 mm."""
    first = outcome.designs[0]
    drain = replace(first.drawing.runs["tank drain"], legs=legs)
    run = replace(
        outcome.site.runs["tank drain"], plan=plan or OnPlan((BESIDE + ALONG, ACROSS), (90,), height_m=None)
    )
    lines = {**first.drawing.runs, "tank drain": drain}
    site = replace(outcome.site, runs={**outcome.site.runs, "tank drain": run})
    return replace(outcome, site=site, designs=(replace(first, drawing=replace(first.drawing, runs=lines)),))


DROP = (
    Leg(BESIDE, Toward.ALONG),
    Leg(1.1845, Toward.DOWN, -1.1845),
    Leg(ALONG, Toward.ALONG),
    Leg(ACROSS, Toward.ACROSS),
)


def words(outcome: Outcome, units: Units = SI) -> str:
    """How the tank's drain goes, in whole marks."""
    return way_words(outcome.site, outcome.designs[0].drawing.runs["tank drain"], whole_marks(units))


def test_a_drop_leg(outcome: Outcome) -> None:
    """Out at 1234.4 mm, 80 mm away from the wall, down to the 50 mm of its end, and level there."""
    changed = drawn(outcome, DROP[0], Leg(1.1844, Toward.DOWN, -1.1844), *DROP[2:])
    line = changed.designs[0].drawing.runs["tank drain"]
    assert isinstance(line.start, ThroughWall)
    line = line.with_ends(replace(line.start, centre_m=1.2344), line.finish)
    assert way_words(changed.site, line, whole_marks(SI)) == (
        "out of the hole at 1234 mm, along 80 mm, down 1184 mm, along 920 mm, across 500 mm, into the hole "
        "at 50 mm; level legs laid level (0 mm a metre), none of them rising"
    )


def test_inches(outcome: Outcome) -> None:
    """920 mm are 36-1/4 in, 80 mm 3-1/8 in, 500 mm 19-11/16 in."""
    said = words(drawn(outcome, *DROP), US)
    assert "along 3-1/8 in, down 46-5/8 in, along 36-1/4 in, across 19-11/16 in" in said
    assert " mm" not in said


@pytest.mark.parametrize(
    ("fall_m", "slope"), [(0.015, "15 mm a metre"), (0.0094, "9.4 mm a metre"), (0.035, "35 mm a metre")]
)
def test_a_slope_is_told(outcome: Outcome, fall_m: float, slope: str) -> None:
    """A metre that falls by 15 mm is told with its fall and its slope."""
    leg = Leg(math.hypot(1.0, fall_m), Toward.ALONG, -fall_m)
    said = words(drawn(outcome, leg, plan=OnPlan((1.0,))))
    assert f" falling {fall_m * 1000:.0f} mm, into the hole" in said
    assert said.endswith(f"; slope {slope}")


def test_two_45s_go_aslant(outcome: Outcome) -> None:
    """Between two 45s pipe goes as far along as down: 141 mm of pipe for 100 mm."""
    aslant = Leg(math.sqrt(2) * 0.1, Toward.DOWN, -0.1)
    said = words(drawn(outcome, Leg(0.08, Toward.ALONG), aslant, Leg(0.4, Toward.ALONG)))
    assert "along 80 mm, down 100 mm, aslant by 100 mm, along 400 mm" in said


def test_measured_legs_say_no_way(outcome: Outcome) -> None:
    """Of legs that were measured nobody knows which way they go, so nothing is said of it."""
    assert words(outcome) == ""
    assert "How each run goes" not in plain_text(runs(outcome, outcome.designs[0], SI))
    assert "How each run goes" in plain_text(
        runs(drawn(outcome, *DROP), drawn(outcome, *DROP).designs[0], SI)
    )


def test_a_mouth_is_a_leg_further_down(outcome: Outcome) -> None:
    """A run that passes a rim at 300 mm and ends 40 mm lower has a last leg of 40 mm down to its mouth.

    Its mouth hangs 100 mm inside the wall of the sump, which is 4 mm thick.
    """
    changed = drawn(outcome, *DROP)
    line = changed.designs[0].drawing.runs["tank drain"]
    (swept, *_) = line.turns
    over = line.with_ends(line.start, OverRim("sump", corner=swept, centre_m=0.3, mouth_m=0.26))
    way = way_of(changed.site, over)
    assert way.legs[:-1] == DROP
    assert (way.legs[-1].toward, way.legs[-1].length_m) == (Toward.DOWN, pytest.approx(0.04))
    assert (way.start_height_m, way.finish_height_m) == (1.2345, 0.26)
    assert (way.start_inside_m, way.finish_inside_m) == (0.0, pytest.approx(0.104))


def test_json_tells_legs_and_heights(outcome: Outcome) -> None:
    """Measured legs have lengths alone; those on the plan a way and a rise, between two heights."""
    told = json.loads(json_text(drawn(outcome, *DROP)))["designs"][0]["runs"]
    drain, main = told[0], told[1]
    assert drain["legs"] == [
        {"length_mm": 80.0, "toward": "level along", "rise_mm": 0.0},
        {"length_mm": 1184.5, "toward": "down", "rise_mm": -1184.5},
        {"length_mm": 920.0, "toward": "level along", "rise_mm": 0.0},
        {"length_mm": 500.0, "toward": "level across", "rise_mm": 0.0},
    ]
    assert (drain["start_height_mm"], drain["finish_height_mm"]) == (1234.5, 50.0)
    assert (drain["level_mm"], drain["corners"]) == ([1000.0, 500.0], [90])
    assert main["legs"] == [{"length_mm": 600.0}, {"length_mm": 1400.0}]
    assert main["level_mm"] is None
    # The pump's outlet is 150 mm over the floor at -400 mm, and 150 mm inside a wall of 4 mm.
    assert (main["start_height_mm"], main["start_inside_mm"]) == (-250.0, 154.0)


def placed(outcome: Outcome, x_m: float, y_m: float, plan: OnPlan) -> Outcome:
    """The round tank of 1.2 m2 in the middle, the square sump of 1 m2 elsewhere, and the drain's plan."""
    vessels = {
        "fish tank": replace(outcome.site.vessels["fish tank"], spot=Spot(0.0, 0.0)),
        "sump": replace(outcome.site.vessels["sump"], spot=Spot(x_m, y_m)),
    }
    run = replace(outcome.site.runs["tank drain"], plan=plan)
    site = replace(outcome.site, vessels=vessels, runs={**outcome.site.runs, "tank drain": run})
    return replace(outcome, site=site)


TANK_M = math.sqrt(1.2 / math.pi) + 0.006
SUMP_M = 0.5 + 0.004
"""From the middle to the outside of either's wall [m]."""


def test_straight_from_wall_to_wall(outcome: Outcome) -> None:
    """With the sump 2 m along, the drain leaves at the tank's wall and arrives at the sump's."""
    level = 2.0 - TANK_M - SUMP_M
    changed = placed(outcome, 2.0, 0.0, OnPlan((level,)))
    assert on_plan(changed.site, changed.site.runs["tank drain"]) == pytest.approx((TANK_M, 2.0 - SUMP_M))
    told = json.loads(json_text(changed))["designs"][0]
    assert told["runs"][0]["on_plan"] == [
        {"x_mm": pytest.approx(1000 * TANK_M), "y_mm": 0.0},
        {"x_mm": pytest.approx(2000 - 1000 * SUMP_M), "y_mm": 0.0},
    ]
    tank, sump = told["vessels"]
    assert (tank["x_mm"], sump["x_mm"], sump["outside_width_mm"]) == (0.0, 2000.0, pytest.approx(1008.0))


@pytest.mark.parametrize("more_m", [0.0009, 0.0011])
def test_given_distances_that_are_others(outcome: Outcome, more_m: float) -> None:
    """Where a distance was given that is not that between the walls, nobody knows where the run goes."""
    changed = placed(outcome, 2.0, 0.0, OnPlan((2.0 - TANK_M - SUMP_M + more_m,)))
    assert bool(on_plan(changed.site, changed.site.runs["tank drain"])) is (more_m < 0.001)


def test_round_a_corner(outcome: Outcome) -> None:
    """With the sump 2 m along and 3 m across the drain has one corner, over or beside one of the middles."""
    level = 2.0 - TANK_M, 3.0 - SUMP_M
    changed = placed(outcome, 2.0, 3.0, OnPlan(level, (90,)))
    way = on_plan(changed.site, changed.site.runs["tank drain"])
    assert way == pytest.approx((TANK_M, 2.0, 2.0 + 1j * (3.0 - SUMP_M)))


def test_nothing_without_places(outcome: Outcome) -> None:
    """Without places, or to a junction, nothing is known."""
    changed = drawn(outcome, *DROP)
    assert all(on_plan(changed.site, run) == () for run in changed.site.runs.values())


@pytest.mark.parametrize("problem", ["spare-beds", "timed-beds", "series"])
def test_runs_by_tees_are_on_the_plan(problem: str) -> None:
    """Where vessels have places every run has its way: as long as it is planned, from tee to tee."""
    site = autoplan.load_problem(f"problems/{problem}.toml").outline
    ways = {name: on_plan(site, run) for name, run in site.runs.items()}
    for name, run in site.runs.items():
        assert run.plan is not None
        assert [abs(b - a) for a, b in pairwise(ways[name])] == pytest.approx(run.plan.level_m, abs=1e-3)
        for end, spot in ((run.start, ways[name][0]), (run.finish, ways[name][-1])):
            tee = site.junctions.get(end)
            if tee is not None:
                assert tee.spot is not None
                assert spot == pytest.approx(complex(tee.spot.x_m, tee.spot.y_m), abs=1e-3)


def test_a_tee_without_a_place_leaves_its_runs_out() -> None:
    """The demo is known by distances alone; nobody knows where its tees are."""
    site = autoplan.load_problem("problems/four-beds.toml").outline
    assert site.junctions
    assert not any(on_plan(site, run) for run in site.runs.values())
