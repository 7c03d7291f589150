"""Rows for whatever is bought in whole tins, packs and sticks: a relaxation buys a tenth of a tin.

A row says that what is bought covers what the choices take. With one choice of each group as given, what the
others take more or less is a term like any other, and the row can be rounded: mixed integer rounding
(Marchand and Wolsey 2001, Operations Research 49, 363-371) for divisors taken from the packs themselves.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from autoplan.optimiser.model.model import ROW_LIMIT, Inequality, Model
from autoplan.rules.linear import Following, Linear, Var

WORTH = 2e-3
"""Least by which a row must be broken to be worth adding, as a share of what it asks for."""

TIGHT = 1e-3
"""A row that spares more than this share of its largest pack is not what the relaxation leans on."""

PARTS = (1, 2, 3, 4)
"""Divisors tried are a pack's content and these parts of it."""

MOST_ROWS = 30
"""Most rows in one round, the most broken first."""

Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class _Row:
    """A row of whole numbers bought and of choices.

    Attributes:
        rule: whose it is.
        constant: its constant.
        bought, packs: the variables that are no choices, and their coefficients.
        groups: of each group in it the choices that may still be made, and their coefficients.
    """

    rule: str
    constant: int
    bought: Ints
    packs: Ints
    groups: tuple[tuple[Ints, Ints], ...]


class Rounding:
    """Finds such rows.

    Args:
        model: its rows that always hold.
        out: choices that are in no answer.
    """

    def __init__(self, model: Model, out: Collection[Var]) -> None:
        alive = [np.array([v for v in group if v not in out], dtype=np.int64) for group in model.groups]
        lasting = (row for row in model.inequalities if row.when is None)
        read = (_read(model, alive, row) for row in lasting)
        self._rows = [row for row in read if row is not None]
        self._entries = _entries(self._rows)
        self._constants = np.array([row.constant for row in self._rows], dtype=float)
        self._largest = np.array([np.abs(row.packs).max() for row in self._rows], dtype=float)

    def rows(self, values: Sequence[float]) -> list[Linear]:
        """Rows (>= 0) that every answer keeps and these values of every variable break."""
        at = np.asarray(values)
        if not self._rows:
            return []
        places, names, coefs = self._entries
        given = np.bincount(places, coefs * at[names], len(self._rows))
        tight = given + self._constants <= TIGHT * self._largest
        whole = np.abs(at - np.rint(at)) <= WORTH
        rows = (self._rows[place] for place in np.flatnonzero(tight))
        rows = (row for row in rows if not whole[row.bought].all())
        found = [best for row in rows if (best := _most_broken(row, at)) is not None]
        found.sort(key=lambda pair: -pair[0])
        return [row for _, row in found[:MOST_ROWS]]


def _entries(rows: Sequence[_Row]) -> tuple[Ints, Ints, Ints]:
    """Of every term of every row the row's place, the variable and its coefficient."""
    parts = [
        (place, *part) for place, row in enumerate(rows) for part in ((row.bought, row.packs), *row.groups)
    ]
    if not parts:
        return (np.zeros(0, dtype=np.int64),) * 3
    places = np.repeat([place for place, _, _ in parts], [len(names) for _, names, _ in parts])
    return places, np.concatenate([p[1] for p in parts]), np.concatenate([p[2] for p in parts])


def _read(model: Model, alive: Sequence[Ints], row: Inequality) -> _Row | None:
    """A row that can be rounded; None for one without choices, or of levels and others not from 0 up."""
    group_of, left = model.group_places(), row.left
    bought = [(var, coef) for var, coef in left.terms.items() if var not in group_of]
    groups = {group_of[var] for var in left.terms if var in group_of}
    if not groups or not any(coef > 1 for _, coef in bought):
        return None
    if any(model.variables[var].low != 0 for var, _ in bought) or any(not alive[g].size for g in groups):
        return None
    return _Row(
        row.rule,
        left.constant,
        np.array([var for var, _ in bought], dtype=np.int64),
        np.array([coef for _, coef in bought], dtype=np.int64),
        tuple(
            (alive[g], np.array([left.terms.get(Var(int(v)), 0) for v in alive[g]], dtype=np.int64))
            for g in sorted(groups)
        ),
    )


def _most_broken(row: _Row, at: NDArray[np.float64]) -> tuple[float, Linear] | None:
    """The rounded row that the values break most, and by how much; None where they keep all."""
    needed = -row.constant
    names, coefs = [row.bought], [row.packs]
    for choices, given in row.groups:
        chosen = at[choices]
        # Relative to the choice that is made most, so that the others' terms are few where it matters.
        base = int(given[int(np.argmax(chosen))])
        needed -= base
        names.append(choices)
        coefs.append(given - base)
    name, coef = np.concatenate(names), np.concatenate(coefs)
    value = at[name]
    made = value > 1e-9
    best: tuple[float, Linear] | None = None
    for divisor in _divisors(row.packs):
        whole, rest = divmod(needed, divisor)
        if not rest:
            continue
        rounded = rest * (coef // divisor) + np.minimum(rest, coef % divisor)
        broken = rest * (whole + 1) - float(rounded @ value)
        score = broken / max(1.0, float(np.abs(rounded[made]).max(initial=0)))
        if broken > WORTH * rest and (best is None or score > best[0]):
            terms = {Var(int(v)): int(c) for v, c in zip(name, rounded, strict=True) if c}
            best = score, Following(terms, -rest * (whole + 1), row.rule)
    return best if best is not None and best[1].size < ROW_LIMIT else None


def _divisors(packs: Ints) -> Iterator[int]:
    contents = sorted({int(pack) for pack in packs if pack > 1})
    yield from sorted({content // part for content in contents for part in PARTS if content // part > 1})
