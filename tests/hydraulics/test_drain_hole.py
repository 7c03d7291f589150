"""Timed beds by closed forms, against hand arithmetic and a step-by-step sum of this file's own."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from autoplan.hydraulics.drain_hole import filling_time, hole_flow, least_hole, running_empty_time

G = 9.80665
WET_M2 = 0.48
"""A bed of 1.2 m2, two fifths of it water."""


def test_flow_of_a_hole_by_hand() -> None:
    """0.6 x 78.54 mm2 x sqrt(2 g 0.2 m), 1.9806 m/s: 0.0933 L/s, 336 L/h."""
    assert hole_flow(0.010, 0.2) == pytest.approx(0.6 * 78.54e-6 * 1.9806, rel=1e-4)
    assert hole_flow(0.010, 0.2) * 3.6e6 == pytest.approx(336.0, abs=0.3)
    assert hole_flow(0.010, 0.0) == 0.0


def test_running_empty_by_hand() -> None:
    """2 x 0.48 (sqrt 0.21 - sqrt 0.0055) / (0.6 x 95.03 mm2 x sqrt(2 g)) = 0.3687 / 2.5255e-4 = 1460 s."""
    by_hand = 0.96 * (0.458258 - 0.074162) / (0.6 * 95.0332e-6 * 4.428690)
    assert by_hand == pytest.approx(1460.2, abs=0.5)
    assert running_empty_time(WET_M2, 0.011, 0.21) == pytest.approx(by_hand, rel=1e-5)


def test_a_published_draw_down_through_the_same_code() -> None:
    """A tank 3 ft wide, a jet of 1/2 in, from 4 to 2 ft: 757 s; a textbook's, from memory.

    Down to the top edge here, so the two ends are told apart by the difference of two times.
    """
    foot, area = 0.3048, math.pi / 4 * (3 * 0.3048) ** 2
    whole, half = (running_empty_time(area, 0.0127, feet * foot, cd=1.0) for feet in (4, 2))
    assert whole - half == pytest.approx(757.0, rel=2e-3)


def test_filling_without_a_leak_is_volume_over_inflow() -> None:
    """Through a hole of 0.1 mm hardly anything is lost: 0.48 m2 x 0.2 m / (400 L/h) = 864 s."""
    assert filling_time(WET_M2, 1e-4, 400 / 3.6e6, 0.2) == pytest.approx(864.0, rel=1e-4)


@pytest.mark.parametrize("inflow_l_h", [340.0, 500.0, 1500.0])
def test_filling_against_a_sum_of_slices(inflow_l_h: float) -> None:
    """20 000 slices of the depth, each filled by what comes in less what leaks at its middle."""
    inflow, slices, time = inflow_l_h / 3.6e6, 20_000, 0.0
    for number in range(slices):
        leak = 0.6 * math.pi / 4 * 0.010**2 * math.sqrt(2 * G * 0.2 * (number + 0.5) / slices)
        time += WET_M2 * 0.2 / slices / (inflow - leak)
    assert filling_time(WET_M2, 0.010, inflow, 0.2) == pytest.approx(time, rel=1e-3)


@pytest.mark.parametrize(("share", "fills"), [(1.0001, True), (1.0, False), (0.9999, False)])
def test_the_inflow_that_never_fills(share: float, fills: bool) -> None:
    """A bed whose hole lets out at the lip what comes in never gets there; a little more does."""
    leak = hole_flow(0.010, 0.2)
    assert math.isfinite(filling_time(WET_M2, 0.010, leak * share, 0.2)) is fills


@given(st.floats(1e-6, 0.9), st.floats(0.05, 0.5))
def test_small_leaks_join_the_large_ones(share: float, head: float) -> None:
    """Whatever the leak, filling takes longer than without and less than with all of it gone all along."""
    inflow = hole_flow(0.008, head) / share
    plain = WET_M2 * head / inflow
    assert plain * (1 - 1e-9) <= filling_time(WET_M2, 0.008, inflow, head) <= plain / (1 - share) * (1 + 1e-9)


@given(st.floats(0.05, 2.0), st.floats(0.05, 0.5), st.floats(60.0, 20_000.0))
def test_the_least_hole_is_the_least(wet: float, head: float, seconds: float) -> None:
    """It empties the bed in time, in whole millimetres, and one a millimetre smaller does not."""
    hole = least_hole(wet, head, seconds)
    assert round(hole * 1000, 6) == round(hole * 1000)
    if hole / 2 < head:
        assert running_empty_time(wet, hole, head) <= seconds
    if hole > 0.0015:
        assert running_empty_time(wet, hole - 0.001, head) > seconds


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: hole_flow(0.0, 0.1),
        lambda: hole_flow(0.01, -0.1),
        lambda: hole_flow(0.01, 0.1, cd=0.0),
        lambda: filling_time(0.0, 0.01, 1e-4, 0.1),
        lambda: filling_time(1.0, 0.01, 0.0, 0.1),
        lambda: running_empty_time(1.0, 0.01, 0.004),
        lambda: running_empty_time(1.0, 0.0, 0.1),
        lambda: least_hole(1.0, 0.1, 0.0),
    ],
)
def test_what_cannot_be_is_refused(wrong) -> None:
    """Sizes, times and coefficients are positive, and a bed starts over its hole's top edge."""
    with pytest.raises(ValueError, match="must"):
        wrong()
