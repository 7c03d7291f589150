"""What designs cost at least without a wish: never more than the cheapest of them does."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from autoplan.catalog.parts import Catalog
from autoplan.drawing import Drawing
from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.search.presolve import impossible
from autoplan.optimiser.search.rank import Ranker
from autoplan.optimiser.search.wishes import least_without
from autoplan.outcome import Verdict
from autoplan.problem.site import Site
from autoplan.rules.book import RuleBook, read_rules
from autoplan.verdict.judge import judge
from tests.optimiser.conftest import CORNER_SHELF, cut_down

STRONGER = (
    " pn10-40-3m pn10-50-3m elbow-40-90 elbow-50-90 union-female-40-114 bulkhead-40 pump-6000 pump-8000"
)
"""What three times the flow takes besides."""


@pytest.fixture(scope="module")
def shelf(metric: Catalog) -> Catalog:
    """A short price list with a pump for every wish."""
    return cut_down(metric, CORNER_SHELF + STRONGER)


def ranked(site: Site, catalog: Catalog, book: RuleBook) -> Ranker:
    """A search that has found the cheapest design."""

    def judged(drawing: Drawing) -> Verdict:
        return judge(site, catalog, book, drawing)

    ranker = Ranker(Draft(site, catalog, book), judged)
    assert ranker.run(1).designs
    return ranker


def wishing(site: Site, spare: float) -> Site:
    """The site of a builder who wishes for a spare."""
    return replace(site, wishes=replace(site.wishes, spare=spare))


@pytest.mark.parametrize("spare", [0.15, 1.0])
def test_no_more_than_the_cheapest_without(
    site_of: Callable[..., Site], shelf: Catalog, spare: float
) -> None:
    """The bound is under the cost of the cheapest design without the wish; the search stays as it was."""
    site = wishing(site_of(), spare)
    book = read_rules(site)
    ranker = ranked(site, shelf, book)
    bound = ranker.narrowing.bound
    without = ranked(site, shelf, book.without("pump-spare")).found.designs[0].objective
    least = least_without(ranker, "pump-spare")
    assert 0.9 * without < least <= without <= ranker.found.designs[0].objective
    assert ranker.narrowing.bound == bound
    assert least_without(ranker, "pump-spare") == least


@pytest.mark.parametrize(("spare", "back"), [(0.15, False), (2.0, True)])
def test_what_only_the_wish_makes_impossible_comes_back(
    site_of: Callable[..., Site], shelf: Catalog, spare: float, back: bool
) -> None:
    """A pump too weak for three times the flow is out at first, and counts without the wish."""
    site = wishing(site_of(flow_l_h=1500.0), spare)
    ranker = ranked(site, shelf, read_rules(site))
    rows = [row for row in ranker.model.inequalities if row.rule != "pump-spare"]
    less = impossible(replace(ranker.model, inequalities=rows))
    assert (less < ranker.narrowing.impossible) is back
    plain = ranked(site, shelf, read_rules(site).without("pump-spare")).found.designs[0]
    assert least_without(ranker, "pump-spare") <= plain.objective


def test_a_wish_that_asks_for_nothing_costs_what_the_bound_leaves(
    site_of: Callable[..., Site], shelf: Catalog
) -> None:
    """Of a rule without rows the bound is that of all designs, less what arithmetic may be off."""
    site = site_of()
    ranker = ranked(site, shelf, read_rules(site))
    assert ranker.narrowing.bound - 6.0 <= least_without(ranker, "pump-spare") <= ranker.narrowing.bound
