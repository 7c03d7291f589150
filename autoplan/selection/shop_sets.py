"""Which shops an order goes to, as sets of shops with what each comes to at least.

Once the shops are given a part costs what the cheapest of them asks, and freight is a sum: the relaxation of
one set is as tight as that of a list of one shop. Of a dozen shops there are thousands of sets. So the
relaxation is first solved with every shop open and no freight, and its multipliers bound every set at once: in
a set of shops a part is worth what is asked for it there, which lifts the reduced costs of all choices that
use it, and of each group of choices one is made (Lagrangian relaxation of the rows that say enough is bought;
Geoffrion 1974, Mathematical Programming Study 2, 82-114).
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, product

import numpy as np
from numpy.typing import NDArray

from autoplan.rules.linear import Linear, Var
from autoplan.selection.draft import Draft
from autoplan.selection.model import Model
from autoplan.selection.presolve import Branch, Partition, Relaxation
from autoplan.selection.purchase import Freight

MOST_SETS = 1000
"""Most ways to order that are bounded one by one, those of least freight; the others by their freight alone."""

MOST_LISTED = 40_000
"""Most ways to order that are listed at all, those over the fewest shops."""

DEAR_CENTS = 5000.0
"""A choice of a greater reduced cost counts as one of this [cents]: it hardly ever is a group's cheapest."""

NOT_SOLD = 1e9
"""In place of the price of what no shop of a set sells [cents]."""

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class _Way:
    """A way to order: from which shops, and which of their orders are topped up to free freight.

    Attributes:
        shops: the places of the shops ordered from.
        choices: those made for these shops and the others.
        freight: of the shops whose order is not topped up [cents].
        worth: that, and the values of free freight of the others [cents]; the order comes to no less.
    """

    shops: tuple[int, ...]
    choices: tuple[Var, ...]
    freight: int
    worth: int


class ShopSets:
    """All answers divided by the shops that are ordered from.

    Args:
        draft: what is bought and where.
        model, objective: the rows, and what is minimised: `spending` and perhaps more.
        out: choices that are in no answer.
        before: the partitions by which answers are divided before.
        deadline: as for `Relaxation`.

    Attributes:
        partition: the choices that go with each way to order; the last may stand for all that are not listed.
    """

    def __init__(
        self,
        draft: Draft,
        model: Model,
        objective: Linear,
        out: frozenset[Var],
        before: Sequence[Partition],
        deadline: float | None,
    ) -> None:
        asking = draft.orders.asking
        always = [one.shop.id for one in draft.orders.freight if one.pays is None]
        self._goods = _Goods(draft, model, objective, out, before, deadline)
        ways, self._size = _listed(asking)
        ways.sort(key=lambda way: (way.freight, way.worth))
        self._asking = asking
        self._sets = [frozenset((*(asking[at].shop.id for at in way.shops), *always)) for way in ways]
        self._freight = np.array([way.freight for way in ways], dtype=float)
        self._worth = np.array([way.worth for way in ways], dtype=float)
        members = [way.choices for way in ways]
        if self._size < len(asking):
            members.append(tuple(var for one in asking for var in _choices(one)))
        self.partition: Partition = tuple(members)

    def solved(self, members: tuple[int | None, ...]) -> Branch:
        """The relaxation with every shop open and the least freight, where members before are chosen or any."""
        found = self._goods.solved(members)
        return replace(found, bound=max(found.bound + self._freight.min(), self._worth.min()))

    def least(self, members: tuple[int | None, ...]) -> Sequence[float]:
        """By way to order what its answers come to at least, where a member of each one before is chosen."""
        solved = self._goods.solved(members)
        least = np.maximum(solved.bound + self._freight, self._worth)
        near = np.argsort(least, kind="stable")[:MOST_SETS]
        if solved.reduced:
            goods = self._goods.of(solved, [self._sets[place] for place in near])
            least[near] = np.maximum(least[near], goods + self._freight[near])
        found: list[float] = least.tolist()
        if self._size < len(self._asking):
            found.append(_beyond(self._asking, self._size, solved.bound))
        return found


def _choices(one: Freight) -> list[Var]:
    """All choices of a shop's freight."""
    return [var for var in (one.used, one.unused, one.topped, one.untopped) if var is not None]


def _ways(one: Freight) -> Iterator[tuple[tuple[Var, ...], int, int]]:
    """The ways to order from a shop: choices, freight and worth as for `_Way`."""
    freight, value = one.shop.freight_cents, one.shop.free_from_cents
    if one.topped is None or one.untopped is None or value is None:
        yield (one.used,), freight, freight
        return
    yield (one.used, one.untopped), freight, freight
    yield (one.used, one.topped), 0, value


def _listed(asking: Sequence[Freight]) -> tuple[list[_Way], int]:
    """The ways to order over up to so many shops, and that number: as many as are not too many."""
    unused = [(one.unused,) if one.untopped is None else (one.unused, one.untopped) for one in asking]
    found: list[_Way] = []
    for size in range(len(asking) + 1):
        more: list[_Way] = []
        for shops in combinations(range(len(asking)), size):
            left = [unused[place] for place in range(len(asking)) if place not in shops]
            for made in product(*(tuple(_ways(asking[place])) for place in shops)):
                choices = (*(choices for choices, _, _ in made), *left)
                freight, worth = sum(f for _, f, _ in made), sum(w for _, _, w in made)
                more.append(_Way(shops, tuple(var for part in choices for var in part), freight, worth))
            if len(found) + len(more) > MOST_LISTED and size > 1:
                return found, size - 1
        found += more
    return found, len(asking)


