"""What rows leave of the range of a level, or of any variable that is no choice."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from autoplan.optimiser.model.model import Inequality, Model
from autoplan.rules.linear import Var

ROUNDS = 4
"""Passes over the rows: as many levels as follow from each other; further ones find little."""

MOST_FREE = 2
"""Rows with more variables that are no choices say little of each."""


def bounds(model: Model, out: Collection[Var] = ()) -> dict[Var, tuple[int, int]]:
    """Least and most of every variable that is no choice, as far as rows that always hold say it.

    In a row everything else at its best leaves a variable so little that it must give by itself.

    Args:
        model: its rows.
        out: choices that are in no answer.
    """
    group_of = model.group_places()
    found = {
        Var(number): (variable.low, variable.high)
        for number, variable in enumerate(model.variables)
        if Var(number) not in group_of
    }
    rows = []
    for row in model.inequalities:
        free = [(var, coef) for var, coef in row.left.terms.items() if var not in group_of and coef]
        if row.when is None and 0 < len(free) <= MOST_FREE:
            rows.append((free, row.left.constant + _best(model, group_of, row, out)))
    for _ in range(ROUNDS):
        before = dict(found)
        for free, rest in rows:
            most = rest + sum(coef * found[var][coef > 0] for var, coef in free)
            for var, coef in free:
                _tighten(found, var, coef, most - coef * found[var][coef > 0])
        if found == before:
            break
    return found


def _best(model: Model, group_of: Mapping[Var, int], row: Inequality, out: Collection[Var]) -> int:
    """The most that the choices of a row give it."""
    members: dict[int, list[tuple[Var, int]]] = {}
    for var, coef in row.left.terms.items():
        if var in group_of:
            members.setdefault(group_of[var], []).append((var, coef))
    best = 0
    for group, terms in members.items():
        absent = [0] if len(terms) < len(model.groups[group]) else []
        best += max([coef for var, coef in terms if var not in out] + absent, default=0)
    return best


def _tighten(found: dict[Var, tuple[int, int]], var: Var, coef: int, rest: int) -> None:
    """coef x var + rest >= 0, rest at its best; a range that would be empty is left alone."""
    low, high = found[var]
    if coef > 0:
        low = max(low, -(rest // coef))
    else:
        high = min(high, rest // -coef)
    if low <= high:
        found[var] = low, high
