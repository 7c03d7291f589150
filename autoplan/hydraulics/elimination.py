"""A few linear equations at a time, without the start-up of a library."""

from __future__ import annotations

from collections.abc import Sequence


class Elimination:
    """A small linear system, solved for several right sides by elimination.

    For matrices whose diagonal is larger than the rest of its column, so that no rows need to be exchanged.

    Args:
        matrix: rows of a square matrix; it is used up.
    """

    def __init__(self, matrix: list[list[float]]) -> None:
        self.matrix = matrix
        for pivot, top in enumerate(matrix):
            for row in range(pivot + 1, len(matrix)):
                line = matrix[row]
                if line[pivot]:
                    factor = line[pivot] / top[pivot]
                    line[pivot] = factor
                    for column in range(pivot + 1, len(matrix)):
                        if top[column]:
                            line[column] -= factor * top[column]

    def __call__(self, right: Sequence[float]) -> list[float]:
        """The unknowns for one right side."""
        solved = list(right)
        size = len(solved)
        for row in range(size):
            line = self.matrix[row]
            solved[row] -= sum(line[column] * solved[column] for column in range(row) if line[column])
        for row in range(size - 1, -1, -1):
            line = self.matrix[row]
            rest = sum(line[column] * solved[column] for column in range(row + 1, size) if line[column])
            solved[row] = (solved[row] - rest) / line[row]
        return solved
