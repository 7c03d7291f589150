"""Part-full drains, overflows and draw-down: second methods, order and refusals."""

from __future__ import annotations

from itertools import pairwise
from math import pi, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import minimize_scalar

from autoplan.hydraulics.conduit import Conduit, Resistance
from autoplan.hydraulics.friction import velocity, velocity_head
from autoplan.hydraulics.gravity import (
    draw_down_time,
    part_full_inlet_head,
    self_venting_flow,
    standpipe_head,
)
from autoplan.hydraulics.water import GRAVITY, water_at

WATER = water_at(20.0)


def strip_area(depth: float, bore: float) -> float:
    """Wet area of a round pipe, adding up level strips [m2]."""
    return float(quad(lambda y: 2.0 * sqrt(max(0.0, y * (bore - y))), 0.0, depth)[0])


def specific_energy(depth: float, flow: float, bore: float, entrance_k: float = 0.0) -> float:
    """Depth plus velocity head, the latter (1 + K) times [m]."""
    return depth + (1.0 + entrance_k) * velocity_head(flow / strip_area(depth, bore))


def least_energy_depth(flow: float, bore: float) -> float:
    """Critical depth, found as that of least specific energy, on areas added in strips [m]."""
    least = minimize_scalar(
        lambda depth: specific_energy(depth, flow, bore),
        bounds=(0.01 * bore, 0.999 * bore),
        method="bounded",
        options={"xatol": 1e-9},
    )
    return float(least.x)


@pytest.mark.parametrize("share", [0.01, 0.1, 0.29])
@pytest.mark.parametrize("entrance_k", [0.0, 0.5, 1.0])
def test_part_full_head_by_its_definition(share: float, entrance_k: float) -> None:
    """Below the crown the head is depth plus (1 + K) velocity heads where the energy is least."""
    bore = 0.05
    flow = share * bore**2.5 * sqrt(GRAVITY)
    depth = least_energy_depth(flow, bore)
    expected = specific_energy(depth, flow, bore, entrance_k)
    assert expected < bore
    assert part_full_inlet_head(flow, bore, entrance_k) == pytest.approx(expected, rel=1e-5)


@given(st.floats(1e-6, 2e-2), st.floats(1.0, 2.0), st.floats(0.02, 0.15), st.floats(0.0, 1.0))
def test_part_full_head_never_falls(flow: float, more: float, bore: float, entrance_k: float) -> None:
    """More flow, or a worse entrance, never needs less head."""
    head = part_full_inlet_head(flow, bore, entrance_k)
    assert part_full_inlet_head(flow * more, bore, entrance_k) >= head * (1.0 - 1e-9)
    assert part_full_inlet_head(flow, bore, 1.0) >= head * (1.0 - 1e-9)


@pytest.mark.parametrize("entrance_k", [0.5, 1.0])
def test_no_step_at_the_crown(entrance_k: float) -> None:
    """Where the inlet goes under water the head rises without a step."""
    bore = 0.05
    heads = [part_full_inlet_head(step * 1e-6, bore, entrance_k) for step in range(200, 1500)]
    assert heads[0] < bore < heads[-1]
    assert all(b - a < 0.003 * bore for a, b in pairwise(heads))


@pytest.mark.parametrize("entrance_k", [0.0, 0.5, 1.0])
@pytest.mark.parametrize("flow", [2e-3, 5e-3, 1e-2])
def test_drowned_inlet_needs_at_least_full_bore_energy(flow: float, entrance_k: float) -> None:
    """Far over the crown the head is not below the full bore's nor that of an orifice.

    To within 1 % and 5 %, which is what the published inlet control and discharge coefficients agree to.
    """
    bore = 0.05
    head = part_full_inlet_head(flow, bore, entrance_k)
    speed_head = velocity_head(velocity(flow, bore))
    assert head >= 0.99 * (bore + (1.0 + entrance_k) * speed_head)
    # Mean discharge coefficient of a sharp circular orifice, 0.62 (any text, from memory), over its centre.
    assert head >= 0.5 * bore + 0.95 * speed_head / 0.62**2


