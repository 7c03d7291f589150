"""Choices that cannot be part of any answer, found before the solver is asked.

Two arguments, both proofs. Bounds: where even the best of everything else cannot make up for a choice, it is
out. Reduced costs: a choice whose reduced cost in the linear relaxation lifts the bound past a known cost is
in no answer of that cost or less.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from ortools.linear_solver import pywraplp

from autoplan import clock
from autoplan.rules.linear import Linear, Var
from autoplan.selection.clock import aside
from autoplan.selection.model import Inequality, Model

ROUNDS = 4
"""Passes over the rows; later ones find little."""

TIGHTENINGS = 25
"""Most rounds in which rows are looked for that tighten one branch of the relaxation."""

UNASKED = -1
"""In place of how many rows a branch was solved with: it was not solved by itself yet."""

AT_LEAST = 3
"""Rounds before it counts how little the last one gained."""

WORTH_CENTS = 1.0
"""Least gain of a round that is worth another [cents]."""

AT_MOST = "max_number_of_iterations: 20000"
"""The simplex method has been seen to go round in circles for ever; 5000 variables and rows take 2000 steps.
What is not solved by then bounds nothing."""

SIMPLEX = f"use_preprocessing: false use_dual_simplex: true {AT_MOST}"
"""From one branch to the next only bounds change, so the last basis is dual feasible: the dual simplex method
takes it up, where preprocessing would make it start again."""

AFRESH = f"use_preprocessing: true use_dual_simplex: false {AT_MOST}"
"""From nothing, preprocessing and the primal method are the quickest."""

ALIKE = 1.05
"""A branch whose bound is past this multiple of another's is not bounded by what that says of it."""

SLACK = 5.0
"""Allowance for the relaxation's own arithmetic [cents]."""


def impossible(model: Model) -> frozenset[Var]:
    """Choices that some inequality forbids whatever else is chosen.

    In each row every group of choices can give at most its best remaining member, every other variable its
    better bound. A choice that leaves the row short even so is out.
    """
    group_of = {var: g for g, group in enumerate(model.groups) for var in group}
    sizes = [len(group) for group in model.groups]
    out: set[Var] = set()
    for _ in range(ROUNDS):
        found: set[Var] = set()
        for row in model.inequalities:
            if row.when is None:
                found |= _forbidden(model, row.left, group_of, sizes, out)
        if found <= out:
            break
        out |= found
    return frozenset(out)


def _forbidden(
    model: Model, left: Linear, group_of: dict[Var, int], sizes: list[int], out: set[Var]
) -> set[Var]:
    slack = left.constant
    members: dict[int, list[tuple[Var, int]]] = {}
    for var, coef in left.terms.items():
        if var in group_of:
            members.setdefault(group_of[var], []).append((var, coef))
        else:
            bounds = model.variables[var]
            slack += coef * (bounds.high if coef > 0 else bounds.low)
    best: dict[int, int] = {}
    for group, terms in members.items():
        inside = [coef for var, coef in terms if var not in out]
        # A group with members outside this row can give nothing to it at no loss.
        absent = [0] if len(terms) < sizes[group] else []
        best[group] = max(inside + absent, default=0)
        slack += best[group]
    return {
        var
        for group, terms in members.items()
        for var, coef in terms
        if var not in out and slack - best[group] + coef < 0
    }


