"""Laying pieces on sticks against trying everything, and against first fit."""

from __future__ import annotations

import random
import time
from collections.abc import Iterator, Sequence
from itertools import pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from autoplan.optimiser.cutting.cutting import (
    CuttingUndecidedError,
    Stick,
    cheapest,
    lay,
    lengths_of,
    most_too_few,
)
from autoplan.optimiser.cutting.patterns import lay_by_patterns
from autoplan.optimiser.cutting.sticks import Laid, covers, decide, lay_by_solver

KERF = 30


def stick(length: int, cents: int = 100, *, by_metre: bool = False) -> Stick:
    """A stick of which there are plenty."""
    return Stick(f"stick {length}", length, cents, 400, by_metre, shop="mill")


def holds(pieces: Sequence[int], length: int, kerf: int, keeps: int = 0) -> bool:
    """Whether pieces and the cuts between them fit on one length; from two on so much of it must be left."""
    left = length - sum(pieces) - kerf * max(0, len(pieces) - 1)
    return left >= (keeps if len(pieces) > 1 else 0)


Length = tuple[int, int, int, int]
"""A length, the width of a cut on it, the longest piece that is cut of it, and what is left of it."""


def can_be_laid(pieces: Sequence[int], lengths: Sequence[Length], laid: Sequence[list[int]] = ()) -> bool:
    """Every way to give each piece a length, tried one by one."""
    on = laid or [[] for _ in lengths]
    if not pieces:
        return all(
            holds(list_, size, cut, keeps) for list_, (size, cut, _, keeps) in zip(on, lengths, strict=True)
        )
    for list_, (length, cut, longest, keeps) in zip(on, lengths, strict=True):
        if pieces[0] > longest:
            continue
        list_.append(pieces[0])
        fits = holds(list_, length, cut, keeps) and can_be_laid(pieces[1:], lengths, on)
        list_.pop()
        if fits:
            return True
    return False


def cut_from(kinds: Sequence[Stick], counts: Sequence[int], kerf: int) -> list[Length]:
    """Single lengths: a pack is of several, metres of one kind are in one."""
    found = []
    for kind, packs in zip(kinds, counts, strict=True):
        cut, number = 0 if kind.to_measure else kerf, packs * kind.pack
        length, count = (kind.length * number, 1) if kind.by_metre else (kind.length, number)
        found += [(length, cut, length if kind.longest is None else kind.longest, kind.keeps)] * count
    return found


