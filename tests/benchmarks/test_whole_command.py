"""How long a whole command takes, told as a multiple of loading the solver alone on the same machine."""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]

SOLVER = (sys.executable, "-c", "from ortools.sat.python import cp_model")

RUNS = 3
"""Each command is run so often and its shortest time taken: what else the machine does only adds."""


def shortest(command: tuple[str, ...]) -> float:
    """Shortest time of a few runs [s]; each must succeed."""
    times = []
    for _ in range(RUNS):
        started = time.perf_counter()
        subprocess.run(command, cwd=ROOT, check=True, capture_output=True)
        times.append(time.perf_counter() - started)
    return min(times)


@pytest.mark.benchmark
@pytest.mark.parametrize("problem", ["one-tank-one-bed", "four-beds"])
def test_design(problem: str) -> None:
    """Time of `autoplan design` with its five ranks, over that of importing the solver; printed only."""
    command = (sys.executable, "-m", "autoplan.cli", "design", f"problems/{problem}.toml", "--quiet")
    whole, solver = shortest(command), shortest(SOLVER)
    print(f"\n{problem}: {whole:.2f} s, {whole / solver:.1f} x loading the solver ({solver:.2f} s)")
