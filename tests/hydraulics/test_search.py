"""The bracketed search."""

from __future__ import annotations

from math import sqrt

import pytest

from autoplan.hydraulics.search import crossing


def test_crossing_brackets_a_root() -> None:
    """Both ends lie on their side of the square root of two and next to each other."""
    low, high = crossing(lambda x: x * x <= 2.0, 0.0, 2.0)
    assert low * low <= 2.0 < high * high
    assert (low, high) == pytest.approx((sqrt(2.0), sqrt(2.0)), rel=1e-12)


def test_crossing_closes_on_a_step() -> None:
    """A step is bracketed as tightly as a smooth crossing."""
    low, high = crossing(lambda x: x < 0.3, 0.0, 1.0)
    assert low < 0.3 <= high
    assert high - low < 1e-12