def _beyond(asking: Sequence[Freight], size: int, goods: float) -> float:
    """What an order over more than so many shops comes to at least [cents]."""
    freight = sorted(one.shop.freight_cents for one in asking)
    values = sorted(one.shop.free_from_cents for one in asking if one.shop.free_from_cents is not None)
    return min(
        max(goods + (paid := sum(freight[: size + 1 - topped])), sum(values[:topped]) + paid)
        for topped in range(min(size + 1, len(values)) + 1)
    )


class _Goods:
    """What goods cost at least by the shops that are ordered from.

    Args:
        draft, model, objective, out, before, deadline: as for `ShopSets`.
    """

    def __init__(
        self,
        draft: Draft,
        model: Model,
        objective: Linear,
        out: frozenset[Var],
        before: Sequence[Partition],
        deadline: float | None,
    ) -> None:
        orders = draft.orders
        ordering = {var for one in orders.freight for var in _choices(one)}
        paid = ordering | {one.pays for one in orders.freight if one.pays is not None}
        groups = [group for group in model.groups if group[0] not in ordering]
        rows = [row for row in model.inequalities if paid.isdisjoint(row.left.terms)]
        goods = Linear({v: coef for v, coef in objective.terms.items() if v not in paid}, objective.constant)
        open_ = Model(model.variables, groups, model.equalities, rows)
        self._relaxation = Relaxation(open_, goods, out | paid, before, deadline)
        self._solved: dict[tuple[int | None, ...], Branch] = {}
        self._draft = draft
        self._shops = [one.shop.id for one in orders.freight]
        alive = [[var for var in group if var not in out] for group in groups]
        alive = [group for group in alive if group]
        self._chosen = np.array([var for group in alive for var in group], dtype=np.int64)
        self._firsts = np.cumsum([0, *(len(group) for group in alive[:-1])])
        self._lines = self._lines_by_part()
        place = {part: number for number, part in enumerate(self._lines)}
        used = dict(draft.choices_with_parts())
        entries = [
            (number, place[part], count)
            for number, var in enumerate(self._chosen.tolist())
            for part, count in used.get(Var(var), {}).items()
            if part in place
        ]
        # Each entry: a choice by its place among all, a part by its own, and how many pieces it uses.
        self._users, self._parts, self._counts = np.array(entries, dtype=np.int64).reshape(-1, 3).T

    def solved(self, members: tuple[int | None, ...]) -> Branch:
        """The relaxation with every shop open and no freight, where members of the partitions are chosen."""
        if members not in self._solved:
            self._solved[members] = self._relaxation.branch(members)
        return self._solved[members]

    def _lines_by_part(self) -> dict[str, list[tuple[int, Var | None, int]]]:
        """By part that is no pipe and not owned: the place of each shop, the packs bought there, pieces in one.

        Where a piece simply costs its price there is no count of packs.
        """
        uses, found = self._draft.uses(), dict[str, list[tuple[int, Var | None, int]]]()
        for line in self._draft.orders.bought:
            if line.part not in uses or self._draft.site.owned.get(line.part):
                continue
            place = self._shops.index(line.offer.shop)
            lines = found.setdefault(line.part, [])
            if line.packs is uses[line.part]:
                lines.append((place, None, 1))
                continue
            (packs,) = line.packs.terms
            if self._draft.model.variables[packs].high:
                lines.append((place, packs, line.offer.pack))
        return found

    def _lifts(self, reduced: Array) -> Array:
        """By part and shop, by how much more than the multiplier of its row a piece costs there [cents].

        The reduced cost of what is bought is just that; with one below 0 the part's multiplier stays as it is.
        """
        lifts = np.full((len(self._lines), len(self._shops)), NOT_SOLD)
        for row, lines in zip(lifts, self._lines.values(), strict=True):
            for place, packs, pieces in lines:
                row[place] = min(row[place], 0.0 if packs is None else reduced[packs] / pieces)
            if row.min() < 0:
                row[:] = 0.0
        return lifts

    def of(self, solved: Branch, sets: Sequence[Collection[str]]) -> Array:
        """What is minimised without freight comes to at least, by set of shops [cents].

        Args:
            solved: as of `solved`, with an answer.
            sets: the shops that are ordered from.
        """
        reduced, lifts = np.array(solved.reduced), self._lifts(np.array(solved.reduced))
        costs = reduced[self._chosen]
        shut = self._relaxation.shut_by(solved.members)
        made = np.array([var not in shut for var in self._chosen.tolist()], dtype=bool)
        base = solved.bound - float(np.minimum(costs[made], 0.0).sum())
        near = made & (costs <= DEAR_CENTS)
        dear = np.where(np.add.reduceat(made & ~near, self._firsts), DEAR_CENTS, math.inf)
        costs = np.where(near, costs, math.inf)
        mine = near[self._users]
        users, parts, counts = self._users[mine], self._parts[mine], self._counts[mine]
        found = []
        for shops in sets:
            open_ = [place for place, shop in enumerate(self._shops) if shop in shops]
            lift = lifts[:, open_].min(axis=1, initial=NOT_SOLD)
            more = np.bincount(users, lift[parts] * counts, len(costs))
            found.append(np.minimum(np.minimum.reduceat(costs + more, self._firsts), dear).sum())
        return base + np.array(found)
