"""What outlets keep as their pump's water sinks, against the flow solved outright."""

from __future__ import annotations

import random

import pytest

from autoplan.hydraulics.pump import PumpCurve
from autoplan.hydraulics.sinking import head_lacking, own_head_asked, share_left

CURVE = PumpCurve(((0.0, 4.0), (0.5e-3, 3.4), (1.0e-3, 2.2), (1.5e-3, 0.0)))


def flows(sunk_m: float, trunk: float, outlets: list[tuple[float, float]]) -> list[float]:
    """Flows [m3/s] of outlets (lift [m], K of Q^2) behind one trunk, by halving the head at its end."""

    def out(head: float) -> list[float]:
        return [(max(0.0, head - lift) / k) ** 0.5 for lift, k in outlets]

    low, high = -5.0, 10.0
    for _ in range(200):
        head = 0.5 * (low + high)
        whole = sum(out(head))
        given = -1.0 if whole > CURVE.run_out_m3_s else CURVE.head(whole) - sunk_m - trunk * whole**2
        low, high = (head, high) if given > head else (low, head)
    return out(low)


@pytest.mark.parametrize("seed", range(20))
def test_outlets_keep_at_least_as_much(seed: int) -> None:
    """Of random trees with a trunk and two to five outlets none gets less than is said."""
    draw = random.Random(seed)
    trunk = draw.uniform(0.0, 8e5)
    outlets = [(draw.uniform(0.3, 1.6), 10 ** draw.uniform(6.5, 8.5)) for _ in range(draw.randint(2, 5))]
    sunk = draw.uniform(0.05, 0.4)
    before, after = flows(0.0, trunk, outlets), flows(sunk, trunk, outlets)
    whole = sum(before)
    behind = CURVE.head(whole)
    lacking = head_lacking(CURVE, whole, max(behind - lift for lift, _ in outlets), sunk)
    assert 0.0 < lacking < sunk
    for (lift, _), was, now in zip(outlets, before, after, strict=True):
        own = behind - trunk * whole**2 - lift
        assert share_left(lacking, own) <= now / was + 1e-9


def test_one_outlet_from_a_pump_that_gives_one_head() -> None:
    """No more head for less flow: 0.1 of 1 m lacks and 0.9^(1/1.75) of the flow is left, under 0.9^0.5."""
    flat = PumpCurve(((0.0, 3.0001), (2e-3, 3.0)))
    lacking = head_lacking(flat, 1e-3, 1.0, 0.1)
    assert lacking == pytest.approx(0.1, rel=1e-3)
    assert share_left(lacking, 1.0) == pytest.approx(0.9416, rel=1e-3)
    assert share_left(lacking, 1.0) < 0.9**0.5


def test_nothing_lacks_where_nothing_sinks_and_nothing_is_left_where_all_does() -> None:
    """No water sunk, all the flow; as much head lacking as there was, none; past the curve's end no gain."""
    assert head_lacking(CURVE, 1e-3, 1.0, 0.0) == 0.0
    assert share_left(0.0, 0.0) == 1.0
    assert share_left(0.3, 0.3) == 0.0
    assert share_left(0.3, 0.0) == 0.0
    assert head_lacking(CURVE, 2e-3, 1.0, 0.2) == 0.2


@pytest.mark.parametrize("share", [0.3, 0.8, 0.99])
def test_head_asked_is_head_that_leaves_the_share(share: float) -> None:
    """Either says what the other does: with the head asked for just that share is left."""
    assert share_left(0.2, own_head_asked(0.2, share)) == pytest.approx(share, rel=1e-9)
