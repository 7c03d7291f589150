"""What a spare pump takes is told with what is bought, at its price, and is not part of the order."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from autoplan.outcome import Outcome
from autoplan.report.contract import outcome_json
from autoplan.report.render.plain import plain_text
from autoplan.report.sections.contents import sections
from autoplan.report.sections.spare_pump import MOST, spare_pump_texts
from autoplan.report.units import SI
from tests.stored import stored

PROBLEM = Path(__file__).parents[3] / "problems" / "four-beds.toml"


def demo() -> Outcome:
    """The demo's cheapest design."""
    return stored("four-beds", PROBLEM.read_text(encoding="utf-8"))


def test_told_with_what_is_bought() -> None:
    """Each sentence stands under the purchase list and in the JSON, and none speaks of the outlet in use."""
    outcome = demo()
    (design,) = outcome.designs
    texts = spare_pump_texts(outcome, design)
    assert 0 < len(texts) <= MOST
    shown = " ".join(plain_text(sections(outcome, SI, ("buy",))).split())
    assert "For a spare pump" in shown
    there = str(outcome.catalog.pumps[design.drawing.pumps["sump"].part].outlet)
    for text in texts:
        assert text in shown
        assert f"outlet {there}," not in text
        assert f"{design.verdict.cost.currency} more; not in the order." in text
    answer = outcome_json(outcome)
    assert answer["designs"][0]["told"]["spare-pump"] == list(texts)  # type: ignore[index, call-overload]


def test_what_is_in_the_drawer_is_said() -> None:
    """A half that is owned is told as such; where no other pump would do, nothing is said."""
    outcome = demo()
    (design,) = outcome.designs
    adaptors = dict.fromkeys((*outcome.catalog.adaptors, *outcome.catalog.pipes), 1)
    owning = replace(outcome, site=replace(outcome.site, owned=adaptors))
    assert all("which you have" in text for text in spare_pump_texts(owning, design))
    alone = {pump.part: outcome.catalog.pumps[pump.part] for pump in design.drawing.pumps.values()}
    bare = replace(outcome, catalog=replace(outcome.catalog, pumps=alone))
    assert not spare_pump_texts(bare, design)
    assert "For a spare pump" not in plain_text(sections(bare, SI, ("buy",)))
