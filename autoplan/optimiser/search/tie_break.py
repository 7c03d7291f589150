"""What is minimised, and which of several designs of one cost is taken: few kinds of part, little power."""

from __future__ import annotations

import hashlib
import math

from autoplan.hydraulics.pump import energy_kwh_per_year
from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.model.model import ROW_LIMIT
from autoplan.optimiser.search.presolve import SLACK
from autoplan.optimiser.search.solve import FAR
from autoplan.problem.site import Guard
from autoplan.rules.base import Concern
from autoplan.rules.linear import Linear, weighted
from autoplan.units import cents_down

KIND_WEIGHT = 20
"""One more kind of part weighs as much as so many watts."""

PLAIN_WEIGHT = 6400
"""Keeps the canonical order (at most 255 for each of some 25 groups) below one watt."""


def objective_of(draft: Draft, by_ownership: bool) -> Linear:
    """Purchase and freight [cents], with the running cost over the years if asked."""
    spending = draft.spending()
    if not by_ownership:
        return spending
    wishes = draft.site.wishes
    running = [
        (
            var,
            round(energy_kwh_per_year(watts) * wishes.power_price_per_kwh * wishes.ownership_years * 100),
        )
        for var, watts in draft.watts()
    ]
    return spending + weighted(running)


def limit_of(draft: Draft, by_ownership: bool) -> float:
    """What the objective may come to by the budget [cents]; infinite where there is none, or not on it."""
    budget = draft.site.wishes.budget
    asked = draft.book.has(Concern.BUDGET)
    return math.inf if by_ownership or budget is None or not asked else cents_down(budget)


def folded(draft: Draft, objective: Linear) -> tuple[int, Linear]:
    """The objective with plainness below its last cent, and what it was multiplied by.

    Plainness is few kinds of part, counted choice by choice, and little power.
    """
    power = weighted((var, round(watts / 10)) for var, watts in draft.watts())
    plain = _kinds(draft) + power
    most = sum(max(plain.terms.get(var, 0) for var in group) for group in draft.model.groups)
    fold = most + 1
    goal = objective * fold + plain
    return (fold, goal) if goal.size < ROW_LIMIT else (1, objective)


def goal_from(cents: float, fold: int) -> int:
    """The least goal of an answer that the relaxation bounds by so much; `fold` of it is a cent."""
    return max(0, math.floor(cents - SLACK)) * fold


def goal_to(cents: float, fold: int) -> int:
    """The greatest goal of an answer that costs no more than so much."""
    return FAR - 1 if math.isinf(cents) else math.floor(cents) * fold + fold - 1


def tie_break(draft: Draft) -> Linear:
    """Few kinds of part before little power, and then an order that depends on nothing but names.

    Kinds are counted choice by choice: counting them over the whole design takes the solver many times as
    long as finding the design, for the sake of a bush.
    """
    power = weighted((var, round(watts)) for var, watts in draft.watts())
    return (_kinds(draft) * KIND_WEIGHT + power) * PLAIN_WEIGHT + _canonical(draft)


def _kinds(draft: Draft) -> Linear:
    """Kinds of part, counted choice by choice; a guarded inlet counts as one, for an air gap cannot fail."""
    parts = weighted((var, len(parts)) for var, parts in draft.choices_with_parts())
    return parts + weighted(
        (var, 1)
        for run_class in draft.site.classes()
        for var, candidate in draft.candidates(run_class)
        if any(drawn.guard is not Guard.AIR_GAP for drawn in candidate.drawn.values())
    )


def _canonical(draft: Draft) -> Linear:
    """A small number for each choice, from its name alone."""
    pairs = []
    for group in draft.model.groups:
        for var in group:
            digest = hashlib.sha256(draft.model.variables[var].name.encode()).digest()
            pairs.append((var, digest[0]))
    return weighted(pairs)
