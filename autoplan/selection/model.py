"""The choice as pure data: variables, inequalities, one objective. Knows no solver.

Every inequality carries the id of the rule that asked for it, so that a rule can be taken out by building
the model again without it, and so that a clash can be told in the builder's words.
"""

from __future__ import annotations

from collections.abc import Sequence
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
        self.inequalities.append(Inequality(rule, _checked(left - right), when))


def _checked(row: Linear) -> Linear:
    if row.size + abs(row.constant) > ROW_LIMIT:
        raise InternalError(
            f"a row's coefficients add up to {row.size}, past what the solver can be trusted with"
        )
    return row
