"""A screen by itself: what half of its openings lets through."""

from __future__ import annotations

import math

import pytest

from autoplan.catalog.parts import Catalog, FixtureKind
from autoplan.fittings.screen import SCREEN_CLEAR, InletScreen


def test_half_blocked_orifices(catalog: Catalog) -> None:
    """The head before a screen is that of orifices: Q = Cd A sqrt(2 g h), Cd 0.60, half the area clear."""
    screens = [row for row in catalog.fixtures.values() if row.kind is FixtureKind.SCREEN]
    assert SCREEN_CLEAR == 0.5
    assert screens
    for row in screens:
        head = InletScreen(row.id).resistance(catalog).loss(750 / 3.6e6)
        passes = 0.60 * row.open_m2 * 0.5 * math.sqrt(2 * 9.80665 * head)
        assert passes == pytest.approx(750 / 3.6e6, rel=1e-9)
