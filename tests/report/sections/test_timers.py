"""Timed beds as a builder and a program read them."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import pytest

from autoplan.bed_facts import TimerFacts
from autoplan.fittings.floor import SideHole
from autoplan.outcome import Outcome
from autoplan.report.contract import json_text
from autoplan.report.lists import drilling_list
from autoplan.report.render.plain import plain_text
from autoplan.report.render.show import report
from autoplan.report.sections.drilling import holes, holes_of
from autoplan.report.sections.timers import timers
from autoplan.report.units import SI, US
from tests.report.drilled import GUARD, runs_with_a_hole

LITRE_H = 1 / 3.6e6
FACTS = TimerFacts(
    "fish tank", "main", "timed-25", 900.0, 1800.0, 640 * LITRE_H, 230 * LITRE_H, 570.0, 702.0, 2.5
)


@pytest.fixture
def clocked(outcome: Outcome) -> Outcome:
    """The handmade outcome with a drilled standpipe on the tank's drain: its lip 250 mm up."""
    first = outcome.designs[0]
    runs = runs_with_a_hole(first, 0.009)
    verdict = replace(first.verdict, timers={"fish tank": FACTS})
    ball = outcome.catalog.valves["ball-32"]
    timed = replace(ball, id="timed-25", description="clock valve 25 mm", style="timed")
    catalog = replace(
        outcome.catalog,
        valves={**outcome.catalog.valves, timed.id: timed},
        siphons={GUARD.id: GUARD},
    )
    design = replace(first, drawing=replace(first.drawing, runs=runs), verdict=verdict)
    return replace(outcome, catalog=catalog, designs=(design,))


def test_a_timed_bed_is_told_with_its_clock(clocked: Outcome) -> None:
    """900 s of 1800 are 15 min of 30, 570 s to fill 9.5 and 702 to empty 11.7; then how it is made."""
    text = " ".join(plain_text(timers(clocked, clocked.designs[0], SI)).split())
    assert "fish tank 15 30 640 230 9.5 11.7 2.5" in text
    assert "timed valve (clock valve 25 mm) with a hand-set stop for its opening, open 15 min" in text
    assert "open 15 min of every 30, fills in 9.5" in text
    assert "in 9.5, empties in 11.7;" in text
    assert "its lip 250.0 mm above the floor; drain hole 9 mm, its centre 40.0 mm above the floor" in text
    assert "guard round it (slotted guard 110 mm)." in text
    assert "All of them may be open at once" in text


def test_a_guard_that_the_list_lacks_is_told(clocked: Outcome) -> None:
    """A hole without a guard on the price list says so."""
    first = clocked.designs[0]
    drain = first.drawing.runs["tank drain"]
    assert drain.floor is not None
    bare = drain.with_ends(replace(drain.floor, drain_hole=SideHole(0.009, 0.040, None)), drain.finish)
    drawing = replace(first.drawing, runs={**first.drawing.runs, "tank drain": bare})
    text = " ".join(plain_text(timers(clocked, replace(first, drawing=drawing), SI)).split())
    assert "not on the price list and not counted: a media guard round it." in text


def test_nothing_is_said_without_timers(outcome: Outcome) -> None:
    """No heading over nothing."""
    assert not list(timers(outcome, outcome.designs[0], SI))


def test_the_hole_is_on_the_drilling_list(clocked: Outcome) -> None:
    """A row of its own in print and in the spreadsheet: in the standpipe, with a drill and no saw."""
    first = clocked.designs[0]
    (hole,) = [hole for hole in holes_of(clocked, first) if hole.place == "standpipe"]
    assert (hole.vessel, hole.run, hole.centre_m, hole.hole_m) == ("fish tank", "tank drain", 0.040, 0.009)
    assert (hole.saw, hole.saw_from, hole.stand) == (None, "a drill", None)
    text = " ".join(plain_text(holes(clocked, first, SI)).split())
    assert "tank drain standpipe 40.0 9 a drill" in text
    assert "drill one hole of 9 mm through one side of the standpipe of tank drain, its centre 40.0" in text
    rows = [row for row in drilling_list(clocked, first, SI) if row[2] == "standpipe"]
    assert [row[:7] for row in rows] == [
        ("fish tank", "tank drain", "standpipe", "40.0", "9.0", "", "a drill")
    ]


@pytest.mark.parametrize(("emptying", "minutes"), [(702.0, 11.7), (math.inf, None)])
def test_a_timer_in_json(clocked: Outcome, emptying: float, minutes: float | None) -> None:
    """Flows in L/h, times in minutes, lengths in mm; a bed that never runs empty has no time to do so in."""
    first = clocked.designs[0]
    changed = replace(
        first, verdict=replace(first.verdict, timers={"fish tank": replace(FACTS, emptying_s=emptying)})
    )
    design = json.loads(json_text(replace(clocked, designs=(changed,))))["designs"][0]
    (timer,) = design["timers"]
    assert (timer["bed"], timer["feed"], timer["valve"], timer["watts"]) == (
        "fish tank",
        "main",
        "timed-25",
        2.5,
    )
    assert (timer["open_min"], timer["cycle_min"], timer["filling_min"]) == (15.0, 30.0, 9.5)
    assert (timer["inflow_l_h"], timer["leak_l_h"]) == pytest.approx((640.0, 230.0))
    assert timer["emptying_min"] == (None if minutes is None else pytest.approx(minutes))
    start = next(run for run in design["runs"] if run["name"] == "tank drain")["ends"][0]
    assert start["drain_hole"] == {"hole_mm": 9.0, "centre_above_floor_mm": 40.0, "guard": "guard-110"}
    assert design["runs"][1]["ends"][0]["drain_hole"] is None


def test_a_drill_is_told_as_it_is_sold(clocked: Outcome) -> None:
    """In inches too the drill's own millimetres are told: 9 mm are 0.354 in."""
    text = " ".join(plain_text(holes(clocked, clocked.designs[0], US)).split())
    assert "drill one hole of 9 mm (0.35 in) through one side" in text


@pytest.mark.parametrize(
    ("style", "stop"), [("timed", " by the hand-set stop for its opening"), ("ball", "")]
)
def test_a_timed_valve_is_set_by_its_stop(outcome: Outcome, style: str, stop: str) -> None:
    """A clock opens a valve all the way, so only with a stop it lets through what it is set to."""
    valve = replace(outcome.catalog.valves["ball-32"], style=style)
    catalog = replace(outcome.catalog, valves={"ball-32": valve})
    text = " ".join(plain_text(report(replace(outcome, catalog=catalog))).split())
    assert f"set the valve{stop} so that the water in fish tank rises 20 mm in 48 s" in text
