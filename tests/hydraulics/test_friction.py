"""Friction against second methods, through the transition, and its refusals."""

from __future__ import annotations

from itertools import pairwise, product

import pytest
from fluids.friction import Colebrook, Haaland, one_phase_dP
from hypothesis import given
from hypothesis import strategies as st

from autoplan.hydraulics.friction import (
    LAMINAR_BELOW,
    ROUGHEST,
    TURBULENT_FROM,
    friction_factor,
    friction_head,
    reynolds,
    velocity,
    velocity_head,
)
from autoplan.hydraulics.water import GRAVITY, Water, water_at

WATER = water_at(20.0)
REYNOLDS = [TURBULENT_FROM * 10 ** (step / 4) for step in range(15)]
ROUGHNESS = [0.0, 1e-6, 1e-5, 1e-4, 1e-3, 1e-2, ROUGHEST]


@pytest.mark.parametrize(("number", "roughness"), list(product(REYNOLDS, ROUGHNESS)))
def test_colebrook_by_another_solution(number: float, roughness: float) -> None:
    """The turbulent factor equals Colebrook's by the Lambert W function, and Haaland's within 3 %."""
    factor = friction_factor(number, roughness)
    assert factor == pytest.approx(Colebrook(number, roughness), rel=1e-9)
    if number >= 4000.0:
        assert factor == pytest.approx(Haaland(number, roughness), rel=0.03)


@given(st.floats(1.0, LAMINAR_BELOW), st.floats(0.0, ROUGHEST))
def test_laminar(number: float, roughness: float) -> None:
    """Up to the laminar limit the factor is 64/Re whatever the roughness."""
    assert friction_factor(number, roughness) == 64.0 / number


@given(st.floats(TURBULENT_FROM, 4000.0), st.floats(0.0, ROUGHEST))
def test_transition_takes_the_larger(number: float, roughness: float) -> None:
    """In the transition the factor is not below the laminar nor the turbulent one."""
    factor = friction_factor(number, roughness)
    assert factor >= 64.0 / number
    assert factor >= Colebrook(number, roughness) * (1.0 - 1e-9)


@pytest.mark.parametrize("limit", [LAMINAR_BELOW, TURBULENT_FROM])
@pytest.mark.parametrize("roughness", ROUGHNESS)
def test_no_step_at_the_limits(limit: float, roughness: float) -> None:
    """Just above each limit the factor is what it is just below."""
    below = friction_factor(limit * (1.0 - 1e-9), roughness)
    above = friction_factor(limit * (1.0 + 1e-9), roughness)
    assert above == pytest.approx(below, rel=1e-6)


@given(
    st.floats(1e-6, 1e-2),
    st.floats(1.0, 3.0),
    st.floats(0.010, 0.2),
    st.floats(0.0, 3e-4),
    st.floats(0.0, 60.0),
)
def test_head_never_falls_as_flow_rises(
    flow: float, more: float, bore: float, roughness: float, celsius: float
) -> None:
    """More flow never loses less head, on either side of every limit."""
    water = water_at(celsius)
    less = friction_head(flow, bore, 1.0, roughness, water)
    assert friction_head(flow * more, bore, 1.0, roughness, water) >= less * (1.0 - 1e-12)


def test_head_rises_step_by_step_through_the_transition() -> None:
    """Head rises at each small step of flow from Reynolds 1500 to 5000."""
    bore = 0.02
    flows = [step * bore * WATER.viscosity_m2_s * 0.7853981634 for step in range(1500, 5000)]
    heads = [friction_head(flow, bore, 1.0, 1.5e-6, WATER) for flow in flows]
    assert all(a < b for a, b in pairwise(heads))


@given(st.floats(1e-5, 1e-2), st.floats(0.01, 0.2), st.floats(0.1, 100.0), st.floats(0.0, 3e-4))
def test_head_is_not_below_the_reference_library(
    flow: float, bore: float, length: float, roughness: float
) -> None:
    """Head equals the reference library's outside Reynolds 2000 to 2040, and is no less inside."""
    dynamic = WATER.viscosity_m2_s * WATER.density_kg_m3
    drop = one_phase_dP(flow * WATER.density_kg_m3, WATER.density_kg_m3, dynamic, bore, roughness, length)
    reference = drop / (WATER.density_kg_m3 * GRAVITY)
    head = friction_head(flow, bore, length, roughness, WATER)
    if LAMINAR_BELOW < reynolds(flow, bore, WATER) < TURBULENT_FROM * (1.0 + 1e-9):
        assert head >= reference * (1.0 - 1e-9) or head == pytest.approx(reference, rel=1e-6)
    else:
        assert head == pytest.approx(reference, rel=1e-9)


def test_velocity_head_by_hand() -> None:
    """1 m/s is worth 51 mm of water (v^2/2g by hand)."""
    assert velocity_head(1.0) == pytest.approx(0.05099, abs=5e-6)


def test_nothing_flows_nothing_is_lost() -> None:
    """No flow and no length each lose no head."""
    assert friction_head(0.0, 0.05, 10.0, 1.5e-6, WATER) == 0.0
    assert friction_head(1e-3, 0.05, 0.0, 1.5e-6, WATER) == 0.0
    assert 0.0 <= friction_head(1e-312, 0.05, 10.0, 1.5e-6, WATER) < 1e-300


def test_refusals() -> None:
    """Negative flow or length, a bore of nothing, a roughness beyond the chart and no number are refused."""
    with pytest.raises(ValueError, match="flow must be 0 or more"):
        velocity(-1e-9, 0.05)
    with pytest.raises(ValueError, match="flow must be 0 or more"):
        velocity(float("nan"), 0.05)
    with pytest.raises(ValueError, match="bore must be positive"):
        velocity(1e-3, 0.0)
    with pytest.raises(ValueError, match="length must be 0 or more"):
        friction_head(1e-3, 0.05, -1.0, 1.5e-6, WATER)
    for roughness in (-1e-9, 0.0026):
        with pytest.raises(ValueError, match="roughness"):
            friction_head(1e-3, 0.05, 1.0, roughness, WATER)
    with pytest.raises(ValueError, match="Reynolds number must be positive"):
        friction_factor(0.0, 0.0)
    with pytest.raises(ValueError, match="relative roughness"):
        friction_factor(1e5, ROUGHEST * 1.001)
    with pytest.raises(ValueError, match="relative roughness"):
        friction_factor(1e5, -1e-9)


def test_reynolds_by_definition() -> None:
    """1 m/s in 50 mm at a viscosity of 1e-6 is Reynolds 50 000."""
    flow = 0.25 * 3.141592653589793 * 0.05**2
    assert reynolds(flow, 0.05, Water(1000.0, 1e-6)) == pytest.approx(50_000.0)
