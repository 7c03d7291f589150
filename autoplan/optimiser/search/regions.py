"""How far searches reach: only choices that leave the bound within a limit are made in a region."""

from __future__ import annotations

import math
from collections.abc import Iterator

from autoplan.optimiser.search.presolve import Narrowing, Portion
from autoplan.optimiser.search.relaxation import Branch

FIRST_SPREAD, LEAST_SPREAD = 0.0005, 10.0
"""How far over the relaxation's bound the first region reaches, as a share of it, and at least [cents]."""

WIDER = 4.0
"""How much further each next region reaches."""

FURTHEST = 2.0
"""A region that reaches further than this multiple of the bound is no region any more: all choices are in."""

HARDLY_WIDER = 2.0
"""A region of so many times the choices is searched at once in place of the next."""

STAGE_WORK = 1.0
"""Work on a region that is not the last, in the solver's own measure; what it found by then is taken."""

KIND_WORK = 10.0
"""The same on a kind looked for by itself."""

AT_ONCE = 4
"""Most kinds searched before it is asked again which are worth it."""

KIND_SPREADS = (0.002, 0.008, 0.032)
"""How far over its own bound a kind is looked at, as shares of it: the first finds a design of most."""

PROMISING = 1 / 3
"""How far a kind's bound may lie on the way from that of all to the last design asked for, once so many are
known, for it to be looked at by itself."""


class Regions:
    """Regions that reach further and further.

    Args:
        narrowing: what is in them.
        bound: what any answer comes to at least, as far as that is known [cents].

    Attributes:
        spread: how far the next one reaches over the bound [cents].
        hard: whether one was too hard to search to its end; then answers are halved before the next.
    """

    def __init__(self, narrowing: Narrowing, bound: float) -> None:
        self._narrowing = narrowing
        self.hard = False
        self.begin(bound)

    def begin(self, bound: float) -> None:
        """Start anew from a bound [cents]."""
        self.spread = max(LEAST_SPREAD, FIRST_SPREAD * bound)

    def widen(self) -> None:
        """The next one reaches further."""
        self.spread *= WIDER

    def reach(self, most: float) -> None:
        """The one after the next reaches as far as answers of interest do [cents], if not the next."""
        self.spread = max(self.spread, (most - self._narrowing.bound) / WIDER)

    def limit(self, most: float) -> float:
        """What answers of the next one come to at most: all that is of interest, where that is hardly wider.

        Args:
            most: what answers of interest come to at most [cents].
        """
        bound = self._narrowing.bound
        limit = bound + self.spread
        if limit >= most:
            return most
        if most <= bound + WIDER * self.spread:
            return most if self._narrowing.size(most) <= HARDLY_WIDER * self._narrowing.size(limit) else limit
        return limit if limit < FURTHEST * bound else math.inf


class KindsByBound:
    """The kinds of answers that are told apart, those of the least bound first.

    Args:
        narrowing: what they are divided by.

    Attributes:
        looked: for how many designs kinds that make another likely were looked at, once so many were known.
    """

    def __init__(self, narrowing: Narrowing) -> None:
        self._narrowing = narrowing
        self._left: Iterator[Branch] = narrowing.kinds()
        self._next: Branch | None = None
        self.looked = 0

    def few(self, most: float, *, promising: bool) -> list[Branch]:
        """The next few that may come to so much [cents], or that make it likely."""
        bound = self._narrowing.bound
        if promising:
            most = bound + PROMISING * (most - bound)
        found: list[Branch] = []
        while len(found) < AT_ONCE:
            self._next = self._next or next(self._left, None)
            if self._next is None or self._next.bound > most:
                break
            found.append(self._next)
            self._next = None
        return found

    def near(self, kind: Branch, spread: float) -> Portion:
        """A kind's answers within a share of its own bound."""
        return self._narrowing.part(kind, kind.bound + max(LEAST_SPREAD, spread * kind.bound))
