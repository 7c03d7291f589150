"""The choice as pure data: variables, inequalities, one objective. Knows no solver.

Every inequality carries the id of the rule that asked for it, so that a rule can be taken out by building
the model again without it, and so that a clash can be told in the builder's words.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from autoplan.errors import InternalError
from autoplan.rules.linear import Linear, Var

ROW_LIMIT = 2**31 - 1
"""Sum of absolute coefficients of one row; beyond it the solver has been known to certify a wrong optimum."""


@dataclass(frozen=True, slots=True)
class Variable:
    """An integer variable with its bounds; a choice is one with bounds 0 and 1."""

    name: str
    low: int
    high: int


@dataclass(frozen=True, slots=True)
class Inequality:
    """left >= 0, where `when` is chosen, or always if None."""

    rule: str
    left: Linear
    when: Var | None


@dataclass(slots=True)
class Model:
    """Variables and rows, filled by the draft and handed to the solver."""

    variables: list[Variable] = field(default_factory=list)
    groups: list[tuple[Var, ...]] = field(default_factory=list)
    equalities: list[Linear] = field(default_factory=list)
    inequalities: list[Inequality] = field(default_factory=list)
    _places: dict[Var, int] = field(default_factory=dict, init=False, repr=False)
    _placed: int = field(default=0, init=False, repr=False)

    def most(self, terms: Mapping[Var, int]) -> int:
        """The most that terms of 0 or more come to: of each group the greediest choice is made."""
        greediest: dict[int, int] = {}
        for var, amount in terms.items():
            group = self.group_of(var)
            greediest[group] = max(greediest.get(group, 0), amount)
        return sum(greediest.values())

    def group_of(self, var: Var) -> int:
        """The place of the group of which a variable is a choice, -1 for none."""
        return self.group_places().get(var, -1)

    def group_places(self) -> Mapping[Var, int]:
        """By choice the place of its group."""
        if self._placed != len(self.groups):
            self._places = {var: place for place, group in enumerate(self.groups) for var in group}
            self._placed = len(self.groups)
        return self._places

    def choice(self, name: str) -> Var:
        """A new yes-or-no variable."""
        return self.integer(name, 0, 1)

    def integer(self, name: str, low: int, high: int) -> Var:
        """A new integer variable with bounds."""
        self.variables.append(Variable(name, low, high))
        return Var(len(self.variables) - 1)

    def exactly_one(self, choices: Sequence[Var]) -> None:
        """Exactly one of these choices is made.

        Raises:
            InternalError: there is nothing to choose from; the caller must have said so before.
        """
        if not choices:
            raise InternalError("an empty list of options reached the model")
        self.groups.append(tuple(choices))

    def equal(self, left: Linear, right: Linear) -> None:
        """left == right."""
        self.equalities.append(_checked(left - right))

    def at_least(self, rule: str, left: Linear, right: Linear | int, when: Var | None = None) -> None:
        """left >= right, where `when` is chosen or always."""
        row = left - right
        if _weight(row) > ROW_LIMIT:
            row = _in_steps(self._centred(row))
        self.inequalities.append(Inequality(rule, _checked(row), when))

    def _centred(self, row: Linear) -> Linear:
        """The same row with smaller coefficients: one choice of each group is made.

        So any number may be taken from all coefficients of a group and given to the constant; the middle one
        leaves the least. A row that frees most options by a large number comes to little so.
        """
        members: dict[int, list[Var]] = {}
        for var in row.terms:
            members.setdefault(self.group_of(var), []).append(var)
        terms, constant = dict(row.terms), row.constant
        for number, inside in members.items():
            group = self.groups[number] if number >= 0 else ()
            # Those that the row does not name have a coefficient of 0.
            middle = sorted([row.terms[var] for var in inside] + [0] * (len(group) - len(inside)))
            shift = middle[len(middle) // 2] if group else 0
            if shift:
                constant += shift
                terms |= {var: row.terms.get(var, 0) - shift for var in group}
        return Linear({var: coef for var, coef in terms.items() if coef}, constant)


def _weight(row: Linear) -> int:
    return row.size + abs(row.constant)


def _in_steps(row: Linear) -> Linear:
    """A row >= 0 divided by what all of its coefficients are multiples of, as money without small change is.

    What is left of the constant is no whole step, and can be of no use.
    """
    step = math.gcd(*row.terms.values()) or 1
    return Linear({var: coef // step for var, coef in row.terms.items()}, row.constant // step)


def _checked(row: Linear) -> Linear:
    if _weight(row) > ROW_LIMIT:
        raise InternalError(
            f"a row's coefficients add up to {row.size}, past what the solver can be trusted with"
        )
    return row
