"""Designs with the most to spare within the budget: how large a reserve can be kept everywhere.

The reserve is what `rules.margin` calls the least height to spare, in whole millimetres. For each reserve
that is tried the ordinary search finds the cheapest design that keeps it, or proves that within the budget
none does; halving what lies between closes in on the most. So "most" is proven to the millimetre: one search
found a design, another proved that with one millimetre more there is none. Of those that keep the most the
cheapest come first.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from autoplan.optimiser.search.merge import Merged, Placed
from autoplan.optimiser.search.solve import Ending
from autoplan.rules.margin import least_margin, margin_mm

TENTHS = 10
"""Steps of the model's heights in a millimetre."""

MOST_MM = 10_000
"""More to spare than this is not looked for [mm]; no garden has such heights."""

Search = Callable[[int, Sequence[Placed], int], Merged]
"""Cheapest designs that keep a reserve [0.1 mm], unlike some known, so many of them."""


@dataclass(slots=True)
class _Level:
    """The most that can be kept [mm], what was found with it, and whether that is proven."""

    most_mm: int
    found: Merged
    proven: bool


@dataclass(slots=True)
class Spared:
    """The ranking.

    Attributes:
        merged: designs in rank order, proven only if both margin and cost are.
        kept_mm: by rank, the margin that its search kept [mm].
    """

    merged: Merged
    kept_mm: list[int] = field(default_factory=list)


def rank_by_margin(search: Search, top: int, cheapest: Merged | None = None) -> Spared:
    """Find up to `top` designs, the most margin first, then the least cost.

    Args:
        search: the ordinary search under a reserve; the budget is in its problem.
        top: how many designs.
        cheapest: the cheapest design if that is known, though found without the budget.
    """
    whole = Spared(Merged())
    below: int | None = None
    sure = True
    while len(whole.merged.designs) < top:
        known = tuple(whole.merged.designs)
        level = _most(search, known, below, None if known else cheapest)
        if level is None or not level.found.designs:
            if level is not None and not known:
                return Spared(level.found)
            break
        sure = sure and level.proven
        left = top - len(known)
        again = left > 1 or level.found is cheapest
        found = level.found if not again else search(level.most_mm * TENTHS, known, left)
        if not found.designs:
            # Time ran out between finding the most and ranking what keeps it.
            found, sure = level.found, False
        _take(whole, found, level.most_mm, sure=sure)
        if not sure or found.interrupted:
            break
        below = level.most_mm
    return whole


def _take(whole: Spared, found: Merged, kept_mm: int, *, sure: bool) -> None:
    """Add what was found with a reserve to the ranking."""
    for placed in found.designs:
        whole.merged.designs.append(replace(placed, proven=placed.proven and sure))
        whole.kept_mm.append(kept_mm)
    whole.merged.ending = found.ending
    whole.merged.trials = [*whole.merged.trials, *found.trials]
    whole.merged.floors |= found.floors
    whole.merged.interrupted = whole.merged.interrupted or found.interrupted


def _most(
    search: Search, known: Sequence[Placed], below: int | None, cheapest: Merged | None
) -> _Level | None:
    """The most whole millimetres that an unlike design keeps, under `below`; None if none is left."""
    if below == 0:
        return None
    low, found = 0, cheapest or search(0, known, 1)
    if not found.designs:
        return _Level(0, found, proven=found.ending is Ending.NONE)
    high = below
    while high is None or high - low > 1:
        at = _next(low, high, found.designs[0])
        if at > MOST_MM:
            break
        tried = search(at * TENTHS, known, 1)
        if tried.designs:
            low, found = at, tried
        elif tried.ending is Ending.NONE:
            high = at
        else:
            return _Level(low, found, proven=False)
    return _Level(low, found, proven=True)


def _next(low: int, high: int | None, best: Placed) -> int:
    """The reserve to try next [mm]: what the best design has by its verdict, else half way."""
    tightest = least_margin(best.ranked.verdict.findings)
    has = low if tightest is None else math.floor(margin_mm(tightest))
    at = max(low + 1, has) if high is None or has > low else (low + high) // 2
    if high is None:
        return at if at > low + 1 else 2 * low + 2
    return min(max(at, low + 1), high - 1)
