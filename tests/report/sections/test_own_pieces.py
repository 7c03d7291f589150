"""Pieces of pipe that the builder has, in the cutting list and in JSON."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from autoplan.outcome import Outcome
from autoplan.report.blocks import Para
from autoplan.report.contract import json_text
from autoplan.report.sections.cutting import cuts, sticks
from autoplan.report.units import SI


@pytest.mark.parametrize("owned", [True, False])
def test_a_stick_of_ones_own_is_told_from_one_bought(outcome: Outcome, owned: bool) -> None:
    """It is called so where it stands in the list, a line says what that means, and JSON says so too."""
    first = outcome.designs[0]
    drawn = [replace(cut, owned=owned) for cut in first.drawing.cuts]
    design = replace(first, drawing=replace(first.drawing, cuts=tuple(drawn)))
    changed = replace(outcome, designs=(design, *outcome.designs[1:]))
    listed = [stick for stick in sticks(changed, design, SI.piece) if stick.number is not None]
    assert [stick.owned for stick in listed] == [owned] * len(drawn)
    said = [block for block in cuts(changed, design, SI) if isinstance(block, Para)]
    assert any("one of those you have" in str(block) for block in said) is owned
    data = json.loads(json_text(changed))["designs"][0]["cuts"]
    assert [cut["owned"] for cut in data] == [owned] * len(drawn)
