"""A few linear equations at a time, most of whose numbers are nothing, without the start-up of a library."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache


class Pattern:
    """Where a square matrix may hold numbers, and in which order its unknowns are eliminated.

    For matrices whose diagonal is larger than the rest of its column, so that no rows need to be exchanged,
    whatever the order: that of least fill is taken (H. M. Markowitz, Management Science 3, 1957). The matrix
    itself is a list of numbers: its diagonal, the other places in the order found, and one more that is never
    looked at.

    Args:
        size: rows, which are as many as columns.
        pairs: rows and columns that meet, either way, besides the diagonal.
    """

    def __init__(self, size: int, pairs: Iterable[tuple[int, int]]) -> None:
        near: list[set[int]] = [set() for _ in range(size)]
        for one, other in pairs:
            near[one].add(other)
            near[other].add(one)
        self.size = size
        self._places = {(row, row): row for row in range(size)}
        order: list[tuple[int, list[int]]] = []
        left = set(range(size))
        while left:
            pivot = min(left, key=lambda row: (len(near[row] - {row}), row))
            left.remove(pivot)
            rest = sorted(near[pivot] - {pivot})
            order.append((pivot, rest))
            for row in rest:
                near[row].update(rest)
                near[row].discard(pivot)
        for pivot, rest in order:
            for row in rest:
                self._places.setdefault((pivot, row), len(self._places))
                self._places.setdefault((row, pivot), len(self._places))
        place = self._places
        self._factors = [
            (
                pivot,
                [(place[row, pivot], [(place[pivot, at], place[row, at]) for at in rest]) for row in rest],
            )
            for pivot, rest in order
        ]
        self._down = [(pivot, [(place[row, pivot], row) for row in rest]) for pivot, rest in order if rest]
        self._up = [(pivot, [(place[pivot, at], at) for at in rest]) for pivot, rest in reversed(order)]

    def place(self, row: int, column: int) -> int:
        """Where in the list the number of a row and column stands; the unused last place if outside."""
        return self._places.get((row, column), len(self._places))

    def identity(self) -> list[float]:
        """The matrix with 1 on its diagonal and nothing else, to be added to."""
        return [1.0] * self.size + [0.0] * (len(self._places) - self.size + 1)

    def eliminate(self, matrix: list[float]) -> None:
        """Turn a matrix into its two triangles, in place."""
        for pivot, below in self._factors:
            top = matrix[pivot]
            for at, updates in below:
                factor = matrix[at]
                if factor:
                    factor /= top
                    matrix[at] = factor
                    for above, changed in updates:
                        matrix[changed] -= factor * matrix[above]

    def solve(self, triangles: Sequence[float], right: list[float]) -> list[float]:
        """The unknowns for one right side, in its place; what stands behind them is left alone."""
        for pivot, below in self._down:
            known = right[pivot]
            if known:
                for at, row in below:
                    right[row] -= triangles[at] * known
        for pivot, behind in self._up:
            rest = right[pivot]
            for at, column in behind:
                rest -= triangles[at] * right[column]
            right[pivot] = rest / triangles[pivot]
        return right


@lru_cache(maxsize=256)
def pattern_of(size: int, pairs: tuple[tuple[int, int], ...]) -> Pattern:
    """The pattern of a matrix, worked out once for all that look alike; arguments as for `Pattern`."""
    return Pattern(size, pairs)
