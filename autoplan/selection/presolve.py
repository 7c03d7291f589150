"""Choices that cannot be part of any answer, found before the solver is asked.

Two arguments, both proofs. Bounds: where even the best of everything else cannot make up for a choice, it is
out. Reduced costs: a choice whose reduced cost in the linear relaxation lifts the bound past a known cost is
in no answer of that cost or less.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ortools.linear_solver import pywraplp

from autoplan.rules.linear import Linear, Var
from autoplan.selection.model import Model

ROUNDS = 4
"""Passes over the rows; later ones find little."""

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
    """The linear relaxation with one member of a partition chosen.

    Attributes:
        bound: least objective of the relaxation; infinite if it has no answer.
        reduced: reduced cost of every variable; what choosing it adds to the bound at least.
    """

    bound: float
    reduced: tuple[float, ...]


class Relaxation:
    """The model as a linear programme, solved once for each member of a partition of its answers.

    Args:
        model: the model; rows that hold only where something is chosen are left out.
        objective: what is minimised.
        out: choices known to be impossible.
        parts: sets of choices of which every answer makes exactly one, best those that matter most: pumps.
    """

    def __init__(
        self, model: Model, objective: Linear, out: frozenset[Var], parts: Sequence[Sequence[Var]]
    ) -> None:
        self.parts = [[var for var in part if var not in out] for part in parts]
        self._constant = objective.constant
        self._solver = pywraplp.Solver.CreateSolver("GLOP")
        self._variables = [
            self._solver.NumVar(v.low, 0 if Var(i) in out else v.high, "")
            for i, v in enumerate(model.variables)
        ]
        for row in _equalities(model):
            self._add(row, -row.constant)
        for inequality in model.inequalities:
            if inequality.when is None:
                self._add(inequality.left, self._solver.infinity())
        goal = self._solver.Objective()
        for var, coef in objective.terms.items():
            goal.SetCoefficient(self._variables[var], coef)
        goal.SetMinimization()

    def _add(self, row: Linear, high: float) -> None:
        constraint = self._solver.Constraint(-row.constant, high)
        for var, coef in row.terms.items():
            constraint.SetCoefficient(self._variables[var], coef)

    def branches(self) -> list[Branch]:
        """The relaxation's answer for each member of the partition, in its order."""
        found = []
        for chosen in self.parts:
            for part in self.parts:
                for var in part:
                    self._variables[var].SetUb(1 if part is chosen else 0)
            found.append(self._solve() if chosen else Branch(math.inf, ()))
        return found

    def _solve(self) -> Branch:
        status = self._solver.Solve()
        if status == pywraplp.Solver.INFEASIBLE:
            return Branch(math.inf, ())
        if status != pywraplp.Solver.OPTIMAL:
            return Branch(0.0, (0.0,) * len(self._variables))
        bound = self._solver.Objective().Value() + self._constant
        return Branch(bound, tuple(variable.reduced_cost() for variable in self._variables))


class Narrowing:
    """Which choices can be in an answer of at most a given cost.

    Args:
        model: the model.
        objective: what is minimised.
        parts: sets of choices of which every answer makes exactly one (see `Relaxation`).
    """

    def __init__(self, model: Model, objective: Linear, parts: Sequence[Sequence[Var]]) -> None:
        self._model = model
        self._impossible = impossible(model)
        relaxation = Relaxation(model, objective, self._impossible, parts)
        self._parts = relaxation.parts
        self._branches = relaxation.branches()
        self.bound = min(branch.bound for branch in self._branches)

    def out(self, cost: float) -> frozenset[Var]:
        """Choices that are in no answer of at most this cost [the objective's unit].

        A choice stays if in some branch its reduced cost leaves the bound within the cost; a member of the
        partition stays if its own branch's bound is. What could only meet choices that are out is out too.
        """
        if math.isinf(cost):
            return self._impossible
        limit = cost + SLACK
        alive = [branch for branch in self._branches if branch.bound <= limit]
        out = set(self._impossible)
        for part, branch in zip(self._parts, self._branches, strict=True):
            if branch.bound > limit:
                out.update(part)
        members = {var for part in self._parts for var in part}
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


def _equalities(model: Model) -> Iterable[Linear]:
    yield from model.equalities
    for group in model.groups:
        yield Linear(dict.fromkeys(group, 1), -1)
