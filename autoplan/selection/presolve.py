"""Choices that cannot be part of any answer, found before the solver is asked.

Two arguments, both proofs. Bounds: where even the best of everything else cannot make up for a choice, it is
out. Reduced costs: a choice whose reduced cost in the linear relaxation lifts the bound past a known cost is
in no answer of that cost or less.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import product

from ortools.linear_solver import pywraplp

from autoplan.rules.linear import Linear, Var
from autoplan.selection.model import Model

ROUNDS = 4
"""Passes over the rows; later ones find little."""

PROMISING = 1.1
"""Branches whose bound is within this multiple of the best are divided further."""

TIGHTENINGS = 10
"""Rounds in which rows are looked for that tighten the relaxation."""

AT_MOST = "max_number_of_iterations: 20000"
"""The simplex method has been seen to go round in circles for ever; 5000 variables and rows take 2000 steps.
What is not solved by then bounds nothing."""

SIMPLEX = f"use_preprocessing: false use_dual_simplex: true {AT_MOST}"
"""From one branch to the next only bounds change, so the last basis is dual feasible: the dual simplex method
takes it up, where preprocessing would make it start again."""

AFRESH = f"use_preprocessing: true use_dual_simplex: false {AT_MOST}"
"""Another way to the same answer."""

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
    """

    members: tuple[int | None, ...]
    bound: float
    reduced: tuple[float, ...] = ()
    values: tuple[float, ...] = ()


Partition = Sequence[Sequence[Var]]
"""Sets of choices of which every answer makes exactly one."""


class Relaxation:
    """The model as a linear programme, with members of partitions of its answers chosen or not.

    Args:
        model: the model; rows that hold only where something is chosen are left out.
        objective: what is minimised.
        out: choices known to be impossible.
        partitions: what to divide the answers by, best what matters most: pumps, how drains are joined.
    """

    def __init__(
        self, model: Model, objective: Linear, out: frozenset[Var], partitions: Sequence[Partition]
    ) -> None:
        self.partitions = [
            [[var for var in part if var not in out] for part in parts] for parts in partitions
        ]
        self._constant = objective.constant
        self._solver = pywraplp.Solver.CreateSolver("GLOP")
        self._solver.SetSolverSpecificParametersAsString(SIMPLEX)
        self._number = len(model.variables)
        self._variables = {
            Var(i): self._solver.NumVar(v.low, v.high, "")
            for i, v in enumerate(model.variables)
            if Var(i) not in out
        }
        self._shut: set[Var] = set()
        self.choices = [var for group in model.groups for var in group if var not in out]
        for row in equalities(model):
            self._add(row, -row.constant)
        for inequality in model.inequalities:
            if inequality.when is None:
                self.require(inequality.left)
        goal = self._solver.Objective()
        for var, coef in objective.terms.items():
            if var in self._variables:
                goal.SetCoefficient(self._variables[var], coef)
        goal.SetMinimization()

    def require(self, row: Linear) -> None:
        """Add row >= 0."""
        self._add(row, self._solver.infinity())

    def _add(self, row: Linear, high: float) -> None:
        constraint = self._solver.Constraint(-row.constant, high)
        for var, coef in row.terms.items():
            if var in self._variables:
                constraint.SetCoefficient(self._variables[var], coef)

    def _shut_all_but(self, members: tuple[int | None, ...]) -> None:
        """Close the members of every partition that are not chosen, open the others."""
        shut = {
            var
            for parts, member in zip(self.partitions, members, strict=True)
            for place, part in enumerate(parts)
            if member not in (None, place)
            for var in part
        }
        for var in sorted(shut ^ self._shut):
            self._variables[var].SetUb(0 if var in shut else 1)
        self._shut = shut

    def branch(self, members: tuple[int | None, ...]) -> Branch:
        """The relaxation's answer where a member of each partition is chosen (None: any)."""
        if any(
            member is not None and not parts[member]
            for parts, member in zip(self.partitions, members, strict=True)
        ):
            return Branch(members, math.inf)
        self._shut_all_but(members)
        status = self._solver.Solve()
        if status not in (pywraplp.Solver.OPTIMAL, pywraplp.Solver.INFEASIBLE):
            # From the basis of another branch the solver sometimes loses its way; it is asked afresh.
            self._solver.SetSolverSpecificParametersAsString(AFRESH)
            afresh = pywraplp.MPSolverParameters()
            afresh.SetIntegerParam(afresh.INCREMENTALITY, afresh.INCREMENTALITY_OFF)
            status = self._solver.Solve(afresh)
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
        return Branch(members, bound, tuple(reduced), tuple(values))