def well_laid(laid: Sequence[Sequence[int]], lengths: Sequence[Length]) -> bool:
    """Whether each length holds what was laid on it, no piece too long for it."""
    return all(
        holds(on, length, cut, keeps) and max(on, default=0) <= longest
        for on, (length, cut, longest, keeps) in zip(laid, lengths, strict=True)
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


LIMITS = st.one_of(st.none(), st.integers(10, 120))


@st.composite
def supplies(draw: st.DrawFn) -> tuple[list[Stick], list[int]]:
    """Two lengths of stick, metres of two shops that cut so far, offcuts and own metres; how many of each.

    Of sticks and offcuts something may be kept, also more than there is of them.
    """
    keeps = draw(st.sampled_from((0, 1, 10, 25)))
    kinds = [
        Stick("a", 150, draw(st.integers(60, 160)), 9, shop="mill", keeps=keeps),
        Stick(
            "b",
            90,
            draw(st.integers(40, 90)),
            draw(st.integers(0, 2)),
            pack=draw(st.integers(1, 2)),
            shop="mill",
            keeps=keeps,
        ),
        Stick("m", 40, draw(st.integers(20, 50)), 9, by_metre=True, shop="mill", longest=draw(LIMITS)),
        Stick(
            *("m", 40, draw(st.integers(20, 50)), draw(st.integers(0, 2))),
            by_metre=True,
            shop="pond",
            longest=draw(LIMITS),
        ),
        *(Stick("a", draw(st.integers(10, 160)), 0, 1, keeps=keeps) for _ in range(draw(st.integers(0, 2)))),
    ]
    if draw(st.booleans()):
        kinds.append(Stick("m", 40, 0, draw(st.integers(1, 3)), by_metre=True))
    return kinds, [draw(st.integers(0, min(2, kind.most))) if kind.cents else kind.most for kind in kinds]


NEARLY_WHOLE = st.sampled_from((80, 85, 89, 90, 125, 140, 149, 150))
"""Pieces about as long as the sticks."""

PIECES = st.lists(st.one_of(st.integers(1, 100), NEARLY_WHOLE), min_size=1, max_size=6)
QUICK = settings(max_examples=150, deadline=None, derandomize=True)
FEW = settings(QUICK, max_examples=40)


@QUICK
@given(pieces=PIECES, given=supplies(), kerf=st.integers(0, 5))
def test_lay_is_exact(pieces: list[int], given: tuple[list[Stick], list[int]], kerf: int) -> None:
    """Pieces are laid just where trying every way finds one, and what is laid fits: by both searches."""
    kinds, counts = given
    lengths = cut_from(kinds, counts, kerf)
    for laid in (lay(pieces, kinds, counts, kerf), decide(pieces, kinds, counts, kerf, None)):
        assert (laid is not None) == can_be_laid(pieces, lengths)
        if laid is not None:
            assert sorted(piece for on in laid for piece in on) == sorted(pieces)
            assert well_laid(laid, lengths)


@pytest.mark.parametrize(
    ("pieces", "laid"),
    [
        ((20_000,), True),
        ((19_999,), True),
        ((9_935, 9_935), True),
        ((9_935, 9_936), False),
        ((19_800, 70), True),
        ((19_800, 71), False),
        ((19_999, 1), False),
        ((30_000, 19_999), True),
        ((30_000, 20_000), True),
        ((29_870, 20_000), True),
        ((19_999, 9_872, 20_000), False),
        ((19_999, 9_871, 20_000), True),
    ],
)
def test_what_sticks_keep_by_hand(pieces: tuple[int, ...], laid: bool) -> None:
    """10 mm of 2 m beside a cut of 3 mm: two pieces of 993.5 mm and no more; one may be all of it.

    Of 3 m besides, where there are more pieces: 1999.9 and 987.1 mm leave just 10 mm and a cut of it.
    """
    kinds = [Stick("p", 20_000, 100, 9, keeps=100), Stick("p", 30_000, 100, 9, keeps=100)]
    counts = [1, int(max(pieces) > 20_000 or len(pieces) > 2)]
    for found in (lay(pieces, kinds, counts, KERF), lay_by_solver(pieces, kinds, counts, KERF, None)):
        assert (found is not None) is laid


@FEW
@given(pieces=PIECES, given=supplies(), kerf=st.integers(0, 5))
def test_the_solver_lays_as_well(pieces: list[int], given: tuple[list[Stick], list[int]], kerf: int) -> None:
    """What is asked where the search runs out of steps is exact too, and what it lays fits."""
    kinds, counts = given
    lengths = cut_from(kinds, counts, kerf)
    laid = lay_by_solver(pieces, kinds, counts, kerf, None)
    assert (laid is not None) == can_be_laid(pieces, lengths)
    if laid is not None:
        assert sorted(piece for on in laid for piece in on) == sorted(pieces)
        assert well_laid(laid, lengths)


@FEW
@given(pieces=st.lists(st.integers(1, 100), min_size=1, max_size=5), kerf=st.integers(0, 5))
def test_a_shop_that_cuts_to_measure_loses_no_cut(pieces: list[int], kerf: int) -> None:
    """Metres cut by the shop need only the pieces' length; the builder's own loses a cut between two."""
    kinds = [Stick("hose", 40, 30, 12, by_metre=True, to_measure=True, shop="mill"), Stick("hose", 75, 0, 1)]
    found = cheapest(pieces, kinds, kerf)
    costs = [30 * n for n in range(13) if can_be_laid(pieces, [(40 * n, 0, 480, 0), (75, kerf, 75, 0)])]
    assert (None if found is None else found[0]) == min(costs, default=None)


def mixes(kinds: Sequence[Stick], most_sticks: int, most_metres: int) -> Iterator[tuple[int, ...]]:
    """Every number of packs of each kind; all of the builder's own."""
    ranges = [
        range(min(kind.most, most_metres if kind.by_metre else most_sticks) + 1)
        if kind.cents
        else [kind.most]
        for kind in kinds
    ]
    return product(*ranges)


@settings(QUICK, max_examples=60)
@given(pieces=st.lists(st.integers(1, 120), min_size=1, max_size=4), given=supplies(), kerf=st.integers(0, 5))
def test_cheapest_is_exact(pieces: list[int], given: tuple[list[Stick], list[int]], kerf: int) -> None:
    """Sticks, packs, few of a kind, metres of two shops, pieces of one's own: no counts that do cost less."""
    kinds, _ = given
    found = cheapest(pieces, kinds, kerf)
    cents = {counts: price(kinds, counts) for counts in mixes(kinds, 4, 9)}
    least = next(
        (
            cents[counts]
            for counts in sorted(cents, key=cents.__getitem__)
            if can_be_laid(pieces, cut_from(kinds, counts, kerf))
        ),
        None,
    )
    assert (None if found is None else found[0]) == least
    if found is not None:
        assert found[0] == price(kinds, found[1])
        assert can_be_laid(pieces, cut_from(kinds, found[1], kerf))


def price(kinds: Sequence[Stick], counts: Sequence[int]) -> int:
    """What so many packs cost [cents]."""
    return sum(kind.cents * n for kind, n in zip(kinds, counts, strict=True))


@settings(QUICK, max_examples=80)
@given(pieces=PIECES, given=supplies(), kerf=st.integers(0, 5))
def test_too_few_and_no_more_could_be(
    pieces: list[int], given: tuple[list[Stick], list[int]], kerf: int
) -> None:
    """Counts raised from too few are still too few, and one more of any kind that has more is enough."""
    kinds, counts = given
    if can_be_laid(pieces, cut_from(kinds, counts, kerf)):
        return
    raised = most_too_few(pieces, kinds, counts, kerf)
    assert all(a <= b <= kind.most for a, b, kind in zip(counts, raised, kinds, strict=True))
    assert not can_be_laid(pieces, cut_from(kinds, raised, kerf))
    for i, kind in enumerate(kinds):
        if raised[i] < kind.most:
            more = [n + (j == i) for j, n in enumerate(raised)]
            assert can_be_laid(pieces, cut_from(kinds, more, kerf))


@FEW
@given(pieces=PIECES, longer=st.lists(st.integers(0, 40), min_size=6, max_size=8), kerf=st.integers(0, 5))
def test_longer_pieces_cover_shorter_ones(pieces: list[int], longer: list[int], kerf: int) -> None:
    """Where as many pieces, each as long, can be laid, so can the shorter ones."""
    others = [a + b for a, b in zip([*pieces, 0, 0, 0, 0, 0, 0, 0], longer, strict=False) if a + b]
    assert covers([p / 1e4 for p in others], [p / 1e4 for p in pieces])
    lengths = [(150, kerf, 150, 25), (90, kerf, 90, 25), (60, kerf, 60, 0)]
    if len(others) <= 6 and can_be_laid(others, lengths):
        assert can_be_laid(pieces, lengths)
    assert not covers([p / 1e4 for p in pieces[1:]], [p / 1e4 for p in pieces])


@QUICK
@given(pieces=st.lists(st.integers(100, 2_900), min_size=1, max_size=12))
def test_never_more_sticks_than_first_fit(pieces: list[int]) -> None:
    """The exact plan takes at most what longest-first first-fit takes, and at least what length asks."""
    found = cheapest(pieces, [stick(3_000)], KERF)
    assert found is not None
    (count,) = found[1]
    assert count <= first_fit_decreasing(pieces, 3_000, KERF)
    assert count * (3_000 + KERF) >= sum(pieces) + KERF * len(pieces)


def fewest(pieces: list[int], kind: Stick) -> tuple[int, Laid]:
    """How many sticks of a kind hold all pieces, what lies on each; a fault where a minute does not tell."""
    try:
        found = cheapest(pieces, [kind], KERF)
        assert found is not None
        (count,) = found[1]
    except CuttingUndecidedError as undecided:
        count = undecided.at_least // kind.cents
    deadline = time.monotonic() + 60.0
    while (laid := decide(pieces, [kind], [count], KERF, deadline)) is None:
        count += 1
    return count, laid


@pytest.mark.parametrize(
    "seed", [pytest.param(seed, marks=[pytest.mark.long] * (seed >= 12)) for seed in range(400)]
)
def test_never_more_sticks_than_first_fit_for_a_large_plan(seed: int) -> None:
    """Nor on 60 to 100 pieces of 100 mm to 2.9 m; where the quick search gives up, the thorough decides."""
    draw = random.Random(seed)
    pieces = [draw.randint(1_000, 29_000) for _ in range(draw.randint(60, 100))]
    count, laid = fewest(pieces, stick(30_000))
    assert count <= first_fit_decreasing(pieces, 30_000, KERF)
    assert sorted(piece for on in laid for piece in on) == sorted(pieces)
    assert all(holds(on, 30_000, KERF) for on in laid)


def test_beats_first_fit() -> None:
    """Six pieces that fit on two sticks exactly, of which first fit needs three."""
    pieces = [40, 40, 30, 30, 30, 30]
    assert first_fit_decreasing(pieces, 100, 0) == 3
    assert cheapest(pieces, [stick(100)], 0) == (200, [2])


def test_undecided_is_said_and_not_guessed() -> None:
    """With hardly any steps a plan that takes a search is neither laid nor refused; with enough it is."""
    pieces = [40, 40, 30, 30, 30, 30]
    with pytest.raises(CuttingUndecidedError):
        lay(pieces, [stick(100)], [2], 0, most_steps=1)
    assert lay(pieces, [stick(100)], [2], 0) is not None


@pytest.mark.parametrize(("length", "fits"), [(3_000, True), (2_999, False)])
def test_both_sides_of_a_full_stick(length: int, fits: bool) -> None:
    """Two pieces and the cut between them take 1500 + 30 + 1470; the last piece needs no cut."""
    assert (lay([1_500, 1_470], [stick(length)], [1], KERF) is not None) is fits


@pytest.mark.parametrize(("metres", "fits"), [(2, True), (1, False)])
def test_metres_come_in_one_piece(metres: int, fits: bool) -> None:
    """A piece longer than a metre is cut from metres, never from sticks of a metre."""
    assert (lay([20_000], [stick(10_000, by_metre=True)], [metres], KERF) is not None) is fits
    assert lay([20_000], [stick(10_000)], [metres], KERF) is None


def test_metres_of_two_shops_are_two_lengths() -> None:
    """A metre from each of two shops is no length of two metres."""
    kinds = [Stick("m", 10_000, 100, 9, by_metre=True, shop=shop) for shop in ("mill", "pond")]
    assert lengths_of(kinds, [1, 1]) == [(kinds[0], 10_000), (kinds[1], 10_000)]
    assert lay([15_000], kinds, [1, 1], KERF) is None
    assert lay([10_000, 10_000], kinds, [1, 1], KERF) == [[10_000], [10_000]]
    assert lay([15_000], kinds, [2, 0], KERF) == [[15_000], []]


def test_no_more_than_there_are() -> None:
    """With one stick in stock a second piece as long cannot be had."""
    scarce = Stick("scarce", 1_000, 100, 1)
    assert cheapest([900], [scarce], KERF) == (100, [1])
    assert cheapest([900, 900], [scarce], KERF) is None


def test_a_piece_longer_than_any_stick() -> None:
    """No number of sticks holds it."""
    assert cheapest([1_001], [stick(1_000)], KERF) is None
    assert cheapest([1_000], [stick(1_000)], KERF) == (100, [1])


@pytest.mark.parametrize(("longest", "fits"), [(60_000, True), (59_999, False), (None, True)])
def test_both_sides_of_the_longest_piece(longest: int | None, fits: bool) -> None:
    """A shop that cuts up to 6 m sells two pieces of 6 m, but no piece a tenth of a millimetre longer."""
    metres = Stick("m", 10_000, 100, 99, by_metre=True, shop="mill", longest=longest)
    assert (lay([60_000, 60_000], [metres], [13], KERF) is not None) is fits
    assert (cheapest([60_000], [metres], KERF) is not None) is fits
    assert (lay_by_solver([60_000, 60_000], [metres], [13], KERF, None) is not None) is fits


def test_a_dearer_shop_that_cuts_longer_is_not_left_out() -> None:
    """A piece of 5 m comes from the shop that cuts so far, though another sells the metre for less."""
    far = Stick("m", 10_000, 120, 99, by_metre=True, to_measure=True, shop="pond")
    near = Stick("m", 10_000, 100, 99, by_metre=True, to_measure=True, shop="mill", longest=30_000)
    assert cheapest([50_000], [far, near], KERF) == (600, [5, 0])
    assert cheapest([30_000], [far, near], KERF) == (300, [0, 3])


@pytest.mark.parametrize(("seed", "keeps", "whole"), [(0, 0, 0), (1, 0, 0), (2, 100, 3), (3, 100, 1)])
def test_patterns_lay_what_was_cut_from_sticks(seed: int, keeps: int, whole: int) -> None:
    """Twenty sticks cut to the last centimetre are put together again, on one fewer they are not.

    Where sticks keep 10 mm they are so much longer, and some pieces are as good as all of one.
    """
    draw = random.Random(seed)
    kerf, sticks = 30, [Stick("p", 30100 + keeps, 350, 40, keeps=keeps)]
    pieces = []
    for _ in range(20):
        ends = sorted(draw.sample(range(2000, 28000, 1300), 3))
        lengths = [b - a for a, b in pairwise((0, *ends, 30000))]
        pieces += [length - kerf for length in lengths]
    pieces += [30099 + keeps] * whole
    laid = lay_by_patterns(pieces, sticks, [20 + whole], kerf)
    assert laid is not None
    assert sorted(piece for stick in laid for piece in stick) == sorted(pieces)
    assert all(holds(stick, 30100 + keeps, kerf, keeps) for stick in laid)
    assert lay_by_patterns(pieces, sticks, [19 + whole], kerf) is None


@pytest.mark.parametrize("longest", [10_000, 20_000, None])
def test_patterns_know_the_longest_piece(longest: int | None) -> None:
    """Six of 1.5 m and six of 0.9 m: metres that come up to 1 m hold only the short ones, else any."""
    pieces = [15_000] * 6 + [9_000] * 6
    metres = Stick("m", 10_000, 100, 99, by_metre=True, shop="mill", longest=longest)
    kinds = [metres, stick(32_000)]
    for counts, fits in (([6, 3], True), ([15, 0], longest != 10_000)):
        laid = lay_by_patterns(pieces, kinds, counts, KERF)
        assert (laid is not None) is fits
        if laid is not None:
            assert sorted(piece for on in laid for piece in on) == sorted(pieces)
            assert well_laid(laid, cut_from(kinds, counts, KERF))
