"""Answers divided by what tells them apart, against every answer of small models."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from autoplan.optimiser.model.kinds import besides, by_kinds
from autoplan.optimiser.model.model import Model
from autoplan.optimiser.model.signature import Trait
from autoplan.optimiser.search.presolve import Narrowing
from autoplan.optimiser.search.relaxation import Branch, Partition
from autoplan.rules.linear import Linear, Var, evaluate
from tests.optimiser.model.test_signature import answers as made_of
from tests.optimiser.model.test_signature import traits
from tests.optimiser.search.test_presolve import answers, each, small_models

QUICK = settings(max_examples=100, deadline=None, derandomize=True)


def inside(partition: Partition, made: set[Var]) -> list[int]:
    """The members of a partition that an answer is in: it makes nothing that only others have."""
    whole = {var for part in partition for var in part}
    return [place for place, part in enumerate(partition) if made & whole <= set(part)]


@QUICK
@given(made=traits())
def test_answers_in_the_same_parts_come_to_the_same(made: tuple[Model, Trait]) -> None:
    """Each answer goes on in just one way, is in a part of every partition, and parts tell values apart."""
    model, trait = made
    more, parts = by_kinds(model, [trait])
    kept = [
        values
        for values in made_of(more)
        if all(evaluate(row.left, values) >= 0 for row in more.inequalities if row.when is None)
    ]
    before = len(model.variables)
    assert sorted(values[:before] for values in kept) == sorted(made_of(model))
    found: dict[tuple[int, ...], set[tuple[str, ...]]] = {}
    for values in kept:
        chosen = {Var(i) for i, value in enumerate(values) if value}
        places = [inside(partition, chosen) for partition in parts]
        assert all(places)
        found.setdefault(tuple(place[0] for place in places), set()).add(trait.of(values))
    assert all(len(values) == 1 for values in found.values())


def test_what_divides_answers_already_is_left_out() -> None:
    """A partition of the same parts in another order says nothing new, one of other parts does."""
    a, b, c = map(Var, range(3))
    assert besides([[[a], [b, c]]], [[[c, b], [a]], [[a, b], [c]]]) == [[[a, b], [c]]]


def holds(branch: Branch, partitions: list[Partition], made: set[Var]) -> bool:
    """Whether an answer is one of a branch's."""
    return all(
        member in inside(partition, made)
        for member, partition in zip(branch.members, partitions, strict=True)
    )


@QUICK
@given(small=small_models(), spare=st.integers(0, 30))
def test_kinds_come_in_order_and_hold_every_answer(small: tuple[Model, Linear], spare: int) -> None:
    """Bounds rise from kind to kind, none is above an answer of its kind, and near ones keep theirs."""
    model, cost = small
    first, second, third = model.groups
    halves = [third[: len(third) // 2], third[len(third) // 2 :]]
    partitions: list[Partition] = [each(first), each(second), halves]
    narrowing = Narrowing(model, cost, partitions[:1], finer=partitions[1:])
    assert narrowing.has_kinds
    assert not Narrowing(model, cost, partitions).has_kinds
    bound = narrowing.bound
    kinds = list(narrowing.kinds())
    assert narrowing.bound == pytest.approx(bound, abs=1e-6)
    assert all(one.bound <= other.bound + 1e-6 for one, other in pairwise(kinds))
    for cents, choices in answers(model, cost):
        (mine,) = [kind for kind in kinds if holds(kind, partitions, set(choices))]
        assert mine.bound <= cents + 1e-6
        assert not narrowing.part(mine, cents + spare).out & set(choices)
