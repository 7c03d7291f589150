"""The linear relaxation of a model, with members of partitions of its answers chosen or not."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Protocol

from ortools.linear_solver import pywraplp

from autoplan import clock
from autoplan.optimiser.model.model import Inequality, Model
from autoplan.optimiser.search.clock import aside
from autoplan.rules.linear import Following, Linear, Var

AT_MOST = "max_number_of_iterations: 20000"
"""The simplex method has been seen to go round in circles for ever; 5000 variables and rows take 2000 steps.
What is not solved by then bounds nothing."""

SIMPLEX = f"use_preprocessing: false use_dual_simplex: true {AT_MOST}"
"""From one branch to the next only bounds change, so the last basis is dual feasible: the dual simplex method
takes it up, where preprocessing would make it start again."""

AFRESH = f"use_preprocessing: true use_dual_simplex: false {AT_MOST}"
"""From nothing, preprocessing and the primal method are the quickest."""


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
        lasting = always(model, links)
        self._rows = [self._add(row.left, self._solver.infinity()) for row in lasting]
        self._owned = [(row.rule, added) for row, added in zip(lasting, self._rows, strict=True)]
        goal = self._solver.Objective()
        for var, coef in objective.terms.items():
            if var in self._variables:
                goal.SetCoefficient(self._variables[var], coef)
        goal.SetMinimization()

    def require(self, row: Linear) -> None:
        """Add row >= 0."""
        added = self._add(row, self._solver.infinity())
        if isinstance(row, Following):
            self._owned.append((row.rule, added))

    @contextmanager
    def without(self, rule: str) -> Iterator[None]:
        """While it lasts a rule's rows, and what follows from them, need not be kept."""
        loose = [(row, row.lb()) for owner, row in self._owned if owner == rule]
        for row, _ in loose:
            row.SetLb(-self._solver.infinity())
        yield
        for row, low in loose:
            row.SetLb(low)

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


def always(model: Model, without: Collection[int] = ()) -> list[Inequality]:
    """The rows that hold whatever is chosen, but for those at some places."""
    rows = enumerate(model.inequalities)
    return [row for place, row in rows if row.when is None and place not in without]


def equalities(model: Model) -> Iterable[Linear]:
    """Rows that come to 0 in every answer, that of each group one choice is made among them."""
    yield from model.equalities
    for group in model.groups:
        yield Linear(dict.fromkeys(group, 1), -1)
