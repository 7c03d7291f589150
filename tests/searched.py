"""A search of its own for one site, without what a design is told with."""

from __future__ import annotations

from autoplan.catalog.parts import Catalog
from autoplan.drawing import Drawing
from autoplan.optimiser.search.attempt import Attempt, attempt
from autoplan.outcome import Verdict
from autoplan.problem.site import Site
from autoplan.rules.book import RuleBook, read_rules
from autoplan.verdict.judge import judge


def searched(
    site: Site, catalog: Catalog, book: RuleBook | None = None, *, any_will_do: bool = False
) -> Attempt:
    """The cheapest design that the verdict passes, or any, under a book of rules or else the site's own."""
    rules = read_rules(site) if book is None else book

    def judged(drawing: Drawing) -> Verdict:
        return judge(site, catalog, rules, drawing)

    return attempt(site, catalog, rules, judged, 1, confirm=False, any_will_do=any_will_do)
