"""Which shops an order goes to, as sets of shops with what each comes to at least.

Once the shops are given a part costs what the cheapest of them asks, and freight is a sum: the relaxation of
one set is as tight as that of a list of one shop. Of a dozen shops there are thousands of sets, so each is
first bounded by what is known of all of them (`goods`).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, product

import numpy as np

from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.model.goods import Goods
from autoplan.optimiser.model.model import Model
from autoplan.optimiser.model.purchase import FEW_SHOPS, Freight, Orders
from autoplan.optimiser.search.relaxation import Branch, Partition
from autoplan.rules.linear import Linear, Var

MOST_SETS = 1000
"""Most ways to order that are bounded one by one, those of least freight; others by their freight alone."""

AT_ONCE = 50
"""Ways to order bounded before it is asked again whether the next matter."""

FURTHER = 1.2
"""Ways whose freight alone lifts them past this multiple of the least bound found are not bounded further."""

MOST_LISTED = 40_000
"""Most ways to order that are listed at all, those over the fewest shops."""


@dataclass(frozen=True, slots=True)
class _Way:
    """A way to order: from which shops, and which of their orders are topped up to free freight.

    Attributes:
        shops: the places of the shops ordered from.
        topped: the places of those whose order is topped up.
        choices: those made for these shops and the others.
        freight: of the shops whose order is not topped up [cents].
        worth: that, and the values of free freight of the others [cents]; the order comes to no less.
    """

    shops: tuple[int, ...]
    topped: frozenset[int]
    choices: tuple[Var, ...]
    freight: int
    worth: int


class ShopSets:
    """All answers divided by the shops that are ordered from.

    Args:
        orders: what is bought and where.
        goods: what each set of them comes to at least without freight.

    Attributes:
        partition: the choices that go with each way to order; the last may stand for all that are not listed.
    """

    def __init__(self, orders: Orders, goods: Goods) -> None:
        asking = orders.asking
        always = [one.shop.id for one in orders.freight if one.pays is None]
        self._goods = goods
        ways, self._size = _listed(asking)
        ways.sort(key=lambda way: (way.freight, way.worth))
        self._ways = ways
        self._asking = asking
        self._sets = [frozenset((*(asking[at].shop.id for at in way.shops), *always)) for way in ways]
        self._freight = np.array([way.freight for way in ways], dtype=float)
        self._worth = np.array([way.worth for way in ways], dtype=float)
        members = [way.choices for way in ways]
        if self._size < len(asking):
            members.append(tuple(var for one in asking for var in one.choices))
        self.partition: Partition = tuple(members)
        self.links = frozenset(place for one in orders.freight for place in one.links)
        self._choices = frozenset(var for one in asking for var in one.choices)

    def shut(self, member: int) -> frozenset[Var]:
        """What is 0 where one way to order is chosen: other ways, and what is bought elsewhere."""
        if member == len(self._ways):
            return frozenset()
        way = self._ways[member]
        elsewhere = (one for place, one in enumerate(self._asking) if place not in way.shops)
        return (self._choices - {*way.choices}).union(*(one.closing for one in elsewhere))

    def from_like(self, branch: Branch, rows: Sequence[Linear], asked: Sequence[int]) -> Sequence[float]:
        """What other ways to order come to at least, from what the relaxation with rows says of one."""
        member = branch.members[-1]
        if member is None or member == len(self._ways):
            return ()
        way = self._ways[member]
        read = self._goods.read_one(branch, way.freight, self.shut(member), rows)
        if read is None:
            return ()
        listed = [
            place for place in asked if place < len(self._ways) and way.topped <= self._ways[place].topped
        ]
        goods = self._goods.of(read, [self._sets[place] for place in listed])
        found = dict(zip(listed, (goods + self._freight[listed]).tolist(), strict=True))
        return [found.get(place, -math.inf) for place in asked]

    def _tops(self, member: int, shops: frozenset[int]) -> bool:
        """Whether orders of these shops, at least, are topped up."""
        return member < len(self._ways) and shops <= self._ways[member].topped

    def solved(self, members: tuple[int | None, ...]) -> Branch:
        """The relaxation with every shop open and the least freight, by members of partitions before."""
        found = self._goods.solved(members)
        return replace(found, bound=max(found.bound + self._freight.min(), self._worth.min()))

    def least(self, members: tuple[int | None, ...]) -> Sequence[float]:
        """By way to order what its answers come to at least, where a member of each one before is chosen."""
        solved, read = self._goods.solved(members), self._goods.read(members)
        least = np.maximum(solved.bound + self._freight, self._worth)
        near = np.argsort(least, kind="stable")[:MOST_SETS]
        reach = math.inf
        for first in range(0, len(near), AT_ONCE):
            some = near[first : first + AT_ONCE]
            if read is None or least[some[0]] > reach:
                break
            goods = self._goods.of(read, [self._sets[place] for place in some])
            least[some] = np.maximum(least[some], goods + self._freight[some])
            reach = min(reach, FURTHER * float(least[some].min()))
        found: list[float] = least.tolist()
        if self._size < len(self._asking):
            found.append(_beyond(self._asking, self._size, solved.bound))
        return found


def divisions(
    draft: Draft, model: Model, objective: Linear, out: frozenset[Var], deadline: float | None
) -> tuple[Sequence[Partition], ShopSets | None]:
    """What to divide answers by: the pump, how drains are joined, the shops; arguments as for `Goods`.

    Up to `FEW_SHOPS` each shop is a partition of its own.
    """
    pumps: dict[str, list[Var]] = {}
    for var, choice in draft.pumps(draft.site.pumped_vessels()[0]):
        pumps.setdefault(choice.pump.id, []).append(var)
    few = len(draft.orders.asking) <= FEW_SHOPS
    ways = (draft.stores.screwed, *(draft.orders.ordered.values() if few else ()))
    parts: list[Partition] = [list(pumps.values())]
    parts += [[[var] for var in group] for group in model.groups if any(var in ways for var in group)]
    if few:
        return parts, None
    return parts, ShopSets(draft.orders, Goods(draft, model, objective, out, parts, deadline))


def _ways(place: int, one: Freight) -> Iterator[_Way]:
    """The ways to order from a shop, by its place."""
    freight, value, none = one.shop.freight_cents, one.shop.free_from_cents, frozenset[int]()
    if one.topped is None or one.untopped is None or value is None:
        yield _Way((place,), none, (one.used,), freight, freight)
        return
    yield _Way((place,), none, (one.used, one.untopped), freight, freight)
    yield _Way((place,), frozenset({place}), (one.used, one.topped), 0, value)


def _listed(asking: Sequence[Freight]) -> tuple[list[_Way], int]:
    """The ways to order over up to so many shops, and that number: as many as are not too many."""
    unused = [(one.unused,) if one.untopped is None else (one.unused, one.untopped) for one in asking]
    by_shop = [tuple(_ways(place, one)) for place, one in enumerate(asking)]
    found: list[_Way] = []
    for size in range(len(asking) + 1):
        more: list[_Way] = []
        for shops in combinations(range(len(asking)), size):
            left = [var for place in range(len(asking)) if place not in shops for var in unused[place]]
            for made in product(*(by_shop[place] for place in shops)):
                topped = frozenset[int]().union(*(way.topped for way in made))
                choices = (*(var for way in made for var in way.choices), *left)
                freight, worth = sum(way.freight for way in made), sum(way.worth for way in made)
                more.append(_Way(shops, topped, choices, freight, worth))
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
