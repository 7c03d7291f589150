"""Siphon pipes outside beds as a builder and a program read them."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import combinations
from typing import Any

import pytest

from autoplan.fittings.outside import OutsideSiphon
from autoplan.outcome import Outcome
from autoplan.report.contract import json_text
from autoplan.report.drawings import sheets
from autoplan.report.drawings.canvas import TALLEST, WIDTH, ident
from autoplan.report.page.sheet import sheet_html
from autoplan.report.render.plain import plain_text
from autoplan.report.sections.build_order import order_of_work
from autoplan.report.sections.filling import filling
from autoplan.report.sections.siphons import siphons
from autoplan.report.sections.upkeep import upkeep
from autoplan.report.units import SI, whole_marks
from tests.lines import ended
from tests.outside import DRAIN, answer
from tests.report.drawings.read import Picture


def told(blocks: Any) -> str:
    """Blocks as one line of text."""
    return " ".join(plain_text(blocks).split())


@pytest.fixture(scope="module")
def outcome() -> Outcome:
    """The cheapest design."""
    return answer()


@pytest.fixture(scope="module")
def written(outcome: Outcome) -> dict[str, Any]:
    """Its JSON."""
    found: dict[str, Any] = json.loads(json_text(outcome))
    return found


def start(outcome: Outcome) -> OutsideSiphon:
    """How its drain begins."""
    begun = outcome.designs[0].drawing.runs[DRAIN].outside
    assert begun is not None
    return begun


def test_it_is_told_with_its_heights(outcome: Outcome) -> None:
    """Hole 44 mm over the floor, crest as cut, tube 70 mm; no bell and no standpipe."""
    text = told(siphons(outcome, outcome.designs[0], whole_marks(SI)))
    lip = start(outcome).lip_m
    assert lip is not None
    high = (lip - 0.550) * 1000
    assert text.startswith("Siphon pipes outside")
    assert "through the wall 44 mm above the floor, up outside and over a crest" in text
    assert f"whose bore begins {high:.0f} mm above it (middle of the pipe {high + 10.6:.0f} mm)" in text
    assert "its open end in the bed 70 mm above the floor" in text
    assert "bell siphon" not in text.lower()
    assert "standpipe" not in text


def test_a_tube_that_no_list_has_is_told(outcome: Outcome) -> None:
    """It is not counted, and the builder hears where it goes."""
    design = outcome.designs[0]
    line = ended(design.drawing.runs[DRAIN], "start", air_tube=None)
    drawing = replace(design.drawing, runs={**design.drawing.runs, DRAIN: line})
    text = told(siphons(outcome, replace(design, drawing=drawing), whole_marks(SI)))
    assert "not on the price list and not counted: air tube from the crest over the rim" in text


def test_work_and_upkeep(outcome: Outcome) -> None:
    """It runs before the media go in; its buried screen is no screen to brush every week."""
    design = outcome.designs[0]
    text = told(order_of_work(outcome, design, SI))
    assert (
        "bed 1: the screen on the siphon pipe's inner end, its air tube at the crest and over the rim" in text
    )
    care = told(upkeep(outcome, design))
    assert "every 3 months dig the screen of the siphon pipe outside free" in care
    assert "brush the screen " not in care
    assert "under mouths of the siphons' air tubes" in told(filling(outcome, design, SI))


def test_its_json(outcome: Outcome, written: dict[str, Any]) -> None:
    """An end of its own with lip, tube and its mouth; elsewhere there is none."""
    runs = {run["name"]: run for run in written["designs"][0]["runs"]}
    begun, finish = runs[DRAIN]["ends"]
    lip = start(outcome).lip_m
    assert lip is not None
    assert begun["outside_siphon"] == {
        "lip_above_floor_mm": pytest.approx((lip - 0.550) * 1000),
        "air_tube": "snorkel-6",
        "air_above_floor_mm": pytest.approx(70.0),
    }
    assert (begun["in_floor"], begun["siphon"]) == (False, None)
    assert all(end["outside_siphon"] is None for end in (finish, *runs["tank drain"]["ends"]))
    assert "snorkel-6" in written["designs"][0]["parts"]


def test_it_is_drawn_to_scale(written: dict[str, Any]) -> None:
    """Hole, tube, crest, water and rim stand as high as they are, and no text lies on another."""
    (sheet,) = (one for one in sheets(written) if one.name == "crest-bed-1")
    picture, end = Picture(sheet.svg, sheet.name), written["designs"][0]["runs"]
    (begun,) = (run["ends"][0] for run in end if run["name"] == DRAIN)
    made = begun["outside_siphon"]

    def y(words: str) -> float:
        return picture.y(ident("height", "bed 1", words))

    scale = (y("floor") - y("rim")) / 320.0
    for words, mm in (
        ("middle of the hole", begun["centre_above_floor_mm"]),
        ("mouth of the air tube", made["air_above_floor_mm"]),
        ("bore begins at the crest", made["lip_above_floor_mm"]),
        ("middle of the crest", made["lip_above_floor_mm"] + 10.6),
        ("water, bed full", 250.0),
    ):
        assert y("floor") - y(words) == pytest.approx(mm * scale, abs=1.0)
        assert f"{words} at {mm:.0f} mm above the floor." in sheet.alt
    pipe = picture.paths[ident("siphon-pipe", "bed 1")]
    assert min(at for _, at in pipe) == pytest.approx(y("middle of the crest"), abs=1.0)
    tube = picture.paths[ident("air-tube", "bed 1")]
    assert min(at for _, at in tube) < y("rim")
    assert max(at for _, at in tube) == pytest.approx(y("mouth of the air tube"), abs=1.0)
    texts = sheet.canvas.texts()
    for one in texts:
        assert one.box[0] >= 0.0
        assert one.box[2] <= WIDTH
    for a, b in combinations([one.box for one in texts], 2):
        assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
    assert sheet.canvas.height <= TALLEST


def test_it_is_on_the_sheet(written: dict[str, Any]) -> None:
    """The page has the drawing, the figures and the words."""
    page = sheet_html(written)
    assert "crest-bed-1" in page
    assert "over a crest whose bore begins" in page
