"""Levels of vessels."""

from __future__ import annotations

import pytest

from autoplan.hydraulics.vessel import level_change


def test_level_change() -> None:
    """100 L over 2 m2 are 50 mm, up or down; a surface of nothing is refused."""
    assert level_change(0.1, 2.0) == pytest.approx(0.05)
    assert level_change(-0.1, 2.0) == pytest.approx(-0.05)
    with pytest.raises(ValueError, match="surface must be positive"):
        level_change(0.1, 0.0)
