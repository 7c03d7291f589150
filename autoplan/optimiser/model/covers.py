"""Rows for heads and heights: choices that cannot all be made together.

Take a row such as "the pump's head, less what every run on the way loses, is at least the lift". Each group
of choices gives it at most its best member; what another member gives less is its deficit. Where deficits of
several groups come to more than the row can spare, at least one of those groups must choose a smaller one:
a cover, with one choice from each group (Wolsey 1990, Discrete Applied Mathematics 29, 251-261). With two
groups it is one step of a staircase: so much lost here leaves only so much to lose there.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplan.optimiser.model.bounds import bounds
from autoplan.optimiser.model.model import Inequality, Model
from autoplan.rules.linear import Following, Linear, Var, weighted

WORTH = 1e-3
"""Least by which a row must be broken to be worth adding, as a share of one choice."""

MOST_OPEN = 60
"""Most ways to go on from that are kept while groups are gathered; the others are dearer."""

MOST_ROWS = 30
"""Most rows in one round, the most broken first."""


@dataclass(frozen=True, slots=True)
class _Group:
    """A group's choices that may still be made and their deficits in one row, the largest first."""

    choices: NDArray[np.int64]
    deficits: NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class _Row:
    """A row's groups, and the sum of deficits that it can spare."""

    spare: int
    rule: str
    groups: tuple[_Group, ...]


@dataclass(frozen=True, slots=True)
class _Cover:
    """Some groups of a row with the least deficit that counts in each.

    Attributes:
        deficit: their sum, at most one more than the row can spare.
        missing: by how much the values make less than all of these choices.
        least: (place of the group, least deficit) pairs.
    """

    deficit: int
    missing: float
    least: tuple[tuple[int, int], ...]


class Covers:
    """Finds such rows.

    Args:
        model: its rows that always hold.
        out: choices that are in no answer.
    """

    def __init__(self, model: Model, out: Collection[Var]) -> None:
        alive = [[var for var in group if var not in out] for group in model.groups]
        ranges = bounds(model, out)
        rows = (_read(model, alive, row, ranges) for row in model.inequalities if row.when is None)
        self._rows = [row for row in rows if row is not None]

    def rows(self, values: Sequence[float]) -> list[Linear]:
        """Rows (>= 0) that every answer keeps and these values of every variable break."""
        at = np.asarray(values)
        found = [(cover, row) for row in self._rows if (cover := _most_broken(row, at)) is not None]
        found.sort(key=lambda pair: pair[0].missing)
        return [_written(row, cover) for cover, row in found[:MOST_ROWS]]


def _read(
    model: Model,
    alive: Sequence[Sequence[Var]],
    inequality: Inequality,
    ranges: Mapping[Var, tuple[int, int]],
) -> _Row | None:
    """A row with every variable that is no choice at its best; None where it never binds."""
    group_of, spare = model.group_places(), inequality.left.constant
    inside: dict[int, dict[Var, int]] = {}
    for var, coef in inequality.left.terms.items():
        if var in group_of:
            inside.setdefault(group_of[var], {})[var] = coef
        else:
            low, high = ranges[var]
            spare += coef * (high if coef > 0 else low)
    groups = []
    for place, coefs in inside.items():
        given = np.array([coefs.get(var, 0) for var in alive[place]], dtype=np.int64)
        if not given.size:
            return None
        spare += int(given.max())
        deficits = given.max() - given
        if deficits.any():
            order = np.argsort(-deficits, kind="stable")
            groups.append(_Group(np.array(alive[place])[order], deficits[order]))
    most = sum(int(group.deficits[0]) for group in groups)
    return _Row(spare, inequality.rule, tuple(groups)) if len(groups) > 1 and 0 <= spare < most else None


def _most_broken(row: _Row, at: NDArray[np.float64]) -> _Cover | None:
    """The cover that the values break most, found group by group; None where they keep all tried."""
    front = [_Cover(0, 0.0, ())]
    for place, group in enumerate(row.groups):
        steps = list(_steps(group, at))
        further = [
            _Cover(
                min(one.deficit + least, row.spare + 1), one.missing + missing, (*one.least, (place, least))
            )
            for one in front
            for least, missing in steps
            if one.missing + missing < 1 - WORTH
        ]
        front = _undominated([*front, *further])
    return front[0] if front[0].deficit > row.spare else None


def _steps(group: _Group, at: NDArray[np.float64]) -> Iterator[tuple[int, float]]:
    """Deficits that count, with how far the values make less than one choice of at least that much."""
    chosen = at[group.choices]
    together = np.cumsum(chosen)
    for first in np.flatnonzero(chosen > 1e-7):
        least = int(group.deficits[first])
        last = int(np.searchsorted(-group.deficits, -least, side="right")) - 1
        if least > 0:
            yield least, max(0.0, 1.0 - float(together[last]))


def _undominated(covers: list[_Cover]) -> list[_Cover]:
    """Covers of which none has more deficit than another that misses no more; most deficit first."""
    kept: list[_Cover] = []
    for cover in sorted(covers, key=lambda one: (-one.deficit, one.missing)):
        if not kept or cover.missing < kept[-1].missing - 1e-9:
            kept.append(cover)
    return kept[:1] + kept[1:][-(MOST_OPEN - 1) :] if len(kept) > MOST_OPEN else kept


def _written(row: _Row, cover: _Cover) -> Linear:
    """The row, each group's least deficit lowered as far as the sum still is too much."""
    least = dict(cover.least)
    total = sum(least.values())
    terms: list[tuple[Var, int]] = []
    for place in sorted(least, key=lambda one: -least[one]):
        deficits = row.groups[place].deficits
        needed = max(1, row.spare + 1 - (total - least[place]))
        lowered = int(deficits[deficits >= needed].min())
        total += lowered - least[place]
        terms += [(Var(int(var)), -1) for var in row.groups[place].choices[deficits >= lowered]]
    found = weighted(terms, len(least) - 1)
    return Following(found.terms, found.constant, row.rule)
