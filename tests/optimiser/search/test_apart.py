"""A search made in parts against the same search as a whole, and against trying every answer."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from autoplan.optimiser.model.model import Model
from autoplan.optimiser.search import apart
from autoplan.optimiser.search.apart import Parts, cheapest, together
from autoplan.optimiser.search.presolve import Narrowing
from autoplan.optimiser.search.solve import Answer, Ending, Search
from autoplan.rules.linear import Linear, weighted
from tests.optimiser.search.test_presolve import QUICK, answers, each, small_models


def quiet(_best: float | None, _bound: float | None) -> None:
    """Tells nobody."""


@QUICK
@given(small=small_models(), spare=st.integers(0, 40), parts=st.integers(1, 5))
def test_parts_hold_every_answer(small: tuple[Model, Linear], spare: int, parts: int) -> None:
    """Every answer within the limit is in one of the parts; the cheapest of all is the least."""
    model, cost = small
    found = list(answers(model, cost))
    if not found:
        return
    least = min(cents for cents, _ in found)
    narrowing = Narrowing(model, cost, [each(model.groups[0])])
    made_in = narrowing.parted(least + spare, parts)
    assert 0 < len(made_in) <= parts
    for cents, made in found:
        if cents <= least + spare:
            assert any(not set(made) & part.out for part in made_in)
    search = Search(model, out=narrowing.out(least + spare))
    answer = together(cheapest(search, made_in, cost, quiet, least + spare, None, ()))
    assert (answer.ending, answer.objective, answer.bound) == (Ending.PROVEN, least, least)
    none = together(cheapest(search, made_in, cost, quiet, least - 1, None, ()))
    assert none.ending is Ending.NONE


@QUICK
@given(small=small_models(), spare=st.integers(0, 40), less=st.integers(0, 20), split=st.booleans())
def test_parts_of_a_region_are_those_of_the_next_within_it(
    small: tuple[Model, Linear], spare: int, less: int, split: bool
) -> None:
    """Narrowed to a lower limit they hold every answer up to it, and what was proven of each still holds."""
    model, cost = small
    found = list(answers(model, cost))
    if not found:
        return
    least = min(cents for cents, _ in found)
    narrowing = Narrowing(model, cost, [each(model.groups[0])])
    parts = Parts(narrowing)
    wide, close = float(least + spare), float(least + max(0, spare - less))
    for part in parts.of(wide, narrowing.out(wide), split=split):
        inside = [cents for cents, made in found if not set(made) & part.out]
        part.least = min(inside, default=10**6)
    kept = parts.of(close, narrowing.out(close), split=split)
    for cents, made in found:
        holding = [part for part in kept if not set(made) & part.out]
        assert holding or cents > close
        assert all(part.least <= cents for part in holding)


def test_wider_regions_and_those_worth_splitting_have_new_parts() -> None:
    """What is proven of a part says nothing of a wider region's."""
    model = Model()
    group = [model.choice(name) for name in "abc"]
    model.exactly_one(group)
    cost = weighted(zip(group, (10, 20, 30), strict=True))
    narrowing = Narrowing(model, cost, [each(group)])
    parts = Parts(narrowing)
    (whole,) = parts.of(20.0, narrowing.out(20.0), split=False)
    whole.least = 15
    assert parts.of(12.0, narrowing.out(12.0), split=False) == [whole]
    split = parts.of(12.0, narrowing.out(12.0), split=True)
    assert split != [whole]
    assert [part.least for part in split] == [0]
    wider = parts.of(30.0, narrowing.out(30.0), split=True)
    assert len(wider) > len(split)
    assert {part.least for part in wider} == {0}


def test_a_torn_group_is_halved() -> None:
    """Where the relaxation takes half of two choices, each part has one of them."""
    model = Model()
    group = [model.choice(name) for name in "abc"]
    model.exactly_one(group)
    packs = model.integer("packs", 0, 9)
    # Two of the first or of the last are asked for; half of each, as the relaxation takes them, costs less.
    first, last = group[0], group[2]
    model.at_least("first", weighted([(packs, 2)]), weighted([(first, 4)]))
    model.at_least("last", weighted([(packs, 2)]), weighted([(last, 4)]))
    cost = weighted([(packs, 10), (group[1], 30)])
    parts = Narrowing(model, cost, []).parted(1000.0, 2)
    kept = [{var for var in group if var not in part.out} for part in parts]
    assert len(kept) == 2
    assert set.union(*kept) == set(group)
    assert not set.intersection(*kept)


def told(*each_part: tuple[Ending, int | None, int | None]) -> Answer:
    """What such answers of parts, each with ending, objective and bound, are taken for together."""
    return together([Answer(e, (1,) * (o is not None), o, b) for e, o, b in each_part])


@pytest.mark.parametrize(
    ("parts", "whole"),
    [
        ([(Ending.PROVEN, 7, 7), (Ending.NONE, None, None)], (Ending.PROVEN, 7, 7)),
        ([(Ending.NONE, None, None), (Ending.NONE, None, None)], (Ending.NONE, None, None)),
        ([(Ending.PROVEN, 7, 7), (Ending.PROVEN, 5, 5)], (Ending.PROVEN, 5, 5)),
        ([(Ending.PROVEN, 7, 7), (Ending.FEASIBLE, 9, 7)], (Ending.PROVEN, 7, 7)),
        ([(Ending.PROVEN, 7, 7), (Ending.FEASIBLE, 9, 6)], (Ending.FEASIBLE, 7, 6)),
        ([(Ending.PROVEN, 7, 7), (Ending.UNDECIDED, None, None)], (Ending.FEASIBLE, 7, None)),
        ([(Ending.NONE, None, None), (Ending.UNDECIDED, None, 4)], (Ending.UNDECIDED, None, 4)),
    ],
)
def test_what_parts_come_to(
    parts: list[tuple[Ending, int | None, int | None]], whole: tuple[Ending, int | None, int | None]
) -> None:
    """Proven only where no part that is open yet could hold a cheaper answer."""
    answer = told(*parts)
    assert (answer.ending, answer.objective, answer.bound) == whole


def test_progress_of_parts_never_falls_back() -> None:
    """The best of all parts and the least bound of those still open are told, and the bound never falls."""
    heard: list[tuple[float | None, float | None]] = []
    all_told = apart._Told(lambda best, bound: heard.append((best, bound)), 2)
    all_told.of(0)(9.0, 4.0)
    all_told.of(1)(8.0, 5.0)
    all_told.ended(0, Answer(Ending.PROVEN, (1,), 9, 9))
    assert heard == [(9.0, None), (8.0, 4.0), (8.0, 5.0)]
    bounds = [bound for _, bound in heard if bound is not None]
    assert all(one <= other for one, other in pairwise(bounds))
