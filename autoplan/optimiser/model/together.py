"""What several classes' pieces of one pipe, or wants of one sundry, cost together.

Rows that tighten the linear relaxation. Where it already has several classes in one pipe, what it buys for
them is a share of a stick too little, and it buys cement by the hundredth of a tin. The exact price of the
least that the choices take together, required as far as all of them are made, is a bound that every plan
keeps.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

from autoplan.line.needs import Want
from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.model.purchase import NO_STICKS, Bought, least_cost
from autoplan.optimiser.options.consumables import GRAIN
from autoplan.rules.base import Given
from autoplan.rules.linear import Linear, Var, total, weighted
from autoplan.units import tenth_mm_up

MOST_CLASSES = 6
"""Most classes in one row; the exact price of more is slow to work out and seldom worth it."""

NEARLY_ALL = 0.995
"""Share of a group's choices that must take an amount for it to count."""

WORTH_CENTS = 5.0
"""Least by which a row must be broken to be added [cents]."""


class Together:
    """Finds such rows.

    Args:
        draft: the model and what its choices cut.
    """

    def __init__(self, draft: Draft) -> None:
        self._draft = draft
        self._kerf = tenth_mm_up(draft.book.given(Given.SAW_CUT))
        self._cutting = {
            pipe: [_Class([(var, _whole(cut)) for var, cut in group]) for group in groups]
            for pipe, groups in draft.cuts_by_group.items()
        }
        self._buying = self._own_lines()
        self._prices: dict[tuple[str, tuple[int, ...]], int] = {}

    def _own_lines(self) -> dict[Want, list[Bought]]:
        """By want, the lines of its rows, where none of them serves another want or is owned."""
        stores, site = self._draft.stores, self._draft.site
        users = Counter(part for rows in stores.rows.values() for part, _ in rows)
        found = {}
        for want, rows in stores.rows.items():
            parts = [part for part, _ in rows]
            plain = all(users[part] == 1 and not site.owned.get(part) for part in parts)
            if plain and want.kind in GRAIN:
                found[want] = [line for line in stores.lines if line.part in parts]
        return found

    def rows(self, values: Sequence[float]) -> list[Linear]:
        """Rows (>= 0) that every answer keeps and that the values of a relaxation break."""
        found = [row for pipe in self._cutting for row in self._of_pipe(pipe, values)]
        return found + [row for want in self._buying for row in self._of_want(want, values)]

    def _of_want(self, want: Want, values: Sequence[float]) -> Iterator[Linear]:
        """Packs for what each group takes at least, in nearly all of what the relaxation chooses."""
        lines = self._buying[want]
        spending = total(line.packs * line.offer.price_cents for line in lines)
        needs = self._draft.stores.wants[want][self._screwed(values)]
        missing, least, every = 0.0, 0, []
        for group in self._draft.model.groups:
            taking = sorted(((needs.terms.get(var, 0), var) for var in group), reverse=True)
            at_least, share, taken = _sure(taking, values)
            if at_least:
                least += at_least
                missing += max(0.0, 1 - share)
                every.append(taken)
        spent = spending.constant + sum(coef * values[var] for var, coef in spending.terms.items())
        cents = self._packs(want, least)
        if every and cents * (1 - missing) > spent + WORTH_CENTS:
            choices = weighted((var, cents) for taken in every for var in taken)
            way = self._draft.stores.screwed
            other = Linear()
            if way is not None:
                other = weighted([(way, -cents if self._screwed(values) else cents)])
                other = other + (cents if self._screwed(values) else 0)
            yield spending - choices + cents * (len(every) - 1) + other

    def _screwed(self, values: Sequence[float]) -> bool:
        way = self._draft.stores.screwed
        return self._draft.counting.screwed if way is None else values[way] > 0.5

    def _packs(self, want: Want, amount: int) -> int:
        """The least that packs for an amount cost [cents], by trying counts of each offer in turn."""
        counting = self._draft.counting
        offers = sorted(
            (line.offer.price_cents, counting.content(line.part) * line.offer.pack)
            for line in self._buying[want]
        )
        return _least_packs(tuple(offers), amount) if offers else 0

    def _of_pipe(self, pipe: str, values: Sequence[float]) -> Iterator[Linear]:
        spending = self._draft.orders.pipe_spending[pipe]
        spent = spending.constant + sum(coef * values[var] for var, coef in spending.terms.items())
        for shares in (
            [found.all(values) for found in self._cutting[pipe]],
            [found.favourite(values) for found in self._cutting[pipe]],
        ):
            yield from self._of_shares(pipe, spending, spent, shares)

    def _of_shares(self, pipe: str, spending: Linear, spent: float, shares: list[_Share]) -> Iterator[Linear]:
        shares.sort(key=lambda share: -share.share)
        for count in range(2, min(MOST_CLASSES, len(shares)) + 1):
            chosen = shares[:count]
            together = sum(share.share for share in chosen) - (count - 1)
            if together <= 0.05:
                return
            cents = self._price(pipe, [piece for share in chosen for piece in share.cut])
            if cents > 0 and cents * together > spent + WORTH_CENTS:
                every = weighted((var, cents) for share in chosen for var in share.choices)
                yield spending - every + cents * (count - 1)

    def _price(self, pipe: str, pieces: Sequence[int]) -> int:
        key = (pipe, tuple(sorted(pieces)))
        if key not in self._prices:
            sticks = [supply.stick for supply in self._draft.orders.supplies[pipe]]
            cents = least_cost(key[1], sticks, self._kerf)
            self._prices[key] = 0 if cents == NO_STICKS else cents
        return self._prices[key]


