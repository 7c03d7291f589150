"""What a wish costs, which a system works without."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class WishCost:
    """How much less the cheapest design costs without a wish.

    Attributes:
        wish: its key below `[wishes]`.
        rule: id of the rule that stands for it.
        words: what is wished for.
        dearer: how much [currency], by what was minimised.
        exact: whether that was found by a search that was proven; else it is the most that it can be.
        by_overflow: whether emergency overflows would be another way to it. A design with one keeps, that one
            taken out, all but this wish, and what is bought for it comes to no more: so none costs less than
            the cheapest without the wish.
    """

    wish: str
    rule: str
    words: str
    dearer: float
    exact: bool = False
    by_overflow: bool = False
