"""Beds with a weep hole as a builder and a program read them."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import pytest

from autoplan.bed_facts import WeepFacts
from autoplan.outcome import Outcome
from autoplan.report.contract import json_text
from autoplan.report.render.plain import plain_text
from autoplan.report.sections.weeps import weeps
from autoplan.report.units import SI
from tests.report.drilled import GUARD, runs_with_a_hole

LITRE_H = 1 / 3.6e6
FACTS = WeepFacts("fish tank", 324 * LITRE_H, 124 * LITRE_H, 1230.0, 4296.0)


@pytest.fixture
def weeping(outcome: Outcome) -> Outcome:
    """The handmade outcome with a drilled standpipe on the tank's drain: its lip 250 mm up."""
    first = outcome.designs[0]
    runs = runs_with_a_hole(first, 0.006)
    verdict = replace(first.verdict, weeps={"fish tank": FACTS})
    design = replace(first, drawing=replace(first.drawing, runs=runs), verdict=verdict)
    return replace(outcome, catalog=replace(outcome.catalog, siphons={GUARD.id: GUARD}), designs=(design,))


def test_a_bed_is_told_with_its_hole(weeping: Outcome) -> None:
    """1230 s to fill are 20.5 min and 4296 to empty 71.6; then how it is made."""
    text = " ".join(plain_text(weeps(weeping, weeping.designs[0], SI)).split())
    assert "fish tank 324 124 20.5 71.6" in text
    assert "fills in 20.5 min with the pump on, empties in 71.6 with it off; standpipe of" in text
    assert "its lip 250.0 mm above the floor; weep hole 6 mm, its centre 40.0 mm above the floor" in text
    assert "guard round it (slotted guard 110 mm)." in text


def test_nothing_is_said_without_such_beds(outcome: Outcome) -> None:
    """No heading over nothing."""
    assert not list(weeps(outcome, outcome.designs[0], SI))


@pytest.mark.parametrize(("filling", "minutes"), [(1230.0, 20.5), (math.inf, None)])
def test_a_weep_hole_in_json(weeping: Outcome, filling: float, minutes: float | None) -> None:
    """Flows in L/h, times in minutes; a bed that never comes to its lip has no time to do so in."""
    first = weeping.designs[0]
    verdict = replace(first.verdict, weeps={"fish tank": replace(FACTS, filling_s=filling)})
    answer = json.loads(json_text(replace(weeping, designs=(replace(first, verdict=verdict),))))
    (found,) = answer["designs"][0]["weeps"]
    assert found["bed"] == "fish tank"
    assert (found["inflow_l_h"], found["leak_l_h"]) == pytest.approx((324.0, 124.0))
    assert found["emptying_min"] == pytest.approx(71.6)
    assert found["filling_min"] == (None if minutes is None else pytest.approx(minutes))
    assert any("weep hole 6 mm" in sentence for sentence in answer["designs"][0]["told"]["weeps"])
