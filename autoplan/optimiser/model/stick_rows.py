"""Rows for pieces on sticks that no length alone can give, by dual feasible functions.

A function f of shares of a stick that is never larger on a stick than the sum over what is cut from it lets
every cutting plan be counted: the sticks' f must come to no less than the pieces'. Used are u(k), which
counts pieces by how many of them go on a stick, and steps that take what leaves less than some piece for a
whole stick (Fekete and Schepers 2001, Mathematical Programming 91, 11-31; Clautiaux, Alves and Valerio de
Carvalho 2010, Annals of Operations Research 179, 317-342). Pieces are rounded down and sticks up;
metres count as what the best piece makes of a metre.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from autoplan.optimiser.model.model import ROW_LIMIT
from autoplan.optimiser.model.purchase import Supply
from autoplan.rules.linear import Linear, Var, weighted
from autoplan.units import tenth_mm_up

UNIT = 2520
"""What a whole stick counts as: every share that u(k) makes is a whole number of it."""

MOST_K = 6
"""u(1) counts pieces longer than half a stick, u(6) sevenths."""

WORTH = 1e-3
"""Least by which a row must be broken to be worth adding, in sticks."""

MOST_ROWS = 20
"""Most rows in one round, the most broken first."""

Shares = Callable[[int, int], tuple[int, int]]
"""Of a length and the longest stick: the function's value as a fraction."""


@dataclass(slots=True)
class _Pipe:
    """One pipe's supplies and what each choice cuts, each piece with one saw cut [0.1 mm]."""

    supplies: Sequence[Supply]
    cut: int
    longest: int
    pieces: dict[Var, list[int]]
    rows: dict[tuple[str, int], Linear | None] = field(default_factory=dict)

    def row(self, name: tuple[str, int]) -> Linear | None:
        """The row of one function, worked out once; None where it could not be trusted."""
        if name not in self.rows:
            made = self._made(_function(name))
            self.rows[name] = made if made.size < ROW_LIMIT else None
        return self.rows[name]

    def _made(self, function: Shares) -> Linear:
        lengths = {length for cut in self.pieces.values() for length in cut}
        worth = {length: self._down(function, length) for length in lengths}
        # A metre holds no more than the piece that makes most of it.
        rate = max((worth[length] / length for length in lengths), default=0.0)
        terms: list[tuple[Var, int]] = []
        constant = 0
        for supply in self.supplies:
            kind = supply.stick
            if kind.by_metre:
                given = supply.packs * math.ceil(kind.length * kind.pack * rate) + math.ceil(self.cut * rate)
            else:
                above, below = function(kind.length + self.cut, self.longest)
                given = supply.packs * (kind.pack * -(-above * UNIT // below))
            terms += given.terms.items()
            constant += given.constant
        terms += [(var, -sum(worth[length] for length in cut)) for var, cut in self.pieces.items()]
        return weighted(terms, constant)

    def _down(self, function: Shares, length: int) -> int:
        whole, rest = divmod(length, self.longest)
        above, below = function(rest, self.longest)
        return whole * UNIT + above * UNIT // below


class StickRows:
    """Finds such rows.

    Args:
        supplies: what each pipe can be cut from, by the first row of its family.
        cuts: what each choice cuts of it [m], group by group.
        kerf_m: width of a saw cut [m].
        out: choices that are in no answer.
    """

    def __init__(
        self,
        supplies: Mapping[str, Sequence[Supply]],
        cuts: dict[str, list[list[tuple[Var, list[float]]]]],
        kerf_m: float,
        out: Collection[Var],
    ) -> None:
        self._pipes = []
        for pipe, groups in cuts.items():
            kinds = [supply.stick for supply in supplies[pipe]]
            cut = 0 if any(kind.to_measure for kind in kinds) else tenth_mm_up(kerf_m)
            sticks = [kind.length for kind in kinds if not kind.by_metre]
            pieces = {
                var: [tenth_mm_up(piece) + cut for piece in list_]
                for group in groups
                for var, list_ in group
                if var not in out and list_
            }
            if sticks and pieces:
                self._pipes.append(_Pipe(supplies[pipe], cut, max(sticks) + cut, pieces))

    def rows(self, values: Sequence[float]) -> list[Linear]:
        """Rows (>= 0) that every answer keeps and these values of every variable break."""
        found = []
        for pipe in self._pipes:
            if not any(values[var] > 1e-7 for var in pipe.pieces):
                continue
            for name in _names(pipe, values):
                row = pipe.row(name)
                if row is None:
                    continue
                left = row.constant + sum(coef * values[var] for var, coef in row.terms.items())
                if left < -WORTH * UNIT:
                    found.append((left, row))
        found.sort(key=lambda pair: pair[0])
        return [row for _, row in found[:MOST_ROWS]]


def _names(pipe: _Pipe, values: Sequence[float]) -> Iterator[tuple[str, int]]:
    """Functions worth trying: every u(k), and a step at each length that is cut."""
    yield from (("u", k) for k in range(1, MOST_K + 1))
    cut = {length for var, list_ in pipe.pieces.items() if values[var] > 1e-7 for length in list_}
    yield from (("step", length) for length in sorted(cut) if 2 * length <= pipe.longest)


def _function(name: tuple[str, int]) -> Shares:
    kind, number = name

    def u(length: int, longest: int) -> tuple[int, int]:
        if (number + 1) * length % longest == 0:
            return length, longest
        return (number + 1) * length // longest, number

    def step(length: int, longest: int) -> tuple[int, int]:
        if length > longest - number:
            return 1, 1
        return (0, 1) if length < number else (length, longest)

    return u if kind == "u" else step
