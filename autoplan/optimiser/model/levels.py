"""Water levels for a design whose parts are chosen: as much to spare everywhere as the tightest place allows.

With the parts fixed, only differences of levels are left. First the least reserve among falls, rims and the
sump's two ends is made as large as it can be; then every level is as high as that allows, and every overload
level as low. Differences of levels have one such answer, so the levels are the same on every run.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from autoplan.errors import InternalError
from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.model.model import Inequality, Model
from autoplan.optimiser.search.solve import Search
from autoplan.rules.base import Concern, Shared
from autoplan.rules.book import KINDS
from autoplan.rules.heights import in_whole_mm
from autoplan.rules.linear import Linear, Var, weighted

MOST_RESERVE = 20_000
DRILL_ROOM = 50
"""What holes may come higher or lower before a line has no way between them, where that can be [0.1 mm].

It goes before the reserve: five millimetres is how well a hole is drilled; from memory.
"""

RESERVE_WEIGHT = 10_000_000
LEVEL_WEIGHT = 10


def settle(draft: Draft, values: Sequence[int]) -> dict[str, tuple[int, int]]:
    """Design and overload level of every vessel [0.1 mm].

    Args:
        draft: the model.
        values: an answer; only its choices are kept.

    Raises:
        InternalError: no levels fit, which the answer itself disproves.
    """
    design = {name: _only(draft.level(name)) for name in draft.site.vessels}
    overload = {name: _only(draft.overload_level(name)) for name in draft.site.vessels}
    free = list(dict.fromkeys([*design.values(), *overload.values()]))
    small = Model()
    renamed = {
        var: small.integer(
            draft.model.variables[var].name, draft.model.variables[var].low, draft.model.variables[var].high
        )
        for var in free
    }
    made = {Var(var): value for var, value in enumerate(values) if value and Var(var) not in renamed}
    reserve = small.integer("least reserve", 0, MOST_RESERVE)
    room = small.integer("room for drilling", 0, DRILL_ROOM)
    under = small.integer("room under the highest water", 0, DRILL_ROOM)
    pumped, vessels = draft.site.pumped_vessels(), draft.site.vessels
    drilled = {design[name] for name in vessels if in_whole_mm(vessels[name]) and name not in pumped}
    for row in draft.model.inequalities:
        if not any(var in renamed for var in row.left.terms):
            continue
        if row.when is not None and not values[row.when]:
            continue
        left = _substituted(row.left, renamed, made)
        asked = KINDS[row.rule].shares
        shares = asked is Shared.ALL or (asked is Shared.RIMS and _is_rim_row(row, set(overload.values())))
        kept = reserve if shares else room if asked is Shared.ROOM else None
        if KINDS[row.rule].role is Concern.LEVELS and _is_rim_row(row, drilled):
            kept = under
        small.at_least(row.rule, left if kept is None else left - weighted([(kept, 1)]), 0)
    wish = weighted(
        [(reserve, -RESERVE_WEIGHT), (room, -2 * RESERVE_WEIGHT), (under, -RESERVE_WEIGHT // 2)]
        + [(renamed[var], -LEVEL_WEIGHT) for var in design.values()]
        + [(renamed[var], 1) for var in overload.values()]
    )
    answer = Search(small, to_the_end=True).minimize(wish, careful=False)
    if not answer.values:
        raise InternalError("no levels fit the design that was just found")
    return {
        name: (answer.values[renamed[design[name]]], answer.values[renamed[overload[name]]])
        for name in draft.site.vessels
    }


def _only(level: Linear) -> Var:
    (var,) = level.terms
    return var


def _is_rim_row(row: Inequality, levels: set[Var]) -> bool:
    """Whether a row holds one of these levels down, and nothing else."""
    return len(row.left.terms) == 1 and all(
        var in levels and coef < 0 for var, coef in row.left.terms.items()
    )


def _substituted(left: Linear, renamed: Mapping[Var, Var], made: Mapping[Var, int]) -> Linear:
    """A row of the levels alone, for what an answer makes; of most rows it makes few of many choices."""
    terms = left.terms
    constant = left.constant + sum(terms[var] * value for var, value in made.items() if var in terms)
    return weighted(((new, terms[var]) for var, new in renamed.items() if var in terms), constant)
