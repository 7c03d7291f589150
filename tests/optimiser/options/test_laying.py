"""The ways to lay a straight: in one piece, or of whole sticks and the rest."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import pytest

from autoplan.catalog.joining import Chain, stub_length
from autoplan.catalog.parts import Catalog, Pipe
from autoplan.optimiser.options.laying import MOST_MIXES, couplings_worth_having, layings
from autoplan.optimiser.options.shelf import Shelf
from autoplan.problem.site import Site


@pytest.fixture(scope="module")
def shelf_with(shelf_of: Callable[[str], Catalog], site_of: Callable[..., Site]) -> Callable[..., Shelf]:
    """A shelf of sticks of 3 and 6 m and metres; what is owned or missing may be given."""
    catalog = shelf_of("pn10-50-3m pn10-50-6m pn10-50-metre poly-25-metre coupling-50")

    def build(longest: float | None = None, **given: object) -> Shelf:
        metres = replace(catalog.pipes["pn10-50-metre"], longest_piece_m=longest)
        pipes = {**catalog.pipes, "pn10-50-metre": metres}
        return Shelf(replace(site_of(), **given), replace(catalog, pipes=pipes))  # type: ignore[arg-type]

    return build


def rigid(shelf: Shelf) -> Pipe:
    """The pipe that is sold in sticks."""
    return next(pipe for pipe in shelf.pipe_families() if not pipe.bend_radius_m)


def ways(
    shelf: Shelf, *runs: Sequence[float], waste: float = 0.0
) -> set[tuple[tuple[tuple[float, ...], ...], ...]]:
    """By run its slots, rounded to tenths of a millimetre, in every way."""
    found = [slots for slots, _ in layings(shelf, rigid(shelf), runs, waste, under_pressure=True)]
    rounded = [
        tuple(tuple(tuple(round(p, 4) for p in slot) for slot in run) for run in slots) for slots in found
    ]
    assert len(set(rounded)) == len(rounded)
    return set(rounded)


def one(shelf: Shelf, slot: float) -> set[tuple[float, ...]]:
    """The ways to lay a single straight."""
    return {slots[0][0] for slots in ways(shelf, (slot,))}


@pytest.mark.parametrize(
    ("slot", "expected"),
    [
        (3.0, {(3.0,)}),
        (5.0, {(5.0,), (3.0, 2.0)}),
        (6.0, {(6.0,), (3.0, 3.0)}),
        (6.5, {(6.0, 0.5), (3.0, 3.0, 0.5)}),
        (10.0, {(6.0, 4.0), (6.0, 3.0, 1.0), (3.0, 3.0, 3.0, 1.0)}),
    ],
)
def test_one_piece_or_whole_sticks(
    shelf_with: Callable[..., Shelf], slot: float, expected: set[tuple[float, ...]]
) -> None:
    """A straight no longer than a stick is one piece, a longer one also where something is so long."""
    assert one(shelf_with(), slot) == expected


@pytest.mark.parametrize(
    ("slot", "expected"),
    [
        # A fiftieth more, but of a piece about as long as a whole stick no more than that stick.
        (1.0, {(1.02,)}),
        (2.94, {(2.9988,)}),
        (2.95, {(3.0,)}),
        (3.0, {(3.0,)}),
        (3.5, {(3.57,), (3.0, 0.51)}),
        (5.9, {(6.0,), (3.0, 2.958)}),
    ],
)
def test_waste_is_kept_beside_each_piece(
    shelf_with: Callable[..., Shelf], slot: float, expected: set[tuple[float, ...]]
) -> None:
    """2 % of each piece, so that a miscut does not end the day; a stick taken whole is cut from nothing."""
    assert {slots[0][0] for slots in ways(shelf_with(), (slot,), waste=0.02)} == expected


@pytest.mark.parametrize(("longest", "single"), [(8.0, True), (7.9, False), (None, False)])
def test_a_shop_cuts_no_longer_piece(
    shelf_with: Callable[..., Shelf], longest: float | None, single: bool
) -> None:
    """8 m in one piece where the shop cuts 8 m, not where it cuts 7.9 m or does not say: then 6 m is most."""
    assert ((8.0,) in one(shelf_with(longest), 8.0)) is single
    assert all(sum(pieces) == pytest.approx(8.0) for pieces in one(shelf_with(longest), 8.0))


def test_the_rest_goes_into_its_sockets(shelf_with: Callable[..., Shelf]) -> None:
    """Of 3.01 m the rest is no 10 mm, which two sockets would swallow: the stick is cut for it."""
    shelf = shelf_with()
    least = round(stub_length(shelf.catalog, rigid(shelf)), 4)
    assert one(shelf, 3.01) == {(3.01,), (round(3.01 - least, 4), least)}


def test_an_own_piece_that_is_longer_than_any_stick(shelf_with: Callable[..., Shelf]) -> None:
    """With an offcut of 7 m a straight of 7 m may be one piece, and one of 7.1 m may not."""
    shelf = shelf_with(offcuts={"pn10-50-6m": (7.0,)})
    assert (7.0,) in one(shelf, 7.0)
    assert (7.1,) not in one(shelf, 7.1)
    assert (7.0,) not in one(shelf_with(), 7.0)


def test_what_is_missing_is_no_length(shelf_with: Callable[..., Shelf]) -> None:
    """Without sticks of 6 m and metres all is laid of 3 m; one stick of 6 m that is owned is a way again."""
    gone = frozenset({"pn10-50-6m", "pn10-50-metre"})
    assert one(shelf_with(unavailable=gone), 5.0) == {(3.0, 2.0)}
    assert one(shelf_with(unavailable=gone, owned={"pn10-50-6m": 1}), 5.0) == {(5.0,), (3.0, 2.0)}


def test_each_leg_by_itself_and_runs_alike_alike(shelf_with: Callable[..., Shelf]) -> None:
    """Two legs of 4 and 5 m make four mixes, which two runs of a class share; two of 4 m make three."""
    shelf = shelf_with()
    mixes = ways(shelf, (4.0, 5.0), (4.0, 5.0))
    assert len(mixes) == 4
    assert all(first == second for first, second in mixes)
    assert len(ways(shelf, (4.0, 4.0))) == 3


def test_many_long_legs_are_laid_by_one_rule(shelf_with: Callable[..., Shelf]) -> None:
    """Beyond so many mixes two are left: all in one piece, all of sticks; and none more for want of pipe."""
    legs = tuple(4.0 + place / 10 for place in range(MOST_MIXES.bit_length()))
    whole = ways(shelf_with(), legs)
    assert whole == {
        (tuple((leg,) for leg in legs),),
        (tuple((3.0, round(leg - 3.0, 4)) for leg in legs),),
    }
    for gone in ("pn10-50-3m", "pn10-50-6m", "pn10-50-metre"):
        assert ways(shelf_with(unavailable=frozenset({gone})), legs) <= whole


def test_losing_pipe_never_adds_a_way(shelf_with: Callable[..., Shelf]) -> None:
    """What can be laid without a row could be laid with it, so that no plan gets cheaper by losing one."""
    for legs in ((2.0,), (5.0,), (10.0, 3.3), (24.0,), (6.5, 6.5, 4.0)):
        whole = ways(shelf_with(), legs)
        for gone in ("pn10-50-3m", "pn10-50-6m", "pn10-50-metre"):
            assert ways(shelf_with(unavailable=frozenset({gone})), legs) <= whole


def test_pipe_that_bends_comes_in_one_piece(shelf_with: Callable[..., Shelf]) -> None:
    """Poly line by the metre has no longest piece unless the list says so."""
    shelf = shelf_with()
    poly = next(pipe for pipe in shelf.pipe_families() if pipe.bend_radius_m)
    assert list(layings(shelf, poly, [(90.0,)], 0.0, under_pressure=True)) == [((((90.0,),),), ())]
    ((slots, _),) = layings(shelf, poly, [(90.0,)], 0.02, under_pressure=True)
    assert slots[0][0][0] == pytest.approx(91.8)


def test_couplings_that_are_dearer_and_no_wider(shelf_with: Callable[..., Shelf]) -> None:
    """Cheaper at one of two shops or wider is worth having; owned always; else the cheapest wide one."""
    cheap = Chain(("a",), (90.0, 90.0), 0.04, 10.0)
    wide = Chain(("b",), (160.0, 160.0), 0.05, 10.0)
    elsewhere = Chain(("c",), (95.0, 80.0), 0.04, 10.0)
    dear = Chain(("d",), (170.0, 160.0), 0.05, 10.0)
    chains = [cheap, wide, elsewhere, dear]
    assert couplings_worth_having(shelf_with(), chains) == [cheap, wide, elsewhere]
    assert couplings_worth_having(shelf_with(owned={"d": 1}), chains) == chains
