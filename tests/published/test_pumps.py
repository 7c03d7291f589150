"""Pumps and power against printed examples."""

from __future__ import annotations

import pytest

from autoplan.hydraulics.pump import PumpCurve, energy_kwh_per_year, watts_at_speed
from autoplan.hydraulics.water import GRAVITY, Water

FOOT = 0.3048
US_GPM = 3.785411784e-3 / 60.0
HORSEPOWER = 745.7
POUND_PER_CUBIC_FOOT = 0.45359237 / FOOT**3


def test_crane_7_33_affinity() -> None:
    """400 gpm, 126 ft, 17.5 hp at 3500 rpm become 194, 29.7 and 2.0 at 1700 (Crane TP-410, Ex. 7-33)."""
    curve = PumpCurve(((0.0, 140 * FOOT), (400 * US_GPM, 126 * FOOT), (600 * US_GPM, 90 * FOOT)))
    slow = curve.at_speed(1700 / 3500)
    flow, head = slow.points[1]
    assert flow / US_GPM == pytest.approx(194.0, abs=0.5)
    assert head / FOOT == pytest.approx(29.7, abs=0.05)
    assert watts_at_speed(17.5 * HORSEPOWER, 1700 / 3500) / HORSEPOWER == pytest.approx(2.0, abs=0.05)


def test_crane_7_34_cost_of_pumping() -> None:
    """700 gpm over 428 ft take 107 hp at the shaft, 117.4 drawn, $83 970 a year (Crane TP-410, Ex. 7-34)."""
    water = Water(62.364 * POUND_PER_CUBIC_FOOT, 1.0e-6)
    shaft = water.density_kg_m3 * GRAVITY * 700 * US_GPM * 428 * FOOT / 0.707
    drawn = shaft / (0.95 * 0.96)
    assert shaft / HORSEPOWER == pytest.approx(107.0, rel=0.001)
    assert drawn / HORSEPOWER == pytest.approx(117.4, rel=0.001)
    assert energy_kwh_per_year(drawn, hours=8000) * 0.12 == pytest.approx(83_970, rel=0.001)
