"""The public door: one problem and one price list in, one outcome out."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from autoplan.asked import kind_mistakes, part_mistakes, problem_mistakes
from autoplan.catalog.parts import Catalog
from autoplan.errors import InputError
from autoplan.outcome import Kind, Outcome
from autoplan.plan import Planner
from autoplan.problem.problem import Problem, problem_of
from autoplan.problem.site import Site
from autoplan.rules.book import read_rules

if TYPE_CHECKING:
    from autoplan.optimiser.search.ranking import Progress

HOURS_S = 0.05
"""Time to walk one design through hours and faults, for each vessel [s], measured on 1 to 24 beds."""

MOST_KEPT_BACK, EACH_KEPT_BACK = 0.1, 0.006
"""Most share of the time given that is kept back for that, and of a large site for each vessel."""


def design(
    asked: Problem | Site,
    catalog: Catalog,
    *,
    top: int = 5,
    budget: float | None = None,
    without: Sequence[str] = (),
    rank_by: str = "purchase",
    differ: Sequence[str] = (),
    time_limit: float | None = None,
    progress: Progress | None = None,
) -> Outcome:
    """Ranked, verified designs for a problem.

    Args:
        asked: the problem, or a site, which leaves nothing open.
        catalog: the price list.
        top: how many designs.
        budget: most that may be spent, over the problem's own budget if given [currency].
        without: ids of parts that may not be used.
        rank_by: "purchase", "ownership", or "margin": the most height to spare within the budget.
        differ: the kinds (`outcome.Kind`) in which alone designs must differ, each the cheapest of its own;
            in any of them where none is named.
        time_limit: seconds for all searches together, or None.
        progress: told the stage, the best cost and the bound while searching.

    Returns:
        The outcome; `designs` is empty unless its status is "proven" or "feasible".

    Raises:
        InputError: unknown rules or settings, part ids that the price list does not have, kinds that there
            are not, and a ranking by margin without the rules that it speaks of; all at once.
    """
    started = time.monotonic()
    mistakes = [*part_mistakes(catalog, without, "--without"), *kind_mistakes(differ)]
    problem = problem_of(asked)
    mistakes += problem_mistakes(problem, catalog, rank_by)
    if mistakes:
        raise InputError(mistakes)
    wishes = problem.wishes if budget is None else replace(problem.wishes, budget=budget)
    problem = replace(problem, wishes=wishes, unavailable=problem.unavailable | frozenset(without))
    book = read_rules(problem.outline)
    problem = problem.assuming(*book.assumptions)
    deadline = None if time_limit is None else started + time_limit - _kept_back_s(problem, time_limit, top)
    kinds = tuple(dict.fromkeys(map(Kind, differ)))
    planner = Planner(problem, catalog, book, rank_by, kinds, deadline, progress, started)
    return planner.plan(top, without)


def _kept_back_s(problem: Problem, time_limit: float, top: int) -> float:
    """Time for hours and faults of the designs that are printed [s]."""
    vessels = len(problem.outline.vessels)
    most = max(MOST_KEPT_BACK, EACH_KEPT_BACK * vessels) * time_limit
    return min(most, time_limit / 2, HOURS_S * vessels * top)
