"""What goods cost at least by the shops that are ordered from, for thousands of sets of shops at once.

The relaxation is solved with every shop open and no freight, or with the shops of one set. Its multipliers
bound every set: in a set a part is worth what is asked for it there, which lifts the reduced costs of all
choices that use it, and of each group of choices one is made (Lagrangian relaxation; Geoffrion 1974,
Mathematical Programming Study 2, 82-114). Pipe and sundries meet their wants by several rows and lengths, so
the multipliers of all their rows are raised by one factor, as far as what is sold in a set allows; so are
those of a part that is sold by the pack alone, of which a row by each group says that one is opened.

An order that is topped up to free freight comes to its free value, whatever is in it. The more that row is
worth, the less what its shop sells costs besides: a multiplier of 1 makes it free.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.model.model import Model
from autoplan.optimiser.search.relaxation import Branch, Partition, Relaxation, always
from autoplan.rules.linear import Linear, Var

DEAR_CENTS = 3000.0
"""A choice of a greater reduced cost counts as one of this [cents]: it hardly ever is a group's cheapest."""

NOT_SOLD = 1e9
"""In place of the price of what no shop of a set sells [cents]."""

TOLERANCE = 1e-7
"""Greatest multiplier that counts as none."""

MOST_RAISED = 20.0
"""Most by which multipliers are raised, as a multiple of themselves, where a set sells nothing of a kind."""

Array = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Solved:
    """A relaxation whose shops are given, read for `Goods.of`.

    Attributes:
        base: what every set comes to, less what its groups of choices give [cents].
        costs: reduced costs of the choices [cents]; infinite for those that are not made, or dear.
        dear: by group what stands for those that are dear [cents]; infinite where there are none.
        lifts: by part and then by block, by shop: by how much a multiplier, or all of a block, may be raised.
        constants: by block what its rows' constants give, the more of it the more they are raised [cents].
        lifted, firsts: who is lifted, and where what it is lifted by begins.
        parts, counts: what that is, and how much of it.
    """

    base: float
    costs: Array
    dear: Array
    lifts: Array
    constants: Array
    lifted: Ints
    firsts: Ints
    parts: Ints
    counts: Array


