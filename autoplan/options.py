"""What one call of `design` is asked besides the problem and the price list."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

Progress = Callable[[str, float | None, float | None], None]
"""Told the stage, the best cost and the bound."""


@dataclass(frozen=True, slots=True)
class Options:
    """The options of one call.

    Attributes:
        top: how many designs.
        budget: most that may be spent, over the problem's own budget if given [currency].
        without: ids of parts that may not be used.
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

    @property
    def by_ownership(self) -> bool:
        """Whether designs are ranked by what they cost to buy and run."""
        return self.rank_by == "ownership"
