"""Elimination against numpy's solver."""

from __future__ import annotations

import numpy as np
import pytest

from autoplan.hydraulics.elimination import Pattern, pattern_of


@pytest.mark.parametrize("size", [1, 2, 5, 12, 30])
@pytest.mark.parametrize("full", [0.05, 0.4, 1.0])
def test_against_numpy(size: int, full: float) -> None:
    """Matrices like those of a step, diagonal over the rest of its column, several right sides each."""
    rng = np.random.default_rng(size)
    matrix = -rng.random((size, size)) * (rng.random((size, size)) < full)
    np.fill_diagonal(matrix, 0.0)
    matrix += np.diag(1.0 - matrix.sum(axis=0))
    pairs = [(int(row), int(column)) for row, column in zip(*np.nonzero(matrix), strict=True)]
    pattern = Pattern(size, pairs)
    triangles = pattern.identity()
    for row, column in pairs:
        triangles[pattern.place(row, column)] = float(matrix[row, column])
    pattern.eliminate(triangles)
    for _ in range(3):
        right = rng.normal(size=size)
        solved = pattern.solve(triangles, [*right.tolist(), 7.0])
        assert solved.pop() == 7.0
        assert solved == pytest.approx(np.linalg.solve(matrix, right).tolist(), rel=1e-11, abs=1e-12)


def test_a_star_is_not_filled() -> None:
    """Many that meet in one, as beds in a sump: nothing is added to the numbers that are there."""
    pairs = tuple((0, leaf) for leaf in range(1, 20))
    pattern = pattern_of(20, pairs)
    assert len(pattern.identity()) == 20 + 2 * 19 + 1
    assert pattern.place(3, 4) == pattern.place(20, 20) == len(pattern.identity()) - 1
    assert pattern_of(20, pairs) is pattern
