"""A search made in parts against the same search as a whole, and against trying every answer."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from autoplan.optimiser.model.model import Model
from autoplan.optimiser.search import apart
from autoplan.optimiser.search.apart import cheapest
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
    outs = narrowing.parted(least + spare, parts)
    assert 0 < len(outs) <= parts
    for cents, made in found:
        if cents <= least + spare:
            assert any(not set(made) & out for out in outs)
    search = Search(model, out=narrowing.out(least + spare))
    answer = cheapest(search, outs, cost, quiet, least + spare, None, ())
    assert (answer.ending, answer.objective, answer.bound) == (Ending.PROVEN, least, least)
    none = cheapest(search, outs, cost, quiet, least - 1, None, ())
    assert none.ending is Ending.NONE


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
    outs = Narrowing(model, cost, []).parted(1000.0, 2)
    kept = [{var for var in group if var not in out} for out in outs]
    assert len(kept) == 2
    assert set.union(*kept) == set(group)
    assert not set.intersection(*kept)


def told(*each_part: tuple[Ending, int | None, int | None]) -> Answer:
    """What such answers of parts, each with ending, objective and bound, are taken for together."""
    return apart._together([Answer(e, (1,) * (o is not None), o, b) for e, o, b in each_part])


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
