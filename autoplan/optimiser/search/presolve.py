"""Choices that cannot be part of any answer, found before the solver is asked.

Two arguments, both proofs. Bounds: where even the best of everything else cannot make up for a choice, it is
out. Reduced costs: a choice whose reduced cost in the linear relaxation lifts the bound past a known cost is
in no answer of that cost or less.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from copy import copy
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from autoplan.optimiser.model.bounds import AlwaysTrue
from autoplan.optimiser.model.model import Model
from autoplan.optimiser.search.halving import halves
from autoplan.optimiser.search.leaves import UNASKED, Leaf, Leaves
from autoplan.optimiser.search.relaxation import Branch, Last, Partition, Relaxation
from autoplan.rules.linear import Linear, Var

ROUNDS = 4
"""Passes over the rows; later ones find little."""

TIGHTENINGS = 25
"""Most rounds in which rows are looked for that tighten one branch of the relaxation."""

AT_LEAST = 3
"""Rounds before it counts how little the last one gained."""

WORTH_CENTS = 1.0
"""Least gain of a round that is worth another [cents]."""

WORTH_IN_HALVES = 50.0
"""The same in halves, from the first round on: what is halved once more may gain more [cents]."""

MOST_HALVED = 400
"""How often answers are halved at most: each half of a large site takes a megabyte."""

ALIKE = 1.05
"""A branch whose bound is past this multiple of another's is not bounded by what that says of it."""

CEILING = 1.05
"""Of answers that come to more than this multiple of the least nothing is told until it is asked."""

SLACK = 5.0
"""Allowance for the relaxation's own arithmetic [cents]."""


def impossible(model: Model) -> frozenset[Var]:
    """Choices that some inequality forbids whatever else is chosen.

    In each row every group of choices can give at most its best remaining member, every other variable its
    better bound. A choice that leaves the row short even so is out.
    """
    rows, out = AlwaysTrue(model), set[Var]()
    for _ in range(ROUNDS):
        found = rows.forbidden(out, rows.bounds(out))
        if not found:
            break
        out |= found
    return frozenset(out)


Separate = Callable[[Sequence[float]], Sequence[Linear]]
"""Rows (>= 0) that every answer keeps and that these values of every variable break."""


@dataclass(slots=True)
class Portion:
    """Some of the answers: those of some branches of the relaxation, or of halves of them.

    Attributes:
        halves: the branches, each with the choices that are closed in its half.
        out: choices that are closed in it, since no answer of it within the limit asked for last has them.
        least: what every answer without these that is not known yet is proven to come to at least.
    """

    halves: tuple[tuple[Branch, frozenset[Var]], ...]
    out: frozenset[Var]
    least: int = 0


