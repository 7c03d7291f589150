"""Many pieces on few sticks: laid by whole fillings of a stick instead of piece by piece.

Where a hundred pieces leave a few millimetres a stick, filling stick after stick finds no end. The classical
way out is to ask how often each filling is used (Gilmore and Gomory 1961, Operations Research 9, 849-859).
The linear programme over all fillings, its columns found one by one by a knapsack, either shows that the
pieces cannot be laid or names the fillings that matter. With others, filled to the brim, the solver finds a
plan.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplan import clock
from autoplan.optimiser.cutting.cutting import CuttingUndecidedError, Stick, lengths_of, taking
from autoplan.optimiser.model.model import Model
from autoplan.optimiser.search.solve import Ending, Search
from autoplan.rules.base import Concern
from autoplan.rules.book import ROLES
from autoplan.rules.linear import Linear, weighted

MOST_COLUMNS = 600
"""Fillings priced out before the linear programme is left."""

SURE = 0.5
"""Length [0.1 mm] that must be left over at least in the linear programme for its word to be taken."""

SEEDS = (30, 60, 60)
"""How often all sticks are filled at random for each try at a plan."""

WORK = 1.0
"""Work on one try, in the solver's own measure."""

NOT_FULL = (0, 50, 100, 200, 300)
"""By how much a stick may stay short of full when it is filled at random [0.1 mm]."""

SHAKES = (0.0, 0.1, 0.3, 0.6)
"""By how much the order of lengths is shaken when a stick is filled at random."""

Counts = tuple[int, ...]
"""How many pieces of each size lie on a stick."""


@dataclass(frozen=True, slots=True)
class _Kind:
    """Sticks of one room (`Stick.room`), width of a cut, longest piece, and where they are among all."""

    room: int
    cut: int
    longest: int
    places: tuple[int, ...]


def lay_by_patterns(
    pieces: Sequence[int],
    sticks: Sequence[Stick],
    counts: Sequence[int],
    kerf: int,
    deadline: float | None = None,
) -> list[list[int]] | None:
    """As `cutting.lay`, for many pieces.

    Raises:
        CuttingUndecidedError: neither laid nor shown not to fit, or the user stopped it.
    """
    return _Patterns(pieces, sticks, counts, kerf, deadline).laid()


