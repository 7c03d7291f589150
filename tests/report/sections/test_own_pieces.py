"""What the builder has: pieces of pipe in the cutting list, parts below the order."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from autoplan.outcome import Outcome
from autoplan.report.blocks import Para
from autoplan.report.contract import json_text
from autoplan.report.page.sheet import sheet_html
from autoplan.report.sections.cutting import cuts, sticks
from autoplan.report.sections.order import purchase
from autoplan.report.units import SI
from tests.stored import kept, stored


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


def owning(bought: dict[str, int], owned: dict[str, int]) -> Outcome:
    """A stored outcome whose builder has parts, and an order that buys so many of some parts."""
    outcome = stored("small", str(kept("small")["problem"]))
    first = outcome.designs[0]
    lines = [
        replace(
            line,
            packs=bought.get(line.part, line.packs),
            quantity=float(bought.get(line.part, line.quantity)),
        )
        for line in first.drawing.purchases
    ]
    drawing = replace(first.drawing, purchases=tuple(line for line in lines if line.packs))
    site = replace(outcome.site, owned=owned)
    return replace(outcome, site=site, designs=(replace(first, drawing=drawing),))


def test_parts_of_ones_own_are_told_below_the_order() -> None:
    """Of five elbows two are bought and three at hand; the pump is; what no run takes is not told."""
    outcome = owning({"elbow-32-90": 2, "pump-3600": 0}, {"elbow-32-90": 4, "pump-3600": 1, "tee-63": 2})
    elbow, pump = (outcome.catalog.part(part).description for part in ("elbow-32-90", "pump-3600"))
    said = [str(block) for block in purchase(outcome, outcome.designs[0], SI) if isinstance(block, Para)]
    (line,) = [block for block in said if "Used of what you have" in block]
    assert f"Used of what you have: 3 x {elbow}; {pump}." in line
    answer = json.loads(json_text(outcome))
    mine = {row["part"]: row for row in answer["designs"][0]["purchase"] if not row["packs"]}
    assert {part: row["quantity"] for part, row in mine.items()} == {"elbow-32-90": 3.0, "pump-3600": 1.0}
    assert {(row["shop"], row["line_cost"]) for row in mine.values()} == {(None, 0.0)}
    assert "Used of what you have" in sheet_html(answer, drawn=())


def test_who_has_nothing_is_told_of_nothing() -> None:
    """All bought: no such line, no row, no table on the page."""
    outcome = owning({}, {})
    said = [str(block) for block in purchase(outcome, outcome.designs[0], SI)]
    assert not any("what you have" in block for block in said)
    answer = json.loads(json_text(outcome))
    assert all(row["packs"] for row in answer["designs"][0]["purchase"])
    assert "Used of what you have" not in sheet_html(answer, drawn=())
