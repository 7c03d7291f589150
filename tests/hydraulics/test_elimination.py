"""Elimination against numpy's solver."""

from __future__ import annotations

import numpy as np
import pytest

from autoplan.hydraulics.elimination import Elimination


@pytest.mark.parametrize("size", [1, 2, 5, 12])
def test_against_numpy(size: int) -> None:
    """Matrices like those of a step, diagonal over the rest of its column, several right sides each."""
    rng = np.random.default_rng(size)
    matrix = -rng.random((size, size)) * (rng.random((size, size)) < 0.4)
    np.fill_diagonal(matrix, 0.0)
    matrix += np.diag(1.0 - matrix.sum(axis=0))
    solve = Elimination(matrix.tolist())
    for _ in range(3):
        right = rng.normal(size=size)
        assert solve(right.tolist()) == pytest.approx(np.linalg.solve(matrix, right).tolist(), rel=1e-12)