class Narrowing:
    """Which choices can be in an answer of at most a given cost.

    The answers are divided by the partitions, one after the other, as a tree of branches. Only the branch
    with the least bound is looked at: it is solved anew with the rows found since, rows that it breaks are
    looked for, and it is divided further; so nothing is worked out that no cost asks for.

    Args:
        model: the model.
        objective: what is minimised.
        partitions: see `Relaxation`; all answers are divided by the first, best the one that matters most.
        separate: finds rows that make the relaxation tighter.
        late: whether time is up; then branches keep the bounds that they have.
        out: choices that are in no answer, where that was worked out before.
        deadline: as for `Relaxation`.
        last: by what all answers are divided after that, or None.
        finer: by what they are divided too where `kinds` are asked for; nothing where there is a last.
        torn: groups that much hangs on, by halves of which `deepen` divides them first.

    Attributes:
        rows: what `separate` found so far.
        has_kinds: whether answers can be divided further than by what matters most.
    """

    def __init__(
        self,
        model: Model,
        objective: Linear,
        partitions: Sequence[Partition],
        separate: Separate | None = None,
        late: Callable[[], bool] = lambda: False,
        out: frozenset[Var] | None = None,
        deadline: float | None = None,
        last: Last | None = None,
        finer: Sequence[Partition] = (),
        torn: Sequence[Sequence[Var]] = (),
    ) -> None:
        self._model = model
        self._torn = torn
        self._halved = 0
        self.impossible = impossible(model) if out is None else out
        self._last = last
        divided = [*partitions, *finer, *(() if last is None else (last.partition,))]
        self.has_kinds = bool(finer)
        self._depth = len(divided) - len(finer)
        divisions = [*partitions, *finer]
        self._relaxation = Relaxation(model, objective, self.impossible, divisions, deadline, last)
        self._partitions = [
            [[var for var in part if var not in self.impossible] for part in parts] for parts in divided
        ]
        self._whole_of = [frozenset(var for part in parts for var in part) for parts in self._partitions]
        self._separate = separate
        self._late = late
        self._focus_once = True
        self.rows: list[Linear] = []
        self._whole = self._branch((None,) * len(divided))
        self._leaves = Leaves(Leaf(self._whole, asked=0))

    def near(self, more: float) -> frozenset[Var]:
        """Choices that lift the bound of the whole relaxation by more than this, if nothing is divided yet.

        It is known at once; what is left is where a first answer is looked for.
        """
        if self._last is not None:
            leaf = self._settle(-math.inf, first=True)
            if leaf is not None:
                return self._out_of([leaf.branch], leaf.bound + more)
        dear = np.asarray(self._whole.reduced) > more
        out = {var for group in self._model.groups for var in group if dear.size and dear[var]}
        return frozenset(_unmet(self._model, out | self.impossible))

    @property
    def choices(self) -> int:
        """How many variables there are, in answers or not."""
        return len(self._model.variables)

    def size(self, cost: float) -> int:
        """How many of them are in answers of at most a cost [the objective's unit]."""
        return self.choices - len(self.out(cost))

    @property
    def whole(self) -> float:
        """As `bound`, by the relaxation as a whole: known at once, and perhaps less."""
        return self._whole.bound

    @property
    def bound(self) -> float:
        """What every answer comes to at least [the objective's unit]; infinite if there is none."""
        self._settle(-math.inf)
        if self._focus_once and not self._late():
            self._focus_once = False
            self._focus()
        return self._leaves.least

    def _focus(self) -> None:
        """Solve what is left with what is in answers of little more than any comes to at least."""
        ceiling = self._leaves.least * CEILING
        if self._last is None and math.isfinite(ceiling):
            self._relaxation.focus(self._out_of(self._leaves.within(ceiling), ceiling), ceiling)

    @property
    def _now(self) -> int:
        """How much is known that branches may be solved with."""
        return len(self.rows) + self._relaxation.widened

    def rising(self) -> Iterator[float]:
        """What every answer comes to at least, as it rises with each step; the last is `bound`."""
        yield self._leaves.least
        while not self._late() and (leaf := self._leaves.next(-math.inf, self._now)) is not None:
            self._go_on(leaf)
            yield self._leaves.least

    def deepen(self, most: float, small: int = 0) -> Iterator[float]:
        """Divide the answers of least bound by halves of a group, again and again while it is below `most`.

        The bound is told after each time; what was halved stays so. It ends once those of least bound are
        made of so few choices (`small`).

        A relaxation that mixes two ways to build what much hangs on, a narrow trunk and a wide one, knows
        little of either; with one of them closed it pays for what the other takes. Ways to order are not
        divided so.
        """
        self._settle(-math.inf)
        while self._last is None and self._halved < MOST_HALVED and not self._late():
            if math.isinf(self._leaves.least) or self._leaves.least > most + SLACK:
                return
            leaf = self._leaves.take_done()
            branch = leaf.branch
            shut = self.impossible | branch.closed
            closing = halves(branch.values, shut, self._torn)
            closing = closing or halves(branch.values, shut, self._model.groups)
            if not closing or self._few(leaf, most, small) is not None:
                self._leaves.put(leaf, done=True)
                return
            self._halved += 1
            for half in closing:
                closed = replace(branch, closed=branch.closed | half)
                self._leaves.put(Leaf(closed, UNASKED), done=False)
            self._settle(-math.inf)
            yield self._leaves.least

    def small(self, most: float, small: int, number: int) -> list[tuple[Leaf, Portion]]:
        """So many leaves of least bound that have few choices (`small`), with their answers up to `most`."""
        found: list[tuple[Leaf, Portion]] = []
        for leaf in self._leaves.solved(most + SLACK):
            if len(found) < number and (part := self._few(leaf, most, small)) is not None:
                found.append((leaf, part))
        return found

    def _few(self, leaf: Leaf, most: float, small: int) -> Portion | None:
        """A leaf's answers up to `most`, if they are made of few choices."""
        part = self.part(leaf.branch, most)
        return part if self.choices - len(part.out) <= small else None

    def lift(self, leaf: Leaf, least: float) -> None:
        """Take it as known that no answer of a leaf is wanted that comes to less than this."""
        if least + SLACK > leaf.bound:
            leaf.branch = _known_to_cost(leaf.branch, least + SLACK)

    def start_over(self) -> None:
        """Take nothing of any leaf as known."""
        self._leaves = Leaves(Leaf(self._whole, asked=0))
        self._halved = 0

    def _settle(self, limit: float, *, first: bool = False) -> Leaf | None:
        """Solve, tighten and divide branches until the least, and all up to a limit, have been.

        Args:
            limit: what is of interest.
            first: whether to stop at the first that is divided to the end, which is told.
        """
        while not self._late() and (leaf := self._leaves.next(limit + SLACK, self._now)) is not None:
            if first and leaf.asked >= self._now and self._undivided(leaf.branch) is None:
                self._leaves.put(leaf, done=False)
                return leaf
            self._go_on(leaf)
        return None

    def _go_on(self, leaf: Leaf) -> None:
        """Solve a branch with what is known now, or else divide it, or else tighten it."""
        if leaf.asked < self._now:
            self._solve(leaf)
        elif (place := self._undivided(leaf.branch)) is not None:
            self._divide(leaf, place)
            return
        elif not leaf.tight:
            self._tighten(leaf)
            leaf.tight = True
        done = leaf.tight and leaf.asked == self._now and self._undivided(leaf.branch) is None
        self._leaves.put(leaf, done=done)

    def _undivided(self, branch: Branch) -> int | None:
        """The first partition that a branch is to be divided by and is not yet."""
        return next((at for at in range(self._depth) if branch.members[at] is None), None)

    def _divide(self, leaf: Leaf, place: int) -> None:
        """Divide a branch by a partition.

        What the parts come to is not worked out before it matters: at least what the whole does, and the
        reduced cost of the member that is chosen. A part with the whole's own answer comes to the same.
        """
        branch = leaf.branch
        if self._last is not None and place == len(branch.members) - 1:
            self._leaves.put_row(branch, self._last.least(branch.members[:-1]))
            return
        parts = self._partitions[place]
        made = {var for var in self._whole_of[place] if branch.values[var] > 0}
        for member, part in enumerate(parts):
            members = (*branch.members[:place], member, *branch.members[place + 1 :])
            divided = Leaf(replace(branch, members=members), UNASKED, leaf.tight)
            if part and made.issubset(part):
                divided.asked = leaf.asked
            else:
                divided.branch = _at_least(divided.branch, part)
            self._leaves.put(divided, done=False)

    def _tighten(self, leaf: Leaf) -> None:
        """Add rows that a branch's answer breaks, as long as there are any that help."""
        for turn in range(TIGHTENINGS):
            found = self._separate(leaf.branch.values) if self._separate and leaf.branch.values else ()
            if not found or self._late():
                return
            self.rows += found
            for row in found:
                self._relaxation.require(row)
            before = leaf.branch.bound
            self._solve(leaf)
            worth, least = (WORTH_IN_HALVES, 0) if leaf.branch.closed else (WORTH_CENTS, AT_LEAST)
            if leaf.branch.bound < before + worth and turn >= least:
                return

    def _branch(self, members: tuple[int | None, ...], closed: frozenset[Var] = frozenset()) -> Branch:
        if self._last is not None and members[-1] is None:
            return replace(self._last.solved(members[:-1]), members=members)
        return self._relaxation.branch(members, closed)

    def _solve(self, leaf: Leaf) -> None:
        """A branch with all rows found; they only lift its bound, so what cannot be solved keeps its own."""
        if leaf.branch.bound >= self._relaxation.ceiling:
            self._relaxation.widen()
        found = self._branch(leaf.branch.members, leaf.branch.closed)
        leaf.asked = UNASKED if found.bound >= found.ceiling else self._now
        if found.bound >= leaf.branch.bound or found.ceiling > leaf.branch.ceiling:
            leaf.branch = found
        elif any(found.values):
            leaf.branch = _known_to_cost(found, leaf.bound)
        if self._last is not None and found.multipliers and None not in found.members:
            # What it says of those that differ from it by the last partition alone, if any may be next.
            self._leaves.lift(found, ALIKE * found.bound, partial(self._last.from_like, found, self.rows))

    @property
    def by_shops(self) -> bool:
        """Whether answers are divided by the shops that they come from too, bounded by other means."""
        return self._last is not None

    def without(self, rule: str) -> float:
        """What every answer comes to at least where a rule's rows need not be kept [the objective's unit].

        It holds where the same choices are impossible, and where answers are not divided by shops. Rows found
        so far tighten it, but for those that follow from the rule's; none are looked for.
        """
        with self._relaxation.without(rule):
            loose = copy(self)
            loose._separate = None
            loose._focus_once = False
            loose._whole = loose._branch((None,) * len(self._partitions))
            loose._leaves = Leaves(Leaf(loose._whole, asked=self._now))
            return loose.bound

    def out(self, cost: float) -> frozenset[Var]:
        """Choices that are in no answer of at most this cost [the objective's unit].

        A choice stays if in some branch its reduced cost leaves the bound within the cost; a member of a
        partition stays if a branch with it has a bound within it. What could only meet choices that are out
        is out too.
        """
        if math.isinf(cost):
            return self.impossible
        return self._out_of(self._alive(cost), cost + SLACK)

    def kinds(self) -> Iterator[Branch]:
        """The branches of what answers are divided by, the finer partitions too: that of least bound first.

        None of them is tightened by itself.
        """
        finer = copy(self)
        finer._depth = len(self._partitions)
        finer._leaves = self._leaves.opened()
        while not self._late() and (leaf := finer._leaves.next(math.inf, 0)) is not None:
            if leaf.asked < self._now:
                finer._solve(leaf)
                finer._leaves.put(leaf, done=False)
            elif (place := finer._undivided(leaf.branch)) is not None:
                finer._divide(leaf, place)
            else:
                yield leaf.branch

    def part(self, branch: Branch, cost: float) -> Portion:
        """A branch's answers of at most this cost."""
        if cost + SLACK >= branch.ceiling:
            branch = self._relaxation.branch(branch.members, branch.closed, whole=True)
        return Portion(((branch, frozenset()),), self._out_of([branch], cost + SLACK))

    def parted(self, cost: float, parts: int) -> list[Portion]:
        """So many parts of the answers of at most this cost, the hardest first.

        The branches are such parts; where they are fewer, those with most choices are halved where the
        relaxation is torn between two halves of a group.
        """
        alive = sorted(self._alive(cost), key=lambda branch: branch.bound)
        found = [self.part(branch, cost) for branch in alive]
        while 0 < len(found) < parts:
            widest = min(range(len(found)), key=lambda i: len(found[i].out))
            ((branch, closed),), out = found[widest].halves, found[widest].out
            closing = halves(branch.values, out, self._model.groups)
            if not closing:
                break
            found[widest : widest + 1] = [
                Portion(((branch, closed | half),), frozenset(_unmet(self._model, {*out, *half})))
                for half in closing
            ]
        while len(found) > parts:
            # The last ones have the fewest choices.
            found[-2:] = [Portion(found[-2].halves + found[-1].halves, found[-2].out & found[-1].out)]
        return found

    def within(self, part: Portion, cost: float, out: frozenset[Var]) -> bool:
        """Whether a part has answers of at most this cost, of which none makes choices that are out.

        It is narrowed to them.
        """
        limit = cost + SLACK
        outs = [
            self._out_of([branch], limit) | closed for branch, closed in part.halves if branch.bound <= limit
        ]
        if outs:
            part.out = frozenset(_unmet(self._model, {*frozenset[Var].intersection(*outs), *out}))
        return bool(outs)

    def _alive(self, cost: float) -> list[Branch]:
        if cost + SLACK >= self._relaxation.ceiling:
            self._relaxation.widen()
        self._settle(cost)
        return self._leaves.within(cost + SLACK)

    def _out_of(self, alive: Sequence[Branch], limit: float) -> frozenset[Var]:
        """Choices that are in no answer of these branches within a limit."""
        out = set(self.impossible)
        least = np.full(len(self._model.variables), math.inf)
        for branch in alive:
            more = branch.least()
            more[list(branch.closed)] = math.inf
            for parts, whole, member in zip(self._partitions, self._whole_of, branch.members, strict=True):
                if member is not None:
                    more[list(whole.difference(parts[member]))] = math.inf
            least = np.minimum(least, more)
        dear = least > limit
        out.update(var for group in self._model.groups for var in group if dear[var])
        return frozenset(_unmet(self._model, out))


