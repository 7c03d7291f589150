"""Heights that cannot all hold: differences between water levels that do not sum up along some chain.

Each thing that a rule asks of heights is a difference: this water stands so much over that one, or over the
datum, at least. Such a system has an answer unless some chain of them comes back to its start higher than it
began (Bellman 1958; Cormen et al., Introduction to Algorithms, "difference constraints"), and that chain is
why there is none.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from autoplan.optimiser.model.draft import Draft
from autoplan.rules.book import KINDS
from autoplan.rules.heights import DATUM, AtLeast, Place, WaterOf, height
from autoplan.rules.linear import Linear, Var
from autoplan.sentence import Text, joined, say

MOST_TOGETHER = 4
"""Rules of which every set is looked at for a clash; more of them are named all together."""

FAR = 10**9
"""Further than any height [0.1 mm]."""


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why there certainly is no design.

    Attributes:
        rules: those that cannot hold together.
        sentence: what they ask in numbers.
        vessels: whose water they speak of.
    """

    rules: tuple[str, ...]
    sentence: Text
    vessels: frozenset[str] = frozenset()


def clashing(asked: Sequence[AtLeast]) -> Refusal | None:
    """The smallest set of rules whose heights do not sum up; None where all of them do."""
    whole = _chain(asked)
    if whole is None:
        return None
    rules = sorted({one.rule for one in asked} - {""})
    for count in range(min(MOST_TOGETHER, len(rules)) + 1):
        for some in combinations(rules, count):
            chain = _chain([one for one in asked if one.rule in ("", *some)])
            if chain is not None:
                return _refusal(chain, asked)
    return _refusal(whole, asked)


def _refusal(chain: Sequence[AtLeast], asked: Sequence[AtLeast]) -> Refusal:
    """What a chain says, and how much more other rules ask besides."""
    at = next((n for n, one in enumerate(chain) if one.lower == DATUM), 0)
    turned = [*chain[at:], *chain[:at]]
    lacks = sum(one.by for one in turned)
    rules = tuple(dict.fromkeys(one.rule for one in turned if one.rule))
    worst = _longest(asked)
    more = sum(one.by for one in worst)
    others = dict.fromkeys(one.rule for one in worst if one.rule and one.rule not in rules)
    besides = say(", {} with {}", height(more), ", ".join(others)) if others and more > lacks else ""
    said = joined("; ", [one.said() for one in turned])
    words = "Heights over the datum that do not sum up: {}. {} are missing{}."
    ends = (place for one in turned for place in (one.higher, one.lower))
    vessels = frozenset(place.vessel for place in ends if isinstance(place, WaterOf))
    return Refusal(rules, say(words, said, height(lacks), besides), vessels)


def _longest(asked: Sequence[AtLeast]) -> list[AtLeast]:
    """The chain from the datum and back to it in which most is missing; none where that is not to be told."""
    rising = [one for one in asked if one.higher != DATUM]
    places = dict.fromkeys(one.higher for one in rising)
    height: dict[Place, int] = {DATUM: 0}
    under: dict[Place, AtLeast] = {}
    before: dict[Place, int] = {}
    for _ in range(len(places) + 1):
        before = dict(height)
        for one in rising:
            if one.lower in height and height[one.lower] + one.by > height.get(one.higher, -FAR):
                height[one.higher] = height[one.lower] + one.by
                under[one.higher] = one
    closing = [one for one in asked if one.higher == DATUM and one.lower in height]
    if before != height or not closing:
        return []
    chain = [max(closing, key=lambda one: height[one.lower] + one.by)]
    while chain[-1].lower != DATUM:
        chain.append(under[chain[-1].lower])
    return chain[::-1]


def _chain(asked: Sequence[AtLeast]) -> list[AtLeast] | None:
    """A chain that comes back to its start higher than it began, the lowest first; None if there is none."""
    places = list(dict.fromkeys(place for one in asked for place in (one.higher, one.lower)))
    height = dict.fromkeys(places, 0)
    under: dict[Place, AtLeast] = {}
    raised: list[Place] = []
    for _ in places:
        raised = []
        for one in asked:
            if height[one.lower] + one.by > height[one.higher]:
                height[one.higher] = height[one.lower] + one.by
                under[one.higher] = one
                raised.append(one.higher)
        if not raised:
            break
    if not raised:
        return None
    # As many rounds down as there are places lead onto the circle that keeps rising.
    place = raised[-1]
    for _ in places:
        place = under[place].lower
    chain, top = [under[place]], place
    while chain[-1].lower != top:
        chain.append(under[chain[-1].lower])
    return chain[::-1]


def asked_by(draft: Draft) -> Iterator[AtLeast]:
    """What a draft's rows ask of one level against another or the datum, all else at its best for them.

    Rows that hold only where something is chosen are left out.
    """
    places, least = dict(_levels(draft)), LeastRaise(draft)
    for var, place in places.items():
        bounds = draft.model.variables[var]
        yield AtLeast("", place, DATUM, bounds.low, "its floor")
        yield AtLeast("", DATUM, place, -bounds.high, "its rim")
    for row in draft.model.inequalities:
        levels = {places[var]: coef for var, coef in row.left.terms.items() if var in places}
        higher: list[Place] = [place for place, coef in levels.items() if coef == 1]
        lower: list[Place] = [place for place, coef in levels.items() if coef == -1]
        between = len(higher) + len(lower) == len(levels) and len(higher) < 2 and len(lower) < 2
        if row.when is None and levels and between:
            rest = {var: coef for var, coef in row.left.terms.items() if var not in places}
            best = -least.of(Linear(rest, row.left.constant) * -1)
            ends = (higher or [DATUM])[0], (lower or [DATUM])[0]
            yield AtLeast(row.rule, *ends, -best, KINDS[row.rule].so_that if row.rule in KINDS else "")


class LeastRaise:
    """What expressions of a draft come to at least, every choice and every variable by itself at its best."""

    def __init__(self, draft: Draft) -> None:
        self._variables = draft.model.variables
        self._sizes = [len(group) for group in draft.model.groups]
        self._group = {var: number for number, group in enumerate(draft.model.groups) for var in group}

    def of(self, expression: Linear) -> int:
        """The least of one expression, in its own unit."""
        value = expression.constant
        chosen: dict[int, list[int]] = {}
        for var, coef in expression.terms.items():
            if var in self._group:
                chosen.setdefault(self._group[var], []).append(coef)
            else:
                bounds = self._variables[var]
                value += min(coef * bounds.low, coef * bounds.high)
        for number, coefs in chosen.items():
            # A member of the group that is not in the expression adds nothing.
            value += min(coefs) if len(coefs) == self._sizes[number] else min(0, *coefs)
        return value


def _levels(draft: Draft) -> Iterator[tuple[Var, WaterOf]]:
    for vessel in draft.site.vessels:
        for overloaded in (True, False):
            level = draft.overload_level(vessel) if overloaded else draft.level(vessel)
            yield from ((var, WaterOf(vessel, overloaded)) for var in level.terms)
