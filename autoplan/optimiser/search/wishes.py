"""What designs cost at least where a wish is left aside, by the relaxation that they were found with."""

from __future__ import annotations

import math
from dataclasses import replace

from autoplan.optimiser.model.shop_sets import divisions
from autoplan.optimiser.search.presolve import SLACK, Narrowing, impossible
from autoplan.optimiser.search.rank import Ranker


def least_without(ranker: Ranker, rule: str) -> int:
    """What any design costs at least without a rule's rows [cents], by what was minimised; 0 if time is up.

    Args:
        ranker: a search of which the relaxation is made; it may have come to its end.
        rule: the id of a rule that refuses nothing before there are rows.
    """
    rows = [row for row in ranker.model.inequalities if row.rule != rule]
    less = replace(ranker.model, inequalities=rows)
    out, made = impossible(less), ranker.narrowing
    if made.by_shops or out != made.impossible:
        # More is possible than the relaxation and the rows found with it know of.
        objective, until = ranker.objective, ranker.longest
        parts, sets = divisions(ranker.draft, less, objective, out, until)
        made = Narrowing(less, objective, parts, None, ranker.late, out, until, sets)
        bound = made.bound
    else:
        bound = made.without(rule)
    return 0 if math.isinf(bound) else max(0, math.floor(bound - SLACK))
