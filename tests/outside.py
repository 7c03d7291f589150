"""A shipped problem whose one bed has a siphon pipe outside, and its cheapest design, searched once."""

from __future__ import annotations

import tempfile
from functools import cache
from pathlib import Path

import autoplan
from autoplan.outcome import Outcome
from autoplan.problem.problem import Problem
from tests.short_list import from_shortest_list

HOME = Path(__file__).parents[1]

DRAIN = "bed drain 1"

BEDS = 'drain = "outside siphon"\nfloods = "2.5/hour"'
"""375 L/h for 1.5 m2, two fifths water, flooded 250 mm: 150 L."""


def text(beds: str = BEDS, more: str = "", area_m2: float = 1.5, tank: str = "") -> str:
    """The smallest shipped problem with more said of its bed, or of its tank."""
    whole = (HOME / "problems" / "one-tank-one-bed.toml").read_text(encoding="utf-8")
    whole = whole.replace("[beds]\n", f"[beds]\n{beds}\n").replace("[tank]\n", f"[tank]\n{tank}\n")
    return whole.replace('area = "1 m2"', f'area = "{area_m2} m2"') + more


def problem(beds: str = BEDS, more: str = "", area_m2: float = 1.5, tank: str = "") -> Problem:
    """The same from the shortest price list."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "outside.toml"
        path.write_text(from_shortest_list(text(beds, more, area_m2, tank)), encoding="utf-8")
        return autoplan.load_problem(path)


@cache
def answer() -> Outcome:
    """The cheapest design."""
    return autoplan.design(problem(), autoplan.load_catalog("metric"), top=1)
