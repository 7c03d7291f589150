"""The bracketed searches."""

from __future__ import annotations

from math import exp, log, sqrt

import pytest

from autoplan.hydraulics.search import crossing, root


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


@pytest.mark.parametrize(
    ("excess", "high", "place"),
    [
        (lambda x: x * x - 2.0, 2.0, sqrt(2.0)),
        (lambda x: x**1.8 - 2e-7, 1.0, 2e-7 ** (1 / 1.8)),
        (lambda x: x**9 - 1e-5, 1.0, 1e-5 ** (1 / 9)),
        (lambda x: exp(50.0 * x) - 2.0, 1.0, log(2.0) / 50.0),
        (lambda x: x - 0.3 if x < 0.3 else 1e9 * (x - 0.3), 1.0, 0.3),
        (lambda x: -1.0 if x < 0.3 else 1.0, 1.0, 0.3),
        (lambda x: min(x - 0.3, 0.0) if x < 0.5 else x, 1.0, 0.5),
    ],
    ids=["square", "pipe", "flat", "steep", "kink", "step", "level"],
)
def test_root_brackets_what_rises(excess, high: float, place: float) -> None:
    """Both ends lie on their side of the place and next to each other, whatever the shape."""
    asked = []

    def counted(x: float) -> float:
        asked.append(x)
        return excess(x)

    low, over = root(counted, 0.0, high)
    assert excess(low) <= 0.0 < excess(over)
    assert (low, over) == pytest.approx((place, place), rel=1e-12)
    assert len(asked) < 70


def test_root_ends_as_soon_as_it_may() -> None:
    """Six digits of a smooth function take fewer steps than thirteen, and both far fewer than halving."""
    steps = {}
    for share in (1e-6, 1e-13):
        asked = []
        low, high = root(lambda x, asked=asked: asked.append(x) or x * x - 2.0, 0.0, 4.0, share)
        assert low <= sqrt(2.0) <= high <= low * (1.0 + share)
        steps[share] = len(asked)
    assert steps[1e-6] < steps[1e-13] < 15
