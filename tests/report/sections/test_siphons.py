"""Bell siphons as a builder and a program read them."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import pytest

from autoplan.catalog.parts import SiphonKind, SiphonPart, Way
from autoplan.fittings.floor import BellSiphon, ThroughFloor
from autoplan.outcome import Finding, Outcome, SiphonFacts
from autoplan.places import InVessel
from autoplan.report.contract import json_text
from autoplan.report.render.plain import plain_text
from autoplan.report.sections.siphons import siphons
from autoplan.report.units import SI, US, Units

LITRE_H = 1 / 3.6e6
PARTS = (
    SiphonPart("bell-75", "bell of pipe 75 mm", (), "invented", "", SiphonKind.BELL, 0.07, 0.075, 1.0),
    SiphonPart("guard-110", "slotted guard 110 mm", (), "invented", "", SiphonKind.GUARD, 0.1, 0.11, 1.0),
)
FACTS = SiphonFacts(
    "fish tank", 0.0212, 200 * LITRE_H, 160 * LITRE_H, 1900 * LITRE_H, 1600 * LITRE_H, 1620.0, 210.0, 1 / 1830
)


@pytest.fixture
def flooding(outcome: Outcome) -> Outcome:
    """The handmade outcome with a siphon on the tank's drain: lip at 0.75 m over a floor at 0.5 m."""
    first = outcome.designs[0]
    drain = first.drawing.runs["tank drain"]
    hole = ThroughFloor("fish tank", way=Way.SEAL, penetration="seal-50", centre_m=0.5, standpipe_top_m=0.75)
    start = replace(hole, siphon=BellSiphon("bell-75", "guard-110", None, None, 0.025))
    runs = {**first.drawing.runs, "tank drain": drain.with_ends(start, drain.finish)}
    verdict = replace(first.verdict, siphons={"tank drain": FACTS})
    catalog = replace(outcome.catalog, siphons={part.id: part for part in PARTS})
    design = replace(first, drawing=replace(first.drawing, runs=runs), verdict=verdict)
    return replace(outcome, catalog=catalog, designs=(design,))


def test_a_siphon_is_told_with_its_heights(flooding: Outcome) -> None:
    """Figures in a row: 1 620 s is 27 min, 210 s 3.5 min, together 1.97 floods an hour; then its parts."""
    text = " ".join(plain_text(siphons(flooding, flooding.designs[0], SI)).split())
    assert "fish tank 21.2 160 200 1900 to 1600 27 3.5 2.0" in text
    assert "standpipe of drain pipe 50 mm, 3 m, its lip 250.0 mm above the floor" in text
    assert "; bell with cut-outs up to 25.0 mm (bell of pipe 75 mm); " in text
    assert "guard (slotted guard 110 mm); not on the price list and not counted: air tube." in text
    assert "air tube from" not in text


@pytest.mark.parametrize(
    ("units", "bell", "guard"),
    # 275 mm are 10.83 in, rounded up to 10 14/16; 274.96 mm are rounded up to tenths.
    [(SI, "275.0 mm", "275.0 mm"), (US, "10-7/8 in", "10-7/8 in")],
)
def test_bell_and_guard_are_made_high_enough(flooding: Outcome, units: Units, bell: str, guard: str) -> None:
    """What they must be at least, as the rule found it, rounded up."""
    first = flooding.designs[0]
    heights = {"bell": 275.0, "guard": 274.96}
    findings = tuple(
        Finding(
            *("bell-fit", "They fit.", InVessel("fish tank", f"height of the {what}")),
            *(400.0, least, 400.0 - least, "mm", True, True, "from memory"),
        )
        for what, least in heights.items()
    )
    design = replace(first, verdict=replace(first.verdict, findings=findings))
    text = " ".join(plain_text(siphons(flooding, design, units)).split())
    assert f"bell at least {bell} high inside with cut-outs" in text
    assert f"guard at least {guard} high (slotted guard 110 mm)" in text


def test_nothing_is_said_without_siphons(outcome: Outcome) -> None:
    """No heading over nothing."""
    assert not list(siphons(outcome, outcome.designs[0], SI))


@pytest.mark.parametrize(("emptying", "minutes"), [(210.0, 3.5), (math.inf, None)])
def test_a_siphon_in_json(flooding: Outcome, emptying: float, minutes: float | None) -> None:
    """Flows in L/h, times in minutes; one that never breaks has no time to empty in."""
    first = flooding.designs[0]
    facts = replace(FACTS, emptying_s=emptying)
    changed = replace(first, verdict=replace(first.verdict, siphons={"tank drain": facts}))
    design = json.loads(json_text(replace(flooding, designs=(changed,))))["designs"][0]
    (siphon,) = design["siphons"]
    assert siphon["bed"] == "fish tank"
    assert siphon["inflow_l_h"] == pytest.approx(200)
    assert siphon["starts_from_l_h"] == pytest.approx(160)
    assert (siphon["fastest_l_h"], siphon["slowest_l_h"]) == pytest.approx((1900, 1600))
    assert (siphon["filling_min"], siphon["emptying_min"]) == (27, minutes)
    start = next(run for run in design["runs"] if run["name"] == "tank drain")["ends"][0]
    assert start["siphon"] == {
        "bell": "bell-75",
        "guard": "guard-110",
        "snorkel": None,
        "flare": None,
        "cut_out_mm": 25,
    }
