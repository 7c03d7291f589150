"""The order of leaves against looking through all of them."""

from __future__ import annotations

import math
from collections.abc import Sequence

from hypothesis import given, settings
from hypothesis import strategies as st

from autoplan.optimiser.search.leaves import UNASKED, Leaf, Leaves
from autoplan.optimiser.search.relaxation import Branch

QUICK = settings(max_examples=100, deadline=None, derandomize=True)

BOUNDS = st.lists(st.integers(0, 9), min_size=1, max_size=6)


def leaf(bound: float, asked: int = UNASKED, *members: int | None) -> Leaf:
    """A leaf that comes to so much."""
    return Leaf(Branch(members, bound), asked)


def drained(leaves: Leaves, limit: float = math.inf, rows: int = 0) -> list[float]:
    """What all come to, in the order in which they are taken."""
    found = []
    while (one := leaves.next(limit, rows)) is not None:
        found.append(one.bound)
    return found


@QUICK
@given(single=BOUNDS, row=BOUNDS, lifted=st.integers(0, 9), below=st.integers(0, 9))
def test_least_first(single: list[int], row: list[int], lifted: int, below: int) -> None:
    """Single leaves and those of a row come in one order, by what was found of them since."""
    leaves = Leaves(leaf(math.inf))
    for bound in single:
        leaves.put(leaf(bound), done=False)
    leaves.put_row(Branch((0, None), 2.0), row)
    bounds = [max(2, bound) for bound in row]
    asked: list[int] = []

    def better(members: Sequence[int]) -> list[float]:
        asked.extend(members)
        return [float(lifted)] * len(members)

    leaves.lift(Branch((0, 1), 0.0), below, better)
    assert asked == [member for member, bound in enumerate(bounds) if bound < below]
    found = [max(lifted, bound) if bound < below else bound for bound in bounds]
    expected = sorted([*single, *found])
    assert leaves.least == expected[0]
    assert sorted(branch.bound for branch in leaves.within(5.0)) == [x for x in expected if x <= 5]
    assert drained(leaves) == expected
    assert math.isinf(leaves.least)


def test_a_row_tells_who_its_members_are() -> None:
    """By the place of each among what the branch was divided into; what has no answer is none of them."""
    leaves = Leaves(leaf(math.inf))
    leaves.put_row(Branch((3, None), 1.0), [4.0, math.inf, 2.0])
    found = [one.branch.members for one in iter(lambda: leaves.next(math.inf, 0), None)]
    assert found == [(3, 2), (3, 0)]


def test_done_until_there_are_more_rows() -> None:
    """A leaf that is done comes back once rows were found after it; one that is dearer waits for it."""
    leaves = Leaves(leaf(math.inf))
    leaves.put(leaf(3.0, 2), done=True)
    leaves.put(leaf(5.0, 2), done=False)
    assert leaves.next(4.0, 2) is None
    assert drained(leaves, 5.0, 2) == [5.0]
    assert drained(leaves, 0.0, 3) == [3.0]
