"""Where round a rim each pipe that goes over it is held: told, in the JSON, drawn, on the sheet."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from itertools import combinations
from typing import Any

import pytest

from autoplan.catalog.parts import SundryKind
from autoplan.outcome import Outcome
from autoplan.report.contract import json_text
from autoplan.report.contract.built import RimRow
from autoplan.report.contract.reading import read_answer, wrong_in
from autoplan.report.drawings.canvas import TALLEST, WIDTH, ident
from autoplan.report.drawings.ring import angles
from autoplan.report.drawings.tables import ROW_HEIGHT
from autoplan.report.page.sheet import sheet_html
from autoplan.report.render.plain import plain_text
from autoplan.report.sections.around import around
from autoplan.report.sections.drilling import holes
from autoplan.report.sections.rims import HeldAtRim, rims_of
from autoplan.report.units import SI
from tests.report.drawings.drawn import STORED, Drawn, drawn_of
from tests.report.drawings.read import Picture
from tests.stored import kept, stored


@cache
def outcome_of(name: str) -> Outcome:
    """A stored problem's design."""
    return stored(name, str(kept(name)["problem"]))


@cache
def answer_of(name: str) -> Mapping[str, Any]:
    """Its JSON."""
    told: Mapping[str, Any] = json.loads(json_text(outcome_of(name)))
    return told


@cache
def drawn(name: str) -> Drawn:
    """Its drawings."""
    return drawn_of(answer_of(name))


def held(name: str) -> dict[tuple[str, str], HeldAtRim]:
    """What is held at rims, by vessel and run."""
    outcome = outcome_of(name)
    return {(rim.vessel, rim.run): rim for rim in rims_of(outcome, outcome.designs[0])}


def text_of(outcome: Outcome) -> str:
    """The section of holes in one line."""
    return " ".join(plain_text(holes(outcome, outcome.designs[0], SI)).split())


def test_each_end_over_a_rim_leads_towards_something() -> None:
    """Drains into the sump, feeds into tank and bed, and the pump's own line out of it; nothing else."""
    assert {at: rim.around for at, rim in held("small").items()} == {
        ("tank", "tank feed"): "towards split",
        ("bed 1", "bed feed 1"): "towards split",
        ("sump", "tank drain"): "towards tank",
        ("sump", "main"): "towards split",
        ("sump", "bed drain 1"): "towards bed 1",
    }


@pytest.mark.parametrize("name", STORED)
def test_as_many_as_there_are_brackets(name: str) -> None:
    """Each bracket that the rule counts has a place: by size as many as it asks for."""
    outcome, (design,) = outcome_of(name), outcome_of(name).designs
    asked = sum(found.limit for found in design.verdict.findings if found.rule == "rim-bracket")
    rims = rims_of(outcome, design)
    assert len(rims) == asked > 0
    for rim in rims:
        part = outcome.catalog.sundries[rim.bracket or ""]
        outside = outcome.catalog.pipes[design.drawing.runs[rim.run].pipe].outside_m
        assert part.kind is SundryKind.BRACKET
        assert part.least_m <= outside <= part.most_m
        assert rim.bracket_from == "bought"


def test_beside_a_hole_it_keeps_its_distance() -> None:
    """A pipe of 32 mm beside a hole of 64 mm: half of either, and the width of the wider, 112 mm."""
    outcome = outcome_of("two-drains")
    rim = held("two-drains")["sump", "main"]
    drawing = outcome.designs[0].drawing
    assert outcome.catalog.pipes[drawing.runs["main"].pipe].outside_m == pytest.approx(0.032)
    hole = outcome.catalog.penetrations[drawing.runs["overflow"].finish.penetration].hole_m
    assert hole == pytest.approx(0.064)
    assert rim.around == "towards fish tank, beside the hole for overflow"
    assert rim.apart_m == pytest.approx(0.016 + 0.032 + 0.064)


