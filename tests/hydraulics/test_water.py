"""Density and viscosity against published values."""

from __future__ import annotations

from itertools import pairwise

import pytest

from autoplan.hydraulics.water import COLDEST_C, HOTTEST_C, water_at


@pytest.mark.parametrize(
    ("celsius", "viscosity", "density"),
    # IAPWS values as tabulated for water at 1 atm.
    [(10.0, 1.3065e-6, 999.7), (20.0, 1.0034e-6, 998.2), (30.0, 0.8007e-6, 995.65)],
)
def test_iapws_values(celsius: float, viscosity: float, density: float) -> None:
    """Viscosity and density agree with the IAPWS tables."""
    water = water_at(celsius)
    assert water.viscosity_m2_s == pytest.approx(viscosity, rel=3e-4)
    assert water.density_kg_m3 == pytest.approx(density, abs=0.05)


def test_densest_at_four_degrees() -> None:
    """Water is densest near 4 C, at 999.97 kg/m3 (any table, from memory)."""
    celsius = max((step / 100 for step in range(1000)), key=lambda t: water_at(t).density_kg_m3)
    assert celsius == pytest.approx(3.98, abs=0.05)
    assert water_at(celsius).density_kg_m3 == pytest.approx(999.97, abs=0.01)


def test_thinner_when_warmer() -> None:
    """Viscosity falls all the way from coldest to hottest."""
    values = [water_at(step / 2).viscosity_m2_s for step in range(121)]
    assert all(a > b for a, b in pairwise(values))


def test_limits() -> None:
    """Both ends of the range are accepted and anything beyond, or no number, is refused."""
    assert water_at(COLDEST_C).density_kg_m3 > water_at(HOTTEST_C).density_kg_m3
    for celsius in (COLDEST_C - 0.01, HOTTEST_C + 0.01, float("nan")):
        with pytest.raises(ValueError, match="outside 0 to 60 C"):
            water_at(celsius)
