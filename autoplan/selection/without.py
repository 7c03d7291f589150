"""What cannot be mended by leaving a rule aside: shown by arithmetic, without a search.

Rules do two things. They refuse parts before there is a model, and they write rows into it. The rows of a
rule are taken out of the relaxation and put back in a moment; where it has no answer without them there is
no design without the rule. What was refused takes a draft in which it is not, one for all such rules: it
holds every way to build that any of the drafts without one of them does, and more.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

from ortools.linear_solver import pywraplp

from autoplan.catalog.parts import Catalog
from autoplan.problem.site import Site
from autoplan.rules.base import Rule
from autoplan.rules.book import RuleBook
from autoplan.rules.linear import Var
from autoplan.selection.draft import Draft
from autoplan.selection.making import NoOptionError
from autoplan.selection.model import Model
from autoplan.selection.presolve import equalities
from autoplan.selection.sundries import RULE
from autoplan.selection.wants import COUNTED_BY
from autoplan.selection.workshop import Workshop


class Rows:
    """The relaxation of a model, without an objective, whose rows can be left aside rule by rule.

    Args:
        model: rows that hold only where something is chosen are left out.
        partition: sets of choices of which every answer makes exactly one; tried one by one where the
            relaxation as a whole has an answer.
    """

    def __init__(self, model: Model, partition: Sequence[Sequence[Var]]) -> None:
        self._solver = pywraplp.Solver.CreateSolver("GLOP")
        self._variables = [self._solver.NumVar(v.low, v.high, "") for v in model.variables]
        self._rows: dict[str, list[tuple[pywraplp.Constraint, int]]] = {}
        self._partition = partition
        for row in equalities(model):
            self._fill(self._solver.Constraint(-row.constant, -row.constant), row.terms.items())
        for row in model.inequalities:
            if row.when is None:
                constraint = self._solver.Constraint(-row.left.constant, self._solver.infinity())
                self._fill(constraint, row.left.terms.items())
                self._rows.setdefault(row.rule, []).append((constraint, -row.left.constant))

    def _fill(self, constraint: pywraplp.Constraint, terms: Iterable[tuple[Var, int]]) -> None:
        for var, coef in terms:
            constraint.SetCoefficient(self._variables[var], coef)

    def none_without(self, rules: Collection[str]) -> bool:
        """Whether there is certainly no answer even without the rows of these rules."""
        loose = [row for rule in sorted(rules) for row in self._rows.get(rule, ())]
        for constraint, _ in loose:
            constraint.SetLb(-self._solver.infinity())
        none = self._none() or all(self._none_with(number) for number in range(len(self._partition)))
        for constraint, low in loose:
            constraint.SetLb(low)
        return none

    def _none_with(self, number: int) -> bool:
        """Whether there is none with this member of the partition."""
        others = [var for i, part in enumerate(self._partition) if i != number for var in part]
        for var in others:
            self._variables[var].SetUb(0)
        none = self._none()
        for var in others:
            self._variables[var].SetUb(1)
        return none

    def _none(self) -> bool:
        return bool(self._solver.Solve() == pywraplp.Solver.INFEASIBLE)


class Without:
    """A problem without a design, and which rules it is certainly not for.

    Args:
        site, catalog, book: the problem, the whole price list, the rules in force.
        workshop: as for `Draft`.
    """

    def __init__(self, site: Site, catalog: Catalog, book: RuleBook, workshop: Workshop) -> None:
        self._site = site
        self._catalog = catalog
        self._book = book
        self._workshop = workshop
        self._known: dict[frozenset[str], Rows | None] = {}
        self._refusing = frozenset(rule.id for rule in book.rules if _has(rule, "admits_"))
        self._asking = frozenset(rule.id for rule in book.rules if _has(rule, "asks_"))
        try:
            draft = Draft(site, catalog, book, workshop)
        except NoOptionError:
            self._known[frozenset()] = None
        else:
            self._known[frozenset()] = _rows(draft)
            # What is refused by another rule too stays refused without a rule that is not the first to do so.
            self._refusing &= draft.refusing

    def none_without(self, off: Collection[str]) -> bool:
        """Whether it is shown that there is no design without these rules; if not, only a search can tell.

        Joints that must come apart may have more adaptors, so without such a rule there are not more ways to
        join but others: it is never left aside for the sake of another.
        """
        dropped = (self._asking | self._refusing) & frozenset(off)
        if dropped not in self._known:
            self._known[dropped] = self._lenient(dropped)
        rows = self._known[dropped]
        return rows is None or rows.none_without({RULE if rule in COUNTED_BY else rule for rule in off})

    def _lenient(self, dropped: frozenset[str]) -> Rows | None:
        """The relaxation where some rules neither refuse nor ask anything, but all write their rows.

        None where even so something cannot be built at all.
        """
        book = self._book.without(*dropped)
        silent = [rule for rule in self._book.rules if rule.id in dropped]
        try:
            draft = Draft(self._site, self._catalog, book, self._workshop)
        except NoOptionError:
            return None
        for rule in silent:
            rule.encode(draft)
        return _rows(draft)


def _rows(draft: Draft) -> Rows:
    pumps = draft.pumps(draft.site.pumped_vessels()[0])
    return Rows(draft.model, [[var] for var, _ in pumps])


def _has(rule: Rule, hooks: str) -> bool:
    """Whether a rule has a hook of its own of those that begin so."""
    names = [name for name in vars(Rule) if name.startswith(hooks)]
    return any(getattr(type(rule), name) is not getattr(Rule, name) for name in names)
