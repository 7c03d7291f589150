"""Answers searched leaf by leaf against trying every answer."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from autoplan.optimiser.model.model import Model
from autoplan.optimiser.search import leaf_by_leaf, presolve
from autoplan.optimiser.search.leaf_by_leaf import LeafByLeaf
from autoplan.optimiser.search.presolve import Narrowing
from autoplan.optimiser.search.solve import Answer, Ending
from autoplan.rules.linear import Linear, Var, weighted
from tests.optimiser.search.test_presolve import QUICK, answers, each, small_models

Found = Sequence[tuple[int, tuple[Var, ...]]]
"""Every answer: its goal and the choices it makes."""

FOLD = 3
"""So much of the goal is a cent; what is left of it tells answers of the same cost apart."""


def never() -> None:
    """Time is not short here."""


def in_part(found: Found, out: frozenset[Var], cap: int) -> Iterator[int]:
    """Goals of the answers of a part that are of interest."""
    return (goal for goal, made in found if goal <= cap and out.isdisjoint(made))


@settings(QUICK, max_examples=300)
@given(
    small=small_models(),
    divided=st.integers(0, 2),
    spare=st.integers(-3, 150),
    hard=st.lists(st.booleans(), max_size=4),
    more=st.integers(1, 60),
    few_are=st.integers(3, 12),
)
def test_leaves_hold_every_answer(
    small: tuple[Model, Linear], divided: int, spare: int, hard: list[bool], more: int, few_are: int
) -> None:
    """The least is found, or is in what is left; and all that is of interest later is there again."""
    with pytest.MonkeyPatch.context() as changed:
        changed.setattr(leaf_by_leaf, "SMALL", few_are)
        changed.setattr(presolve, "SLACK", 0.01)
        searched(small, divided, spare, hard, more)


def searched(small: tuple[Model, Linear], divided: int, spare: int, hard: Sequence[bool], more: int) -> None:
    """Search a model leaf by leaf, some not decided, and look for every answer."""
    model, cost = small
    found = [(FOLD * cents + sum(made) % FOLD, made) for cents, made in answers(model, cost)]
    if not found:
        return
    least = min(goal for goal, _ in found)
    cap, best = least + spare, None
    narrowing = Narrowing(model, cost, [each(group) for group in model.groups[:divided]])
    leaves = LeafByLeaf(narrowing, FOLD)
    undecided = iter(hard)
    for _ in range(200):
        bounds = list(leaves.halved(cap, never))
        assert bounds == sorted(bounds)
        few = leaves.few(cap)
        if not few:
            break
        told = list[Answer]()
        for _, part in few:
            goals = list(in_part(found, part.out, cap))
            if next(undecided, False):
                told.append(Answer(Ending.UNDECIDED))
            elif goals:
                told.append(Answer(Ending.PROVEN, (1,), min(goals), min(goals)))
            else:
                told.append(Answer(Ending.NONE))
        leaves.searched(few, told, cap)
        better = [answer.objective for answer in told if answer.objective is not None]
        if better:
            best = min(better)
            cap = best - 1
    else:
        pytest.fail("it goes on for ever")
    if narrowing.bound > cap / FOLD + presolve.SLACK:
        assert best == (least if spare >= 0 else None)
    for upto in (cap, cap + more):
        list(leaves.halved(upto, never))
        out = narrowing.out(upto / FOLD)
        assert all(out.isdisjoint(made) for goal, made in found if goal <= upto)


def test_a_part_that_was_too_hard_is_not_small() -> None:
    """Eight choices are few until a search of them did not come to an end; what it bounded stays."""
    model = Model()
    groups = [[model.choice(f"{name}{number}") for number in range(4)] for name in "ab"]
    for group in groups:
        model.exactly_one(group)
    narrowing = Narrowing(model, weighted((var, 1000) for group in groups for var in group), [])
    leaves = LeafByLeaf(narrowing, 1)
    list(leaves.halved(3000, never))
    ((_, part),) = few = leaves.few(3000)
    assert part.out == frozenset()
    leaves.searched(few, [Answer(Ending.UNDECIDED, bound=2500)], 3000)
    assert leaves.few(3000) == []
    assert narrowing.bound == 2500 + presolve.SLACK
