"""A shipped problem whose one bed has a weep hole, and its cheapest design, searched once for all tests."""

from __future__ import annotations

import tempfile
from functools import cache
from pathlib import Path

import autoplan
from autoplan.outcome import Outcome
from autoplan.problem.problem import Problem
from tests.short_list import from_shortest_list

HOME = Path(__file__).parents[1]


def problem(beds: str = 'drain = "weep hole"', area_m2: float = 1.0, more: str = "") -> Problem:
    """The smallest shipped problem with more said of its bed."""
    text = (HOME / "problems" / "one-tank-one-bed.toml").read_text(encoding="utf-8")
    text = text.replace("[beds]\n", f"[beds]\n{beds}\n").replace('area = "1 m2"', f'area = "{area_m2} m2"')
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "weep.toml"
        path.write_text(from_shortest_list(text) + more, encoding="utf-8")
        return autoplan.load_problem(path)


@cache
def answer() -> Outcome:
    """The cheapest design: 200 L of water an hour and what leaks by a hole of 6 mm."""
    return autoplan.design(problem(), autoplan.load_catalog("metric"), top=1)
