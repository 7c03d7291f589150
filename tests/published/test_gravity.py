"""Gravity flow against printed examples and tables."""

from __future__ import annotations

from math import pi

import pytest
from scipy.optimize import brentq

from autoplan.hydraulics.conduit import Conduit, Resistance
from autoplan.hydraulics.gravity import (
    draw_down_time,
    standpipe_head,
)
from autoplan.hydraulics.water import GRAVITY, water_at

FOOT = 0.3048
INCH = 0.0254


def test_draw_down_through_opening() -> None:
    """A 4 ft tank falls from 6 to 2 ft through 5 square inches without losses in 94 s (printed example)."""
    seconds = draw_down_time(0.25 * pi * (4 * FOOT) ** 2, 5 * INCH**2, 1.0, 6 * FOOT, 2 * FOOT)
    assert seconds == pytest.approx(94.0, rel=0.007)


def test_draw_down_through_jet() -> None:
    """A 3 ft tank falls from 4 to 2 ft through a half-inch jet in 757 s (printed example, from memory)."""
    seconds = draw_down_time(
        0.25 * pi * (3 * FOOT) ** 2, 0.25 * pi * (0.5 * INCH) ** 2, 1.0, 4 * FOOT, 2 * FOOT
    )
    assert seconds == pytest.approx(757.0, abs=0.5)


def test_siphon_with_friction() -> None:
    """A 0.1 m siphon 5000 m long with f 0.02 and 5 m of fall carries 2.4597e-3 m3/s (GATE Civil 2019)."""
    bore = 0.1
    siphon = Conduit(bore, 0.0, 0.0, (Resistance(0.02 * 5000.0 / bore, bore),))
    assert siphon.flow(5.0, water_at(20.0)) == pytest.approx(2.4597e-3, rel=2e-4)


@pytest.mark.parametrize(("cd", "ratio"), [(0.60, 0.36), (0.65, 0.39)])
def test_weir_and_orifice_cross(cd: float, ratio: float) -> None:
    """Weir and orifice cross at H/D 0.36 (Cd 0.60), 0.39 (0.65): US EPA storm-water model reference."""
    bore = 0.1
    area, lip = 0.25 * pi * bore**2, pi * bore

    def misfit(head: float) -> float:
        return float(1.83 * lip * head**1.5 - cd * area * (2 * GRAVITY * head) ** 0.5)

    head = brentq(misfit, 1e-3, 1.0)
    assert head / bore == pytest.approx(ratio, abs=0.005)
    flow = 1.83 * lip * head**1.5
    assert standpipe_head(flow, bore, cd=cd) == pytest.approx(head)
    assert standpipe_head(0.5 * flow, bore, cd=cd) == pytest.approx((0.5 * flow / (1.83 * lip)) ** (2 / 3))
    assert standpipe_head(2.0 * flow, bore, cd=cd) == pytest.approx(
        (2.0 * flow / (cd * area)) ** 2 / 2 / GRAVITY
    )


@pytest.mark.parametrize(("share", "drowned"), [(0.2, False), (0.45, False), (1.0, True), (1.5, True)])
def test_a_riser_drowns_between_published_heads(share: float, drowned: bool) -> None:
    """Weir up to H/R 0.45, drowned from 1 (USBR, Design of Small Dams, ch. 9, from memory).

    In between it turns at H/D 0.36, which is H/R 0.72 (US EPA, above).
    """
    bore = 0.05
    head = share * bore / 2
    weir = 1.83 * pi * bore * head**1.5
    orifice = 0.6 * 0.25 * pi * bore**2 * (2 * GRAVITY * head) ** 0.5
    passed = orifice if drowned else weir
    assert passed == min(weir, orifice)
    assert standpipe_head(passed, bore, cd=0.6) == pytest.approx(head, rel=1e-9)
