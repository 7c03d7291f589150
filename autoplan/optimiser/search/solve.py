"""CP-SAT behind one door: a model in, an answer out. The only file that imports ortools.

`value()` means nothing unless the status is OPTIMAL or FEASIBLE, and OPTIMAL means nothing while the gap is
open, so both are read here and nowhere else.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from ortools.sat.python import cp_model

from autoplan import clock
from autoplan.errors import InternalError
from autoplan.optimiser.model.model import Model
from autoplan.optimiser.search.clock import aside
from autoplan.outcome import Status
from autoplan.rules.linear import Linear, Var

SEED = 20
"""Fixed, so that the same problem takes the same search."""

QUICK_WORK = 60.0
"""How much work one worker does before the portfolio takes over, in the solver's own measure.

It is the same on every machine, and about as many seconds.
"""

WORKERS = 8
"""The portfolio matters more than the cores: 8 is faster than 2 even on two cores."""

ALONE = {
    "num_workers": 1,
    "linearization_level": 2,
    "cp_model_probing_level": 0,
    "symmetry_level": 0,
    "add_lp_constraints_lazily": False,
}
"""One worker that neither probes nor races: what proves a narrowed model fastest."""

FAR = 2**62
"""Below every objective."""

Watcher = Callable[[float | None, float | None], None]
"""Told the best objective and the bound while a search runs."""


Ending = Status
"""How a search ended: in the same four words as the whole answer."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What a search found.

    Attributes:
        ending: proven optimum, some answer, proof that there is none, or neither.
        values: of every variable, empty unless there is an answer.
        objective, bound: in the objective's own unit; None where there is none.
        interrupted: whether the user stopped the search.
        raced: whether several workers raced for it, so that another run may find another of equal worth.
    """

    ending: Ending
    values: tuple[int, ...] = ()
    objective: int | None = None
    bound: int | None = None
    interrupted: bool = False
    raced: bool = False


@dataclass(frozen=True, slots=True)
class Unless:
    """A row that is left aside where there is enough of something: left + (how many are enough) >= 0.

    Attributes:
        left: an expression.
        enough: expressions that are never below 0, each with the least that is enough.
    """

    left: Linear
    enough: tuple[tuple[Linear, int], ...]


@dataclass(frozen=True, slots=True)
class Unbettered:
    """A row that is left aside for answers that come to little: left >= 0 unless goal <= most.

    Attributes:
        left: an expression that is never below -1, with or without exceptions.
        goal, most: what answers must come to, at most, to be free of it.
    """

    left: Linear | Unless
    goal: Linear
    most: int


Row = Linear | Unless | Unbettered
"""What may be added to a model: an expression that is not below 0, with or without exceptions."""


class Search:
    """A model loaded once, searched again and again with rows added for good or for one search only.

    Args:
        model: the variables and rows.
        deadline: `time.monotonic()` at which every search must end, or None.
        out: choices that are not made.
        to_the_end: whether neither the deadline nor Ctrl-C stops it: for short searches that finish a design.
    """

    def __init__(
        self,
        model: Model,
        deadline: float | None = None,
        out: frozenset[Var] = frozenset(),
        *,
        to_the_end: bool = False,
    ) -> None:
        self.deadline = deadline
        self._to_the_end = to_the_end
        self.solves = 0
        self._model = cp_model.CpModel()
        self._out = out
        self._vars = [
            self._model.new_constant(0)
            if i in out
            else self._model.new_bool_var("")
            if (v.low, v.high) == (0, 1)
            else self._model.new_int_var(v.low, v.high, "")
            for i, v in enumerate(model.variables)
        ]
        for group in model.groups:
            self._model.add_exactly_one([self._vars[var] for var in group if var not in out])
        for row in model.equalities:
            self._model.add(self._expression(row) == 0)
        for inequality in model.inequalities:
            if inequality.when in out:
                continue
            constraint = self._model.add(self._expression(inequality.left) >= 0)
            if inequality.when is not None:
                constraint.only_enforce_if(self._vars[inequality.when])

    def _expression(self, row: Linear) -> cp_model.LinearExprT:
        terms = [(self._vars[var], coef) for var, coef in row.terms.items() if var not in self._out]
        if not terms:
            return cp_model.LinearExpr.constant(row.constant)
        variables, coefs = zip(*terms, strict=True)
        return cp_model.LinearExpr.weighted_sum(variables, coefs) + row.constant

    def require(self, row: Row) -> None:
        """Add row >= 0 for every search from now on."""
        free: list[cp_model.LinearExprT] = []
        if isinstance(row, Unbettered):
            better = self._model.new_bool_var("")
            self._model.add(self._expression(row.goal) <= row.most).only_enforce_if(better)
            free.append(better)
            row = row.left
        if isinstance(row, Unless):
            for count, least in row.enough:
                met = self._model.new_bool_var("")
                self._model.add(self._expression(count) >= least * met)
                free.append(met)
            row = row.left
        self._model.add(cp_model.LinearExpr.sum([self._expression(row), *free]) >= 0)

    def minimize(
        self,
        objective: Linear,
        also: Sequence[Linear] = (),
        hint: Sequence[int] = (),
        watcher: Watcher | None = None,
        careful: bool = False,
        at_most_s: float | None = None,
        at_most: int | None = None,
        work: float | None = None,
        beaten: Sequence[int] = (),
        closed: frozenset[Var] = frozenset(),
    ) -> Answer:
        """Search for the least objective.

        Args:
            objective: what to minimise.
            also: rows (>= 0) for this search only.
            hint: values of every variable from an earlier answer, or nothing.
            watcher: told of progress.
            careful: one worker and no presolve: to confirm that there is no answer.
            at_most_s: most time for this search alone [s], or None.
            at_most: answers beyond it do not count, which helps the proof; or None.
            work: most work of the one worker, in the solver's own measure, and none of the portfolio where an
                answer was found by then or before; None for as much as it takes.
            beaten: values of every variable of an answer one past `at_most`, for the portfolio to start from.
            closed: choices that are not made in this search.

        Raises:
            InternalError: the solver called the model invalid.
        """
        model = self._loaded(objective, also, at_most, closed)
        self._hint(model, hint)
        if careful:
            return self._run(model, watcher, at_most_s, num_workers=1, cp_model_presolve=False)
        first, done = self._alone(model, watcher, at_most_s, work, alone=bool(beaten))
        if done:
            return first
        # What searches by changing an answer here and there needs one to begin with.
        inside = beaten if not any(beaten[choice] for choice in closed if beaten) else ()
        begun = first.values or inside
        if begun:
            model.clear_hints()  # type: ignore[no-untyped-call]
            self._hint(model, begun)
        if at_most is not None and inside and not first.values:
            model.proto.objective.domain.clear()
            model.proto.objective.domain.extend([-FAR, at_most + 1 - objective.constant])
        most = math.inf if work is None else work
        second = self._run(model, watcher, at_most_s, num_workers=WORKERS, max_deterministic_time=most)
        if second.objective is not None and at_most is not None and second.objective > at_most:
            ending = Ending.NONE if second.ending is Ending.PROVEN else Ending.UNDECIDED
            second = Answer(ending, bound=second.bound, interrupted=second.interrupted)
        if second.values or second.ending is Ending.NONE:
            return replace(second, raced=bool(second.values))
        bounds = [bound for bound in (first.bound, second.bound) if bound is not None]
        return replace(first, bound=max(bounds, default=None), interrupted=second.interrupted)

    def _loaded(
        self, objective: Linear, also: Sequence[Linear], at_most: int | None, closed: frozenset[Var]
    ) -> cp_model.CpModel:
        """The model of one search."""
        model = self._model.clone()
        for choice in closed - self._out:
            domain = model.proto.variables[self._vars[choice].index].domain
            domain.clear()
            domain.extend([0, 0])
        for row in also:
            model.add(self._expression(row) >= 0)
        model.minimize(self._expression(objective))
        if at_most is not None:
            model.proto.objective.domain.extend([-FAR, at_most - objective.constant])
        return model

    def look(self, objective: Linear, work: float, gap: float) -> Answer:
        """Some answer, soon: what one worker has after so much work, or once it is within a gap of the least.

        Args:
            objective: what is to be small.
            work: most work, in the solver's own measure.
            gap: share of the objective.
        """
        model = self._model.clone()
        model.minimize(self._expression(objective))
        return self._run(model, None, None, **ALONE, max_deterministic_time=work, relative_gap_limit=gap)

    def _alone(
        self,
        model: cp_model.CpModel,
        watcher: Watcher | None,
        at_most_s: float | None,
        work: float | None,
        *,
        alone: bool,
    ) -> tuple[Answer, bool]:
        """What one worker makes of it, and whether that is all that is asked for.

        What it has not proved soon goes to the whole portfolio.
        """
        most = QUICK_WORK if work is None else work
        first = self._run(model, watcher, at_most_s, **ALONE, max_deterministic_time=most)
        decided = first.ending in (Ending.PROVEN, Ending.NONE) or first.interrupted
        return first, decided or (work is not None and (alone or bool(first.values)))

    def _hint(self, model: cp_model.CpModel, values: Sequence[int]) -> None:
        """Hint every variable that is not out: all or none."""
        for i, value in enumerate(values):
            if i not in self._out:
                model.add_hint(self._vars[i], value)

    def _run(
        self,
        model: cp_model.CpModel,
        watcher: Watcher | None,
        at_most_s: float | None,
        **parameters: float,
    ) -> Answer:
        """One call of the solver."""
        left = math.inf if self._to_the_end else clock.left(self.deadline)
        left = min(math.inf if at_most_s is None else at_most_s, left)
        if left <= 0:
            return Answer(Ending.UNDECIDED, interrupted=clock.stopped())
        solver = cp_model.CpSolver()
        solver.parameters.random_seed = SEED
        # Left to the solver, Ctrl-C would be swallowed by this search and kill the program in the next.
        solver.parameters.catch_sigint_signal = False
        for name, value in parameters.items():
            setattr(solver.parameters, name, value)
        if math.isfinite(left):
            solver.parameters.max_time_in_seconds = left
        callback = _Progress(watcher) if watcher else None
        if watcher is not None:
            solver.best_bound_callback = lambda bound: watcher(None, bound)
        stop = (lambda: None) if self._to_the_end else solver.stop_search
        status = aside(lambda: solver.solve(model, callback), stop)
        unfinished = status in (cp_model.FEASIBLE, cp_model.UNKNOWN)
        return _read(solver, status, self._vars, interrupted=clock.stopped() and unfinished)


class _Progress(cp_model.CpSolverSolutionCallback):
    """Passes each better answer on."""

    def __init__(self, watcher: Watcher) -> None:
        super().__init__()
        self._watcher = watcher

    def on_solution_callback(self) -> None:
        self._watcher(self.objective_value, self.best_objective_bound)


def _read(
    solver: cp_model.CpSolver,
    status: cp_model.CpSolverStatus,
    variables: Sequence[cp_model.IntVar],
    *,
    interrupted: bool,
) -> Answer:
    """The one place where a solver's answer is read."""
    if status == cp_model.MODEL_INVALID:
        raise InternalError("the solver refused the model as invalid")
    if status == cp_model.INFEASIBLE:
        return Answer(Ending.NONE)
    bound = math.ceil(solver.best_objective_bound - 1e-6)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return Answer(Ending.UNDECIDED, bound=bound, interrupted=interrupted)
    objective = round(solver.objective_value)
    proven = status == cp_model.OPTIMAL and bound >= objective
    values = tuple(int(solver.value(var)) for var in variables)
    return Answer(
        Ending.PROVEN if proven else Ending.FEASIBLE, values, objective, min(bound, objective), interrupted
    )
