"""What cannot be mended by leaving a rule aside: shown by arithmetic, without a search.

Rules do two things. They refuse parts before there is a model, and they write rows into it. The rows of a
rule are taken out of the relaxation and put back in a moment; where it has no answer without them there is
no design without the rule. What was refused takes a draft in which it is not, one for all such rules: it
holds every way to build that any of the drafts without one of them does, and more.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from ortools.linear_solver import pywraplp

from autoplan.catalog.parts import Catalog
from autoplan.problem.graph import gravity_paths
from autoplan.problem.site import Site
from autoplan.rules.base import Rule
from autoplan.rules.book import RuleBook
from autoplan.rules.linear import Linear, Var
from autoplan.selection.candidates import WEAK
from autoplan.selection.clock import DraftLateError
from autoplan.selection.draft import Draft
from autoplan.selection.making import NoOptionError
from autoplan.selection.presolve import AT_MOST, equalities, solve_by
from autoplan.selection.sundries import RULE
from autoplan.selection.wants import COUNTED_BY
from autoplan.selection.workshop import MONEY, Leniency, Workshop


class Rows:
    """The relaxation of a draft, without an objective, whose rows can be left aside.

    Args:
        draft: its rows that hold only where something is chosen are left out. Each pump of its first vessel
            is tried by itself where the relaxation as a whole has an answer.
        deadline: `time.monotonic()` after which nothing is shown any more, or None.
    """

    def __init__(self, draft: Draft, deadline: float | None = None) -> None:
        self._deadline = deadline
        self._solver = pywraplp.Solver.CreateSolver("GLOP")
        self._solver.SetSolverSpecificParametersAsString(AT_MOST)
        self._variables = [self._solver.NumVar(v.low, v.high, "") for v in draft.model.variables]
        self._pumps = [var for var, _ in draft.pumps(draft.site.pumped_vessels()[0])]
        self._rows: list[_Row] = []
        owner = _owners(draft)
        for row in equalities(draft.model):
            self._add("", row, owner, 0.0)
        for inequality in draft.model.inequalities:
            if inequality.when is None:
                self._add(inequality.rule, inequality.left, owner, self._solver.infinity())

    def _add(self, rule: str, row: Linear, owner: Mapping[Var, tuple[str, ...]], most: float) -> None:
        low, high = -row.constant, most - row.constant
        constraint = self._solver.Constraint(low, high)
        for var, coef in row.terms.items():
            constraint.SetCoefficient(self._variables[var], coef)
        classes = frozenset(name for var in row.terms for name in owner.get(var, ()))
        self._rows.append(_Row(rule, classes, constraint, low, high))

    def none(self, rules: Collection[str], classes: Collection[str] = ()) -> bool:
        """Whether there is certainly no answer even if some rows are left aside.

        Args:
            rules: their rows are, and so is what hangs on how the choices are bought where `classes` are.
            classes: every row is in which a choice for them or for their joints has a part.
        """
        aside = {*rules, *(MONEY if classes else ())}
        loose = [row for row in self._rows if row.rule in aside or not row.classes.isdisjoint(classes)]
        for row in loose:
            row.constraint.SetBounds(-self._solver.infinity(), self._solver.infinity())
        none = self._none() or all(self._none_with(pump) for pump in self._pumps)
        for row in loose:
            row.constraint.SetBounds(row.low, row.high)
        return none

    def _none_with(self, pump: Var) -> bool:
        others = [var for var in self._pumps if var != pump]
        for var in others:
            self._variables[var].SetUb(0)
        none = self._none()
        for var in others:
            self._variables[var].SetUb(1)
        return none

    def _none(self) -> bool:
        return solve_by(self._deadline, self._solver) == int(pywraplp.Solver.INFEASIBLE)


@dataclass(frozen=True, slots=True)
class _Row:
    """A row of the relaxation: whose it is, which classes have a part in it, its bounds."""

    rule: str
    classes: frozenset[str]
    constraint: pywraplp.Constraint
    low: float
    high: float


def _level_of(vessel: str) -> str:
    return f"water in {vessel}"


def _owners(draft: Draft) -> dict[Var, tuple[str, ...]]:
    """By choice the classes that it is for: one for a way to build, all that meet there for a joint.

    A level belongs to its vessel.
    """
    owner: dict[Var, tuple[str, ...]] = {
        var: (name,) for name in draft.site.classes() for var, _ in draft.candidates(name)
    }
    for vessel in draft.site.vessels:
        for level in (draft.level(vessel), draft.overload_level(vessel)):
            owner.update((var, (_level_of(vessel),)) for var in level.terms)
    for place, joint in draft.all_joints().items():
        runs = draft.site.runs.values()
        meeting = {run.run_class for run in runs if place == run.start}
        if place in draft.site.junctions:
            meeting |= {run.run_class for run in runs if place == run.finish}
        owner.update(dict.fromkeys(joint.choices(), tuple(sorted(meeting))))
    return owner


class Without:
    """A problem without a design, and which rules it is certainly not for.

    Args:
        site, catalog, book: the problem, the whole price list, the rules in force.
        workshop: as for `Draft`.
        deadline: `time.monotonic()` after which nothing is shown any more, or None.
    """

    def __init__(
        self,
        site: Site,
        catalog: Catalog,
        book: RuleBook,
        workshop: Workshop,
        deadline: float | None = None,
    ) -> None:
        self._site = site
        self._catalog = catalog
        self._book = book
        self._workshop = workshop
        self._deadline = deadline
        self._shaping = frozenset((WEAK, *(rule.id for rule in book.rules if _shapes(rule))))
        self._known: dict[object, Rows | None] = {}
        self._plain: Rows | None = None
        """Under all rules; None where it cannot be built, or was not in time."""
        try:
            draft = Draft(site, catalog, book, workshop=workshop, deadline=deadline)
        except (NoOptionError, DraftLateError):
            pass
        else:
            self._plain = Rows(draft, deadline)
            self._refusing = draft.refusing
            self._needed = frozenset(name for name in site.classes() if not self._plain.none((), (name,)))
            """Classes that have a part in every clash."""

    def none_without(self, off: Collection[str]) -> bool:
        """Whether it is shown that there is no design without these rules; if not, only a search can tell."""
        try:
            return self._none_without(off)
        except DraftLateError:
            return False

    def _none_without(self, off: Collection[str]) -> bool:
        """As `none_without`.

        Raises:
            DraftLateError: time was up before that was known.
        """
        loose = {*off, *(RULE for rule in off if rule in COUNTED_BY)}
        silent = self._shaping & frozenset(off)
        if self._plain is None:
            rows = self._rows(silent, None)
            return rows is None or rows.none(loose)
        touched = self._touched(silent)
        if self._plain.none(loose, touched):
            return True
        if self._workshop.refused(self._book.without(*silent)) != self._workshop.refused(self._book):
            # A lenient draft has the parts of the whole book; with others only a search can tell.
            return False
        lenient = Leniency(silent, touched & self._needed)
        if not lenient.classes:
            return False
        rows = self._rows(silent, lenient)
        return rows is None or rows.none(loose, touched - self._needed)

    def none_under(self, rule: str) -> bool:
        """Whether one rule's rows alone show that there is no design, however anything is built."""
        if self._plain is None:
            return False
        others = [other.id for other in self._book.rules if other.id != rule]
        return self._plain.none(others, self._site.classes())

    def none_at_any_height(self, vessel: str) -> bool:
        """Whether it is shown that there is no design however high or low a vessel stands.

        Rows in which neither its water nor a run that starts, ends or is driven there has a part stay the
        same.
        """
        if self._plain is None:
            return False
        runs = self._site.runs
        here = {run.name for run in runs.values() if vessel in (run.start, run.finish)}
        driven = {
            name for path in gravity_paths(self._site) if runs[path[0]].start == vessel for name in path
        }
        classes = {runs[name].run_class for name in here | driven}
        return self._plain.none((), (*classes, _level_of(vessel)))

    def none_at(self, site: Site) -> bool:
        """Whether it is shown that water finds no way on a changed site, under all rules."""
        try:
            nowhere = Leniency(frozenset(), frozenset())
            draft = Draft(site, self._catalog, self._book, 0, self._workshop, nowhere, self._deadline)
        except NoOptionError:
            return True
        except DraftLateError:
            return False
        return Rows(draft, self._deadline).none(())

    def _rows(self, silent: frozenset[str], lenient: Leniency | None) -> Rows | None:
        """The relaxation where some rules neither refuse nor ask anything; None where it cannot be built.

        With a leniency they do so in some classes only, and the others do not count.
        """
        key = (silent, lenient)
        if key not in self._known:
            book = self._book if lenient is not None else self._book.without(*silent)
            try:
                draft = Draft(self._site, self._catalog, book, 0, self._workshop, lenient, self._deadline)
            except NoOptionError:
                self._known[key] = None
            else:
                self._known[key] = Rows(draft, self._deadline)
        return self._known[key]

    def _touched(self, silent: frozenset[str]) -> frozenset[str]:
        """Classes that may be built otherwise without these rules.

        What is refused by another rule too stays refused without a rule that is not the first to do so.
        """
        less, runs = self._book.without(*silent), self._site.runs.values()
        if self._workshop.refused(less) != self._workshop.refused(self._book):
            return frozenset((*self._site.classes(), *self._refusing))
        asked = {
            run.run_class
            for run in (runs if silent else ())
            for side in ("start", "finish")
            if self._book.asks_of_end(self._site, run, side) != less.asks_of_end(self._site, run, side)
        }
        return frozenset(name for name, rules in self._refusing.items() if rules & silent) | asked


def _shapes(rule: Rule) -> bool:
    """Whether a rule has a say before there are rows."""
    names = [name for name in vars(Rule) if name.startswith(("admits_", "asks_"))]
    return any(getattr(type(rule), name) is not getattr(Rule, name) for name in names)
