"""One timed run, in a process of its own: `python -m tests.benchmarks.one HOW PROBLEM CATALOG TOP SECONDS`.

HOW is "design", the whole call with its printing, "highs", the very same model given to HiGHS, or "verdict",
what the hours and faults of a design take. Prints what came of it as one line of JSON.
"""

from __future__ import annotations

import io
import json
import math
import resource
import sys
import time

STARTED = time.monotonic()


def design(problem: str, catalog: str, top: int, seconds: float) -> dict[str, object]:
    """When designs were known [s after the start], how close they were, and what it took in all."""
    import autoplan
    from autoplan.report.render.show import report, show

    seen: list[tuple[float, float, float | None]] = []

    def note(_stage: str, best: float | None, bound: float | None) -> None:
        if best is not None and (not seen or (best, bound) != seen[-1][1:]):
            seen.append((time.monotonic() - STARTED, best, bound))

    site = autoplan.load_problem(problem)
    outcome = autoplan.design(
        site, autoplan.load_catalog(catalog), top=top, time_limit=seconds, progress=note
    )
    show(report(outcome), io.StringIO())
    whole = time.monotonic() - STARTED
    if not outcome.designs:
        return {"status": str(outcome.status), "whole_s": whole}
    best = outcome.designs[0]
    return {
        "status": str(outcome.status),
        "whole_s": whole,
        "first_s": min((at for at, *_ in seen), default=whole),
        "within_2_s": min((at for at, cost, _ in seen if cost <= 1.02 * best.bound), default=whole),
        "costs": [one.objective for one in outcome.designs],
        "gap": (best.objective - best.bound) / best.objective,
    }


def highs(problem: str, catalog: str, seconds: float) -> dict[str, object]:
    """The model of the problem's first variant, solved by HiGHS, without rows that a choice switches on."""
    import numpy as np
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csr_array

    import autoplan
    from autoplan.optimiser.model.draft import Draft
    from autoplan.optimiser.search.relaxation import equalities
    from autoplan.optimiser.search.variants import variants_of
    from autoplan.rules.book import read_rules

    parts = autoplan.load_catalog(catalog)
    (first, *_), _ = variants_of(autoplan.load_problem(problem), parts)
    draft = Draft(first.site, parts, read_rules(first.site))
    model, goal = draft.model, draft.spending()
    rows = [(row, 0.0) for row in equalities(model)]
    rows += [(row.left, math.inf) for row in model.inequalities if row.when is None]
    entries = [(coef, number, var) for number, (row, _) in enumerate(rows) for var, coef in row.terms.items()]
    values, at, names = zip(*entries, strict=True)
    matrix = csr_array((values, (at, names)), shape=(len(rows), len(model.variables)))
    low = np.array([-row.constant for row, _ in rows], dtype=float)
    cost = np.zeros(len(model.variables))
    cost[list(goal.terms)] = list(goal.terms.values())
    started = time.monotonic()
    answer = milp(
        cost,
        integrality=np.ones(len(cost)),
        bounds=Bounds([v.low for v in model.variables], [v.high for v in model.variables]),
        constraints=LinearConstraint(matrix, low, low + np.array([more for _, more in rows])),
        options={"time_limit": seconds, "mip_rel_gap": 0.0},
    )
    found = None if answer.x is None else round(answer.fun + goal.constant) / 100
    bound = getattr(answer, "mip_dual_bound", None)
    return {
        "status": "proven" if answer.status == 0 else "feasible" if found is not None else "undecided",
        "whole_s": time.monotonic() - started,
        "costs": [] if found is None else [found],
        "gap": None if found is None or bound is None else (found - (bound + goal.constant) / 100) / found,
    }


def verdict(problem: str, catalog: str) -> dict[str, object]:
    """What judging a design in the search takes, what telling all of it takes, and the search [s]."""
    import autoplan
    from autoplan.rules.book import read_rules
    from autoplan.verdict.judge import complete, judge

    parts = autoplan.load_catalog(catalog)
    outcome = autoplan.design(autoplan.load_problem(problem), parts, top=1)
    book = read_rules(outcome.site)
    drawing = outcome.designs[0].drawing
    times = [time.monotonic()]
    found = judge(outcome.site, parts, book, drawing)
    times.append(time.monotonic())
    complete(outcome.site, parts, book, drawing, found)
    times.append(time.monotonic())
    search = outcome.solver.wall_s - (times[2] - times[1])
    return {"judge_s": times[1] - times[0], "complete_s": times[2] - times[1], "search_s": search}


def main() -> None:
    """Run what the command line asks for."""
    how, problem, catalog, top, seconds = sys.argv[1:]
    if how == "design":
        came = design(problem, catalog, int(top), float(seconds))
    elif how == "highs":
        came = highs(problem, catalog, float(seconds))
    else:
        came = verdict(problem, catalog)
    came["cpu_s"] = time.process_time()
    came["peak_gb"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
    print(json.dumps(came))


if __name__ == "__main__":
    main()
