"""Integer linear expressions over the model's variables, so that rules need no solver.

A variable is an index into the model; an expression is a sum of integer multiples and a constant.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NewType

Var = NewType("Var", int)


@dataclass(frozen=True, slots=True)
class Linear:
    """A sum of coefficient x variable, plus a constant; all integers."""

    terms: Mapping[Var, int] = field(default_factory=dict)
    constant: int = 0

    def __add__(self, other: Linear | int) -> Linear:
        if isinstance(other, int):
            return Linear(self.terms, self.constant + other)
        return total((self, other))

    def __sub__(self, other: Linear | int) -> Linear:
        return self + (-other if isinstance(other, int) else other * -1)

    def __mul__(self, factor: int) -> Linear:
        return Linear({var: coef * factor for var, coef in self.terms.items()}, self.constant * factor)

    @property
    def size(self) -> int:
        """Sum of the absolute coefficients, which the solver needs below 2^31."""
        return sum(abs(coef) for coef in self.terms.values())


@dataclass(frozen=True, slots=True)
class Following(Linear):
    """A sum that every answer keeps at 0 or more since it keeps a row of one rule, whose id this is."""

    rule: str = ""


def weighted(pairs: Iterable[tuple[Var, int]], constant: int = 0) -> Linear:
    """The expression of (variable, coefficient) pairs; a variable may occur more than once."""
    terms: dict[Var, int] = {}
    for var, coef in pairs:
        if coef:
            terms[var] = terms.get(var, 0) + coef
    return Linear(terms, constant)


def total(parts: Iterable[Linear]) -> Linear:
    """The sum of expressions."""
    terms: dict[Var, int] = {}
    constant = 0
    for part in parts:
        constant += part.constant
        if terms.keys().isdisjoint(part.terms):
            terms.update(part.terms)
            continue
        for var, coef in part.terms.items():
            terms[var] = terms.get(var, 0) + coef
    return Linear(terms, constant)


def evaluate(expression: Linear, values: Sequence[int]) -> int:
    """Value of an expression under an answer."""
    return expression.constant + sum(coef * values[var] for var, coef in expression.terms.items())
