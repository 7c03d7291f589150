"""Pipe friction against printed examples and tables."""

from __future__ import annotations

from math import acos, sin, sqrt

import pytest
from fluids.fittings import K_gate_valve_Crane, K_lift_check_valve_Crane, bend_rounded
from scipy.optimize import brentq

from autoplan.hydraulics.conduit import Conduit, Resistance
from autoplan.hydraulics.fittings import EXIT_K
from autoplan.hydraulics.friction import friction_factor, friction_head, reynolds, velocity
from autoplan.hydraulics.water import GRAVITY, Water, water_at

FOOT = 0.3048
US_GPM = 3.785411784e-3 / 60.0
HORSEPOWER = 745.7

# Roughness of plastic or drawn tube and of commercial steel: Moody's chart, any text.
PLASTIC = 1.5e-6
STEEL = 4.5e-5

# Bores of schedule 40 pipe in millimetres by nominal inches (ASTM D1785).
SCHEDULE_40 = {1: 26.64, 1.25: 35.05, 1.5: 40.89, 2: 52.50, 2.5: 62.71, 3: 77.93, 4: 102.26}

# Loss in feet per 100 feet of schedule 40 plastic pipe, Hazen-Williams C 150, by nominal inches and US
# gallons a minute. Illinois Administrative Code 77-906, Appendix A, Exhibit I.
ILLINOIS = [
    (1, 5, 1.52),
    (1, 10, 5.50),
    (1.25, 5, 0.39),
    (1.25, 10, 1.46),
    (1.25, 15, 3.06),
    (1.25, 20, 5.23),
    (1.5, 10, 0.70),
    (1.5, 15, 1.45),
    (1.5, 20, 2.46),
    (1.5, 25, 3.75),
    (1.5, 30, 5.22),
    (2, 10, 0.21),
    (2, 20, 0.74),
    (2, 30, 1.54),
    (2, 40, 2.62),
    (2, 50, 3.98),
    (3, 50, 0.58),
    (3, 100, 2.09),
    (4, 100, 0.55),
]


def test_crane_7_1_smooth_plastic() -> None:
    """200 L/min in a smooth 52.5 mm bore at 30 C: Reynolds number and factor as in Crane TP-410, Ex. 7-1."""
    number = reynolds(200e-3 / 60.0, 0.0525, Water(995.65, 0.8035e-6))
    assert number == pytest.approx(100_600, rel=0.004)
    assert friction_factor(number, 0.0) == pytest.approx(0.0179, rel=0.004)


@pytest.mark.parametrize(("inches", "gpm", "feet"), [row for row in ILLINOIS if row[0] <= 2])
def test_darcy_lies_above_hazen_williams(inches: float, gpm: float, feet: float) -> None:
    """In 1 to 2 in pipe at 15.6 C the design method asks more head than the printed table, never less.

    By 1 to 16 % from 0.5 m/s up, and up to a quarter below, where Hazen-Williams is known to read low.
    """
    bore, flow = SCHEDULE_40[inches] / 1000.0, gpm * US_GPM
    head = friction_head(flow, bore, 100 * FOOT, PLASTIC, water_at(15.6)) / FOOT
    most = 1.16 if velocity(flow, bore) >= 0.5 else 1.25
    # Half of the last printed digit matters in the smallest values.
    assert 1.01 * (feet - 0.005) < head < most * (feet + 0.005)


@pytest.mark.parametrize(
    ("number", "roughness", "factor"),
    [(1e5, 0.0, 0.01799), (1e5, 0.001, 0.02217), (1000.0, 0.0, 0.0640), (1000.0, 0.01, 0.0640)],
)
def test_moody_chart(number: float, roughness: float, factor: float) -> None:
    """Factors agree with Moody's chart (any text, from memory)."""
    assert friction_factor(number, roughness) == pytest.approx(factor, abs=5.1e-6)


