"""The branches of a relaxation that are not divided further, the one that comes to least first.

Of a dozen shops there are tens of thousands of ways to order, and of most nothing is ever asked: they stay in
one array until their turn comes.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from heapq import heappop, heappush, heapreplace
from itertools import count

import numpy as np
from numpy.typing import NDArray

from autoplan.optimiser.search.relaxation import Branch

UNASKED = -1
"""In place of how many rows a branch was solved with: it was not solved by itself yet."""

Members = tuple[int | None, ...]


@dataclass(slots=True)
class Leaf:
    """A branch that is not divided further yet.

    Attributes:
        branch: as solved last.
        asked: how many of the rows found it was solved with.
        tight: whether rows were looked for that it breaks.
    """

    branch: Branch
    asked: int
    tight: bool = False

    @property
    def bound(self) -> float:
        """What its answers come to at least."""
        return self.branch.bound


class _Row:
    """Branches that differ by the last member alone, not looked at yet.

    Args:
        branch: what they are parts of.
        bounds: what each comes to at least, by its last member; infinite where there is none.
    """

    def __init__(self, branch: Branch, bounds: Sequence[float]) -> None:
        self.branch = branch
        self.bounds: NDArray[np.float64] = np.maximum(branch.bound, bounds)
        self.bound = float(self.bounds.min(initial=math.inf))

    def lift(self, below: float, better: Callable[[Sequence[int]], Sequence[float]]) -> None:
        """Ask for better bounds on those that come to less than something."""
        asked = np.flatnonzero(self.bounds < below)
        least = better(asked.tolist())
        if least:
            self.bounds[asked] = np.maximum(self.bounds[asked], least)
            self.bound = float(self.bounds.min())

    def take(self) -> Leaf:
        """The least of them, which is a leaf of its own from now on."""
        member = int(self.bounds.argmin())
        members = (*self.branch.members[:-1], member)
        nothing = (0.0,) * len(self.branch.reduced)
        leaf = Leaf(Branch(members, float(self.bounds[member]), nothing, self.branch.values), UNASKED)
        self.bounds[member] = math.inf
        self.bound = float(self.bounds.min())
        return leaf


class Leaves:
    """All leaves: those with which nothing more is to be done, and the others in order.

    Args:
        first: those to begin with.
    """

    def __init__(self, *first: Leaf) -> None:
        self._numbers = count()
        self._open: list[tuple[float, int, Leaf | _Row]] = []
        """Each by what it came to when it was put there; it may have been lifted since."""
        self._done: list[Leaf] = []
        self._rows: dict[Members, _Row] = {}
        for leaf in first:
            self.put(leaf, done=False)

    def put(self, leaf: Leaf, *, done: bool) -> None:
        """A leaf more, or one back; what has no answer is left out."""
        if done:
            self._done.append(leaf)
        else:
            self._push(leaf)

    def put_row(self, branch: Branch, bounds: Sequence[float]) -> None:
        """All parts of a branch by its last member, with what each comes to at least."""
        row = self._rows[branch.members[:-1]] = _Row(branch, bounds)
        self._push(row)

    def lift(self, solved: Branch, below: float, better: Callable[[Sequence[int]], Sequence[float]]) -> None:
        """Better bounds on what differs from a branch by the last member alone.

        Args:
            solved: the branch.
            below: what comes to more is not asked about.
            better: by last members what each comes to at least; nothing where that is not known.
        """
        row = self._rows.get(solved.members[:-1])
        if row is not None:
            row.lift(below, better)

    def opened(self) -> Leaves:
        """The same leaves apart, with which something is to be done yet; none may stand in a row."""
        leaves = (*self._done, *(item for _, _, item in self._open if isinstance(item, Leaf)))
        return Leaves(*map(replace, leaves))

    @property
    def least(self) -> float:
        """What all answers come to at least; infinite where there are none."""
        return min(self._top(), self._least_done())

    def next(self, limit: float, rows: int) -> Leaf | None:
        """The leaf of least bound that something is to be done with yet, if it is least or within a limit.

        It is taken out, to be put back.

        Args:
            limit: what is of interest.
            rows: how many rows were found; leaves solved with fewer are to be solved again.
        """
        stale = [leaf for leaf in self._done if leaf.asked < rows]
        if stale:
            self._done = [leaf for leaf in self._done if leaf.asked >= rows]
            for leaf in stale:
                self._push(leaf)
        top = self._top()
        if math.isinf(top) or (top > limit and top >= self._least_done()):
            return None
        return self._taken()

    def take_done(self) -> Leaf:
        """The leaf of least bound of those with which nothing more was to be done, taken out."""
        least = min(self._done, key=lambda leaf: leaf.bound)
        self._done.remove(least)
        return least

    def solved(self, limit: float) -> list[Leaf]:
        """Those up to a limit that were solved by themselves, the least first."""
        leaves = (*self._done, *(item for _, _, item in self._open if isinstance(item, Leaf)))
        found = [leaf for leaf in leaves if leaf.asked != UNASKED and leaf.bound <= limit]
        return sorted(found, key=lambda leaf: leaf.bound)

    def within(self, limit: float) -> list[Branch]:
        """The branches that come to no more than a limit."""
        found = [leaf for leaf in self._done if leaf.bound <= limit]
        waiting: list[Leaf] = []
        while self._top() <= limit and self._open:
            waiting.append(self._taken())
        for leaf in waiting:
            self._push(leaf)
        return [leaf.branch for leaf in (*found, *waiting)]

    def _taken(self) -> Leaf:
        _, _, least = heappop(self._open)
        if isinstance(least, Leaf):
            return least
        leaf = least.take()
        self._push(least)
        return leaf

    def _push(self, item: Leaf | _Row) -> None:
        if not math.isinf(item.bound):
            heappush(self._open, (item.bound, next(self._numbers), item))

    def _top(self) -> float:
        """What comes first in order, once that is by what each comes to now."""
        while self._open:
            known, _, item = self._open[0]
            if item.bound <= known:
                return known
            heapreplace(self._open, (item.bound, next(self._numbers), item))
        return math.inf

    def _least_done(self) -> float:
        return min((leaf.bound for leaf in self._done), default=math.inf)
