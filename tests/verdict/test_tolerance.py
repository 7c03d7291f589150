"""How far holes may be off: margins of the rules that the verdict tells, and legs worked out on paper."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from autoplan.fittings.wall import ThroughWall
from autoplan.line.route import Leg, Toward
from autoplan.line.row import Line
from autoplan.outcome import HoleRoom, Outcome
from autoplan.problem.flows import shared_outlets
from autoplan.rules.book import read_rules
from autoplan.rules.streams import Streams
from autoplan.rules.survey import Survey
from autoplan.rules.water.share_hole import ShareHole
from autoplan.verdict.judge import judge
from autoplan.verdict.tolerance import FARTHEST, shifted
from tests.stored import kept, stored

STORED = ("small", "sludge-to-the-garden", "two-drains")


@pytest.fixture(scope="module", params=STORED)
def outcome(request: pytest.FixtureRequest) -> Outcome:
    """A stored design in full."""
    return stored(request.param, str(kept(request.param)["problem"]))


def rooms(outcome: Outcome) -> dict[tuple[str, str], HoleRoom]:
    """How far each of its holes may be off."""
    return dict(outcome.designs[0].verdict.hole_rooms)


def test_every_hole_in_a_wall_is_asked(outcome: Outcome) -> None:
    """Each has its room in whole millimetres, up to 50, and a rule beyond where that is less."""
    drawing = outcome.designs[0].drawing
    asked = {
        (line.run, end.at)
        for line in drawing.runs.values()
        for end in line.holes()
        if isinstance(end, ThroughWall) and not line.later
    }
    assert set(rooms(outcome)) == asked
    for room in rooms(outcome).values():
        for most, rule in ((room.higher_m, room.above), (room.lower_m, room.below)):
            assert (most * 1000) == pytest.approx(round(most * 1000))
            assert 0 <= round(most * 1000) <= FARTHEST
            assert bool(rule) is (round(most * 1000) < FARTHEST)


def test_no_further_than_the_wall(outcome: Outcome) -> None:
    """The strip of wall over and under a hole shrinks by as much as it moves: never past what is left."""
    site, drawing = outcome.site, outcome.designs[0].drawing
    strip = read_rules(site).settings["hole-place"]["strip"]
    for line in drawing.runs.values():
        for end in line.holes():
            if (line.run, end.at) not in rooms(outcome) or end.centre_m is None:
                continue
            vessel, room = site.vessels[end.at], rooms(outcome)[line.run, end.at]
            half = outcome.catalog.penetrations[end.penetration].hole_m / 2
            # The check forgives a tenth of a millimetre.
            assert room.higher_m <= max(0.0, vessel.rim_m - end.centre_m - half - strip) + 0.0002
            assert room.lower_m <= max(0.0, end.centre_m - half - vessel.floor_m - strip) + 0.0002


def test_a_tank_with_one_drain_rises_with_its_hole() -> None:
    """A hole higher by a millimetre lifts the water by one: the range of the tank's water ends both ways."""
    outcome = stored("small", str(kept("small")["problem"]))
    tank = outcome.site.vessels["tank"]
    water = outcome.designs[0].drawing.levels["tank"].design_m
    room = rooms(outcome)["tank drain", "tank"]
    assert room.higher_m * 1000 <= math.floor((tank.water_max_m - water) * 1000 + 0.06)
    assert room.lower_m * 1000 <= math.floor((water - tank.water_min_m) * 1000 + 0.06)
    assert "range" in room.above or room.higher_m < tank.water_max_m - water - 0.001


def test_no_further_than_a_share_bears() -> None:
    """Holes that part a tank's water may be off until a stream is a tenth off, and no mark further."""
    outcome = stored("two-drains", str(kept("two-drains")["problem"]))
    survey = Survey(outcome.site, outcome.catalog, outcome.designs[0].drawing)
    streams = Streams(survey)
    (vessel, outlets), *others = shared_outlets(outcome.site).items()
    assert not others
    asked = {name: survey.design_flow(name) for name in outlets}
    for name in outlets:
        room = rooms(outcome)[name, vessel]
        assert room.above == room.below == ShareHole.sentence
        assert room.higher_m == room.lower_m
        off = [
            max(
                abs(
                    streams.by_height(outlets, sum(asked.values()), {name: way * by_m})[one] / asked[one]
                    - 1.0
                )
                for one in outlets
                for way in (1, -1)
            )
            for by_m in (room.higher_m, room.higher_m + 0.001)
        ]
        assert off[0] <= 0.1 < off[1]


