"""What a search leaves behind: none of its drafts outlives the outcome, though nobody looks for garbage."""

from __future__ import annotations

import gc
import weakref
from typing import Any

import pytest

import autoplan
from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.search import merge
from autoplan.outcome import Status
from autoplan.problem.toml.load import problem_from
from tests.one_bed import one_bed
from tests.short_list import from_shortest_list

OFFERED = one_bed().replace("[tank]", '[tank]\noverflow = "any"')
"""An overflow may come cheaper: what it costs at least is worked out meanwhile."""


@pytest.mark.parametrize(
    ("text", "gone", "status"),
    [(OFFERED, "", Status.PROVEN), (one_bed(), "bell-", Status.NONE)],
    ids=["an overflow offered", "no bell"],
)
def test_no_draft_is_kept(monkeypatch: pytest.MonkeyPatch, text: str, gone: str, status: Status) -> None:
    """Of a design found, and of a reason why there is none: with its outcome every draft is gone."""
    assert not gc.isenabled()
    monkeypatch.setattr(merge, "SLOW_S", 0.0)
    made: list[weakref.ref[Draft]] = []
    begun = Draft.__init__

    def begin(draft: Draft, *asked: Any, **more: Any) -> None:
        made.append(weakref.ref(draft))
        begun(draft, *asked, **more)

    monkeypatch.setattr(Draft, "__init__", begin)
    catalog = autoplan.load_catalog("metric")
    without = [part for part in catalog.siphons if gone and part.startswith(gone)]
    problem = problem_from(from_shortest_list(text, *without), "left.toml")
    outcome = autoplan.design(problem, catalog, top=1)
    assert outcome.status is status
    assert made
    del outcome
    assert not [draft for draft in made if draft() is not None]
