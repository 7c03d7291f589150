"""What is told of ranked designs: hours and faults, how they differ, and of variants that came to nothing."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any

from autoplan.catalog.parts import Catalog
from autoplan.outcome import Design
from autoplan.rules.book import RuleBook
from autoplan.rules.margin import least_margin
from autoplan.side_by_side import side_by_side

if TYPE_CHECKING:
    from autoplan.optimiser.search.merge import Merged, Placed
    from autoplan.optimiser.search.ranking import Ranked


def designs_told(
    found: Merged,
    kept_mm: Sequence[int | None],
    catalog: Catalog,
    book: RuleBook,
    also: Sequence[Callable[[], Any]] = (),
    *,
    several: bool,
    slow: bool,
) -> tuple[tuple[Design, ...], list[Any]]:
    """The ranked designs as the outcome holds them; hours and faults are walked here, and only here.

    Args:
        found: the ranking.
        kept_mm: by rank the margin kept for it [mm].
        catalog, book: the price list and the rules in force.
        also: what else is to be worked out meanwhile.
        several: whether there are several variants.
        slow: whether it is work enough to be done side by side.

    Returns:
        The designs, and what the rest came to.
    """
    from autoplan.verdict.judge import run_through
    from autoplan.verdict.tolerance import hole_rooms

    judged = [
        (placed.variant.site, catalog, book, placed.ranked.drawing, placed.ranked.verdict)
        for placed in found.designs
    ]
    nights: list[Callable[[], Any]] = [partial(run_through, *asked) for asked in judged]
    rooms: list[Callable[[], Any]] = [partial(hole_rooms, *asked[:-1]) for asked in judged if asked[-1].ok]
    pieces = [*nights, *also, *rooms]
    done = side_by_side(pieces) if slow else [piece() for piece in pieces]
    holes = iter(done[len(nights) + len(also) :])
    verdicts = [
        replace(verdict, hole_rooms=next(holes)) if verdict.ok else verdict for verdict in done[: len(nights)]
    ]
    designs = tuple(
        Design(
            rank=place,
            proven=placed.proven,
            bound=placed.bound / 100,
            objective=placed.ranked.objective / 100,
            drawing=placed.ranked.drawing,
            verdict=verdicts[place - 1],
            differs=differences(found.designs[0], placed),
            traits=_traits(placed),
            site=placed.variant.site if several else None,
            variant=placed.variant.said,
            margin=least_margin(placed.ranked.verdict.findings),
            kept_mm=kept_mm[place - 1],
        )
        for place, placed in enumerate(found.designs, start=1)
    )
    return designs, done[len(nights) : len(nights) + len(also)]


def told(placed: Placed) -> Ranked:
    """A design by itself, its variant among its traits, its proof that of all variants."""
    return replace(placed.ranked, proven=placed.proven, traits=_traits(placed))


def _traits(placed: Placed) -> dict[str, str]:
    """What a design is told apart by: its variant first, then its parts."""
    return {**placed.variant.traits, **placed.ranked.traits}


def differences(first: Placed, other: Placed) -> tuple[str, ...]:
    """What a builder would notice against rank 1, a phrase per trait of both; one mix is as another."""
    before, alike = _traits(first), first.ranked.key
    return tuple(
        f"{name}: {value} instead of {before[name]}"
        for name, value in _traits(other).items()
        if before.get(name, value) != value
        and (name not in alike or alike[name] != other.ranked.key.get(name, alike[name]))
    )


def fruitless(found: Merged) -> tuple[str, ...]:
    """Which variants came to nothing, and which could not be looked at."""
    said = {
        "No design keeps every rule in": [variant.named for variant in found.fruitless],
        "No time was left to look at": [t.variant.named for t in found.trials if t.unread],
    }
    return tuple(f"{what}: {'; '.join(dict.fromkeys(names))}." for what, names in said.items() if names)