def _known_to_cost(branch: Branch, least: float) -> Branch:
    """A branch as it was solved, all answers of which were known to come to more than that said."""
    reduced = np.maximum(0.0, np.asarray(branch.reduced) - (least - branch.bound))
    return replace(branch, bound=least, reduced=tuple(reduced.tolist()))


def _at_least(branch: Branch, part: Sequence[Var]) -> Branch:
    """A branch that makes one of some choices, bounded by what the whole's reduced costs say of them."""
    more = max(0.0, min((branch.reduced[var] for var in part), default=math.inf))
    if math.isinf(more):
        return replace(branch, bound=math.inf)
    more = min(more, branch.ceiling - branch.bound)
    reduced = np.array(branch.reduced)
    # What the bound counts of them is not to be counted again.
    reduced[list(part)] -= more
    return replace(branch, bound=branch.bound + more, reduced=tuple(reduced.tolist()))


def _unmet(model: Model, out: set[Var]) -> set[Var]:
    """Add choices whose counterparts in an equality are all out."""
    rows = [
        ([v for v, c in row.terms.items() if c > 0], [v for v, c in row.terms.items() if c < 0])
        for row in model.equalities
        if row.constant == 0
    ]
    changed = True
    while changed:
        changed = False
        for sides in rows:
            for side, other in (sides, sides[::-1]):
                if all(var in out for var in side):
                    new = [var for var in other if var not in out]
                    out.update(new)
                    changed = changed or bool(new)
    return out
