"""What rows leave of the range of a level, or of any variable that is no choice."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from autoplan.optimiser.model.model import Model
from autoplan.rules.linear import Linear, Var

ROUNDS = 4
"""Passes over the rows: as many levels as follow from each other; further ones find little."""

MOST_FREE = 2
"""Rows with more variables that are no choices say little of each."""


@dataclass(frozen=True, slots=True)
class Split:
    """A row by what it is made of.

    Attributes:
        groups: of each group of choices in it those choices, and whether there are others, that give nothing.
        free: what is no choice.
        constant: what the row has besides.
    """

    groups: tuple[tuple[tuple[tuple[Var, int], ...], bool], ...]
    free: tuple[tuple[Var, int], ...]
    constant: int

    def most(self, out: Collection[Var]) -> list[int]:
        """The most that each group gives, without choices that are in no answer."""
        best = []
        for terms, others in self.groups:
            inside = [coef for var, coef in terms if var not in out] if out else [coef for _, coef in terms]
            best.append(max(inside, default=0))
            if others and best[-1] < 0:
                best[-1] = 0
        return best


def always(model: Model) -> list[Split]:
    """The rows that hold whatever is chosen, in their order."""
    return [_split(model, row.left) for row in model.inequalities if row.when is None]


def _split(model: Model, left: Linear) -> Split:
    group_of = model.group_places()
    members: dict[int, list[tuple[Var, int]]] = {}
    free = []
    for var, coef in left.terms.items():
        group = group_of.get(var)
        if group is None:
            free.append((var, coef))
        else:
            members.setdefault(group, []).append((var, coef))
    groups = ((tuple(terms), len(terms) < len(model.groups[group])) for group, terms in members.items())
    return Split(tuple(groups), tuple(free), left.constant)


def bounds(model: Model, out: Collection[Var] = ()) -> dict[Var, tuple[int, int]]:
    """Least and most of every variable that is no choice, as far as rows that always hold say it.

    In a row everything else at its best leaves a variable so little that it must give by itself.

    Args:
        model: its rows.
        out: choices that are in no answer.
    """
    rows = always(model)
    return bounds_by(model, rows, [sum(row.most(out)) for row in rows])


def bounds_by(model: Model, rows: Sequence[Split], given: Sequence[int]) -> dict[Var, tuple[int, int]]:
    """The same where rows and the most that the choices of each give it are known already."""
    group_of = model.group_places()
    found = {
        Var(number): (variable.low, variable.high)
        for number, variable in enumerate(model.variables)
        if Var(number) not in group_of
    }
    told = [
        (row.free, row.constant + best)
        for row, best in zip(rows, given, strict=True)
        if 0 < len(row.free) <= MOST_FREE
    ]
    for _ in range(ROUNDS):
        before = dict(found)
        for free, rest in told:
            most = rest + sum(coef * found[var][coef > 0] for var, coef in free)
            for var, coef in free:
                _tighten(found, var, coef, most - coef * found[var][coef > 0])
        if found == before:
            break
    return found


def _tighten(found: dict[Var, tuple[int, int]], var: Var, coef: int, rest: int) -> None:
    """coef x var + rest >= 0, rest at its best; a range that would be empty is left alone."""
    low, high = found[var]
    if coef > 0:
        low = max(low, -(rest // coef))
    else:
        high = min(high, rest // -coef)
    if low <= high:
        found[var] = low, high