@pytest.mark.parametrize(
    ("number", "ratio"),
    # FHWA HDS-5 chart 1, square edge with headwall, at Q/(A sqrt D) of 4 and 6 ft^0.5/s, where
    # H/D = 0.67 + 0.0398 x^2 (formula from memory).
    [(4.0, 1.307), (6.0, 2.103)],
)
def test_culvert_inlet_control(number: float, ratio: float) -> None:
    """A flush inlet needs no less than published culvert inlet control, and at most a tenth more."""
    bore = 0.05
    flow = number / 1.811 * 0.25 * pi * bore**2 * sqrt(bore)
    assert 0.999 * ratio <= part_full_inlet_head(flow, bore, 0.5) / bore <= 1.1 * ratio


def test_part_full_limits() -> None:
    """No flow needs no head; negative flow or entrance loss is refused."""
    assert part_full_inlet_head(0.0, 0.05, 0.5) == 0.0
    with pytest.raises(ValueError, match="flow must be 0 or more"):
        part_full_inlet_head(-1e-6, 0.05, 0.5)
    with pytest.raises(ValueError, match="entrance loss"):
        part_full_inlet_head(1e-3, 0.05, -0.1)


@given(st.floats(1e-6, 1e-2), st.floats(1.0, 3.0), st.floats(0.015, 0.1))
def test_standpipe_head_never_falls(flow: float, more: float, bore: float) -> None:
    """More flow stands higher over the lip, and the head passes no more than the flow by either formula."""
    head = standpipe_head(flow, bore)
    assert standpipe_head(flow * more, bore) >= head
    assert min(
        1.83 * pi * bore * head**1.5, 0.6 * 0.25 * pi * bore**2 * sqrt(2 * GRAVITY * head)
    ) == pytest.approx(flow)


def test_self_venting_by_its_definition() -> None:
    """At the self-venting flow V / sqrt(g D) is 0.3; a 50 mm pipe carries about 0.41 L/s (by hand)."""
    flow = self_venting_flow(0.05)
    assert velocity(flow, 0.05) / sqrt(GRAVITY * 0.05) == pytest.approx(0.3)
    assert flow * 1000 == pytest.approx(0.4125, abs=5e-4)
    with pytest.raises(ValueError, match="froude must be positive"):
        self_venting_flow(0.05, froude=0.0)


@pytest.mark.parametrize(("start", "end"), [(1.0, 0.0), (0.5, 0.2), (0.3, 0.3)])
def test_draw_down_by_adding_up(start: float, end: float) -> None:
    """Draw-down time equals area over flow added up over the fall."""
    area, outlet, cd = 1.2, 5e-4, 0.6
    added = quad(lambda h: area / (cd * outlet * sqrt(2 * GRAVITY * h)), end, start)[0]
    assert draw_down_time(area, outlet, cd, start, end) == pytest.approx(added, rel=1e-6, abs=1e-9)


def test_draw_down_refusals() -> None:
    """A rising or negative head and an opening of nothing are refused."""
    for start, end in ((0.2, 0.21), (0.2, -0.01)):
        with pytest.raises(ValueError, match="the head must fall"):
            draw_down_time(1.0, 1e-3, 0.6, start, end)
    with pytest.raises(ValueError, match="outlet_area_m2 must be positive"):
        draw_down_time(1.0, 0.0, 0.6, 0.2, 0.1)


def test_siphon_uses_its_whole_fall() -> None:
    """At the siphon's flow the losses equal the fall; no fall gives no flow."""
    siphon = Conduit(0.02, 1.5e-6, 0.6, (Resistance(2.5, 0.02),))
    assert siphon.loss(siphon.flow(0.4, WATER), WATER) == pytest.approx(0.4)
    assert siphon.flow(0.0, WATER) == 0.0