class Goods:
    """Bounds on what is minimised, without freight.

    Args:
        draft: what is bought and where.
        model, objective: the rows, and what is minimised: `spending` and perhaps more.
        out: choices that are in no answer.
        before: the partitions by which answers are divided.
        deadline: as for `Relaxation`.
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
        ordering = {var for one in orders.freight for var in one.choices}
        paid = ordering | {one.pays for one in orders.freight if one.pays is not None}
        groups = [group for group in model.groups if group[0] not in ordering]
        rows = [row for row in model.inequalities if paid.isdisjoint(row.left.terms)]
        goods = Linear({v: coef for v, coef in objective.terms.items() if v not in paid}, objective.constant)
        open_ = Model(model.variables, groups, model.equalities, rows)
        self._relaxation = Relaxation(open_, goods, out | paid, before, deadline)
        self._solved: dict[tuple[int | None, ...], Branch] = {}
        self._multipliers: dict[tuple[int | None, ...], Array] = {}
        self._draft = draft
        self._shops = [one.shop.id for one in orders.freight]
        alive = [[var for var in group if var not in out] for group in groups]
        alive = [group for group in alive if group]
        self._chosen = np.array([var for group in alive for var in group], dtype=np.int64)
        self._firsts = np.cumsum([0, *(len(group) for group in alive[:-1])])
        self._lines = self._lines_by_part()
        place = {var: number for number, var in enumerate(self._chosen.tolist())}
        number = {part: row for row, part in enumerate(self._lines)}
        entries = [
            (place[var], number[part], count)
            for var, parts in draft.choices_with_parts()
            if var in place
            for part, count in parts.items()
            if part in number
        ]
        # Each entry: a choice by its place among all, a part by its own, and how many pieces it uses.
        self._users, self._parts, self._counts = np.array(entries, dtype=np.int64).reshape(-1, 3).T
        counted = {packs for lines in self._lines.values() for _, packs, _ in lines if packs is not None}
        self._blocks = _Blocks(draft, open_, place, {v for group in model.groups for v in group}, counted)
        self._buying = sorted(counted | self._blocks.buying)
        self._highs = np.array([variable.high for variable in model.variables], dtype=float)
        # Of the rows of the whole model, those that are here, and those that tie goods to what is paid.
        rows = always(model, {place for one in orders.freight for place in one.links})
        self._rows, self._paid = len(rows), paid
        self._own = [number for number, row in enumerate(rows) if paid.isdisjoint(row.left.terms)]
        tied = [number for number, row in enumerate(rows) if _ties(row.left, paid)]
        topping = {one.topped: place for place, one in enumerate(orders.freight) if one.topped is not None}
        shops = {number: topping[var] for number in tied for var in rows[number].left.terms if var in topping}
        self._topped = list(shops.items())
        self._tied = [number for number in tied if number not in shops]
        bought = {
            var for line in orders.bought for var in line.packs.terms if var not in place and var not in out
        }
        bought = {var for var in bought if model.variables[var].high}
        self._alone = not draft.site.owned and not draft.site.offcuts and bought <= set(self._buying)

    def solved(self, members: tuple[int | None, ...]) -> Branch:
        """The relaxation with every shop open and no freight, where members of the partitions are chosen."""
        if members not in self._solved:
            found = self._relaxation.branch(members)
            self._solved[members] = found
            if found.reduced and None not in members:
                self._multipliers[members] = np.array(self._relaxation.multipliers())
        return self._solved[members]

    def _lines_by_part(self) -> dict[str, list[tuple[int, Var | None, int]]]:
        """By part that is no pipe and not owned: each shop's place, the packs bought there, pieces in a pack.

        Where a piece simply costs its price there is no count of packs. What is sold by the pack alone is
        left out.
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
        return {part: lines for part, lines in found.items() if any(pieces == 1 for _, _, pieces in lines)}

    def _lifts(self, reduced: Array) -> Array:
        """By part and shop, by how much more than the multiplier of its row a piece costs there [cents].

        The reduced cost of what is bought is just that.
        """
        lifts = np.full((len(self._lines), len(self._shops)), NOT_SOLD)
        for row, lines in zip(lifts, self._lines.values(), strict=True):
            for place, packs, pieces in lines:
                row[place] = min(row[place], 0.0 if packs is None else reduced[packs] / pieces)
        return lifts

    def read(self, members: tuple[int | None, ...]) -> Solved | None:
        """The relaxation where a member of each partition is chosen; None where it has no answer."""
        solved = self.solved(members)
        if not solved.reduced:
            return None
        return self._read(
            solved, np.array(self._multipliers[members]), frozenset(), np.ones(len(self._shops))
        )

    def read_one(
        self, branch: Branch, freight: float, closed: Collection[Var], tight: Sequence[Linear]
    ) -> Solved | None:
        """What the relaxation says of one set of shops, to bound others by; None where that cannot be.

        Args:
            branch: a member of each partition and the set chosen.
            freight: what is paid there for carriage [cents].
            closed: what is neither made nor bought with that set.
            tight: the rows (>= 0) that were found so far, in order.

        Returns:
            What holds of every set in which the same orders, or they and others, are topped up.
        """
        multipliers = np.array(branch.multipliers)
        more = [(row, worth) for row, worth in zip(tight, multipliers[self._rows :], strict=False) if worth]
        if not self._alone or np.abs(multipliers[self._tied]).max(initial=0.0) > TOLERANCE:
            return None
        if not all(self._paid.isdisjoint(row.terms) and self._blocks.holds(row) for row, _ in more):
            return None
        goods = replace(branch, members=branch.members[:-1], bound=branch.bound - freight)
        asked = np.ones(len(self._shops))
        for number, place in self._topped:
            asked[place] -= multipliers[number]
        return self._read(goods, multipliers[self._own], closed, asked, more)

    def _read(
        self,
        solved: Branch,
        multipliers: Array,
        closed: Collection[Var],
        asked: Array,
        tight: Sequence[tuple[Linear, float]] = (),
    ) -> Solved:
        """A branch read; what is closed in it may be open in another set.

        Args:
            solved: the branch.
            multipliers: of rows.
            closed: what is closed.
            asked: by shop the share of each price that is asked besides what tops its order up.
            tight: rows besides, with their multipliers.
        """
        reduced = np.array(solved.reduced)
        raised = self._blocks.raised(reduced, multipliers, self._shops, asked, tight)
        shut = self._relaxation.shut_by(solved.members)
        chosen = self._chosen.tolist()
        made = np.array([var not in shut for var in chosen], dtype=bool)
        open_ = made & np.array([var not in closed for var in chosen], dtype=bool)
        costs = reduced[self._chosen]
        spent = np.array([var for var in self._buying if var not in closed], dtype=np.int64)
        base = solved.bound - float(np.minimum(costs[open_], 0.0).sum())
        base -= float(np.minimum(reduced[spent], 0.0) @ self._highs[spent])
        lifts = np.concatenate([self._lifts(reduced), raised.lifts])
        users = np.concatenate([self._users, raised.users])
        parts = np.concatenate([self._parts, raised.blocks + len(self._lines)])
        counts = np.concatenate([self._counts.astype(float), raised.counts])
        # What a choice may be lifted by at least, in any set of shops.
        lows, highs = lifts.min(axis=1, initial=MOST_RAISED), lifts.max(axis=1, initial=0.0)
        floor = costs + np.bincount(
            users, np.where(counts > 0, lows[parts] * counts, highs[parts] * counts), len(costs)
        )
        near = made & (floor <= DEAR_CENTS)
        mine = np.flatnonzero(near[users])
        mine = mine[np.argsort(users[mine], kind="stable")]
        lifted, firsts = np.unique(users[mine], return_index=True)
        return Solved(
            base,
            np.where(near, costs, math.inf),
            np.where(np.logical_or.reduceat(made & ~near, self._firsts), DEAR_CENTS, math.inf),
            lifts,
            raised.constants,
            lifted,
            firsts,
            parts[mine],
            counts[mine],
        )

    def of(self, solved: Solved, sets: Sequence[Collection[str]]) -> Array:
        """What is minimised without freight comes to at least, by set of shops [cents]."""
        found = dict.fromkeys(map(frozenset, sets), 0.0)
        for shops in found:
            open_ = [place for place, shop in enumerate(self._shops) if shop in shops]
            lift = solved.lifts[:, open_].min(axis=1, initial=NOT_SOLD)
            lift[len(self._lines) :] = np.minimum(lift[len(self._lines) :], MOST_RAISED)
            costs = solved.costs.copy()
            if solved.lifted.size:
                costs[solved.lifted] += np.add.reduceat(lift[solved.parts] * solved.counts, solved.firsts)
            least = np.minimum(np.minimum.reduceat(costs, self._firsts), solved.dear)
            constant = float(lift[len(self._lines) :] @ solved.constants)
            found[shops] = solved.base + constant + float(least.sum())
        return np.array([found[frozenset(shops)] for shops in sets])


