"""Answers that know less: no hours, no curves, no saw, parts that the price list does not have."""

from __future__ import annotations

import json
from itertools import combinations

from autoplan.outcome import Outcome
from autoplan.report.contract import json_text
from autoplan.report.drawings import sheets
from tests.report.drawings.drawn import answer_of


def test_what_is_not_known_is_left_out(outcome: Outcome) -> None:
    """Without hours and curves there is no drawing of them, and levels at rest are left out of the others."""
    made = {sheet.name: sheet for sheet in sheets(json.loads(json_text(outcome)))}
    kinds = {name.split("-")[0] for name in made}
    assert kinds == {"levels", "plan", "drilling", "parts", "sticks", "roll"}
    named = {thing.gid for thing in made["levels"].canvas.things}
    assert "level-sump-running" in named
    assert "level-sump-rest" not in named
    for sheet in made.values():
        for one, other in combinations([text.box for text in sheet.canvas.texts()], 2):
            apart = one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]
            assert apart, sheet.name


def test_any_rank_can_be_drawn(outcome: Outcome) -> None:
    """The second design is drawn as the first is."""
    answer = json.loads(json_text(outcome))
    assert [sheet.name for sheet in sheets(answer, 2)] == [sheet.name for sheet in sheets(answer)]


def test_units_asked_for_come_first() -> None:
    """Units given win over those that the answer asks for."""
    from autoplan.report.units import US

    made = sheets({**answer_of("small")}, 1, US)
    assert any(" in " in sheet.alt for sheet in made)
    levels = next(sheet for sheet in made if sheet.name.startswith("levels"))
    assert "inches" in levels.alt
