"""Networks and pumps against printed examples, through the code that judges designs."""

from __future__ import annotations

import pytest

from autoplan.hydraulics.conduit import Conduit, Resistance
from autoplan.hydraulics.network import Fixed, Free, Link, Solution, solve
from autoplan.hydraulics.pump import PumpCurve, energy_kwh_per_year, watts_at_speed
from autoplan.hydraulics.water import GRAVITY, Water, water_at

FOOT = 0.3048
US_GPM = 3.785411784e-3 / 60.0
HORSEPOWER = 745.7
POUND_PER_CUBIC_FOOT = 0.45359237 / FOOT**3


def pipe(bore: float, length: float, roughness: float) -> tuple[Conduit, ...]:
    """A straight pipe."""
    return (Conduit(bore, roughness, length),)


def test_three_reservoirs_with_a_draw() -> None:
    """0.1023, 0.0200 and 0.0622 m3/s (Larock, Jeppson and Watters 2000, Ex. 2.7)."""
    nodes = {"A": Fixed(100.0), "B": Fixed(85.0), "C": Fixed(60.0), "J": Free(0.060)}
    links = {
        "A to J": Link("A", "J", pipe(0.300, 2000.0, 0.5e-3)),
        "B to J": Link("B", "J", pipe(0.250, 1500.0, 0.5e-3)),
        "J to C": Link("J", "C", pipe(0.250, 3000.0, 0.5e-3)),
    }
    flows = solve(nodes, links, water_at(20.0)).flows
    assert flows["A to J"] == pytest.approx(0.1023, rel=0.005)
    assert flows["B to J"] == pytest.approx(0.0200, rel=0.005)
    assert flows["J to C"] == pytest.approx(0.0622, rel=0.005)


WHITE = (pipe(0.08, 100.0, 0.24e-3), pipe(0.06, 150.0, 0.12e-3), pipe(0.04, 80.0, 0.20e-3))
"""The three pipes of White, Fluid Mechanics, Ex. 6.17 and 6.18; water of 1.02e-6 m2/s, 20.3 m."""


def test_three_pipes_in_series() -> None:
    """10.2 m3/h (White, Fluid Mechanics, Ex. 6.17, from memory)."""
    nodes = {"a": Fixed(20.3), "b": Free(), "c": Free(), "d": Fixed(0.0)}
    links = {
        "1": Link("a", "b", WHITE[0]),
        "2": Link("b", "c", WHITE[1]),
        "3": Link("c", "d", WHITE[2]),
    }
    flows = solve(nodes, links, Water(1000.0, 1.02e-6)).flows
    assert [flow * 3600 for flow in flows.values()] == pytest.approx([10.2] * 3, rel=0.003)


def test_three_pipes_in_parallel() -> None:
    """99.8 m3/h together (White, Fluid Mechanics, Ex. 6.18, from memory)."""
    links = {str(number): Link("a", "d", lines) for number, lines in enumerate(WHITE)}
    flows = solve({"a": Fixed(20.3), "d": Fixed(0.0)}, links, Water(1000.0, 1.02e-6)).flows
    assert sum(flows.values()) * 3600 == pytest.approx(99.8, rel=0.003)


def running(curve: PumpCurve, lift_m: float, k: float, bore_m: float, water: Water) -> Solution:
    """A pump that lifts from one level to another through fittings."""
    nodes = {"low": Fixed(0.0), "outlet": Free(), "high": Fixed(lift_m)}
    fittings = (Conduit(bore_m, 0.0, 0.0, (Resistance(k, bore_m),)),)
    links = {"pump": Link("low", "outlet", pump=curve), "line": Link("outlet", "high", fittings)}
    return solve(nodes, links, water)


def test_crane_7_33_a_slowed_pump_on_its_line() -> None:
    """With no lift a slowed pump runs at 194 gpm, 29.7 ft and 2.0 hp (Crane TP-410, Ex. 7-33).

    A line without lift loses head as flow squared, so 400 gpm at 126 ft keep to it at every speed.
    """
    water = Water(998.0, 1.0e-6)
    curve = PumpCurve(((0.0, 140 * FOOT), (400 * US_GPM, 126 * FOOT), (600 * US_GPM, 90 * FOOT)))
    bore = 0.1
    k = 126 * FOOT / Resistance(1.0, bore).loss(400 * US_GPM)
    full = running(curve, 0.0, k, bore, water)
    assert full.flows["line"] / US_GPM == pytest.approx(400.0, rel=1e-6)
    slow = running(curve.at_speed(1700 / 3500), 0.0, k, bore, water)
    assert slow.flows["line"] / US_GPM == pytest.approx(194.0, abs=0.5)
    assert slow.heads["outlet"] / FOOT == pytest.approx(29.7, abs=0.05)
    assert watts_at_speed(17.5 * HORSEPOWER, 1700 / 3500) / HORSEPOWER == pytest.approx(2.0, abs=0.05)


def test_crane_7_34_what_a_running_pump_costs() -> None:
    """A pump found at 700 gpm and 428 ft takes 107 hp and $83 970 a year (Crane TP-410, Ex. 7-34)."""
    water = Water(62.364 * POUND_PER_CUBIC_FOOT, 1.0e-6)
    curve = PumpCurve(((0.0, 500 * FOOT), (700 * US_GPM, 428 * FOOT), (900 * US_GPM, 350 * FOOT)))
    bore = 0.1
    k = 28 * FOOT / Resistance(1.0, bore).loss(700 * US_GPM)
    found = running(curve, 400 * FOOT, k, bore, water)
    flow, head = found.flows["pump"], found.heads["outlet"]
    assert (flow / US_GPM, head / FOOT) == pytest.approx((700.0, 428.0), rel=1e-6)
    shaft = water.density_kg_m3 * GRAVITY * flow * head / 0.707
    assert shaft / HORSEPOWER == pytest.approx(107.0, rel=0.001)
    cost = energy_kwh_per_year(shaft / (0.95 * 0.96), hours=8000) * 0.12
    assert cost == pytest.approx(83_970, rel=0.001)