@dataclass(frozen=True, slots=True)
class Branch:
    """The linear relaxation with one member of every partition chosen.

    Attributes:
        members: by partition, the place of the member that is chosen, or None where any may be.
        bound: least objective of the relaxation; infinite if it has no answer.
        reduced: reduced cost of every variable; what choosing it adds to the bound at least.
        values: of every variable; empty if there is no answer.
        multipliers: of the rows that always hold, where answers are divided by a last partition.
    """

    members: tuple[int | None, ...]
    bound: float
    reduced: tuple[float, ...] = ()
    values: tuple[float, ...] = ()
    multipliers: tuple[float, ...] = ()


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

    def from_like(self, branch: Branch, asked: Sequence[int]) -> Sequence[float]:
        """The same of members asked for, from what the relaxation says of one; nothing where it cannot."""


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
        self._deadline = deadline
        self.partitions = [
            [[var for var in part if var not in out] for part in parts] for parts in partitions
        ]
        self._constant = objective.constant
        self._solver = pywraplp.Solver.CreateSolver("GLOP")
        self._solver.SetSolverSpecificParametersAsString(AFRESH)
        self._number = len(model.variables)
        self._highs = [variable.high for variable in model.variables]
        self._variables = {
            Var(i): self._solver.NumVar(v.low, v.high, "")
            for i, v in enumerate(model.variables)
            if Var(i) not in out
        }
        self._whole = [{var for part in parts for var in part} for parts in self.partitions]
        self._shut: set[Var] = set()
        for row in equalities(model):
            self._add(row, -row.constant)
        links = () if last is None else last.links
        self._rows = [self._add(row.left, self._solver.infinity()) for row in always(model, links)]
        goal = self._solver.Objective()
        for var, coef in objective.terms.items():
            if var in self._variables:
                goal.SetCoefficient(self._variables[var], coef)
        goal.SetMinimization()

    def require(self, row: Linear) -> None:
        """Add row >= 0."""
        self._add(row, self._solver.infinity())

    def multipliers(self) -> list[float]:
        """Of the rows `always` of the model, after a branch with an answer was solved."""
        return [row.dual_value() for row in self._rows]

    def _add(self, row: Linear, high: float) -> pywraplp.Constraint:
        constraint = self._solver.Constraint(-row.constant, high)
        for var, coef in row.terms.items():
            if var in self._variables:
                constraint.SetCoefficient(self._variables[var], coef)
        return constraint

    def _shut_all_but(self, members: tuple[int | None, ...]) -> None:
        """Close the members of every partition that are not chosen, open the others."""
        shut = self.shut_by(members)
        for var in sorted(shut ^ self._shut):
            self._variables[var].SetUb(0 if var in shut else self._highs[var])
        self._shut = shut

    def shut_by(self, members: tuple[int | None, ...]) -> set[Var]:
        """Choices that are not made where these members are chosen."""
        shut: set[Var] = set()
        for parts, whole, member in zip(self.partitions, self._whole, members, strict=False):
            if member is not None:
                shut |= whole.difference(parts[member])
        if self._last is not None and members[-1] is not None:
            shut.update(self._variables.keys() & self._last.shut(members[-1]))
        return shut

    def branch(self, members: tuple[int | None, ...]) -> Branch:
        """The relaxation's answer where a member of each partition is chosen (None: any)."""
        if any(
            member is not None and not parts[member]
            for parts, member in zip(self.partitions, members, strict=False)
        ):
            return Branch(members, math.inf)
        self._shut_all_but(members)
        status = solve_by(self._deadline, self._solver)
        self._solver.SetSolverSpecificParametersAsString(SIMPLEX)
        if status not in (pywraplp.Solver.OPTIMAL, pywraplp.Solver.INFEASIBLE):
            # From the basis of another branch the solver sometimes loses its way.
            self._solver.SetSolverSpecificParametersAsString(AFRESH)
            afresh = pywraplp.MPSolverParameters()
            afresh.SetIntegerParam(afresh.INCREMENTALITY, afresh.INCREMENTALITY_OFF)
            status = solve_by(self._deadline, self._solver, afresh)
            self._solver.SetSolverSpecificParametersAsString(SIMPLEX)
        if status == pywraplp.Solver.INFEASIBLE:
            return Branch(members, math.inf)
        if status != pywraplp.Solver.OPTIMAL:
            nothing = (0.0,) * self._number
            return Branch(members, 0.0, nothing, nothing)
        reduced, values = [0.0] * self._number, [0.0] * self._number
        for var, variable in self._variables.items():
            reduced[var] = variable.reduced_cost()
            values[var] = variable.solution_value()
        bound = self._solver.Objective().Value() + self._constant
        multipliers = () if self._last is None else tuple(self.multipliers())
        return Branch(members, bound, tuple(reduced), tuple(values), multipliers)


def solve_by(
    deadline: float | None, solver: pywraplp.Solver, parameters: pywraplp.MPSolverParameters | None = None
) -> int:
    """Solve a linear programme until a deadline, or until the user stops it: the status, NOT_SOLVED if so."""
    left = clock.left(deadline)
    if left <= 0:
        return int(pywraplp.Solver.NOT_SOLVED)
    solver.SetTimeLimit(0 if math.isinf(left) else math.ceil(1000 * left))
    asked = () if parameters is None else (parameters,)
    return int(aside(lambda: solver.Solve(*asked), solver.InterruptSolve))