def test_beside_another_pipe_over_the_rim() -> None:
    """Two pipes of 50 and 40 mm that lead one way lie 95 mm from middle to middle; others nowhere near."""
    site = outcome_of("small").site
    second = replace(site.runs["tank drain"], name="second drain")
    site = replace(site, runs={**site.runs, "second drain": second})
    over = [("tank drain", 0.05), ("second drain", 0.04), ("bed drain 1", 0.05)]
    found = around(site, site.vessels["sump"], [], over)
    assert found["second drain"].words == "towards tank, beside that of tank drain"
    assert found["second drain"].apart_m == pytest.approx(0.025 + 0.020 + 0.050)
    assert found["tank drain"].apart_m is None
    assert found["bed drain 1"].apart_m is None


def test_holes_are_placed_as_without_them() -> None:
    """What goes over the rim gives way to holes, whose places stay as they are."""
    site = outcome_of("two-drains").site
    sump, drilled = site.vessels["sump"], [("overflow", 0.064)]
    assert (
        around(site, sump, drilled)["overflow"] == around(site, sump, drilled, [("main", 0.032)])["overflow"]
    )


def test_it_is_told_among_the_holes() -> None:
    """Vessel, run, place, distance and bracket in one line; with what is built later nothing of it."""
    outcome = outcome_of("two-drains")
    said = (
        "sump: the bracket for main sits on the rim towards fish tank, beside the hole for overflow, 112 mm "
        "or more from middle to middle: bracket with clip for a vessel's rim, pipe of 16 to 34 mm."
    )
    assert said in text_of(outcome)
    (design,) = outcome.designs
    runs = {**design.drawing.runs, "main": replace(design.drawing.runs["main"], later=True)}
    later = replace(design, drawing=replace(design.drawing, runs=runs))
    assert "bracket for main" not in text_of(replace(outcome, designs=(later,)))


def test_a_price_list_without_brackets() -> None:
    """The place is told all the same, and that the bracket is one to be made."""
    outcome = outcome_of("small")
    sundries = {
        key: row for key, row in outcome.catalog.sundries.items() if row.kind is not SundryKind.BRACKET
    }
    bare = replace(outcome, catalog=replace(outcome.catalog, sundries=sundries))
    assert {(rim.bracket, rim.bracket_from) for rim in rims_of(bare, bare.designs[0])} == {
        (None, "not on the list")
    }
    assert "the bracket for tank drain sits on the rim towards tank: one to be made." in text_of(bare)


def test_one_that_is_owned() -> None:
    """What the builder has comes before what is bought."""
    outcome = outcome_of("small")
    bracket = held("small")["sump", "main"].bracket or ""
    owner = replace(outcome, site=replace(outcome.site, owned={bracket: 5}))
    (rim,) = (one for one in rims_of(owner, owner.designs[0]) if (one.vessel, one.run) == ("sump", "main"))
    assert (rim.bracket, rim.bracket_from) == (bracket, "owned")


def test_the_json_tells_it() -> None:
    """In millimetres; an older answer has none, and one of a vessel or run of no name is refused."""
    (design,) = answer_of("two-drains")["designs"]
    (found,) = (one for one in design["rims"] if (one["vessel"], one["run"]) == ("sump", "main"))
    assert found == {
        "vessel": "sump",
        "run": "main",
        "bracket": "rim-16-34",
        "bracket_from": "bought",
        "around": "towards fish tank, beside the hole for overflow",
        "apart_mm": 112.0,
    }
    assert found["bracket"] in design["parts"]
    old = json.loads(json.dumps(answer_of("two-drains")))
    del old["designs"][0]["rims"]
    assert read_answer(old).designs[0].rims == ()
    for key in ("vessel", "run"):
        wrong = json.loads(json.dumps(answer_of("two-drains")))
        wrong["designs"][0]["rims"][0][key] = "nowhere"
        assert any(place == f"designs[0].rims[0].{key}" for place, _ in wrong_in(wrong))


