"""How long a whole command takes, told as a multiple of loading the solver alone on the same machine."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

import autoplan
from autoplan.verdict import judge as verdict

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


@pytest.mark.benchmark
@pytest.mark.parametrize("problem", ["one-tank-one-bed", "four-beds"])
def test_verdict(problem: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Time of the verdicts on five ranks, faults and hours included, over the rest of the search; printed."""
    spent: dict[str, list[float]] = {"judge": [], "complete": []}

    def timed(name: str) -> Callable[..., object]:
        asked = getattr(verdict, name)

        def answered(*given: object) -> object:
            started = time.perf_counter()
            found: object = asked(*given)
            spent[name].append(time.perf_counter() - started)
            return found

        return answered

    for name in spent:
        monkeypatch.setattr(verdict, name, timed(name))
    site = autoplan.load_problem(ROOT / "problems" / f"{problem}.toml")
    started = time.perf_counter()
    autoplan.design(site, autoplan.load_catalog(site.catalog))
    whole = time.perf_counter() - started
    rest = whole - sum(map(sum, spent.values()))
    for name, times in spent.items():
        print(
            f"\n{problem}: {name} {len(times)} times in {sum(times):.2f} s, the slowest {max(times):.2f} s, "
            f"{sum(times) / rest:.2f} x the optimiser ({rest:.2f} s)"
        )
