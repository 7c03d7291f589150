"""How long one steady flow of a whole drawing takes."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

import autoplan
from autoplan.rules.survey import Survey
from autoplan.verdict.steady.network import steady

ROOT = Path(__file__).parents[2]


@pytest.mark.benchmark
def test_steady_flow_of_four_beds() -> None:
    """Mean time with valves open, with valves set, and with each run shut or burst; printed only."""
    site = autoplan.load_problem(ROOT / "problems" / "four-beds.toml")
    outcome = autoplan.design(site, autoplan.load_catalog("metric"), top=1)
    survey = Survey(outcome.site, outcome.catalog, outcome.designs[0].drawing)
    names = [run.name for run in survey.pressure_runs()]
    cases: dict[str, list[dict[str, object]]] = {
        "open": [{}],
        "set": [{"balanced": True}],
        "shut": [{"shut": [name]} for name in names],
        "burst": [{"burst": name} for name in names],
    }
    steady(survey)  # loads what it needs
    for label, calls in cases.items():
        started = time.perf_counter()
        for call in calls:
            steady(survey, **call)  # type: ignore[arg-type]
        print(f"\n{label}: {1000 * (time.perf_counter() - started) / len(calls):.1f} ms")
