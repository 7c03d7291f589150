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


def test_carried_on_by_hand() -> None:
    """4 m at 3600 L/h after 5 m at 3000 fall a metre in 600 L/h: 0 at 6000; flattening by half, at 8400."""
    hour = 3.6e6
    bent = PumpCurve(((0.0, 5.5), (3000 / hour, 5.0), (3600 / hour, 4.0))).carried_on()
    assert bent.points[:-1] == ((0.0, 5.5), (3000 / hour, 5.0), (3600 / hour, 4.0))
    assert bent.points[-1] == pytest.approx((6000 / hour, 0.0))
    flattening = PumpCurve(((0.0, 7.0), (600 / hour, 5.0), (1200 / hour, 4.0))).carried_on()
    assert flattening.run_out_m3_s == pytest.approx((1200 + 4 * 600 * 2) / hour)
    straight = PumpCurve(((0.0, 6.0), (600 / hour, 5.0))).carried_on()
    assert straight.run_out_m3_s == pytest.approx(3600 / hour)


def test_a_whole_curve_is_carried_no_further() -> None:
    """A curve that ends at a head of 0 stays as it is, one that ends a millimetre above does not."""
    whole = PumpCurve(((0.0, 4.0), (1e-3, 2.4), (1.4e-3, 0.0)))
    assert whole.carried_on() is whole
    short = PumpCurve(((0.0, 4.0), (1e-3, 2.4), (1.4e-3, 0.001)))
    assert short.carried_on().run_out_m3_s > short.run_out_m3_s


@given(st.floats(2.0, 9.0), st.floats(0.3, 0.95), st.floats(1.0, 3.0))
def test_carried_on_it_gives_no_less(top: float, cut: float, power: float) -> None:
    """Of H = top - c Q^n, n from 1 to 3, cut short anywhere the curve carried on is nowhere under it."""
    most = 1.5e-3

    def head(flow: float) -> float:
        return top * (1 - (flow / most) ** power)

    points = tuple((step * cut * most / 4, head(step * cut * most / 4)) for step in range(5))
    carried = PumpCurve(points).carried_on()
    for step in range(1, 21):
        flow = cut * most + step * (1 - cut) * most / 20
        assert carried.head(flow) >= head(flow) - 1e-9
    assert carried.flow(0.0) >= most * (1 - 1e-9)


@given(st.floats(0.3, 1.0))
def test_slowed_then_carried_on_or_the_other_way_round(speed: float) -> None:
    """The affinity laws take a curve carried on to the slower curve carried on."""
    one, other = CURVE.carried_on().at_speed(speed), CURVE.at_speed(speed).carried_on()
    for left, right in zip(one.points, other.points, strict=True):
        assert left == pytest.approx(right, rel=1e-9)


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
