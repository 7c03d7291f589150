"""A linear programme solved again and again, of late with as few of its columns and rows as it takes.

Of thousands of choices a hundred are ever made by an answer, and most rows are far from being broken. So
choices that are in no answer of interest may be left out, and of rows only equalities, or those that the last
answer just keeps, are given to the solver, then those that its answers break, until none is broken.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from ortools.linear_solver import linear_solver_pb2, pywraplp

from autoplan import clock
from autoplan.optimiser.search.clock import aside
from autoplan.rules.linear import Var

AT_MOST = "max_number_of_iterations: 20000"
"""The simplex method has been seen to go round in circles for ever; 5000 variables and rows take 2000 steps.
What is not solved by then bounds nothing."""

SIMPLEX = f"use_preprocessing: false use_dual_simplex: true {AT_MOST}"
"""From one branch to the next only bounds change, so the last basis is dual feasible: the dual simplex method
takes it up, where preprocessing would make it start again."""

AFRESH = f"use_preprocessing: true use_dual_simplex: false {AT_MOST}"
"""From nothing, preprocessing and the primal method are the quickest."""

MANY_ROWS = 2500
"""A programme of more rows begins with its equalities: 24 unlike beds take a third of the time so. One of
fewer is solved as soon whole."""

WORTH = 0.8
"""Most share of the columns that are left for it to be worth leaving the others out."""

BROKEN = 1e-6
"""How far a row may be broken, as a share of its greatest coefficient."""

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]
Places = NDArray[np.int64]


class Matrix:
    """Columns with bounds and costs, and rows with bounds.

    Args:
        lows, highs: of every column.
        gone: columns that are 0.
        goal: cost of columns that have one.
    """

    def __init__(
        self, lows: Sequence[float], highs: Sequence[float], gone: Collection[int], goal: Mapping[Var, int]
    ) -> None:
        self.lows: Floats = np.array(lows, dtype=float)
        self.highs: Floats = np.array(highs, dtype=float)
        self.there: Mask = np.ones(len(lows), dtype=bool)
        self.there[list(gone)] = False
        self.goal: Floats = np.zeros(len(lows))
        self.goal[list(goal)] = list(goal.values())
        self.goal[~self.there] = 0.0
        self.rows: list[MatrixRow] = []
        self._known: _Known | None = None

    def add(self, terms: Mapping[Var, int], low: float, high: float) -> int:
        """A row more: its place."""
        columns = np.fromiter(terms.keys(), np.int64, len(terms))
        coefs = np.fromiter(terms.values(), float, len(terms))
        there = self.there[columns]
        self.rows.append(MatrixRow(low, high, columns[there], coefs[there]))
        self._known = None
        return len(self.rows) - 1

    def bound(self, place: int, low: float) -> None:
        """Bound a row from below."""
        self.rows[place] = replace(self.rows[place], low=low)
        self._known = None

    @property
    def _all(self) -> _Known:
        if self._known is None:
            self._known = _Known(self.rows)
        return self._known

    def reduced(self, duals: Floats) -> Floats:
        """Reduced cost of every column, by the multiplier of every row."""
        known = self._all
        return self.goal - np.bincount(known.columns, known.coefs * duals[known.rows], len(self.goal))

    def slack(self, values: Floats) -> Floats:
        """By how much of its greatest coefficient each row is kept; less than 0 where it is broken."""
        known = self._all
        comes_to = np.bincount(known.rows, known.coefs * values[known.columns], len(self.rows))
        found: Floats = np.minimum(comes_to - known.lows, known.highs - comes_to) / known.greatest
        return found


@dataclass(frozen=True, slots=True)
class MatrixRow:
    """A row: low <= coefs @ columns <= high."""

    low: float
    high: float
    columns: Places
    coefs: Floats


class _Known:
    """Rows as arrays: place, column, coefficient of every term; bounds and greatest coefficient of each."""

    def __init__(self, rows: Sequence[MatrixRow]) -> None:
        sizes = [len(row.columns) for row in rows]
        self.rows = np.repeat(np.arange(len(sizes)), sizes)
        self.columns = np.concatenate([row.columns for row in rows])
        self.coefs = np.concatenate([row.coefs for row in rows])
        self.lows, self.highs = np.array([(row.low, row.high) for row in rows]).T
        self.greatest = np.ones(len(rows))
        np.maximum.at(self.greatest, self.rows, np.abs(self.coefs))


@dataclass(frozen=True, slots=True)
class Optimum:
    """What a programme came to.

    Attributes:
        value: the objective.
        values: of every column.
        duals: the multiplier of every row.
    """

    value: float
    values: Floats
    duals: Floats


NOTHING = Optimum(0.0, np.zeros(0), np.zeros(0))


class _Solver:
    """The solver with some of the columns and rows; no other is in it yet."""

    def __init__(self, matrix: Matrix, columns: Mask, rows: Sequence[int]) -> None:
        self._matrix = matrix
        self.columns: Places = np.flatnonzero(columns)
        self._place: Places = np.cumsum(columns) - 1
        self._here = columns
        self.rows = [*rows]
        self._solver = pywraplp.Solver.CreateSolver("GLOP")
        self._solver.LoadModelFromProto(self._model())
        self._variables = self._solver.variables()
        self._constraints = self._solver.constraints()
        self._solver.SetSolverSpecificParametersAsString(AFRESH)
        self._shut: frozenset[int] = frozenset()

    def _model(self) -> linear_solver_pb2.MPModelProto:
        """The whole at once, which takes a fifth of the time that it takes term by term."""
        matrix = self._matrix
        model = linear_solver_pb2.MPModelProto(maximize=False)
        for column in self.columns.tolist():
            model.variable.add(
                lower_bound=matrix.lows[column],
                upper_bound=matrix.highs[column],
                objective_coefficient=matrix.goal[column],
            )
        for place in self.rows:
            row = matrix.rows[place]
            columns, coefs = self._terms(row)
            model.constraint.add(
                lower_bound=row.low, upper_bound=row.high, var_index=columns, coefficient=coefs
            )
        return model

    def _terms(self, row: MatrixRow) -> tuple[list[int], list[float]]:
        """The terms that are here, columns by their place here."""
        here = self._here[row.columns]
        return self._place[row.columns[here]].tolist(), row.coefs[here].tolist()

    def add_rows(self, places: Sequence[int]) -> None:
        """Rows of the matrix more."""
        self.rows += places
        for place in places:
            row = self._matrix.rows[place]
            constraint = self._solver.Constraint(row.low, row.high)
            self._constraints.append(constraint)
            for column, coef in zip(*self._terms(row), strict=True):
                constraint.SetCoefficient(self._variables[column], coef)

    def shut(self, columns: frozenset[int]) -> None:
        """These columns are 0, all others within their bounds."""
        for column in sorted(columns ^ self._shut):
            if self._here[column]:
                high = 0.0 if column in columns else float(self._matrix.highs[column])
                self._variables[self._place[column]].SetUb(high)
        self._shut = columns

    def bound(self, place: int) -> None:
        """A row by what bounds it now."""
        if place in self.rows:
            self._constraints[self.rows.index(place)].SetLb(self._matrix.rows[place].low)

    def run(self, deadline: float | None) -> int:
        """Solve from the last basis, or where that leads nowhere from nothing."""
        status = _solve(deadline, self._solver)
        if status not in (pywraplp.Solver.OPTIMAL, pywraplp.Solver.INFEASIBLE):
            # From the basis of another branch the solver sometimes loses its way.
            self._solver.SetSolverSpecificParametersAsString(AFRESH)
            afresh = pywraplp.MPSolverParameters()
            afresh.SetIntegerParam(afresh.INCREMENTALITY, afresh.INCREMENTALITY_OFF)
            status = _solve(deadline, self._solver, afresh)
        self._solver.SetSolverSpecificParametersAsString(SIMPLEX)
        return status

    def answer(self) -> Optimum:
        """The last answer, if there was one; rows that are not here are multiplied by 0."""
        told = linear_solver_pb2.MPSolutionResponse()
        self._solver.FillSolutionResponseProto(told)
        values: Floats = np.zeros(len(self._here))
        values[self.columns] = told.variable_value
        duals: Floats = np.zeros(len(self._matrix.rows))
        duals[self.rows] = told.dual_value
        return Optimum(float(told.objective_value), values, duals)


class Programme:
    """The matrix solved again and again, with other columns shut each time.

    Args:
        matrix: its rows may grow.
        deadline: `time.monotonic()` after which nothing more is solved, or None.

    Attributes:
        answer: the last.
    """

    def __init__(self, matrix: Matrix, deadline: float | None) -> None:
        self.matrix = matrix
        self._deadline = deadline
        self._many = len(matrix.rows) > MANY_ROWS
        begun = [at for at, row in enumerate(matrix.rows) if not self._many or row.low == row.high]
        self._whole = _Solver(matrix, matrix.there, begun)
        self._few: _Solver | None = None
        self.answer = NOTHING

    def loosen(self, places: Iterable[int]) -> dict[int, float]:
        """Leave the lower bounds of rows out: what they were."""
        lows = {place: self.matrix.rows[place].low for place in places}
        self.bound(dict.fromkeys(lows, -math.inf))
        return lows

    def bound(self, lows: Mapping[int, float]) -> None:
        """Bound rows from below."""
        for place, low in lows.items():
            self.matrix.bound(place, low)
            for solver in (self._whole, self._few):
                if solver is not None:
                    solver.bound(place)

    def focus(self, out: Collection[int]) -> bool:
        """Keep a second solver without some columns, and with the rows that the last answer just keeps.

        Whether that is worth it: of few columns most are needed.
        """
        near = self.matrix.there.copy()
        near[list(out)] = False
        if self.answer is NOTHING or near.sum() > WORTH * self.matrix.there.sum():
            return False
        rows = np.flatnonzero(self.matrix.slack(self.answer.values) <= BROKEN)
        self._few = _Solver(self.matrix, near, rows.tolist())
        return True

    def widen(self) -> None:
        """From now on leave nothing out."""
        self._few = None

    def solve(self, shut: frozenset[int], *, whole: bool) -> int:
        """Solve with some columns shut, and with all others if asked: the solver's status."""
        solver = self._whole if self._few is None or whole else self._few
        if solver is self._whole and not self._many:
            solver.add_rows(range(len(solver.rows), len(self.matrix.rows)))
        solver.shut(shut)
        while (status := solver.run(self._deadline)) == pywraplp.Solver.OPTIMAL:
            self.answer = solver.answer()
            if len(solver.rows) == len(self.matrix.rows):
                break
            slack = self.matrix.slack(self.answer.values)
            slack[solver.rows] = 0.0
            broken = np.flatnonzero(slack < -BROKEN).tolist()
            if not broken:
                break
            solver.add_rows(broken)
        return status


def _solve(
    deadline: float | None, solver: pywraplp.Solver, parameters: pywraplp.MPSolverParameters | None = None
) -> int:
    """Solve a linear programme until a deadline, or until the user stops it: the status, NOT_SOLVED if so."""
    left = clock.left(deadline)
    if left <= 0:
        return int(pywraplp.Solver.NOT_SOLVED)
    solver.SetTimeLimit(0 if math.isinf(left) else math.ceil(1000 * left))
    asked = () if parameters is None else (parameters,)
    return int(aside(lambda: solver.Solve(*asked), solver.InterruptSolve))
