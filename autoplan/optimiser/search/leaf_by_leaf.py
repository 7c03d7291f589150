"""Answers halved until few choices are left in each part, and these parts searched one by one.

Eight unlike beds come to 2,400 choices however far the bound is lifted, and no search of them ends in
minutes; of fifty parts of theirs each has a thousand at most, and takes half a second.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence

from autoplan.optimiser.search.leaves import Leaf
from autoplan.optimiser.search.presolve import Narrowing, Portion
from autoplan.optimiser.search.solve import Answer, Ending

SMALL = 1500
"""Choices of a part that is searched as it is: one of 1,500 takes a second, one of 2,000 up to ten."""

LEAF_WORK = 10.0
"""Work on a part, in the solver's own measure; what is not decided by then is halved further."""

SMALLER = 0.8
"""Parts are halved to this share of the choices of one that was too hard."""

AT_ONCE = 4
"""Most parts searched before it is asked again which come to least."""

IN_VAIN = 5000
"""No search of so many choices has come to an end in minutes where the one before was hard."""

Searched = tuple[Leaf, Portion]
"""A part of the answers: where it stands in the narrowing, and its choices."""


class LeafByLeaf:
    """The parts of the answers that are left, those that come to least first.

    What answers of interest come to at most (`cap`) is in the measure of the goal throughout.

    Args:
        narrowing: divides them.
        fold: so much of the goal is a cent.
    """

    def __init__(self, narrowing: Narrowing, fold: int) -> None:
        self._narrowing = narrowing
        self._fold = fold
        self._small = SMALL
        self._searched_to = math.inf

    def halved(self, cap: int, longer: Callable[[], None]) -> Iterator[float]:
        """The bound as it rises [cents], until parts that come to least are small or out of reach.

        Args:
            cap: what answers of interest come to at most.
            longer: gives the bound more time; asked where a search of all of interest would be in vain.
        """
        if cap > self._searched_to:
            # What was found to hold nothing of interest may hold some of what is now.
            self._narrowing.start_over()
            self._searched_to = math.inf
        most = cap / self._fold
        yield from self._narrowing.deepen(most, self._small)
        if not self.few(cap) and self._narrowing.size(most) > IN_VAIN:
            longer()
            yield from self._narrowing.deepen(most, self._small)

    def few(self, cap: int) -> list[Searched]:
        """A few small parts that come to least; none where those are large still."""
        return self._narrowing.small(cap / self._fold, self._small, AT_ONCE)

    def searched(self, parts: Sequence[Searched], answers: Sequence[Answer], cap: int) -> None:
        """Learn from what the search of each part came to.

        Args:
            parts: as told by `few`.
            answers: of each.
            cap: what was searched up to.
        """
        self._searched_to = min(self._searched_to, cap)
        for (leaf, part), answer in zip(parts, answers, strict=True):
            if answer.ending is Ending.NONE:
                self._narrowing.lift(leaf, cap // self._fold + 1)
            elif answer.bound is not None:
                self._narrowing.lift(leaf, answer.bound // self._fold)
            if answer.ending in (Ending.UNDECIDED, Ending.FEASIBLE):
                choices = self._narrowing.choices - len(part.out)
                self._small = min(self._small, int(SMALLER * choices))
