"""Bell siphons: starting, the ring under the bell, emptying in time."""

from __future__ import annotations

from math import inf, pi, sqrt

import pytest

from autoplan.hydraulics.gravity import draw_down_time, self_venting_flow
from autoplan.hydraulics.siphon import (
    BELL_K,
    bell_resistance,
    caves_in_at,
    emptying_time,
    floods_per_second,
    ring_area,
    start_flow,
)


def test_it_starts_where_its_lip_is_drowned() -> None:
    """Weir and orifice cross at H = 0.36 D (US EPA; USBR, Small Dams: drowned from H = 0.5 D at the latest).

    Under that the weir rules and the lip draws air; 0.51 sqrt(9.807 x 0.025) = 0.2525 m/s in 25 mm bore. It
    is over the limit of venting, 0.3 (Simpson 1968; Hills 1983), and flared over the speed against which a
    long bubble stands in an upright pipe, 0.35 (Davies and Taylor 1950, from memory).
    """
    flow, bore = start_flow(0.025), 0.025
    assert flow / (pi / 4 * bore**2) == pytest.approx(0.2525, rel=1e-3)
    weir = (flow / (1.83 * pi * bore)) ** (2 / 3)
    orifice = (flow / (0.6 * pi / 4 * bore**2)) ** 2 / (2 * 9.80665)
    assert weir == pytest.approx(0.36 * bore, rel=0.01)
    assert orifice == pytest.approx(weir, rel=0.01)
    assert flow > self_venting_flow(bore)
    assert start_flow(bore, flare_share=0.7) >= 0.35 / 0.3 * self_venting_flow(bore)
    # Ten times the bore, 10^2.5 times the flow: a Froude number's scaling.
    assert start_flow(0.25) == pytest.approx(10**2.5 * flow)


@pytest.mark.parametrize("share", [0.0, -0.1, 1.1])
def test_a_share_is_a_share(share: float) -> None:
    """A flare cannot raise the limit or do away with it."""
    with pytest.raises(ValueError, match="share"):
        start_flow(0.025, flare_share=share)


def test_a_bell_as_wide_as_its_ring() -> None:
    """FAO 589's 75 mm bell (68 inside) over a 25 mm pipe: the ring's area by subtraction, its K on that."""
    assert ring_area(0.068, 0.025) == pytest.approx(pi / 4 * (0.068**2 - 0.025**2))
    resistance = bell_resistance(0.068, 0.025)
    flow = 5e-4
    speed = flow / ring_area(0.068, 0.025)
    assert resistance.loss(flow) == pytest.approx(BELL_K * speed**2 / (2 * 9.80665))
    assert ring_area(0.02, 0.025) == 0.0
    assert bell_resistance(0.025, 0.025).loss(1e-5) > 1e3


def test_a_thin_bell_caves_in() -> None:
    """p = 2.60 E (t/D)^2.5 / (L/D - 0.45 sqrt(t/D)) at Poisson's ratio 0.3, as it is printed for steel.

    At 0.4 it is (0.91 / 0.84)^0.75 times that. 0.35 mm of 2 GPa, 90 mm wide and 270 mm tall, stands 0.18 m.
    """
    outside, wall, tall, modulus = 0.090, 0.35e-3, 0.270, 2e9
    thin = wall / outside
    printed = 2.60 * modulus * thin**2.5 / (tall / outside - 0.45 * sqrt(thin)) / 9806.65
    found = caves_in_at(outside, wall, tall, modulus)
    assert found == pytest.approx(printed * (0.91 / 0.84) ** 0.75, rel=0.003)
    assert found == pytest.approx(0.18, abs=0.01)
    assert caves_in_at(outside, wall, 2 * tall, modulus) < found
    # A long tube caves in at 2 E / (1 - nu^2) (t/D)^3 whatever its length (Bresse): this is never over it.
    assert caves_in_at(outside, wall, 100.0, modulus) < 2 * modulus / 0.84 * thin**3 / 9806.65


@pytest.mark.parametrize("wrong", [(0.09, 0.0, 0.27, 2e9), (0.09, 1e-3, 0.0, 2e9), (0.09, 1e-3, 0.27, 0.0)])
def test_what_cannot_cave_in(wrong: tuple[float, float, float, float]) -> None:
    """A tube without wall, length or stiffness is refused."""
    with pytest.raises(ValueError, match="cave in"):
        caves_in_at(*wrong)


def test_emptying_agrees_with_draw_down() -> None:
    """Without inflow and with Q = Cd a sqrt(2 g h) it is Torricelli's draw-down, in closed form."""
    area, opening, cd = 0.48, 3e-4, 0.6

    def flow(depth: float) -> float:
        return cd * opening * sqrt(2 * 9.80665 * depth)

    found = emptying_time(area, 0.25, 0.025, 0.0, flow)
    assert found == pytest.approx(draw_down_time(area, opening, cd, 0.25, 0.025), rel=1e-6)


def test_emptying_against_a_steady_inflow() -> None:
    """At a constant flow the time is volume over what the siphon gains on the inflow."""
    assert emptying_time(0.4, 0.25, 0.0, 1e-4, lambda _: 5e-4) == pytest.approx(0.4 * 0.25 / 4e-4)


def test_a_siphon_that_never_breaks() -> None:
    """Where it only just carries the inflow at some depth, it never gets below it."""
    assert emptying_time(0.4, 0.25, 0.0, 3e-4, lambda depth: 3e-4 if depth < 0.1 else 4e-4) == inf
    assert floods_per_second(1800, inf) == 0.0


def test_floods_in_an_hour() -> None:
    """Filling for 25 minutes and emptying for 5 is two floods an hour."""
    assert floods_per_second(25 * 60, 5 * 60) * 3600 == pytest.approx(2.0)
    assert floods_per_second(0.0, 0.0) == 0.0
