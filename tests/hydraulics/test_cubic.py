"""Cubics between two moments, against polynomials that are known throughout."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.polynomial import Polynomial

from autoplan.hydraulics.cubic import met, turn


def test_turns_of_random_cubics() -> None:
    """Time and height of the turn are those of numpy's polynomial, for any slopes of unlike signs."""
    rng = np.random.default_rng(1)
    tried = 0
    while tried < 300:
        level = Polynomial([0.0, *rng.normal(size=3)])
        slope = level.deriv()
        if slope(0.0) * slope(1.0) >= 0.0:
            continue
        tried += 1
        (when,) = [root.real for root in slope.roots() if abs(root.imag) < 1e-9 and 0.0 <= root.real <= 1.0]
        part, rise = turn(float(slope(0.0)), float(slope(1.0)), float(level(1.0)))
        assert part == pytest.approx(when, abs=1e-7)
        assert rise == pytest.approx(level(when), abs=1e-12)


def test_a_parabola_turns_where_its_slope_ends() -> None:
    """Rising at 3 and falling at 1, a parabola turns after three quarters, an eighth of nine higher."""
    assert turn(3.0, -1.0, 1.0) == pytest.approx((0.75, 9 / 8))
    assert turn(-3.0, 1.0, -1.0) == pytest.approx((0.75, -9 / 8))


def test_met_is_where_the_cubic_rises_past_nothing() -> None:
    """A cubic of known root, a straight line, and one that comes level just before the end."""
    level = Polynomial([-0.3, 0.5, 0.4, 0.1])
    slope = level.deriv()
    (when,) = [root.real for root in level.roots() if abs(root.imag) < 1e-9 and 0.0 <= root.real <= 1.0]
    given = [float(value) for value in (level(0.0), level(1.0), slope(0.0), slope(1.0))]
    assert met(*given) == pytest.approx(when, abs=2e-6)
    assert met(-1.0, 3.0, 4.0, 4.0) == pytest.approx(0.25, abs=2e-6)
    assert met(-1.0, 1e-9, 1.0, 0.0) == pytest.approx(1.0, abs=1e-3)
