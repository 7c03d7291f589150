"""Laying pieces on sticks against trying everything, and against first fit."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from autoplan.selection.cutting import Stick, cheapest, lay

KERF = 30


def stick(length: int, cents: int = 100, *, by_metre: bool = False) -> Stick:
    """A stick of which there are plenty."""
    return Stick(f"stick {length}", length, cents, 400, by_metre)


def holds(pieces: Sequence[int], length: int, kerf: int) -> bool:
    """Whether pieces and the cuts between them fit on one length."""
    return sum(pieces) + kerf * max(0, len(pieces) - 1) <= length


def can_be_laid(pieces: Sequence[int], lengths: Sequence[int], kerf: int) -> bool:
    """Every way to give each piece a stick, tried one by one."""
    return any(
        all(
            holds([p for p, s in zip(pieces, where, strict=True) if s == i], length, kerf)
            for i, length in enumerate(lengths)
        )
        for where in product(range(len(lengths)), repeat=len(pieces))
    )


def first_fit_decreasing(pieces: Sequence[int], length: int, kerf: int) -> int:
    """Sticks that the simplest rule of thumb takes: longest piece first, on the first stick that holds it."""
    sticks: list[list[int]] = []
    for piece in sorted(pieces, reverse=True):
        for laid in sticks:
            if holds([*laid, piece], length, kerf):
                laid.append(piece)
                break
        else:
            sticks.append([piece])
    return len(sticks)


PIECES = st.lists(st.integers(1, 100), min_size=1, max_size=6)
QUICK = settings(max_examples=60, deadline=None, derandomize=True)


@QUICK
@given(pieces=PIECES, long=st.integers(0, 2), short=st.integers(0, 2), kerf=st.integers(0, 5))
def test_lay_is_exact(pieces: list[int], long: int, short: int, kerf: int) -> None:
    """Pieces are laid just where trying every way finds one, and what is laid fits."""
    kinds = [stick(150), stick(90)]
    lengths = [150] * long + [90] * short
    laid = lay(pieces, kinds, [long, short], kerf)
    assert (laid is not None) == can_be_laid(pieces, lengths, kerf)
    if laid is not None:
        assert sorted(piece for on in laid for piece in on) == sorted(pieces)
        assert all(holds(on, length, kerf) for on, length in zip(laid, lengths, strict=True))


@QUICK
@given(pieces=st.lists(st.integers(1, 120), min_size=1, max_size=5), kerf=st.integers(0, 5))
def test_cheapest_is_exact(pieces: list[int], kerf: int) -> None:
    """Two lengths of stick and a pipe by the metre: no counts that hold the pieces cost less."""
    kinds = [stick(150, 100), stick(90, 65), stick(40, 33, by_metre=True)]
    costs = [
        100 * a + 65 * b + 33 * metres
        for a, b, metres in product(range(len(pieces) + 1), range(len(pieces) + 1), range(16))
        if 100 * a + 65 * b + 33 * metres <= 100 * len(pieces)
        and can_be_laid(pieces, [150] * a + [90] * b + [40 * metres], kerf)
    ]
    found = cheapest(pieces, kinds, kerf, 0)
    assert found is not None
    cents, counts = found
    assert cents == min(costs)
    assert cents == sum(kind.cents * n for kind, n in zip(kinds, counts, strict=True))
    assert lay(pieces, kinds, counts, kerf) is not None


@QUICK
@given(pieces=st.lists(st.integers(100, 2_900), min_size=1, max_size=12))
def test_never_more_sticks_than_first_fit(pieces: list[int]) -> None:
    """The exact plan takes at most what longest-first first-fit takes, and at least what length asks."""
    found = cheapest(pieces, [stick(3_000)], KERF, 0)
    assert found is not None
    (count,) = found[1]
    assert count <= first_fit_decreasing(pieces, 3_000, KERF)
    assert count * (3_000 + KERF) >= sum(pieces) + KERF * len(pieces)


def test_beats_first_fit() -> None:
    """Six pieces that fit on two sticks exactly, of which first fit needs three."""
    pieces = [40, 40, 30, 30, 30, 30]
    assert first_fit_decreasing(pieces, 100, 0) == 3
    assert cheapest(pieces, [stick(100)], 0, 0) == (200, [2])


@pytest.mark.parametrize(("length", "fits"), [(3_000, True), (2_999, False)])
def test_both_sides_of_a_full_stick(length: int, fits: bool) -> None:
    """Two pieces and the cut between them take 1500 + 30 + 1470; the last piece needs no cut."""
    assert (lay([1_500, 1_470], [stick(length)], [1], KERF) is not None) is fits


@pytest.mark.parametrize(("metres", "fits"), [(2, True), (1, False)])
def test_metres_come_in_one_piece(metres: int, fits: bool) -> None:
    """A piece longer than a metre is cut from metres, never from sticks of a metre."""
    assert (lay([20_000], [stick(10_000, by_metre=True)], [metres], KERF) is not None) is fits
    assert lay([20_000], [stick(10_000)], [metres], KERF) is None


def test_no_more_than_there_are() -> None:
    """With one stick in stock a second piece as long cannot be had."""
    scarce = Stick("scarce", 1_000, 100, 1)
    assert cheapest([900], [scarce], KERF, 0) == (100, [1])
    assert cheapest([900, 900], [scarce], KERF, 0) is None


def test_a_piece_longer_than_any_stick() -> None:
    """No number of sticks holds it."""
    assert cheapest([1_001], [stick(1_000)], KERF, 0) is None
    assert cheapest([1_000], [stick(1_000)], KERF, 0) == (100, [1])
