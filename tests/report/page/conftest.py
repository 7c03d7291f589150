"""The sheet of the four beds behind the shed, made once: its answer and its page."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from autoplan.outcome import Outcome
from autoplan.report.contract import outcome_json
from autoplan.report.page import sheet
from autoplan.report.page.sheet import sheet_html
from tests.stored import stored

PROBLEM = Path(__file__).parents[3] / "problems" / "four-beds.toml"


def two_ranks() -> Outcome:
    """The demo's cheapest design, and the same again as a second rank that says what sets it apart."""
    outcome = stored("four-beds", PROBLEM.read_text(encoding="utf-8"))
    (first,) = outcome.designs
    second = replace(first, rank=2, proven=False, differs=("feeds: hose instead of poly line",))
    return replace(outcome, designs=(first, second))


@pytest.fixture(scope="session")
def demo() -> Outcome:
    """The answer as objects."""
    return two_ranks()


@pytest.fixture(scope="session")
def answer(demo: Outcome) -> dict[str, Any]:
    """The answer as its JSON."""
    return outcome_json(demo)


@pytest.fixture(scope="session")
def page(answer: dict[str, Any]) -> str:
    """The page of rank 1."""
    return sheet_html(answer)


@pytest.fixture
def undrawn(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pages without drawings, which take most of the time that a page takes."""
    monkeypatch.setattr(sheet, "sheets", lambda *_: ())