class _Patterns:
    def __init__(
        self,
        pieces: Sequence[int],
        sticks: Sequence[Stick],
        counts: Sequence[int],
        kerf: int,
        deadline: float | None,
    ) -> None:
        number = Counter(pieces)
        self.sizes = sorted(number, reverse=True)
        self.number = np.array([number[size] for size in self.sizes])
        self.deadline = deadline
        lengths = lengths_of(sticks, counts)
        self.empty = len(lengths)
        where: dict[tuple[int, int, int], list[int]] = {}
        for place, (kind, length) in enumerate(lengths):
            cut = 0 if kind.to_measure else kerf
            longest = length if kind.longest is None else min(length, kind.longest)
            if longest >= self.sizes[-1]:
                where.setdefault((kind.room(length, cut), cut, longest), []).append(place)
        self.kinds = [_Kind(*key, tuple(places)) for key, places in sorted(where.items())]
        self.pool: dict[tuple[int, Counts], None] = {}

    def laid(self) -> list[list[int]] | None:
        """The pieces on each length, or None."""
        draw = random.Random(len(self.sizes))
        for turn, times in enumerate(SEEDS):
            for _ in range(times):
                self.pool.update(dict.fromkeys(self._at_random(draw)))
            if turn == 0 and not self._may_fit():
                return None
            chosen = self._chosen()
            if chosen is not None:
                return self._written(chosen)
            if clock.late(self.deadline):
                break
        raise CuttingUndecidedError(interrupted=clock.stopped())

    def _may_fit(self) -> bool:
        """Whether the linear programme leaves nothing over; its fillings go into the pool."""
        for _ in range(MOST_COLUMNS):
            if clock.late(self.deadline):
                raise CuttingUndecidedError(interrupted=clock.stopped())
            left, worth, prices = self._programme()
            if left <= SURE:
                return True
            gained, found = 0.0, False
            for kind, price in enumerate(prices):
                most, filling = self._best_filling(self.kinds[kind], worth)
                gain = most - price
                gained += max(0.0, gain) * len(self.kinds[kind].places)
                if gain > 1e-6 and (kind, filling) not in self.pool:
                    self.pool[kind, filling] = None
                    found = True
            # What is left over by every plan, whatever fillings it uses.
            if left - gained > SURE:
                return False
            if not found:
                return True
        return True

    def _programme(self) -> tuple[float, NDArray[np.float64], list[float]]:
        """Length left over with the fillings known, each size's worth, and each kind's price."""
        # Loaded where it is used: most plans never come here, and it takes a while.
        from scipy.optimize import linprog
        from scipy.sparse import csc_array

        m, n = len(self.sizes), len(self.pool)
        rows, cols, values = list(range(m)), list(range(n, n + m)), [-1.0] * m
        for column, (kind, filling) in enumerate(self.pool):
            for size, count in enumerate(filling):
                if count:
                    rows.append(size)
                    cols.append(column)
                    values.append(-float(count))
            rows.append(m + kind)
            cols.append(column)
            values.append(1.0)
        matrix = csc_array((values, (rows, cols)), shape=(m + len(self.kinds), n + m))
        most = np.concatenate([-self.number, [len(kind.places) for kind in self.kinds]])
        cost = np.concatenate([np.zeros(n), np.array(self.sizes, dtype=float)])
        solved = linprog(cost, A_ub=matrix, b_ub=most, method="highs-ds")
        worth = -np.asarray(solved.ineqlin.marginals)
        return float(solved.fun), worth[:m], [max(0.0, float(price)) for price in worth[m:]]

    def _best_filling(self, kind: _Kind, worth: NDArray[np.float64]) -> tuple[float, Counts]:
        """The filling of a stick that is worth most, by dynamic programming over its length."""
        best = np.zeros(kind.room + 1)
        steps: list[tuple[int, NDArray[np.bool_]]] = []
        for size, length in enumerate(self.sizes):
            takes = taking(length, kind.cut, kind.room)
            most = kind.room // takes if length <= kind.longest else 0
            for _ in range(min(int(self.number[size]), most)):
                if worth[size] <= 1e-9:
                    break
                better = best[:-takes] + worth[size]
                taken = np.zeros(kind.room + 1, dtype=bool)
                taken[takes:] = better > best[takes:] + 1e-12
                best[takes:] = np.maximum(best[takes:], better)
                steps.append((size, taken))
        at = int(np.argmax(best))
        value = float(best[at])
        filling = [0] * len(self.sizes)
        for size, taken in reversed(steps):
            if taken[at]:
                filling[size] += 1
                at -= taking(self.sizes[size], kind.cut, kind.room)
        return value, tuple(filling)

    def _at_random(self, draw: random.Random) -> Iterator[tuple[int, Counts]]:
        """Fillings to the brim of one stick after the other, each with the longest piece left."""
        left = [size for size, count in enumerate(self.number) for _ in range(count)]
        short = draw.choice(NOT_FULL)
        for place, kind in enumerate(self.kinds):
            for _ in kind.places:
                first = next((i for i in left if self.sizes[i] <= kind.longest), None)
                if first is None:
                    break
                left.remove(first)
                shake = draw.choice(SHAKES)
                fitting = [i for i in left if self.sizes[i] <= kind.longest]
                order = sorted(fitting, key=lambda i: -self.sizes[i] * (1 + shake * draw.random()))
                filling = [0] * len(self.sizes)
                for size in (
                    first,
                    *self._fill(
                        order, kind, kind.room - taking(self.sizes[first], kind.cut, kind.room), short, draw
                    ),
                ):
                    filling[size] += 1
                    if size != first or filling[size] > 1:
                        left.remove(size)
                yield place, tuple(filling)

    def _fill(
        self, order: Sequence[int], kind: _Kind, room: int, short: int, draw: random.Random
    ) -> Iterator[int]:
        """Pieces that fill a room to the brim or a little less, the first in the order rather."""
        reach, mask = [1], (1 << (room + 1)) - 1
        takes = [taking(size, kind.cut, kind.room) for size in self.sizes]
        for size in order:
            reach.append((reach[-1] | reach[-1] << takes[size]) & mask)
        at = reach[-1].bit_length() - 1
        less = draw.randrange(max(0, at - short), at + 1)
        at = less if reach[-1] >> less & 1 else at
        for i in range(len(order) - 1, -1, -1):
            if not reach[i] >> at & 1:
                yield order[i]
                at -= takes[order[i]]

    def _chosen(self) -> list[tuple[int, Counts]] | None:
        """Fillings, one for each stick, that hold every piece; None where none was found."""
        model, names = Model(), list(self.pool)
        used = [model.integer("", 0, len(self.kinds[kind].places)) for kind, _ in names]
        for size, count in enumerate(self.number):
            holding = ((var, filling[size]) for var, (_, filling) in zip(used, names, strict=True))
            model.at_least(ROLES[Concern.ORDER], weighted(holding), int(count))
        for place, kind in enumerate(self.kinds):
            mine = ((var, -1) for var, (at, _) in zip(used, names, strict=True) if at == place)
            model.at_least(ROLES[Concern.ORDER], weighted(mine, len(kind.places)), 0)
        answer = Search(model, self.deadline).minimize(Linear(), work=WORK)
        if answer.ending not in (Ending.PROVEN, Ending.FEASIBLE):
            return None
        return [name for var, name in zip(used, names, strict=True) for _ in range(answer.values[var])]

    def _written(self, chosen: Sequence[tuple[int, Counts]]) -> list[list[int]]:
        """The pieces on each length, those that a filling has too many of left out."""
        laid: list[list[int]] = [[] for _ in range(self.empty)]
        places = [list(kind.places) for kind in self.kinds]
        left = self.number.copy()
        for kind, filling in chosen:
            stick = laid[places[kind].pop()]
            for size, count in enumerate(filling):
                taken = min(count, int(left[size]))
                stick += [self.sizes[size]] * taken
                left[size] -= taken
        return laid
