"""Pipe that bends by itself: room for its arcs along its legs, and over a rim as far down as its radius."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from autoplan.catalog.parts import TurnStyle
from autoplan.fittings.corner import Corner
from autoplan.fittings.ends import LineEnd
from autoplan.fittings.valve import ValveSet
from autoplan.optimiser.model.draft import Draft
from autoplan.rules.asked import DrawnSo
from autoplan.rules.book import read_rules
from tests.lines import line, the
from tests.rules.limits import bent_over

FEED = "bed feed 1"


def arcs(plan: Any, angles: tuple[int, ...], radius_m: float) -> Any:
    """The bed's feed without valve, of pipe that bends so, with these turns and no rim crossed."""
    start, finish = plan.drawing.runs[FEED].ends
    bends = (Corner(angle, TurnStyle.BEND, ()) for angle in angles)
    bare = line(FEED, plan.drawing.runs[FEED].pipe, start, LineEnd(finish.at), *bends)
    return plan.line(bare).pipe_of(FEED, bend_radius_m=radius_m)


@pytest.mark.parametrize(
    ("angles", "radii"),
    [((90,), 2.0), ((90, 90), 4.0), ((45, 90), 2 + 2 * (math.sqrt(2) - 1)), ((45,), 0.8284)],
)
def test_what_arcs_take(plan, angles: tuple[int, ...], radii: float) -> None:
    """A quarter circle of 100 mm begins 100 mm before its corner; tan 22.5 degrees = sqrt(2) - 1."""
    found = arcs(plan, angles, 0.1).findings("bend-room")[FEED]
    assert found.limit == pytest.approx(100 * radii, abs=0.01)
    assert found.value == pytest.approx(1000 * plan.site.runs[FEED].length_m, abs=1e-6)


@pytest.mark.parametrize(("share", "ok"), [(0.9999, True), (1.0001, False)])
def test_both_sides_of_the_room(plan, share: float, ok: bool) -> None:
    """Two quarter circles of a quarter of the run's length fill it."""
    bent = arcs(plan, (90, 90), plan.site.runs[FEED].length_m / 4 * share)
    assert bent.findings("bend-room")[FEED].ok is ok
    assert _admitted(bent) is ok


@pytest.mark.parametrize(("share", "ok"), [(1.0001, True), (0.9999, False)])
def test_both_sides_of_the_drop(plan, share: float, ok: bool) -> None:
    """Over a rim the pipe must come down by its radius before it hangs straight."""
    over = bent_over(plan, FEED)
    radius = over.catalog.pipes[over.drawing.runs[FEED].pipe].bend_radius_m
    assert radius > 0
    end = over.drawing.runs[FEED].finish
    hung = over.end(FEED, "finish", centre_m=end.mouth_m + share * radius)
    assert hung.findings("bend-room")[f"{FEED}: over the rim"].ok is ok
    assert _admitted(hung) is ok


def test_a_valve_takes_of_the_room(plan) -> None:
    """With its valve and adaptors the run has less for its bends by what they and their stub take."""
    fitted = the(plan.drawing.runs[FEED], ValveSet)
    valve, bare = plan.catalog.valves[fitted.valve], arcs(plan, (90,), 0.1)
    whole, left = (found.findings("bend-room")[FEED].value for found in (bare, bare.put(FEED, fitted)))
    assert whole - left > 1000 * (valve.body_m or valve.bore_m)


def test_rigid_pipe_has_nothing_to_say(plan) -> None:
    """Fittings turn where they are; of a connection to come later nothing is bent yet."""
    assert "main" not in plan.findings("bend-room")
    assert FEED not in plan.run(FEED, later=True).findings("bend-room")


def _admitted(plan: Any) -> bool:
    drawn = plan.drawing.runs[FEED]
    (rule,) = [rule for rule in read_rules(plan.site).rules if rule.id == "bend-room"]
    return bool(rule.admits(DrawnSo(plan.site, plan.catalog, drawn)))


@pytest.mark.parametrize(("leg_m", "bends"), [(0.30, True), (0.13, False)])
def test_a_short_feed_is_not_bent(plan, leg_m: float, bends: bool) -> None:
    """Poly line that bends at 100 mm takes 400 mm for two right angles, and a valve more; elbows go."""
    feed = replace(plan.site.runs[FEED], legs_m=(leg_m,) * 3, turns=(90, 90), plan=None)
    site = replace(plan.site, runs={**plan.site.runs, FEED: feed})
    ways = Draft(site, plan.catalog, read_rules(site)).candidates(feed.run_class)
    drawn = [candidate.drawn[FEED] for _, candidate in ways]
    assert any(turn.style is TurnStyle.BEND for one in drawn for turn in one.turns[:-1]) is bends
    assert any(plan.catalog.pipes[one.pipe].bend_radius_m and one.turns[0].pieces for one in drawn)
