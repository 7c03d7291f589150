"""Pump curves: interpolation, inverse, speed and refusals."""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from autoplan.hydraulics.pump import PumpCurve, energy_kwh_per_year, watts_at_speed

CURVE = PumpCurve(((0.0, 4.0), (5e-4, 3.5), (1e-3, 2.4), (1.4e-3, 0.8)))
shares = st.floats(0.0, 1.0)


def test_points_and_middles() -> None:
    """The curve passes exactly through its points and half way between them."""
    assert [CURVE.head(flow) for flow, _ in CURVE.points] == [head for _, head in CURVE.points]
    assert [CURVE.flow(head) for _, head in CURVE.points] == [flow for flow, _ in CURVE.points]
    assert CURVE.head(2.5e-4) == pytest.approx(3.75)
    assert CURVE.flow(3.75) == pytest.approx(2.5e-4)
    assert (CURVE.shut_off_m, CURVE.run_out_m3_s) == (4.0, 1.4e-3)


def test_chords_lie_under_a_parabola() -> None:
    """Between points of a curve that bends down the head is not above it."""
    flows = [0.0, 4e-4, 8e-4, 12e-4]
    curve = PumpCurve(tuple((flow, 5.0 - 3e6 * flow * flow) for flow in flows))
    for step in range(121):
        flow = step * 1e-5
        assert curve.head(flow) <= 5.0 - 3e6 * flow * flow + 1e-12


@given(shares)
def test_flow_is_the_inverse_of_head(share: float) -> None:
    """Flow then head gives back the flow."""
    flow = share * CURVE.run_out_m3_s
    assert CURVE.flow(CURVE.head(flow)) == pytest.approx(flow, rel=1e-9, abs=1e-15)


def test_both_ends() -> None:
    """Above shut-off nothing flows, below the last head run-out flows; beyond run-out there is no head."""
    assert CURVE.flow(4.0) == CURVE.flow(4.5) == 0.0
    assert CURVE.flow(3.999) > 0.0
    assert CURVE.flow(0.8) == CURVE.flow(0.0) == 1.4e-3
    assert CURVE.flow(0.801) < 1.4e-3
    assert CURVE.head(1.4e-3 * (1.0 + 1e-12)) == 0.8
    for flow in (-1e-9, 1.4e-3 + 1e-9):
        with pytest.raises(ValueError, match="outside 0 to"):
            CURVE.head(flow)


@given(shares, st.floats(0.3, 1.0))
def test_affinity_by_its_definition(flow_share: float, speed: float) -> None:
    """At n the curve through (Q n, H n^2) is the full one through (Q, H)."""
    flow = flow_share * CURVE.run_out_m3_s
    assume(flow * speed <= CURVE.at_speed(speed).run_out_m3_s)
    assert CURVE.at_speed(speed).head(flow * speed) == pytest.approx(CURVE.head(flow) * speed**2, rel=1e-9)


@pytest.mark.parametrize(
    ("points", "match"),
    [
        (((0.0, 4.0),), "at least two"),
        (((1e-4, 4.0), (1e-3, 1.0)), "starts at flow 0"),
        (((0.0, 4.0), (1e-3, 4.0)), "flow rises and head falls"),
        (((0.0, 4.0), (1e-3, 3.0), (1e-3, 2.0)), "flow rises and head falls"),
        (((0.0, 4.0), (1e-3, float("nan"))), "flow rises and head falls"),
        (((0.0, 4.0), (1e-3, -0.1)), "0 or more"),
    ],
)
def test_curve_refusals(points: tuple[tuple[float, float], ...], match: str) -> None:
    """A curve that is no falling line from shut-off is refused."""
    with pytest.raises(ValueError, match=match):
        PumpCurve(points)


def test_power() -> None:
    """Half speed takes an eighth of the power, 100 W all year are 876 kWh, other speeds are refused."""
    assert watts_at_speed(80.0, 0.5) == pytest.approx(10.0)
    assert watts_at_speed(80.0, 1.0) == 80.0
    assert energy_kwh_per_year(100.0) == pytest.approx(876.0)
    for share in (0.0, 1.0001):
        with pytest.raises(ValueError, match="speed must be"):
            watts_at_speed(80.0, share)
        with pytest.raises(ValueError, match="speed must be"):
            CURVE.at_speed(share)
