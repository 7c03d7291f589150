"""Lines: loss by hand, and flow as its inverse."""

from __future__ import annotations

from math import pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from autoplan.hydraulics.conduit import Conduit, Resistance, Stretch
from autoplan.hydraulics.friction import LAMINAR_BELOW, TURBULENT_FROM, friction_head, velocity, velocity_head
from autoplan.hydraulics.water import GRAVITY, water_at

WATER = water_at(20.0)
lines = st.builds(
    lambda bore, roughness, length, k, narrower: Conduit(
        bore, roughness, length, (Resistance(k, bore), Resistance(0.5, bore * narrower))
    ),
    st.floats(0.012, 0.1),
    st.floats(0.0, 3e-4),
    st.floats(0.0, 50.0),
    st.floats(0.0, 20.0),
    st.floats(0.5, 1.0),
)


def test_loss_is_the_sum_of_its_parts() -> None:
    """Loss is pipe friction plus each K on the velocity head of its own bore."""
    line = Conduit(0.05, 1.5e-6, 4.0, (Resistance(2.0, 0.05), Resistance(0.7, 0.04)))
    flow = 1e-3
    expected = (
        friction_head(flow, 0.05, 4.0, 1.5e-6, WATER)
        + 2.0 * velocity_head(velocity(flow, 0.05))
        + 0.7 * velocity_head(velocity(flow, 0.04))
    )
    assert line.loss(flow, WATER) == pytest.approx(expected, rel=1e-12)


def test_growth_makes_pipe_rougher_and_never_smoother() -> None:
    """At 2 m/s in 25 mm of smooth pipe 0.15 mm of growth takes f from 0.021 to 0.034 (Moody's chart)."""
    line = Conduit(0.025, 1.5e-6, 10.0, (Resistance(2.0, 0.025),), (Stretch(0.025, 1.5e-6, 5.0),))
    flow = 2.0 * pi / 4 * 0.025**2
    head = velocity_head(2.0)
    for grown, factor in ((0.0, 0.021), (1e-6, 0.021), (0.15e-3, 0.034)):
        friction = line.loss(flow, WATER, grown) - 2.0 * head
        assert friction * 0.025 / 15.0 / head == pytest.approx(factor, rel=0.03)
    assert line.loss(flow, WATER, 1e-6) == line.loss(flow, WATER)


def test_growth_counts_as_far_as_the_chart_goes() -> None:
    """A twentieth of the bore is the roughest that friction is known for, so more growth changes nothing."""
    line = Conduit(0.010, 1.5e-6, 10.0)
    assert line.loss(1e-4, WATER, 0.0005) == line.loss(1e-4, WATER, 0.01)
    assert line.loss(1e-4, WATER, 0.0005) > line.loss(1e-4, WATER, 0.00049)


def test_a_flap_takes_no_less_in_slow_water() -> None:
    """Up to the velocity that lifts it a flap takes what it does there; beyond, or held open, K v^2 / 2g."""
    flap = Resistance(2.3, 0.02, 1.4)
    lifted = flap.loss(1.4 * pi / 4 * 0.02**2)
    assert lifted == pytest.approx(2.3 * 1.4**2 / (2 * GRAVITY))
    for speed in (1e-9, 0.3, 1.0, 1.39):
        flow = speed * pi / 4 * 0.02**2
        assert flap.loss(flow) == pytest.approx(lifted)
        assert flap.held_open().loss(flow) == pytest.approx(2.3 * speed**2 / (2 * GRAVITY))
    for speed in (1.41, 2.8):
        flow = speed * pi / 4 * 0.02**2
        assert flap.loss(flow) == pytest.approx(2.3 * speed**2 / (2 * GRAVITY))
        assert flap.held_open().loss(flow) == flap.loss(flow)


def test_too_little_head_lifts_no_flap() -> None:
    """What a line with a flap carries is nothing below the head that lifts it, and just above it a little."""
    line = Conduit(0.02, 1.5e-6, 1.0, (Resistance(2.0, 0.02, 1.4),))
    lifts = 2.0 * 1.4**2 / (2 * GRAVITY)
    assert line.flow(lifts - 1e-6, WATER) == 0.0
    assert 0.0 < line.flow(lifts + 1e-6, WATER) < 1e-6
    assert line.held_open().flow(lifts, WATER) > 1e-4


@given(lines, st.floats(1e-5, 50.0))
def test_flow_is_the_inverse_rounded_down(line: Conduit, head: float) -> None:
    """The flow found loses no more than the head, and a billionth more flow loses more."""
    flow = line.flow(head, WATER)
    assert line.loss(flow, WATER) <= head
    assert line.loss(flow * (1.0 + 1e-9), WATER) > head * (1.0 - 1e-12)


@given(lines, st.floats(0.0, 5e-3), st.floats(1.0, 3.0))
def test_loss_never_falls_as_flow_rises(line: Conduit, flow: float, more: float) -> None:
    """More flow never loses less."""
    assert line.loss(flow * more, WATER) >= line.loss(flow, WATER) * (1.0 - 1e-12)


@pytest.mark.parametrize(
    "number", [LAMINAR_BELOW - 1, 0.5 * (LAMINAR_BELOW + TURBULENT_FROM), TURBULENT_FROM + 1]
)
def test_inverse_through_the_transition(number: float) -> None:
    """Loss then flow gives back the flow on both sides of the laminar limit and inside it."""
    line = Conduit(0.02, 1.5e-6, 10.0)
    flow = number * WATER.viscosity_m2_s * 0.25 * pi * 0.02
    assert line.flow(line.loss(flow, WATER), WATER) == pytest.approx(flow, rel=1e-9)


def test_poiseuille() -> None:
    """Laminar loss in a bare pipe is 128 nu L Q / (pi g d^4) (Hagen-Poiseuille)."""
    bore, length, flow = 0.02, 10.0, 1e-5
    exact = 128 * WATER.viscosity_m2_s * length * flow / (pi * GRAVITY * bore**4)
    assert Conduit(bore, 1.5e-6, length).loss(flow, WATER) == pytest.approx(exact)


def test_limits() -> None:
    """No head, no flow; a negative head and a line without resistance are refused."""
    line = Conduit(0.05, 1.5e-6, 4.0)
    assert line.flow(0.0, WATER) == 0.0
    with pytest.raises(ValueError, match="head must be 0 or more"):
        line.flow(-1e-9, WATER)
    with pytest.raises(ValueError, match="passes any flow"):
        Conduit(0.05, 1.5e-6, 0.0, (Resistance(0.0, 0.05),)).flow(1.0, WATER)
