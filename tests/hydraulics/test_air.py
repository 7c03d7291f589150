"""Pressure that air in a line takes."""

from __future__ import annotations

import math

import pytest

from autoplan.hydraulics.air import AIR, WATER_KG_M3, air_line_head


def test_laminar_air_is_hagen_poiseuille() -> None:
    """In a narrow, slow line dp = 128 mu L Q / (pi d^4): any text on viscous flow."""
    flow, bore, length = 60 / 3.6e6, 0.004, 5.0
    viscosity = AIR.viscosity_m2_s * AIR.density_kg_m3
    pascal = 128 * viscosity * length * flow / (math.pi * bore**4)
    assert 4 * flow / (math.pi * bore * AIR.viscosity_m2_s) < 2000
    assert air_line_head(flow, bore, length) == pytest.approx(pascal / (WATER_KG_M3 * 9.80665), rel=1e-9)


def test_turbulent_air_is_near_blasius() -> None:
    """From Re 4000 smooth tube follows Blasius, f = 0.316 / Re^0.25, within 4 % (any text; from memory)."""
    flow, bore, length = 1000 / 3.6e6, 0.005, 4.0
    speed = 4 * flow / (math.pi * bore**2)
    reynolds = speed * bore / AIR.viscosity_m2_s
    assert 4000 < reynolds < 1e5
    pascal = 0.316 / reynolds**0.25 * length / bore * AIR.density_kg_m3 * speed**2 / 2
    assert air_line_head(flow, bore, length) == pytest.approx(pascal / (WATER_KG_M3 * 9.80665), rel=0.04)


def test_no_air_no_loss() -> None:
    """Nothing flows, nothing is lost; a line of no bore is refused."""
    assert air_line_head(0.0, 0.004, 3.0) == 0.0
    with pytest.raises(ValueError, match="bore"):
        air_line_head(1e-4, 0.0, 3.0)
