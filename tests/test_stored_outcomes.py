"""Answers that a change of the search must not change: the cheapest design of shipped and of random problems.

They were found when lines had come to go from height to height over level distances. After a change that is
meant to change costs (prices, rules, lengths), or of how random problems are drawn, they are stored anew: run
this file with `-m long`, `AUTOPLAN_STORE=1` and one process (`-n 0`); a new one is put into the file by its
name first. What was not decided then may be decided now, and a design that was not proven may be beaten.
"""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

import autoplan
from autoplan.advice import remedies
from autoplan.outcome import Outcome, Status
from tests.test_random_problems import answered

ROOT = Path(__file__).parents[1]

FILE = ROOT / "tests" / "data" / "outcomes.json"

STORED = json.loads(FILE.read_text())

SECONDS = 300.0
"""Time for one problem; nearly all take less than ten seconds."""


@pytest.fixture(autouse=True)
def _no_remedies(monkeypatch: pytest.MonkeyPatch) -> None:
    """What would mend a problem without a design is asked elsewhere, and may take minutes."""
    monkeypatch.setattr(remedies, "EXPLAIN_S", 5.0)


def same(kind: str, name: str, outcome: Outcome | None) -> None:
    """The stored answer, or a better one where that was not proven; none at all of input that is refused."""
    if os.environ.get("AUTOPLAN_STORE"):
        keep(kind, name, outcome)
    status, cost = STORED[kind][name]
    if outcome is None or status == "input":
        assert (outcome is None) == (status == "input")
        return
    assert outcome.solver.rejected == 0
    if status in ("proven", "none"):
        assert str(outcome.status) == status
    if status == "proven":
        assert outcome.designs[0].objective == cost
    elif cost is not None:
        assert outcome.designs[0].objective <= cost


def keep(kind: str, name: str, outcome: Outcome | None) -> None:
    """Store what is answered now."""
    cost = outcome.designs[0].objective if outcome is not None and outcome.designs else None
    STORED[kind][name] = ["input" if outcome is None else str(outcome.status), cost]
    FILE.write_text(json.dumps(STORED, indent=1) + "\n")


@pytest.mark.long
@pytest.mark.parametrize("name", STORED["shipped"])
def test_shipped_problems(name: str) -> None:
    """Every problem that comes with the program."""
    site = autoplan.load_problem(ROOT / "problems" / f"{name}.toml")
    outcome = autoplan.design(site, autoplan.load_catalog(site.catalog), top=1, time_limit=SECONDS)
    assert outcome.status in (Status.PROVEN, Status.NONE)
    same("shipped", name, outcome)


@pytest.mark.long
@pytest.mark.parametrize("seed", STORED["random"])
def test_random_problems(tmp_path: Path, seed: str) -> None:
    """Thirteen of the short form, thirteen with timers, eighteen from thin price lists."""
    try:
        outcome = answered(tmp_path, int(seed), SECONDS)
    except autoplan.InputError:
        outcome = None
    same("random", seed, outcome)