Separate = Callable[[Sequence[float]], Sequence[Linear]]
"""Rows (>= 0) that every answer keeps and that these values of every variable break."""


class Narrowing:
    """Which choices can be in an answer of at most a given cost.

    Args:
        model: the model; what `separate` finds stays with the relaxation, as it only slows the search.
        objective: what is minimised.
        partitions: see `Relaxation`; the first divides all answers, the others only the promising ones.
        separate: finds rows that make the relaxation tighter.
    """

    def __init__(
        self, model: Model, objective: Linear, partitions: Sequence[Partition], separate: Separate
    ) -> None:
        self._model = model
        self._impossible = impossible(model)
        self._relaxation = Relaxation(model, objective, self._impossible, partitions)
        self._partitions = self._relaxation.partitions
        self.rows: list[Linear] = []
        first, *others = self._partitions
        coarse = [self._relaxation.branch((place, *(None for _ in others))) for place in range(len(first))]
        least = min(branch.bound for branch in coarse)
        far = [branch for branch in coarse if branch.bound > PROMISING * least]
        near = [fine for branch in coarse if branch not in far for fine in self._divided(branch)]
        if self._tighten(separate, min(near, key=lambda branch: branch.bound, default=None)):
            near = [self._relaxation.branch(branch.members) for branch in near]
        self._branches = far + near
        self.bound = min(branch.bound for branch in self._branches)

    def _tighten(self, separate: Separate, branch: Branch | None) -> bool:
        """Add rows that the best branch's answer breaks, as long as there are any; whether there were."""
        added = False
        for _ in range(TIGHTENINGS):
            found = separate(branch.values) if branch is not None and branch.values else ()
            if branch is None or not found:
                break
            added = True
            self.rows += found
            for row in found:
                self._relaxation.require(row)
            branch = self._relaxation.branch(branch.members)
        return added

    def _divided(self, branch: Branch) -> Iterable[Branch]:
        """A branch of the first partition divided by all others."""
        places = [range(len(parts)) for parts in self._partitions[1:]]
        for rest in product(*places):
            yield self._relaxation.branch((branch.members[0], *rest))

    def out(self, cost: float) -> frozenset[Var]:
        """Choices that are in no answer of at most this cost [the objective's unit].

        A choice stays if in some branch its reduced cost leaves the bound within the cost; a member of a
        partition stays if the bound of a branch with it is. What could only meet choices that are out is out
        too.
        """
        if math.isinf(cost):
            return self._impossible
        limit = cost + SLACK
        alive = [branch for branch in self._branches if branch.bound <= limit]
        out = set(self._impossible)
        for number, parts in enumerate(self._partitions):
            for place, part in enumerate(parts):
                if not any(branch.members[number] in (None, place) for branch in alive):
                    out.update(part)
        members = {var for parts in self._partitions for part in parts for var in part}
        for group in self._model.groups:
            for var in group:
                if var not in members and not any(b.bound + b.reduced[var] <= limit for b in alive):
                    out.add(var)
        return frozenset(_unmet(self._model, out))


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


def equalities(model: Model) -> Iterable[Linear]:
    """Rows that come to 0 in every answer, that of each group one choice is made among them."""
    yield from model.equalities
    for group in model.groups:
        yield Linear(dict.fromkeys(group, 1), -1)
