"""The linear relaxation of a model, with members of partitions of its answers chosen or not."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from ortools.linear_solver import pywraplp

from autoplan.optimiser.model.model import Inequality, Model
from autoplan.optimiser.search.programme import Matrix, Programme
from autoplan.rules.linear import Following, Linear, Var


@dataclass(frozen=True, slots=True)
class Branch:
    """The linear relaxation with one member of every partition chosen.

    Attributes:
        members: by partition, the place of the member that is chosen, or None where any may be.
        bound: least objective of the relaxation; infinite if it has no answer.
        reduced: reduced cost of every variable; what choosing it adds to the bound at least.
        values: of every variable; all 0 if there is no answer, or none below the ceiling.
        multipliers: of the rows that always hold, and of those required since, where answers are divided by a
            last partition.
        ceiling: of answers that come to more nothing else is said, not even by bound and reduced costs.
        closed: choices that are not made in it besides.
    """

    members: tuple[int | None, ...]
    bound: float
    reduced: tuple[float, ...] = ()
    values: tuple[float, ...] = ()
    multipliers: tuple[float, ...] = ()
    ceiling: float = math.inf
    closed: frozenset[Var] = frozenset()

    def least(self) -> NDArray[np.float64]:
        """What answers come to at least in which each variable is 1."""
        found: NDArray[np.float64] = np.minimum(self.bound + np.asarray(self.reduced), self.ceiling)
        return found


Partition = Sequence[Sequence[Var]]
"""Members, each of some choices: every answer keeps to one member's and makes none that only others have."""


class Last(Protocol):
    """A partition of many members, each bounded by other means before the relaxation is asked about it."""

    @property
    def partition(self) -> Partition:
        """The members."""

    @property
    def links(self) -> Collection[int]:
        """The places of rows that say no more than `shut`, once a member is chosen."""

    def shut(self, member: int) -> Collection[Var]:
        """What is 0 where a member is chosen."""

    def solved(self, members: tuple[int | None, ...]) -> Branch:
        """A looser relaxation of all its members, where members of the other partitions are chosen or any."""

    def least(self, members: tuple[int | None, ...]) -> Sequence[float]:
        """By member what its answers come to at least, where a member of each other partition is chosen."""

    def from_like(self, branch: Branch, rows: Sequence[Linear], asked: Sequence[int]) -> Sequence[float]:
        """The same of members asked for, from what the relaxation says of one; nothing where it cannot.

        `rows` are those required so far.
        """


