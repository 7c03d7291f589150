"""What cannot be mended by leaving a rule aside: shown by arithmetic, without a search.

Rules do two things. They refuse parts before there is a model, and they write rows into it. The rows of a
rule are taken out of the relaxation and put back in a moment; where it has no answer without them there is
no design without the rule. What was refused takes a draft in which it is not, one for all such rules: it
holds every way to build that any of the drafts without one of them does, and more.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

from ortools.linear_solver import pywraplp

from autoplan.catalog.parts import Catalog
from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.model.sundries import RULE
from autoplan.optimiser.options.consumables import COUNTED_BY
from autoplan.optimiser.options.making import NoOptionError
from autoplan.optimiser.options.option_cache import MONEY, WATER_ONLY, Leniency, Workshop
from autoplan.optimiser.search.programme import AT_MOST
from autoplan.optimiser.search.relaxation import equalities
from autoplan.problem.flows import gravity_paths
from autoplan.problem.site import Site
from autoplan.rules.base import Concern
from autoplan.rules.book import ROLES, RuleBook
from autoplan.rules.linear import Linear, Var

Found = TypeVar("Found")

MOST_GIVEN = 50_000.0
"""The most that is given to rows in looking for what would help [0.1 mm]: 5 m."""


class Rows:
    """The relaxation of a draft, without an objective, whose rows can be left aside.

    Args:
        draft: its rows that hold only where something is chosen are left out. Each pump of its first vessel
            is tried by itself where the relaxation as a whole has an answer.
    """

    def __init__(self, draft: Draft) -> None:
        self.draft = draft
        self._solver = pywraplp.Solver.CreateSolver("GLOP")
        self._solver.SetSolverSpecificParametersAsString(AT_MOST)
        self._variables = [self._solver.NumVar(v.low, v.high, "") for v in draft.model.variables]
        self._pumps = [var for var, _ in draft.pumps(draft.site.pumped_vessels()[0])]
        self._rows: list[_Row] = []
        self._given = self._solver.NumVar(0.0, 0.0, "")
        """What is given to some rows, where that is asked for."""
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
        self._rows.append(_Row(rule, classes, constraint, low, high, row))

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

    def none_with(self, pump: Var, rules: Collection[str] = ()) -> bool:
        """As `none`, with one pump of the first pumped vessel chosen."""
        for var in self._pumps:
            self._variables[var].SetUb(int(var == pump))
        none = self.none(rules)
        for var in self._pumps:
            self._variables[var].SetUb(1)
        return none

    def least_given(
        self,
        shares: Mapping[int, int],
        up: bool = True,
        moving: Collection[Var] = (),
        aside: Collection[str] = (),
    ) -> float | None:
        """The least that must be given to some rows for the relaxation to have an answer; a guess, no proof.

        Args:
            shares: by place of a row (as `rows` has them) how many times what is given is added to it.
            up: whether that is above 0; else how far it must go below 0.
            moving: levels that are free to go past the floor and rim that they have.
            aside: rules whose rows need not be kept.

        Returns:
            How much [0.1 mm], not below 0; None where nothing helps.
        """
        loose = [row for row in self._rows if row.rule in aside]
        for row in loose:
            row.constraint.SetBounds(-self._solver.infinity(), self._solver.infinity())
        for place, share in shares.items():
            self._rows[place].constraint.SetCoefficient(self._given, share)
        self._given.SetBounds(*((0.0, MOST_GIVEN) if up else (-MOST_GIVEN, 0.0)))
        bounds = [
            (self._variables[var], self._variables[var].Lb(), self._variables[var].Ub()) for var in moving
        ]
        for variable, low, high in bounds:
            variable.SetBounds(low - MOST_GIVEN, high + MOST_GIVEN)
        objective = self._solver.Objective()
        objective.SetCoefficient(self._given, 1.0 if up else -1.0)
        objective.SetMinimization()
        found = self._least()
        if found is not None:
            # Each pump by itself asks for no less than all of them mixed.
            by_pump = [self._with_only(pump, self._least) for pump in self._pumps]
            found = min((one for one in by_pump if one is not None), default=None)
        objective.SetCoefficient(self._given, 0.0)
        self._given.SetBounds(0.0, 0.0)
        for variable, low, high in bounds:
            variable.SetBounds(low, high)
        for place in shares:
            self._rows[place].constraint.SetCoefficient(self._given, 0.0)
        for row in loose:
            row.constraint.SetBounds(row.low, row.high)
        return None if found is None else max(0.0, found)

    def least_of(self, spending: Linear, rules: Collection[str]) -> float | None:
        """The least that an expression comes to in the relaxation without some rules' rows; None for none."""
        loose = [row for row in self._rows if row.rule in rules]
        for row in loose:
            row.constraint.SetBounds(-self._solver.infinity(), self._solver.infinity())
        objective = self._solver.Objective()
        for var, coef in spending.terms.items():
            objective.SetCoefficient(self._variables[var], coef)
        objective.SetMinimization()
        found = self._least()
        for var in spending.terms:
            objective.SetCoefficient(self._variables[var], 0.0)
        for row in loose:
            row.constraint.SetBounds(row.low, row.high)
        return None if found is None else found + spending.constant

    @property
    def rows(self) -> Sequence[_Row]:
        """Every row, in a fixed order."""
        return self._rows

    def _least(self) -> float | None:
        if self._solver.Solve() != pywraplp.Solver.OPTIMAL:
            return None
        return float(self._solver.Objective().Value())

    def _none_with(self, pump: Var) -> bool:
        return self._with_only(pump, self._none)

    def _with_only(self, pump: Var, ask: Callable[[], Found]) -> Found:
        """What is answered where of the pumps only one may be chosen."""
        others = [var for var in self._pumps if var != pump]
        before = [self._variables[var].Ub() for var in others]
        for var in others:
            self._variables[var].SetUb(0)
        found = ask()
        for var, most in zip(others, before, strict=True):
            self._variables[var].SetUb(most)
        return found

    def _none(self) -> bool:
        return bool(self._solver.Solve() == pywraplp.Solver.INFEASIBLE)


