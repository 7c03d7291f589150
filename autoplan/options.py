"""What one call of `design` is asked besides the problem and the price list."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from enum import StrEnum

from autoplan.errors import Mistake

Progress = Callable[[str, float | None, float | None], None]
"""Told the stage, the best cost and the bound."""


class RankBy(StrEnum):
    """What makes one design rank before another."""

    PURCHASE = "purchase"
    OWNERSHIP = "ownership"
    MARGIN = "margin"


def number_mistakes(
    top: int, budget: float | None = None, time_limit: float | None = None
) -> Iterator[Mistake]:
    """Numbers that nothing can be asked with."""
    if top < 1:
        yield Mistake("--top", "", f"cannot show {top} designs", "give a whole number from 1 up")
    if budget is not None and not (math.isfinite(budget) and budget > 0):
        yield Mistake("--budget", "", f"{budget:g} is no budget", "give an amount of money above 0")
    if time_limit is not None and not (math.isfinite(time_limit) and time_limit > 0):
        yield Mistake("--time-limit", "", f"{time_limit:g} s is no time limit", "give seconds above 0")


@dataclass(frozen=True, slots=True)
class Options:
    """The options of one call.

    Attributes:
        top: how many designs.
        budget: most that may be spent, over the problem's own budget if given [currency].
        without: ids of parts that may not be bought; those at hand may still be used.
        rank_by: "purchase", "ownership", or "margin": the most height to spare within the budget.
        differ: the kinds (`outcome.Kind`) in which alone designs must differ, each the cheapest of its own;
            in any of them where none is named.
        price_wishes: whether what each wish costs is found by a search without it, and not just bounded.
        time_limit: seconds for all searches together, or None.
        progress: told the stage, the best cost and the bound while searching.
    """

    top: int = 5
    budget: float | None = None
    without: tuple[str, ...] = ()
    rank_by: str = "purchase"
    differ: tuple[str, ...] = ()
    price_wishes: bool = False
    time_limit: float | None = None
    progress: Progress | None = None

    def mistakes(self) -> Iterator[Mistake]:
        """Numbers and a ranking that nothing can be asked with."""
        yield from number_mistakes(self.top, self.budget, self.time_limit)
        if self.rank_by not in list(RankBy):
            remedy = f"write one of {', '.join(RankBy)}"
            yield Mistake("--rank-by", "", f"designs cannot be ranked by {self.rank_by!r}", remedy)

    @property
    def by_ownership(self) -> bool:
        """Whether designs are ranked by what they cost to buy and run."""
        return self.rank_by == "ownership"
