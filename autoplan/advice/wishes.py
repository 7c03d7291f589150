"""What the wishes of a builder cost, which a system works without: a bound on each, or what a search says."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import partial

from autoplan.advice.at_once import refused_at_once
from autoplan.optimiser.options.option_cache import Workshop
from autoplan.optimiser.search.attempt import Attempt
from autoplan.optimiser.search.merge import Merged
from autoplan.optimiser.search.variants import Variant
from autoplan.optimiser.search.wishes import least_without
from autoplan.problem.site import Site
from autoplan.rules.base import Rule
from autoplan.rules.book import RuleBook
from autoplan.wished import WishCost


def wish_costs(
    found: Merged,
    vain: Sequence[Variant],
    book: RuleBook,
    workshop: Workshop,
    search: Callable[[RuleBook], Attempt] | None = None,
) -> Iterator[WishCost]:
    """What each wish costs of rank 1, by what was minimised; nothing of one of which nothing is known.

    Args:
        found: the ranking, with a design at least.
        vain: variants that were refused before they were drafted.
        book, workshop: the rules in force, and what drafts share.
        search: searches under fewer rules for the cheapest design; None for bounds alone.
    """
    first = found.designs[0]
    site = first.variant.site
    for rule in asked_for(book, site):
        cost = first.ranked.objective
        priced = partial(WishCost, rule.wished, rule.id, rule.wish(site), by_overflow=rule.by_overflow)
        # Before the search, which may take all the time there is.
        least = _least(found, vain, book, workshop, rule)
        attempt = None if search is None else search(book.without(rule.id))
        if attempt is not None and attempt.ranking.designs:
            other = attempt.ranking.designs[0]
            if first.proven and other.proven:
                yield priced((cost - other.objective) / 100, exact=True)
                continue
        if least:
            yield priced(max(0, cost - least) / 100)


def asked_for(book: RuleBook, site: Site) -> list[Rule]:
    """The rules in force that stand for a wish of a site."""
    return [rule for rule in book.rules if rule.wished and rule.concerns(site)]


def _least(
    found: Merged, vain: Sequence[Variant], book: RuleBook, workshop: Workshop, rule: Rule
) -> int | None:
    """What any design costs at least without one rule [cents]; None or 0 where that is not known.

    A rule that refuses parts leaves them out of the draft, so that its rows are not all that it asks.
    """
    less = book.without(rule.id)
    back = (one.site for one in vain)
    if rule.answered or not all(refused_at_once(one, less, workshop.shelf(one, less)) for one in back):
        return None
    least: list[int] = []
    for trial in found.trials:
        if trial.unread:
            return None
        if trial.ranker is not None:
            least.append(least_without(trial.ranker, rule.id))
    return min(least, default=None)