@dataclass(frozen=True, slots=True)
class _Row:
    """A row of the relaxation: whose it is, which classes have a part in it, its bounds, what it says."""

    rule: str
    classes: frozenset[str]
    constraint: pywraplp.Constraint
    low: float
    high: float
    left: Linear


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
        water_only: whether it is known that water finds no way, so that nothing need be counted or bought.
        drafted: whether there is anything to draft; not where no pump gives the flow.

    Attributes:
        plain: the relaxation under all rules; None where it cannot be built.
        lacking: what has no way to be built, if that is why.
    """

    def __init__(
        self,
        site: Site,
        catalog: Catalog,
        book: RuleBook,
        workshop: Workshop,
        *,
        water_only: bool = False,
        drafted: bool = True,
    ) -> None:
        self._site = site
        self._catalog = catalog
        self._book = book
        self._workshop = workshop
        self._water_only = water_only
        self._shaping = frozenset(rule.id for rule in book.rules if rule.answered)
        self._known: dict[object, Rows | None] = {}
        self.plain: Rows | None = None
        self.lacking: NoOptionError | None = None
        if not drafted:
            return
        try:
            draft = Draft(site, catalog, book, 0, workshop, WATER_ONLY if water_only else None)
        except NoOptionError as lacking:
            self.lacking = lacking.bare()
        else:
            self.plain = Rows(draft)
            self._refusing = draft.refusing
            self._needed = frozenset(name for name in site.classes() if not self.plain.none((), (name,)))
            """Classes that have a part in every clash."""

    def none_without(self, off: Collection[str]) -> bool:
        """Whether it is shown that there is no design without these rules; if not, only a search can tell."""
        loose = {*off, *(RULE for rule in off if rule in COUNTED_BY)}
        silent = self._shaping & frozenset(off)
        if self.plain is None:
            rows = self._rows(silent, None)
            return rows is None or rows.none(loose)
        touched = self._touched(silent)
        if self.plain.none(loose, touched):
            return True
        if self._parts(self._book.without(*silent)) != self._parts(self._book):
            # A lenient draft has the parts of the whole book; with others all of it is drafted anew, which is
            # worth it for one rule: of sets of rules there are too many.
            if len(off) > 1:
                return False
            rows = self._water(self._site, self._book.without(*silent))
            return rows is None or rows.none(loose)
        lenient = Leniency(silent, touched & self._needed)
        if not lenient.classes:
            return False
        rows = self._rows(silent, lenient)
        return rows is None or rows.none(loose, touched - self._needed)

    def none_under(self, rule: str) -> bool:
        """Whether one rule's rows alone show that there is no design, however anything is built."""
        if self.plain is None:
            return False
        others = [other.id for other in self._book.rules if other.id != rule]
        return self.plain.none(others, self._site.classes())

    def none_at_any_height(self, vessel: str) -> bool:
        """Whether it is shown that there is no design however high or low a vessel stands.

        Rows in which neither its water nor a run that starts, ends or is driven there has a part stay the
        same.
        """
        if self.plain is None:
            return False
        runs = self._site.runs
        here = {run.name for run in runs.values() if vessel in (run.start, run.finish)}
        driven = {
            name for path in gravity_paths(self._site) if runs[path[0]].start == vessel for name in path
        }
        classes = {runs[name].run_class for name in here | driven}
        return self.plain.none((), (*classes, _level_of(vessel)))

    def none_at(self, site: Site) -> bool:
        """Whether it is shown that water finds no way on a changed site, under all rules."""
        rows = self.rows_at(site)
        return rows is None or rows.none(())

    def rows_at(self, site: Site) -> Rows | None:
        """The relaxation of how water goes on a changed site, under all rules; None where there is none."""
        return self._water(site, self._book)

    def least_cost(self) -> float | None:
        """What any design costs at least where no budget is asked [cents]; None if that is not known."""
        if self.plain is None or self._water_only:
            return None
        return self.plain.least_of(self.plain.draft.spending(), (ROLES[Concern.BUDGET],))

    def _water(self, site: Site, book: RuleBook) -> Rows | None:
        try:
            return Rows(Draft(site, self._catalog, book, 0, self._workshop, WATER_ONLY))
        except NoOptionError:
            return None

    def _rows(self, silent: frozenset[str], lenient: Leniency | None) -> Rows | None:
        """The relaxation where some rules neither refuse nor ask anything; None where it cannot be built.

        With a leniency they do so in some classes only, and the others do not count.
        """
        key = (silent, lenient)
        if key not in self._known:
            book = self._book if lenient is not None else self._book.without(*silent)
            try:
                draft = Draft(self._site, self._catalog, book, 0, self._workshop, lenient)
            except NoOptionError:
                self._known[key] = None
            else:
                self._known[key] = Rows(draft)
        return self._known[key]

    def _parts(self, book: RuleBook) -> frozenset[str]:
        """Parts that some rule of a book allows nowhere on the site."""
        return self._workshop.refused(self._site, book)

    def _touched(self, silent: frozenset[str]) -> frozenset[str]:
        """Classes that may be built otherwise without these rules.

        What is refused by another rule too stays refused without a rule that is not the first to do so.
        """
        less, runs = self._book.without(*silent), self._site.runs.values()
        if self._parts(less) != self._parts(self._book):
            return frozenset((*self._site.classes(), *self._refusing))
        asked = {
            run.run_class
            for run in (runs if silent else ())
            for side in ("start", "finish")
            if self._book.asks_of_end(self._site, run, side) != less.asks_of_end(self._site, run, side)
        }
        return frozenset(name for name, rules in self._refusing.items() if rules & silent) | asked