Separate = Callable[[Sequence[float]], Sequence[Linear]]
"""Rows (>= 0) that every answer keeps and that these values of every variable break."""


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

    Attributes:
        rows: what `separate` found so far.
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
    ) -> None:
        self._model = model
        self.impossible = impossible(model) if out is None else out
        self._last = last
        divided = [*partitions, *(() if last is None else (last.partition,))]
        self._relaxation = Relaxation(model, objective, self.impossible, partitions, deadline, last)
        self._partitions = [
            [[var for var in part if var not in self.impossible] for part in parts] for parts in divided
        ]
        self._separate = separate
        self._late = late
        self.rows: list[Linear] = []
        self._leaves = [_Leaf(self._branch((None,) * len(divided)), asked=0)]

    @property
    def bound(self) -> float:
        """What every answer comes to at least [the objective's unit]; infinite if there is none."""
        self._settle(-math.inf)
        return self._least().branch.bound

    def _least(self) -> _Leaf:
        return min(self._leaves, key=lambda leaf: leaf.branch.bound, default=NO_LEAF)

    def _settle(self, limit: float) -> None:
        """Solve, tighten and divide branches until the least, and all up to a limit, have been."""
        while True:
            leaf = self._next(limit)
            if leaf is None or self._late():
                return
            if leaf.asked < len(self.rows):
                self._solve(leaf)
            elif None in leaf.branch.members:
                self._leaves.remove(leaf)
                self._leaves += self._divided(leaf.branch)
            else:
                self._tighten(leaf)
                leaf.tight = True

    def _next(self, limit: float) -> _Leaf | None:
        """The branch of least bound that something is to be done with yet, if least or within the limit."""
        least = self._least()
        open_ = [leaf for leaf in self._leaves if leaf is least or leaf.branch.bound <= limit + SLACK]
        open_ = [leaf for leaf in open_ if not self._done(leaf) and leaf.branch.bound < math.inf]
        return min(open_, key=lambda leaf: leaf.branch.bound, default=None)

    def _done(self, leaf: _Leaf) -> bool:
        return leaf.tight and leaf.asked == len(self.rows)

    def _divided(self, branch: Branch) -> Iterator[_Leaf]:
        """A branch divided by the first partition that it is not divided by yet.

        What the parts come to is not worked out before it matters: at least what the whole does, and the
        reduced cost of the member that is chosen.
        """
        place = branch.members.index(None)
        least: Sequence[float] = ()
        if self._last is not None and place == len(branch.members) - 1:
            least = self._last.least(branch.members[:-1])
        nothing = (0.0,) * len(branch.reduced)
        for member, part in enumerate(self._partitions[place]):
            members = (*branch.members[:place], member, *branch.members[place + 1 :])
            more = min((branch.reduced[var] for var in part), default=math.inf)
            if least:
                bound = max(branch.bound, least[member])
                divided = Branch(members, bound, nothing, branch.values)
            else:
                divided = replace(branch, members=members, bound=branch.bound + max(0.0, more))
            if divided.bound < math.inf:
                yield _Leaf(divided, UNASKED)

    def _tighten(self, leaf: _Leaf) -> None:
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
            if leaf.branch.bound < before + WORTH_CENTS and turn >= AT_LEAST:
                return

    def _branch(self, members: tuple[int | None, ...]) -> Branch:
        if self._last is not None and members[-1] is None:
            return replace(self._last.solved(members[:-1]), members=members)
        return self._relaxation.branch(members)

    def _solve(self, leaf: _Leaf) -> None:
        """A branch with all rows found; they only lift its bound, so what cannot be solved keeps its own."""
        found = self._branch(leaf.branch.members)
        leaf.asked = len(self.rows)
        if found.bound >= leaf.branch.bound:
            leaf.branch = found
        if self._last is not None and not self.rows and found.multipliers and None not in found.members:
            self._bound_alike(self._last, found)

    def _bound_alike(self, last: Last, solved: Branch) -> None:
        """What a branch says of those that differ from it by the last partition alone, if any may be next."""
        alike = [
            leaf
            for leaf in self._leaves
            if leaf.asked == UNASKED
            and leaf.branch.members[:-1] == solved.members[:-1]
            and leaf.branch.bound < ALIKE * solved.bound
        ]
        least = last.from_like(solved, [leaf.branch.members[-1] or 0 for leaf in alike])
        for leaf, bound in zip(alike, least, strict=bool(least)):
            leaf.branch = replace(leaf.branch, bound=max(leaf.branch.bound, bound))

    def out(self, cost: float) -> frozenset[Var]:
        """Choices that are in no answer of at most this cost [the objective's unit].

        A choice stays if in some branch its reduced cost leaves the bound within the cost; a member of a
        partition stays if a branch with it has a bound within it. What could only meet choices that are out
        is out too.
        """
        if math.isinf(cost):
            return self.impossible
        limit = cost + SLACK
        self._settle(cost)
        alive = [leaf.branch for leaf in self._leaves if leaf.branch.bound <= limit]
        out = set(self.impossible)
        for number, parts in enumerate(self._partitions):
            left = {branch.members[number] for branch in alive}
            if None not in left:
                out.update(var for part in parts for var in part)
                out.difference_update(var for place in left if place is not None for var in parts[place])
        members = {var for parts in self._partitions for part in parts for var in part}
        if alive:
            more = np.min([branch.bound + np.asarray(branch.reduced) for branch in alive], axis=0)
            dear = set(map(Var, np.flatnonzero(more > limit).tolist()))
        for group in self._model.groups:
            out.update(var for var in group if var not in members and (not alive or var in dear))
        return frozenset(_unmet(self._model, out))


@dataclass(slots=True)
class _Leaf:
    """A branch that is not divided further yet.

    Attributes:
        branch: as solved last.
        asked: how many of the rows found it was solved with.
        tight: whether rows were looked for that it breaks.
    """

    branch: Branch
    asked: int
    tight: bool = False


NO_LEAF = _Leaf(Branch((), math.inf), asked=0)
"""In place of the least branch where there is none."""


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


def always(model: Model, without: Collection[int] = ()) -> list[Inequality]:
    """The rows that hold whatever is chosen, but for those at some places."""
    rows = enumerate(model.inequalities)
    return [row for place, row in rows if row.when is None and place not in without]


def equalities(model: Model) -> Iterable[Linear]:
    """Rows that come to 0 in every answer, that of each group one choice is made among them."""
    yield from model.equalities
    for group in model.groups:
        yield Linear(dict.fromkeys(group, 1), -1)