def _sure(taking: Sequence[tuple[int, Var]], values: Sequence[float]) -> tuple[int, float, list[Var]]:
    """What nearly all that a group chooses takes at least, how nearly all, and the choices that do."""
    share, taken = 0.0, []
    for place, (amount, var) in enumerate(taking):
        share += values[var]
        taken.append(var)
        last = place + 1 == len(taking) or taking[place + 1][0] < amount
        if last and share >= NEARLY_ALL:
            return amount, share, taken
    return 0, share, taken


@dataclass(frozen=True, slots=True)
class _Share:
    """Choices of a class that cut at least these pieces [0.1 mm], and how far they are chosen."""

    share: float
    choices: tuple[Var, ...]
    cut: tuple[int, ...]


class _Class:
    """One class's choices on one pipe, with the pieces that each cuts [0.1 mm], longest first."""

    def __init__(self, choices: Sequence[tuple[Var, tuple[int, ...]]]) -> None:
        self._choices = choices
        self._all = tuple(var for var, _ in choices)
        count = min(len(cut) for _, cut in choices)
        self._shortest = tuple(min(cut[place] for _, cut in choices) for place in range(count))
        self._covering: dict[tuple[int, ...], tuple[Var, ...]] = {}

    def all(self, values: Sequence[float]) -> _Share:
        """All choices, and the pieces that fit wherever those of any of them fit."""
        return _Share(sum(values[var] for var in self._all), self._all, self._shortest)

    def favourite(self, values: Sequence[float]) -> _Share:
        """The pieces of the choice that is chosen most, and all choices that cut no less."""
        _, cut = max(self._choices, key=lambda choice: values[choice[0]])
        if cut not in self._covering:
            self._covering[cut] = tuple(
                var
                for var, other in self._choices
                if len(other) >= len(cut) and all(a >= b for a, b in zip(other, cut, strict=False))
            )
        covering = self._covering[cut]
        return _Share(sum(values[var] for var in covering), covering, cut)


@lru_cache(maxsize=20_000)
def _least_packs(offers: tuple[tuple[int, int], ...], left: int) -> int:
    """The least that packs for an amount cost [cents], of offers with their price [cents] and content."""
    if left <= 0:
        return 0
    (cents, content), others = offers[0], offers[1:]
    if not others:
        return cents * -(-left // content)
    counts = range(-(-left // content) + 1)
    return min(cents * n + _least_packs(others, left - n * content) for n in counts)


def _whole(pieces: Sequence[float]) -> tuple[int, ...]:
    return tuple(sorted((tenth_mm_up(piece) for piece in pieces), reverse=True))