@dataclass(frozen=True, slots=True)
class _Raised:
    """What raising the multipliers of all rows of a block, by once themselves, does.

    Attributes:
        lifts: by block and shop how often they may be raised so.
        constants: by block what it gives by the constants of its rows [cents].
        users, blocks, counts: by how much which choice is lifted by which block [cents].
    """

    lifts: Array
    constants: Array
    users: Ints
    blocks: Ints
    counts: Array


def _ties(row: Linear, paid: Collection[Var]) -> bool:
    inside = sum(var in paid for var in row.terms)
    return 0 < inside < len(row.terms)


class _Blocks:
    """Rows that share what is bought for them: of one pipe, of sundries for the same wants, of one part.

    Args:
        draft: what is bought.
        model: its rows.
        place: the place of each choice that may be made.
        choices: all choices.
        counted: packs of what is counted piece by piece.
    """

    def __init__(
        self,
        draft: Draft,
        model: Model,
        place: Mapping[int, int],
        choices: Collection[Var],
        counted: set[Var],
    ) -> None:
        uses = draft.uses()
        lines = (line for line in draft.orders.bought if line.packs is not uses.get(line.part))
        bought = ((next(iter(line.packs.terms)), line.offer) for line in lines)
        self._bought = {
            packs: (offer.shop, offer.price_cents) for packs, offer in bought if packs not in counted
        }
        block: dict[Var, int] = {}
        members: dict[int, set[Var]] = {}
        rows = always(model)
        inside: list[tuple[int, list[Var]]] = []
        for number, row in enumerate(rows):
            others = [var for var in row.left.terms if var not in choices]
            if any(var in self._bought or var in block for var in others):
                inside.append((number, others))
                joined = {block[var] for var in others if var in block} or {number}
                whole = set(others).union(*(members.pop(one, set()) for one in joined))
                first = min(joined)
                members[first] = whole
                block |= dict.fromkeys(whole, first)
        sound = {
            name
            for name, variables in members.items()
            if variables.isdisjoint(counted) and all(model.variables[var].low == 0 for var in variables)
        }
        names = {name: number for number, name in enumerate(sorted(sound))}
        self.buying = {var for name in sound for var in members[name]}
        self._members = [sorted(members[name]) for name in names]
        self._block = {var: names[name] for var, name in block.items() if name in names}
        self._place, self._choices, self._counted = place, choices, counted
        kept = [(row, self._block[others[0]]) for row, others in inside if others[0] in self._block]
        self._rows = np.array([row for row, _ in kept], dtype=np.int64)
        self._of_row = np.array([name for _, name in kept], dtype=np.int64)
        self._constants = np.array([-rows[row].left.constant for row, _ in kept], dtype=float)
        entries = [
            (row, name, place[var], -coef)
            for row, name in kept
            for var, coef in rows[row].left.terms.items()
            if var in place
        ]
        table = np.array(entries, dtype=np.int64).reshape(-1, 4).T
        self._entry_rows, self._coefs = table[0], table[3].astype(float)
        pairs = table[1] * (len(place) + 1) + table[2]
        found, self._pair = np.unique(pairs, return_inverse=True)
        self._pair_blocks, self._pair_users = np.divmod(found, len(place) + 1)

    def holds(self, row: Linear) -> bool:
        """Whether all that a row ties but choices is of one block, or nothing of it is bought."""
        others = [var for var in row.terms if var not in self._choices]
        return len({self._block.get(var) for var in others}) <= 1 and self._counted.isdisjoint(others)

    def raised(
        self,
        reduced: Array,
        multipliers: Array,
        shops: Sequence[str],
        asked: Array,
        tight: Sequence[tuple[Linear, float]],
    ) -> _Raised:
        """What raising each block does, by what the relaxation says; arguments as for `Goods._read`."""
        lifts = np.full((len(self._members), len(shops)), MOST_RAISED)
        for row, variables in zip(lifts, self._members, strict=True):
            for var in variables:
                if var in self._bought:
                    shop, cents = self._bought[var]
                    at = shops.index(shop)
                    price = asked[at] * cents
                    worth = price - reduced[var]
                    row[at] = min(row[at], price / worth - 1 if worth > 0 else MOST_RAISED)
        given = multipliers[self._rows] * self._constants
        constants = np.bincount(self._of_row, given, len(self._members)).astype(float)
        weights = multipliers[self._entry_rows] * self._coefs
        counts = np.bincount(self._pair, weights, len(self._pair_users)).astype(float)
        lifting = counts != 0
        users, blocks = self._pair_users[lifting], self._pair_blocks[lifting]
        more = [(block, row, worth) for row, worth in tight if (block := self._block_of(row)) is not None]
        for block, tied, worth in more:
            constants[block] -= worth * tied.constant
        entries = [
            (self._place[var], block, -worth * coef)
            for block, tied, worth in more
            for var, coef in tied.terms.items()
            if var in self._place
        ]
        table = np.array(entries, dtype=float).reshape(-1, 3).T
        return _Raised(
            lifts,
            constants,
            np.concatenate([users, table[0].astype(np.int64)]),
            np.concatenate([blocks, table[1].astype(np.int64)]),
            np.concatenate([counts[lifting], table[2]]),
        )

    def _block_of(self, row: Linear) -> int | None:
        return next((self._block[var] for var in row.terms if var in self._block), None)