# --- drawn -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", STORED)
def test_each_is_drawn_round_its_vessel(name: str) -> None:
    """With its own square on the ring, its letter, its words, and a row with what holds it."""
    design = drawn(name).design
    for rim in design["rims"]:
        vessel = rim["vessel"]
        sheets = [
            sheet
            for sheet in drawn(name).sheets
            if sheet.name.startswith(("drilling", "rim")) and vessel in sheet.alt and rim["run"] in sheet.alt
        ]
        (told,) = [
            sheet for sheet in sheets if f"{rim['run']} goes over the rim {rim['around']}" in sheet.alt
        ]
        if told.about != vessel:
            continue  # of vessels drawn as one the first is drawn
        picture = Picture(told.svg, told.name)
        left, top, right, bottom = picture.span(ident("place", rim["run"], vessel))
        assert right - left == pytest.approx(9.0, abs=0.1)
        assert bottom - top == pytest.approx(9.0, abs=0.1)
        assert any(f" {rim['around']}".startswith(text[1:]) for text in picture.texts if text[1:2] == " ")
        assert design["parts"][rim["bracket"]]["description"].split()[0] in " ".join(picture.texts)


def test_a_vessel_without_holes_has_its_own() -> None:
    """The sump of the small system has nothing to drill and three brackets; the tank has both in one."""
    names = {sheet.name for sheet in drawn("small").sheets}
    assert "rim-sump" in names
    assert "drilling-sump" not in names
    assert "drilling-tank" in names
    assert "rim-tank" not in names
    bare = json.loads(json.dumps(answer_of("small")))
    bare["designs"][0]["rims"] = []
    sheets = drawn_of(bare).sheets
    assert not [sheet for sheet in sheets if sheet.name.startswith("rim")]
    assert not [sheet for sheet in sheets if "goes over the rim" in sheet.alt]


def test_where_a_page_holds_no_more_it_has_its_own() -> None:
    """A tank with four holes and a bracket is one drawing; with a second kind of bracket it is two."""
    assert "rim-fish-tank" not in drawn("two-drains").drawings
    more = json.loads(json.dumps(answer_of("two-drains")))
    (design,) = more["designs"]
    (first,) = (one for one in design["rims"] if one["vessel"] == "fish tank")
    design["rims"].append({**first, "bracket": None})
    seen = drawn_of(more).drawings
    assert "over the rim" not in seen["drilling-fish-tank"].alt
    assert seen["rim-fish-tank"].alt.count("main goes over the rim") == 2
    most = TALLEST + 5 * ROW_HEIGHT
    for sheet in (drawn("two-drains").drawings["drilling-fish-tank"], seen["drilling-fish-tank"]):
        assert sheet.canvas.height <= most


def test_the_sheet_shows_it() -> None:
    """On the page the sump stands among what is to be drilled, with its drawing; without brackets not."""
    answer = answer_of("small")
    page = sheet_html(answer, 1)
    assert 'id="rim-sump"' in page
    assert "the bracket for tank drain sits on the rim towards tank" in page
    bare = json.loads(json.dumps(answer))
    bare["designs"][0]["rims"] = []
    assert 'id="rim-sump"' not in sheet_html(bare, 1)
    assert sheet_html(bare, 1).count('<article class="vessel">') == page.count('<article class="vessel">') - 1


def rim(run: str, towards: str) -> RimRow:
    """A pipe over the rim of a drum."""
    return RimRow(vessel="drum", run=run, bracket=None, bracket_from="bought", around=towards, apart_mm=None)


@pytest.mark.parametrize("count", [1, 4, 7, 12, 24])
def test_none_lies_on_another(count: int) -> None:
    """However many lead to as many places, or all to one, no two are drawn in one place."""
    for ways in (count, 1):
        at = angles([rim(f"drain {number}", f"towards bed {number % ways}") for number in range(count)])
        least = min(0.3, 0.45 * math.tau / count)
        for one, other in combinations(at, 2):
            assert abs(math.remainder(one - other, math.tau)) >= least - 1e-6


@pytest.mark.parametrize("name", STORED)
def test_no_text_lies_on_another(name: str) -> None:
    """No two texts of a drawing with brackets touch, and none leaves it."""
    sheets = [sheet for sheet in drawn(name).sheets if "over the rim" in sheet.alt]
    assert sheets
    for sheet in sheets:
        boxes = [text.box for text in sheet.canvas.texts()]
        assert all(left >= 0.0 and right <= WIDTH for left, _, right, _ in boxes)
        for a, b in combinations(boxes, 2):
            assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
