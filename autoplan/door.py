"""The public door: one problem and one price list in, one outcome out."""

from __future__ import annotations

import time
from dataclasses import replace

from autoplan.asked import kind_mistakes, part_mistakes, problem_mistakes
from autoplan.catalog.parts import Catalog
from autoplan.errors import InputError
from autoplan.options import Options
from autoplan.outcome import Outcome
from autoplan.plan import Planner
from autoplan.problem.problem import Problem, problem_of
from autoplan.problem.site import Site
from autoplan.rules.book import read_rules

VESSEL_S, PAIR_S = 0.04, 0.0075
"""Time to walk one design through hours and faults, for each vessel and for each two of them [s].

Of 6, 10 and 26 vessels it took 0.4, 0.9 and 6.1: there are as many faults, holes and paths as vessels.
"""

MOST_KEPT_BACK, EACH_KEPT_BACK = 0.1, 0.012
"""Most share of the time given that is kept back for that, and of a large site for each vessel."""


def design(asked: Problem | Site, catalog: Catalog, options: Options) -> Outcome:
    """Ranked, verified designs for a problem.

    Args:
        asked: the problem, or a site, which leaves nothing open.
        catalog: the price list.
        options: what else is asked.

    Returns:
        The outcome; `designs` is empty unless its status is "proven" or "feasible".

    Raises:
        InputError: numbers and a ranking that nothing can be asked with, unknown rules or settings, part ids
            that the price list does not have, kinds that there are not, and a ranking by margin without the
            rules that it speaks of; all at once.
    """
    started = time.monotonic()
    mistakes = [*options.mistakes(), *kind_mistakes(options.differ)]
    mistakes += part_mistakes(catalog, options.without, "--without")
    problem = problem_of(asked)
    mistakes += problem_mistakes(problem, catalog, options.rank_by)
    if mistakes:
        raise InputError(mistakes)
    budget = problem.wishes.budget if options.budget is None else options.budget
    wishes = replace(problem.wishes, budget=budget)
    problem = replace(problem, wishes=wishes, unavailable=problem.unavailable | frozenset(options.without))
    book = read_rules(problem.outline)
    problem = problem.assuming(*book.assumptions)
    limit = options.time_limit
    deadline = None if limit is None else started + limit - _kept_back_s(problem, limit, options.top)
    return Planner(problem, catalog, book, options, started, deadline).plan()


def _kept_back_s(problem: Problem, time_limit: float, top: int) -> float:
    """Time for hours and faults of the designs that are printed [s]."""
    vessels = len(problem.outline.vessels)
    most = max(MOST_KEPT_BACK, EACH_KEPT_BACK * vessels) * time_limit
    return min(most, time_limit / 2, (VESSEL_S + PAIR_S * vessels) * vessels * top)
