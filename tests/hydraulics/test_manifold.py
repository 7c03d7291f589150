"""Many passages asked at once against each asked alone."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from autoplan.hydraulics.manifold import Manifold, Way
from autoplan.hydraulics.passage import SHORTAGE_M, Drain, HeadTable, Pumped, Rim, hole_table

BASINS = 4
ABOVE, BELOW = BASINS, BASINS + 1
NARROW = HeadTable((0.001, 0.01, 0.3), (1e-6, 2e-5, 3e-4))
WIDE = HeadTable((0.002, 0.02, 0.5), (2e-6, 8e-5, 9e-4))
COVER_M = 0.15

WAYS: dict[str, Way] = {
    "drain": (Drain(NARROW, 0.5, WIDE, 0.2), 0, 1),
    "pumped to a basin": (Pumped((0.1, 0.3, 0.8), (3e-4, 4e-4, 4.5e-4), COVER_M), 2, 0),
    "half blocked": (Drain(WIDE, 0.4, NARROW, 0.3, 0.5), 1, 2),
    "the same pump to another": (Pumped((0.1, 0.3, 0.8), (1e-4, 2e-4, 2.1e-4), COVER_M), 2, 3),
    "come apart": (Drain(NARROW, 0.3, None, -math.inf), 3, BELOW),
    "no inlet": (Drain(None, 0.2, NARROW, 0.1), 3, 2),
    "with a hole at its foot": (Drain(NARROW, 0.6, WIDE, 0.1, 1.0, hole_table(0.01), 0.02), 3, 2),
    "another pump": (Pumped((0.2,), (5e-5,), -math.inf), ABOVE, 1),
    "rim": (Rim(1.2, 0.7), 0, BELOW),
}


def asked(levels: list[float]) -> None:
    """What all say at once is what each says alone, and what runs in runs out elsewhere."""
    ways = list(WAYS.values())
    manifold = Manifold(ways, BASINS)
    assert sorted(manifold.order) == list(range(len(ways)))
    known = [*levels, math.inf, -math.inf]
    rates, gains = manifold.rates(known)
    moved = [0.0] * (BASINS + 2)
    for number, ends, rate in zip(manifold.order, manifold.ends, rates, strict=True):
        passage, above, below = ways[number]
        assert ends == (above, below)
        assert rate == pytest.approx(passage.rate(known[above], known[below]), rel=1e-14, abs=0.0)
        moved[above] -= rate[0]
        moved[below] += rate[0]
    assert gains == pytest.approx([*moved[:BASINS], 0.0, 0.0], rel=1e-12, abs=1e-18)


@settings(max_examples=300, deadline=None, derandomize=True)
@given(st.lists(st.floats(-0.1, 1.0), min_size=BASINS, max_size=BASINS))
def test_at_any_levels(levels: list[float]) -> None:
    """Dry, running, drowned, or over the rim."""
    asked(levels)


@pytest.mark.parametrize(
    "level",
    [
        COVER_M - 2 * SHORTAGE_M,
        COVER_M - SHORTAGE_M,
        COVER_M - SHORTAGE_M / 2,
        COVER_M,
        0.1,
        0.3,
        0.8,
        0.9,
        0.5,
        0.2,
    ],
)
def test_on_every_edge(level: float) -> None:
    """Where a pump fades and its tables end, where drains begin to run and to drown."""
    asked([level] * BASINS)


def test_nothing_to_pass() -> None:
    """Basins without any way between them gain nothing."""
    assert Manifold([], 2).rates([0.1, 0.2, math.inf, -math.inf]) == ([], [0.0, 0.0, 0.0, 0.0])
