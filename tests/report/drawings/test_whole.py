"""Drawings are whole and can be read: everything has its place, and no text lies on another."""

from __future__ import annotations

import math
import re
from itertools import combinations

import pytest

from autoplan.problem.brief import PrintUnits
from autoplan.report.drawings.canvas import TALLEST, WIDTH
from autoplan.report.drawings.tables import ROW_HEIGHT
from tests.report.drawings.drawn import STORED, Drawn, drawing_of

SMALLEST_TEXT = 9.0
"""Least size of text on a sheet as wide as a phone's screen [px]."""


@pytest.fixture(params=[*((name, PrintUnits.SI) for name in STORED), ("small", PrintUnits.US)], ids=str)
def either(request: pytest.FixtureRequest) -> Drawn:
    """Each answer, and one in US units too."""
    return drawing_of(*request.param)


def test_no_text_lies_on_another(either: Drawn) -> None:
    """No two lines of text of a sheet touch, none leaves the sheet, none is small."""
    for sheet in either.sheets:
        texts = sheet.canvas.texts()
        assert texts
        for text in texts:
            left, top, right, bottom = text.box
            assert left >= 0.0, text.text
            assert right <= WIDTH, text.text
            assert top >= 0.0, text.text
            assert bottom <= sheet.canvas.height, text.text
            assert text.size >= SMALLEST_TEXT
        for one, other in combinations(texts, 2):
            a, b = one.box, other.box
            apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
            assert apart, f"{sheet.name}: {one.text!r} on {other.text!r}"


def test_sheets_fit_a_page(either: Drawn) -> None:
    """No sheet is much higher than a page of A4 at its width."""
    for sheet in either.sheets:
        assert sheet.canvas.height <= TALLEST + 5 * ROW_HEIGHT, sheet.name


def test_every_vessel_run_and_hole_is_told(either: Drawn) -> None:
    """Each vessel and run stands in the words for the levels or the plan, each hole in its vessel's."""
    design = either.design
    alts = {name: drawing.alt for name, drawing in either.drawings.items()}
    levels = " ".join(alt for name, alt in alts.items() if name.startswith("levels"))
    plan = " ".join(alt for name, alt in alts.items() if name.startswith("plan"))
    drilling = " ".join(alt for name, alt in alts.items() if name.startswith("drilling"))
    for vessel in design["vessels"]:
        assert vessel["name"] in levels
    for run in design["runs"]:
        assert f"{run['name']}: " in plan
    for hole in design["holes"]:
        assert re.search(rf"a hole of [^.]*?(\.\d+[^.]*?)? for {re.escape(hole['run'])}, ", drilling)


def test_every_run_stands_in_the_plan_with_its_length(either: Drawn) -> None:
    """The plan's rows give each run its level distances and corners, a measured one its length."""
    texts = [
        text for name in either.drawings if name.startswith("plan") for text in either.picture(name).texts
    ]
    said, imperial = " ".join(texts), either.answer["units"] == "us"
    for run in either.design["runs"]:
        assert run["name"] in texts
        told = f"{run['length_m'] * 1000:.0f} mm"
        if run["level_mm"]:
            told = ", corner, ".join(f"{level:.0f}" for level in run["level_mm"])
        assert (f" {told} " in f" {said} ") is not imperial


def test_every_part_and_cut_is_in_its_row(drawn: Drawn) -> None:
    """A run's row shows a symbol for each thing of its line, and each piece with its whole millimetres."""
    for run in drawn.design["runs"]:
        own = [d for d in drawn.drawings.values() if d.name.startswith("parts") and run["name"] in d.alt]
        if not run["line"]:
            continue
        assert own, run["name"]
        alt = " ".join(drawing.alt for drawing in own)
        for item in run["line"]:
            if item["length_mm"] is None:
                assert f"({item['part']})" in alt
            else:
                # Half a millimetre may go either way.
                marks = {math.floor(item["length_mm"] + 0.5), math.ceil(item["length_mm"] - 0.5)}
                assert any(f"cut {mark} mm" in alt for mark in marks)


def test_heights_in_inches() -> None:
    """With US units no millimetre is left in what the drawings say of lengths, and marks are sixteenths."""
    us = drawing_of("small", PrintUnits.US)
    for drawing, said in us.drawings.items():
        if drawing.split("-")[0] in ("levels", "plan", "hours"):
            assert not re.search(r"\d mm\b", " ".join(us.picture(drawing).texts)), drawing
            assert re.search(r"\d (in|ft)\b", said.alt)
    # The sump's floor is 550 mm under the datum: 550 / 25.4 = 21.654 in, to the nearest 1/16 21-5/8.
    (floor,) = [level["floor_mm"] for level in us.design["levels"] if level["vessel"] == "sump"]
    alts = " ".join(said.alt for drawing, said in us.drawings.items() if drawing.startswith("levels"))
    assert floor == -550.0
    assert "sump: floor at -21-5/8 in" in alts
    assert "-21-5/8" in us.picture("levels").texts


def test_what_belongs_to_what(drawn: Drawn) -> None:
    """Each drawing names the vessel or run that it is about, or nothing."""
    known = {v["name"] for v in drawn.design["vessels"]} | {r["name"] for r in drawn.design["runs"]}
    for name, drawing in drawn.drawings.items():
        whole = name.split("-")[0] in ("levels", "plan", "sticks", "roll")
        assert drawing.about is None if whole else drawing.about in known


def test_standpipes_and_pumps_have_their_drawings(drawn: Drawn) -> None:
    """There is a drawing of each pump, of its vessel's water, and of each kind of standpipe."""
    for pump in drawn.design["pumps"]:
        assert f"pump-{pump['vessel'].replace(' ', '-')}" in drawn.drawings
        assert f"hours-{pump['vessel'].replace(' ', '-')}-power-cut" in drawn.drawings
    assert any(name.startswith("standpipe") for name in drawn.drawings)
