"""Which traits the cheapest designs may have: a guess by the linear relaxation.

A search is proved several times faster when it is told a cost that few answers stay below. So designs with
promising traits are found first, each by a small search; what is left to prove is that no others are cheaper.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from heapq import heappop, heappush
from itertools import count, product

from autoplan.rules.linear import Var
from autoplan.selection.presolve import SLACK, Branch, Relaxation

WHOLE = 1 - 1e-6
"""Share of a partition from which the relaxation counts as choosing one member."""

Members = tuple[int, ...]
"""The place of a member in each partition."""


class Scout:
    """Finds such traits, and what designs with them cannot have.

    Args:
        relaxation: its first partitions are what ranks must differ in, the others help to bound.
        told: how many the first are.
    """

    def __init__(self, relaxation: Relaxation, told: int) -> None:
        self._relaxation = relaxation
        self._told = told

    def promising(self) -> Iterator[tuple[Members, float]]:
        """Traits and what they cost in the relaxation, the cheapest first as far as single steps lead.

        From each the reduced costs tell which other member of a partition to look at next. Nothing where the
        relaxation leads nowhere.
        """
        start = self._dive()
        if start is None:
            return
        traits, rest = start[: self._told], start[self._told :]
        number = count()
        seen = {traits}
        heap: list[tuple[float, int, Members, Branch | None]] = [(-math.inf, next(number), traits, None)]
        while heap:
            bound, _, members, branch = heappop(heap)
            if branch is None:
                branch = self._relaxation.branch((*members, *rest))
                if any(branch.values):
                    heappush(heap, (branch.bound, next(number), members, branch))
                continue
            yield members, bound
            for neighbour, more in self._steps(members, branch):
                if neighbour not in seen:
                    seen.add(neighbour)
                    heappush(heap, (bound + more, next(number), neighbour, None))

    def left_out(self, members: Members, limit: float) -> frozenset[Var] | None:
        """Choices that no answer with these traits and of at most this cost makes; None if there is none."""
        others = self._relaxation.partitions[self._told :]
        branches = [
            self._relaxation.branch((*members, *rest)) for rest in product(*(range(len(p)) for p in others))
        ]
        alive = [branch for branch in branches if branch.bound <= limit + SLACK]
        if not alive:
            return None
        partitions = self._relaxation.partitions[: self._told]
        out = {
            var
            for parts, member in zip(partitions, members, strict=True)
            for place, part in enumerate(parts)
            if place != member
            for var in part
        }
        open_ = {var for parts in others for part in parts for var in part}
        for var in self._relaxation.choices:
            if var not in open_ and not any(b.bound + b.reduced[var] <= limit + SLACK for b in alive):
                out.add(var)
        return frozenset(out)

    def _dive(self) -> Members | None:
        """One member of every partition after the other, each the one that the relaxation has most of."""
        partitions = self._relaxation.partitions
        members: list[int | None] = [None] * len(partitions)
        branch = self._relaxation.branch(tuple(members))
        for number in (*range(self._told, len(partitions)), *range(self._told)):
            if not any(branch.values):
                return None
            share = [sum(branch.values[var] for var in part) for part in partitions[number]]
            for place in sorted(range(len(share)), key=lambda place: -share[place]):
                members[number] = place
                if share[place] >= WHOLE:
                    break
                further = self._relaxation.branch(tuple(members))
                if any(further.values):
                    branch = further
                    break
            else:
                return None
        return tuple(place for place in members if place is not None)

    def _steps(self, members: Members, branch: Branch) -> Iterator[tuple[Members, float]]:
        """Traits that differ in one partition, and what that adds at least."""
        for number, parts in enumerate(self._relaxation.partitions[: self._told]):
            for place, part in enumerate(parts):
                if part and place != members[number]:
                    more = min(branch.reduced[var] for var in part)
                    yield (*members[:number], place, *members[number + 1 :]), more