class Relaxation:
    """The model as a linear programme, with members of partitions of its answers chosen or not.

    Args:
        model: the model; rows that hold only where something is chosen are left out.
        objective: what is minimised.
        out: choices known to be impossible.
        partitions: what to divide the answers by, best what matters most: pumps, how drains are joined.
        deadline: `time.monotonic()` after which nothing more is solved, or None.
        last: what else to divide them by, after all partitions, or None.
    """

    def __init__(
        self,
        model: Model,
        objective: Linear,
        out: frozenset[Var],
        partitions: Sequence[Partition],
        deadline: float | None = None,
        last: Last | None = None,
    ) -> None:
        self._last = last
        self.partitions = [
            [[var for var in part if var not in out] for part in parts] for parts in partitions
        ]
        self._constant = objective.constant
        self._number = len(model.variables)
        self._whole = [{var for part in parts for var in part} for parts in self.partitions]
        lows = [variable.low for variable in model.variables]
        highs = [variable.high for variable in model.variables]
        self._choices = {var for group in model.groups for var in group}
        self._matrix = Matrix(lows, highs, out, objective.terms)
        for row in equalities(model):
            self._matrix.add(row.terms, -row.constant, -row.constant)
        lasting = always(model, () if last is None else last.links)
        self._rows = [self._add(row.left) for row in lasting]
        self._owned = [(row.rule, added) for row, added in zip(lasting, self._rows, strict=True)]
        self._programme = Programme(self._matrix, deadline)
        self._out: NDArray[np.bool_] | None = None
        self.ceiling = math.inf
        """Of answers that come to more nothing is told."""
        self.widened = 0
        """How often that was taken back."""

    def require(self, row: Linear) -> None:
        """Add row >= 0."""
        added = self._add(row)
        self._rows.append(added)
        if isinstance(row, Following):
            self._owned.append((row.rule, added))

    def focus(self, out: Collection[Var], ceiling: float) -> None:
        """From now on tell only of answers that come to less than something, and keep no choice of them.

        Args:
            out: choices that are in no such answer.
            ceiling: what they come to less than.
        """
        out = self._choices.intersection(out)
        if self._programme.focus(out):
            self._out = np.zeros(self._number, dtype=bool)
            self._out[list(out)] = True
            self.ceiling = ceiling

    def widen(self) -> None:
        """From now on tell of all answers."""
        if math.isfinite(self.ceiling):
            self._programme.widen()
            self.ceiling = math.inf
            self.widened += 1

    @contextmanager
    def without(self, rule: str) -> Iterator[None]:
        """While it lasts a rule's rows, and what follows from them, need not be kept."""
        # What is out by its rows may be in without them.
        self.widen()
        lows = self._programme.loosen(row for owner, row in self._owned if owner == rule)
        yield
        self._programme.bound(lows)

    def multipliers(self) -> list[float]:
        """Of the rows `always` of the model, and of those required, after a branch was solved."""
        found: list[float] = self._programme.answer.duals[self._rows].tolist()
        return found

    def _add(self, row: Linear) -> int:
        return self._matrix.add(row.terms, -row.constant, math.inf)

    def shut_by(self, members: tuple[int | None, ...]) -> set[Var]:
        """Choices that are not made where these members are chosen."""
        shut: set[Var] = set()
        for parts, whole, member in zip(self.partitions, self._whole, members, strict=False):
            if member is not None:
                shut |= whole.difference(parts[member])
        if self._last is not None and members[-1] is not None:
            shut.update(self._last.shut(members[-1]))
        return {var for var in shut if self._matrix.there[var]}

    def branch(
        self, members: tuple[int | None, ...], closed: frozenset[Var] = frozenset(), *, whole: bool = False
    ) -> Branch:
        """The relaxation's answer where a member of each partition is chosen (None: any).

        Args:
            members: by partition.
            closed: choices that are not made besides.
            whole: whether to tell of all answers, even those over the ceiling.
        """
        if any(
            member is not None and not parts[member]
            for parts, member in zip(self.partitions, members, strict=False)
        ):
            return Branch(members, math.inf, closed=closed)
        ceiling = math.inf if whole else self.ceiling
        status = self._programme.solve(closed.union(self.shut_by(members)), whole=whole)
        if status != pywraplp.Solver.OPTIMAL:
            nothing = (0.0,) * self._number
            least = ceiling if status == pywraplp.Solver.INFEASIBLE else 0.0
            return Branch(members, least, nothing, nothing, ceiling=ceiling, closed=closed)
        answer = self._programme.answer
        bound = min(answer.value + self._constant, ceiling)
        reduced = self._matrix.reduced(answer.duals)
        reduced[~self._matrix.there] = 0.0
        if math.isfinite(ceiling):
            reduced[self._out] = ceiling - bound
        multipliers = () if self._last is None else tuple(self.multipliers())
        told = (tuple(reduced.tolist()), tuple(answer.values.tolist()), multipliers)
        return Branch(members, bound, *told, ceiling, closed)


def always(model: Model, without: Collection[int] = ()) -> list[Inequality]:
    """The rows that hold whatever is chosen, but for those at some places."""
    rows = enumerate(model.inequalities)
    return [row for place, row in rows if row.when is None and place not in without]


def equalities(model: Model) -> Iterable[Linear]:
    """Rows that come to 0 in every answer, that of each group one choice is made among them."""
    yield from model.equalities
    for group in model.groups:
        yield Linear(dict.fromkeys(group, 1), -1)
