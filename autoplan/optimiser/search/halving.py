"""Answers divided in two where the relaxation is torn between two halves of a group of choices."""

from __future__ import annotations

from collections.abc import Sequence

from autoplan.rules.linear import Var

EVEN = 0.45
"""How far from even the relaxation may be torn between two halves of a group for them to be worth it: of
24 unlike beds a half that is nearly whole gains 0.1 where an even one gains 1 to 3 [currency]."""


def halves(
    values: Sequence[float], out: frozenset[Var], groups: Sequence[Sequence[Var]]
) -> list[frozenset[Var]]:
    """Choices of one group that are closed in one half and in the other; none where nothing is torn.

    Args:
        values: what the relaxation makes of every choice.
        out: choices that are closed already.
        groups: one choice of each is made; that which is torn most evenly is halved, in the order given.
    """
    best, found = EVEN, list[frozenset[Var]]()
    for group in groups:
        left = [var for var in group if var not in out]
        share, first = 0.0, 0
        while first < len(left) - 1 and share + values[left[first]] / 2 < 1 / 2:
            share += values[left[first]]
            first += 1
        if first > 0 and abs(share - 1 / 2) < best:
            best, found = abs(share - 1 / 2), [frozenset(left[:first]), frozenset(left[first:])]
    return found