def test_the_design_as_it_is_keeps_the_rules(outcome: Outcome) -> None:
    """Moving a hole by nothing changes no leg and no finding."""
    design = outcome.designs[0]
    for line in design.drawing.runs.values():
        for end in line.holes():
            if isinstance(end, ThroughWall) and end.centre_m is not None and not line.later:
                same = shifted(line, end, 0.0)
                assert same is not None
                assert [leg.length_m for leg in same.legs] == pytest.approx(
                    [leg.length_m for leg in line.legs]
                )
                runs = {**design.drawing.runs, line.run: same}
                drawing = replace(design.drawing, runs=runs)
                assert judge(outcome.site, outcome.catalog, read_rules(outcome.site), drawing).ok


def line_of(outcome: Outcome, *legs: Leg) -> tuple[Line, ThroughWall]:
    """A drain from wall to wall with those legs, and its start."""
    lines = outcome.designs[0].drawing.runs.values()
    line = next(line for line in lines if isinstance(line.start, ThroughWall))
    assert isinstance(line.start, ThroughWall)
    return replace(line, legs=legs), line.start


@pytest.mark.parametrize(("by_m", "drop_m"), [(0.01, 0.11), (-0.01, 0.09), (-0.0999, 0.0001)])
def test_a_drop_leg_makes_it_up(outcome: Outcome, by_m: float, drop_m: float) -> None:
    """Out 10 mm higher the upright is 10 mm longer, and nothing else changes."""
    legs = Leg(0.07, Toward.ALONG), Leg(0.1, Toward.DOWN, -0.1), Leg(0.9, Toward.ALONG)
    line, start = line_of(outcome, *legs)
    moved = shifted(line, start, by_m)
    assert moved is not None
    assert start.centre_m is not None
    assert isinstance(moved.start, ThroughWall)
    assert moved.start.centre_m == pytest.approx(start.centre_m + by_m)
    assert (moved.legs[0], moved.legs[2]) == (legs[0], legs[2])
    assert moved.legs[1].length_m == pytest.approx(drop_m)
    assert moved.legs[1].rise_m == pytest.approx(-drop_m)


def test_an_upright_cannot_turn_round(outcome: Outcome) -> None:
    """Out 100 mm lower there is no drop left, and more of it would have to go up."""
    line, start = line_of(outcome, Leg(0.07, Toward.ALONG), Leg(0.1, Toward.DOWN, -0.1))
    assert shifted(line, start, -0.1) is None


def test_a_tilt_makes_it_up(outcome: Outcome) -> None:
    """A run askew falls by 10 mm more over 300 and 100 mm: 7.5 and 2.5 mm."""
    legs = Leg(0.3, Toward.ALONG), Leg(0.1, Toward.ACROSS)
    line, start = line_of(outcome, *legs)
    moved = shifted(line, start, 0.01)
    assert moved is not None
    assert [leg.rise_m for leg in moved.legs] == pytest.approx([-0.0075, -0.0025])
    assert [leg.length_m for leg in moved.legs] == pytest.approx(
        [math.hypot(0.3, 0.0075), math.hypot(0.1, 0.0025)]
    )


def test_two_45s_go_further_along(outcome: Outcome) -> None:
    """Between two 45s 10 mm more down are 10 mm more along, which the level leg behind lacks."""
    legs = (
        Leg(0.07, Toward.ALONG),
        Leg(math.sqrt(2) * 0.1, Toward.DOWN, -0.1),
        Leg(0.5, Toward.ALONG),
    )
    line, start = line_of(outcome, *legs)
    moved = shifted(line, start, 0.01)
    assert moved is not None
    assert moved.legs[1].length_m == pytest.approx(math.sqrt(2) * 0.11)
    assert moved.legs[2].length_m == pytest.approx(0.49)
    assert shifted(line, start, 0.501) is None