def test_crane_7_15_pump_line() -> None:
    """Head and shaft power of a 3 in steel pump line with fittings agree with Crane TP-410, Ex. 7-15."""
    bore, valve_bore = SCHEDULE_40[3] / 1000.0, SCHEDULE_40[2.5] / 1000.0
    water = water_at((70.0 - 32.0) / 1.8)
    line = Conduit(
        bore_m=bore,
        roughness_m=STEEL,
        length_m=500 * FOOT,
        resistances=(
            Resistance(4 * bend_rounded(bore, 90, method="Crane standard"), bore),
            Resistance(K_gate_valve_Crane(D1=bore, D2=bore, angle=0.0), bore),
            Resistance(K_lift_check_valve_Crane(D1=valve_bore, D2=bore, angled=False), bore),
            Resistance(EXIT_K, bore),
        ),
    )
    flow = 100 * US_GPM
    head = 400 * FOOT + line.loss(flow, water)
    assert head / FOOT == pytest.approx(421.0, rel=0.003)
    assert water.density_kg_m3 * GRAVITY * flow * head / 0.70 / HORSEPOWER == pytest.approx(15.2, abs=0.06)


def test_crane_7_26_part_full_sewer() -> None:
    """24 in of cast iron two thirds full at 3/4 in per foot carry 24 500 US gpm (Crane TP-410, Ex. 7-26)."""
    bore, slope, cast_iron = 24 * FOOT / 12, 0.75 / 12, 2.59e-4
    water = water_at((60.0 - 32.0) / 1.8)
    angle = 2.0 * acos(1.0 - 2.0 * 2.0 / 3.0)
    equivalent_bore = bore * (angle - sin(angle)) / angle
    area = bore**2 / 8.0 * (angle - sin(angle))

    def speed(factor: float) -> float:
        return sqrt(2.0 * GRAVITY * slope * equivalent_bore / factor)

    def misfit(factor: float) -> float:
        number = speed(factor) * equivalent_bore / water.viscosity_m2_s
        return friction_factor(number, cast_iron / equivalent_bore) - factor

    flow = area * speed(brentq(misfit, 0.005, 0.1))
    assert flow / US_GPM == pytest.approx(24_500, rel=0.006)


def test_three_reservoirs() -> None:
    """Flows between three reservoirs with a draw agree with Larock, Jeppson & Watters 2000, Ex. 2.7."""
    # The example's temperature is not given; at roughness 0.5 mm the viscosity hardly matters.
    water = Water(1000.0, 1.0e-6)
    lines = [
        (100.0, Conduit(0.3, 5e-4, 2000.0)),
        (85.0, Conduit(0.25, 5e-4, 1500.0)),
        (60.0, Conduit(0.25, 5e-4, 3000.0)),
    ]

    def inflows(junction: float) -> list[float]:
        """Flow from each reservoir into the junction, negative when out of it [m3/s]."""
        signs = [1.0 if level >= junction else -1.0 for level, _ in lines]
        return [
            sign * line.flow(abs(level - junction), water)
            for sign, (level, line) in zip(signs, lines, strict=True)
        ]

    junction = brentq(lambda head: sum(inflows(head)) - 0.060, 60.0, 100.0, xtol=1e-9)
    assert inflows(junction) == pytest.approx([0.1023, 0.0200, -0.0622], rel=0.005)


WHITE_PIPES = [(100.0, 0.080, 0.24e-3), (150.0, 0.060, 0.12e-3), (80.0, 0.040, 0.20e-3)]
WHITE_WATER = Water(1000.0, 1.02e-6)
WHITE_DROP = 20.3


def test_white_6_17_series() -> None:
    """Three pipes in series under 20.3 m carry 10.2 m3/h (White, Fluid Mechanics, Ex. 6.17, from memory)."""
    lines = [Conduit(bore, roughness, length) for length, bore, roughness in WHITE_PIPES]
    flow = brentq(
        lambda q: sum(line.loss(q, WHITE_WATER) for line in lines) - WHITE_DROP, 1e-6, 0.1, xtol=1e-12
    )
    assert flow * 3600.0 == pytest.approx(10.2, rel=0.003)


def test_white_6_18_parallel() -> None:
    """The same pipes side by side carry 99.8 m3/h (White, Fluid Mechanics, Ex. 6.18, from memory)."""
    lines = [Conduit(bore, roughness, length) for length, bore, roughness in WHITE_PIPES]
    total = sum(line.flow(WHITE_DROP, WHITE_WATER) for line in lines)
    assert total * 3600.0 == pytest.approx(99.8, rel=0.003)
