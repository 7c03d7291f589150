"""Levels noted while water runs, and traces thinned."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from autoplan.hydraulics.basins import Basin, Channel, Waters, walk
from autoplan.hydraulics.passage import Drain, HeadTable, Pumped
from autoplan.hydraulics.tracing import FINEST_M, Point, Tracer, thinned

TANK = Basin("tank", 2.0, 0.0, 1.0)
FILLING = Channel("in", "well", "tank", Pumped((0.0, 1.0), (0.001, 0.001), -1.0))
WELL = Basin("well", 1000.0, 0.0, 10.0)
EMPTYING = Channel("out", "tank", None, Drain(HeadTable((0.1, 1.0), (0.001, 0.01)), 0.0, None, -1.0))
START = Waters({"tank": 0.2, "well": 5000.0})


def test_a_steady_rise_is_a_straight_line() -> None:
    """1 L/s into 2 m2 rises 0.5 mm a second, at every moment that is noted."""
    tracer = Tracer()
    tracer((TANK, WELL), (FILLING,), START, 600.0)
    points = tracer.points["tank"]
    assert points[0] == (0.0, pytest.approx(0.1))
    assert points[-1][0] == pytest.approx(600.0)
    for seconds, level in points:
        assert level == pytest.approx(0.1 + 0.0005 * seconds, abs=1e-6)


def test_what_happens_is_as_without_noting() -> None:
    """A traced walk answers the same history as a plain one, and its last point is where it ends."""
    tracer = Tracer()
    seen = tracer((TANK, WELL), (FILLING, EMPTYING), START, 900.0)
    assert seen == walk((TANK, WELL), (FILLING, EMPTYING), START, 900.0)
    assert tracer.points["tank"][-1][1] == pytest.approx(TANK.level(seen.waters.volumes_m3["tank"]))
    assert max(level for _, level in tracer.points["tank"]) <= seen.highest_m["tank"] + 1e-4


def test_one_time_follows_the_other() -> None:
    """Traced again, time goes on; a jump between the two stands at one moment."""
    tracer = Tracer()
    tracer((TANK, WELL), (FILLING,), START, 100.0)
    tracer((TANK, WELL), (FILLING,), START, 100.0)
    times = [seconds for seconds, _ in tracer.points["tank"]]
    assert times == sorted(times)
    assert times[-1] == pytest.approx(200.0)
    (after,) = [at for at, (a, b) in enumerate(pairwise(tracer.points["tank"])) if b[1] < a[1] - 0.01]
    assert tracer.points["tank"][after][0] == pytest.approx(100.0)
    assert tracer.points["tank"][after + 1] == (pytest.approx(100.0), pytest.approx(0.1))


@given(st.lists(st.floats(-1.0, 1.0), min_size=2, max_size=60), st.integers(2, 20))
def test_few_points_are_left(levels: list[float], most: int) -> None:
    """No more are left than asked, among them the first and the last, in their order."""
    points: list[Point] = [(10.0 * at, level) for at, level in enumerate(levels)]
    kept = thinned(points, most)
    assert len(kept) <= most
    assert (kept[0], kept[-1]) == (points[0], points[-1])
    assert kept == [point for point in points if point in kept]


@given(st.lists(st.floats(-1.0, 1.0), min_size=2, max_size=60))
def test_what_is_left_out_lies_on_the_line(levels: list[float]) -> None:
    """Where there is no need to leave more out, nothing that is left out lies half a millimetre beside."""
    points: list[Point] = [(10.0 * at, level) for at, level in enumerate(levels)]
    kept = thinned(points, len(points))
    for (t0, y0), (t1, y1) in pairwise(kept):
        for t, y in points:
            if t0 < t < t1:
                assert abs(y - y0 - (t - t0) / (t1 - t0) * (y1 - y0)) <= FINEST_M
