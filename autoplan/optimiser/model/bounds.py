"""What rows leave of the range of a level, or of any variable that is no choice, and of choices."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from itertools import chain

import numpy as np
from numpy.typing import NDArray

from autoplan.optimiser.model.model import Model
from autoplan.rules.linear import Linear, Var

ROUNDS = 4
"""Passes over the rows: as many levels as follow from each other; further ones find little."""

MOST_FREE = 2
"""Rows with more variables that are no choices say little of each."""

NOTHING = np.iinfo(np.int64).min // 2
"""What a choice that is out gives: less than any other."""

Range = Mapping[Var, tuple[int, int]]
"""Least and most of every variable that is no choice."""


class AlwaysTrue:
    """The rows of a model that always hold, their terms sorted by row and group of choices.

    Args:
        model: its rows as they are now.
    """

    def __init__(self, model: Model) -> None:
        self._model = model
        rows = [inequality.left for inequality in model.inequalities if inequality.when is None]
        groups = np.full(len(model.variables), -1)
        for choice, place in model.group_places().items():
            groups[choice] = place
        self._constants = np.array([row.constant for row in rows], dtype=np.int64)
        var = np.fromiter(chain.from_iterable(row.terms for row in rows), np.int64)
        coef = np.fromiter(chain.from_iterable(row.terms.values() for row in rows), np.int64)
        of = np.repeat(np.arange(len(rows)), [len(row.terms) for row in rows])
        chosen = groups[var] >= 0
        order = np.lexsort((groups[var], of))
        order = order[chosen[order]]
        self._var, self._coef = var[order], coef[order]
        row, group = of[order], groups[var[order]]
        first = np.ones(order.size, dtype=bool)
        first[1:] = (row[1:] != row[:-1]) | (group[1:] != group[:-1])
        self._starts = np.flatnonzero(first)
        self._row = row[self._starts]
        """Of each group in a row that row's place."""
        self._slot = np.cumsum(first) - 1
        """Of each term its place among the groups in rows."""
        self._group = group[self._starts]
        """Of each group in a row its place in the model."""
        self._groups = groups
        self._free = _free_terms(rows, groups)

    def _best(self, out: NDArray[np.bool_]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """What each group's best choice gives each row, and all of a row's with its constant."""
        if not self._starts.size:
            return np.zeros(0, dtype=np.int64), self._constants.copy()
        given = np.maximum.reduceat(np.where(out[self._var], NOTHING, self._coef), self._starts)
        # What is left of a group outside a row gives nothing to it, at no loss.
        left = np.bincount(self._groups[(self._groups >= 0) & ~out], minlength=len(self._model.groups))
        absent = np.add.reduceat(~out[self._var], self._starts, dtype=np.int64) < left[self._group]
        given = np.where(absent, np.maximum(given, 0), given)
        given[given == NOTHING] = 0
        most = self._constants.copy()
        np.add.at(most, self._row, given)
        return given, most

    def bounds(self, out: Collection[Var]) -> Range:
        """As far as rows say it: all else at its best leaves a variable so much to give by itself."""
        groups = self._model.group_places()
        found = {
            Var(number): (variable.low, variable.high)
            for number, variable in enumerate(self._model.variables)
            if Var(number) not in groups
        }
        _, most = self._best(self._mask(out))
        rows = [(free, int(most[row])) for row, free in self._free.items() if len(free) <= MOST_FREE]
        for _ in range(ROUNDS):
            before = dict(found)
            for free, rest in rows:
                best = rest + sum(coef * found[var][coef > 0] for var, coef in free)
                for var, coef in free:
                    _tighten(found, var, coef, best - coef * found[var][coef > 0])
            if found == before:
                break
        return found

    def forbidden(self, out: Collection[Var], ranges: Range) -> set[Var]:
        """Choices that leave a row short even with the best of everything else."""
        mask = self._mask(out)
        given, most = self._best(mask)
        for row, free in self._free.items():
            most[row] += sum(coef * ranges[var][coef > 0] for var, coef in free)
        rest = most[self._row] - given
        short = (rest[self._slot] + self._coef < 0) & ~mask[self._var]
        return set(map(Var, np.unique(self._var[short]).tolist()))

    def _mask(self, out: Collection[Var]) -> NDArray[np.bool_]:
        mask = np.zeros(len(self._model.variables), dtype=bool)
        mask[list(out)] = True
        return mask


def _free_terms(rows: list[Linear], groups: NDArray[np.int64]) -> dict[int, list[tuple[Var, int]]]:
    """By place of a row its terms that are no choices and not nothing, where it has any."""
    free = set(np.flatnonzero(groups < 0).tolist())
    return {
        place: [(var, coef) for var, coef in row.terms.items() if var in free and coef]
        for place, row in enumerate(rows)
        if not free.isdisjoint(row.terms)
    }


def bounds(model: Model, out: Collection[Var] = ()) -> Range:
    """Least and most of every variable that is no choice, as far as rows that always hold say it.

    Args:
        model: its rows.
        out: choices that are in no answer.
    """
    return AlwaysTrue(model).bounds(out)


def _tighten(found: dict[Var, tuple[int, int]], var: Var, coef: int, rest: int) -> None:
    """coef x var + rest >= 0, rest at its best; a range that would be empty is left alone."""
    low, high = found[var]
    if coef > 0:
        low = max(low, -(rest // coef))
    else:
        high = min(high, rest // -coef)
    if low <= high:
        found[var] = low, high
