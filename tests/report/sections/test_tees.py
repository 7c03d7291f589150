"""Where on the plan beds' drains come to the collector that they share, by hand and as it is drawn."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from itertools import combinations
from pathlib import Path
from typing import Any

import pytest

from autoplan.problem.site import OnPlan, Site, Spot
from autoplan.problem.toml.load import load_problem
from autoplan.problem.toml.write import expand_to_toml
from autoplan.report.contract import json_text
from autoplan.report.drawings.canvas import TALLEST, WIDTH, ident
from autoplan.report.sections.tees import tees_on_plan
from autoplan.report.sections.ways import on_plan
from tests.report.drawings.drawn import Drawn, drawn_of
from tests.report.sections.test_collector import outcome

ROW = """
[tank]
volume = "1000 L"
at = ["1 m", "6 m"]
[beds]
count = 3
area = "1 m2"
floor = "700 mm"
at = ["2.5 m", "0 m"]
step = ["2 m", "0 m"]
{beds}
[sump]
volume = "800 L"
floor = "-600 mm"
at = ["1 m", "{sump}"]
[distances]
{distances}
"""

BED_HALF_MM, DRAIN_MM = 506.0, 200.0
"""Half a bed of 1 m2 with its wall of 6 mm; from a bed to its collector where nothing is said."""


def site(folder: Path, beds: str = 'bed_drains = "shared"', sump: str = "2.5 m", distances: str = "") -> Site:
    """Three beds in a row along the plan, 2 m from each other, and a sump beside them."""
    path = folder / "problem.toml"
    path.write_text(ROW.format(beds=beds, sump=sump, distances=distances), encoding="utf-8")
    return load_problem(path).outline


def collected(of: Site) -> dict[str, tuple[int, int]]:
    """The places of the collector's tees [mm]."""
    return {
        name: (round(1000 * at.real), round(1000 * at.imag))
        for name, at in tees_on_plan(of).items()
        if name.startswith("collector")
    }


@pytest.mark.parametrize(("sump", "across"), [("2.5 m", 706), ("-2.5 m", -706), ("0 m", 706)])
def test_beside_the_beds_on_the_side_of_the_sump(tmp_path: Path, sump: str, across: int) -> None:
    """506 mm from a bed's middle to its wall and 200 mm of drain, before the middle of each bed."""
    assert BED_HALF_MM + DRAIN_MM == 706.0
    assert collected(site(tmp_path, sump=sump)) == {
        "collector tee 1": (2500, across),
        "collector tee 2": (4500, across),
        "collector head": (6500, across),
    }


def test_as_far_as_the_drains_are_long(tmp_path: Path) -> None:
    """With drains of 350 mm the collector lies 150 mm further from the beds."""
    found = collected(site(tmp_path, distances='bed_to_collector = "350 mm"'))
    assert {across for _, across in found.values()} == {856}


def test_a_row_that_goes_askew(tmp_path: Path) -> None:
    """Beds turned with their row of 1.2 m along and 1.6 m across: square to it, which goes to the right."""
    beds = 'bed_drains = "shared"\nfacing = 53.13010235'
    text = ROW.format(beds=beds, sump="-3 m", distances="").replace('["2 m", "0 m"]', '["1.2 m", "1.6 m"]')
    path = tmp_path / "problem.toml"
    path.write_text(text, encoding="utf-8")
    # (1.2, 1.6) / 2 turned by a right angle to the right: (0.8, -0.6).
    first = (round(2500 + 706 * 0.8), round(-706 * 0.6))
    assert collected(load_problem(path).outline) == {
        "collector tee 1": first,
        "collector tee 2": (first[0] + 1200, first[1] + 1600),
        "collector head": (first[0] + 2400, first[1] + 3200),
    }


@pytest.mark.parametrize(("between", "known"), [("2 m", True), ("2000.9 mm", True), ("2001.1 mm", False)])
def test_both_sides_of_as_long_as_that(tmp_path: Path, between: str, known: bool) -> None:
    """A collector a millimetre longer than from tee to tee goes another way, and nothing is known of it."""
    found = collected(site(tmp_path, distances=f'between_beds = "{between}"'))
    assert bool(found) is known


def test_nothing_is_known_of_it(tmp_path: Path) -> None:
    """Without a place of the sump, or of the beds; nor are there tees where each bed drains by itself."""
    there = site(tmp_path)
    for name in ("sump", "bed 2"):
        vessels = {**there.vessels, name: replace(there.vessels[name], spot=None)}
        assert collected(replace(there, vessels=vessels)) == {}
    corner = replace(there.runs["bed drain 2"], plan=OnPlan((0.1, 0.1), (90,)))
    assert collected(replace(there, runs={**there.runs, "bed drain 2": corner})) == {}
    each = site(tmp_path, 'bed_drains = "each"')
    assert collected(each) == {}
    # The tees of the pump's lines are where the problem has them, as before.
    assert {"bed tee 1", "bed tee 2"} <= tees_on_plan(there).keys() & tees_on_plan(each).keys()


def test_the_long_form_says_the_same(tmp_path: Path) -> None:
    """Written out with its drains and junctions by name it has its tees where the short form has them."""
    path = tmp_path / "long.toml"
    path.write_text(expand_to_toml(site(tmp_path)), encoding="utf-8")
    assert collected(load_problem(path).outline) == collected(site(tmp_path)) != {}


def test_legs_lead_from_tee_to_tee(tmp_path: Path) -> None:
    """Each bed's drain goes from its wall to its tee, each pipe of the collector from one to the next."""
    there = site(tmp_path)
    tees = collected(there)
    for name, run in there.runs.items():
        spots = [(round(1000 * at.real), round(1000 * at.imag)) for at in on_plan(there, run)]
        if name.startswith("bed drain"):
            (x, y) = tees[run.finish]
            assert spots == [(x, y - 200), (x, y)]
        elif run.start in tees and run.finish in tees:
            assert spots == [tees[run.start], tees[run.finish]]


# --- drawn -----------------------------------------------------------------------------------------------


@cache
def answer() -> Mapping[str, Any]:
    """Two beds of 0.3 m2, 1.2 m apart, drains of 0.5 m, the sump across from them, as the JSON tells it."""
    found = outcome()
    places = {"sump": Spot(0.0, 3.0), "bed 1": Spot(1.0, 0.0), "bed 2": Spot(2.2, 0.0)}
    vessels = {name: replace(one, spot=places[name]) for name, one in found.site.vessels.items()}
    runs = {name: replace(run, plan=OnPlan(run.legs_m)) for name, run in found.site.runs.items()}
    told: Mapping[str, Any] = json.loads(
        json_text(replace(found, site=replace(found.site, vessels=vessels, runs=runs)))
    )
    return told


def drawn() -> Drawn:
    """That answer drawn."""
    return drawn_of(answer())


ACROSS_MM = 1000 * math.sqrt(0.3) / 2 + 6 + 500


def test_the_json_has_their_places() -> None:
    """Of the collector's tees along and across [mm]; nothing of the pump's split that has no place."""
    (design,) = answer()["designs"]
    places = {one["junction"]: (one["x_mm"], one["y_mm"]) for one in design["junctions"]}
    assert places == {
        "split": (None, None),
        "top": (pytest.approx(2200.0), pytest.approx(ACROSS_MM)),
        "low": (pytest.approx(1000.0), pytest.approx(ACROSS_MM)),
    }


def test_tees_are_drawn_to_scale_with_their_names() -> None:
    """Each stands as far from its bed and from the next as it is told; the table has its name and place."""
    picture = drawn().picture("site")
    left, _, right, _ = picture.span("bar")
    scale = (right - left) / 1000.0
    top, low = (picture.middle(ident("tee", name)) for name in ("top", "low"))
    assert top[0] - low[0] == pytest.approx(1200 * scale, abs=1.0)
    assert top[1] == pytest.approx(low[1], abs=1.0)
    for bed, tee in (("bed 1", low), ("bed 2", top)):
        x, y = picture.middle(ident("stands", bed))
        assert x == pytest.approx(tee[0], abs=1.0)
        # Across is up.
        assert y - tee[1] == pytest.approx(ACROSS_MM * scale, abs=1.0)
    for name, along in (("top", "2200"), ("low", "1000")):
        at = picture.texts.index(name)
        assert picture.texts[at + 1 : at + 3] == [along, f"{ACROSS_MM:.0f}"]
        letter = picture.texts[at - 1]
        assert picture.texts.count(letter) == 2
    assert "top: its middle 2200 along" in drawn().drawings["site"].alt
    assert "split" not in picture.texts


def test_without_their_places_no_tee_is_drawn() -> None:
    """An answer of before they were told is drawn as ever."""
    old = json.loads(json.dumps(answer()))
    for one in old["designs"][0]["junctions"]:
        one.pop("x_mm")
        one.pop("y_mm")
    picture = drawn_of(old).picture("site")
    assert not [gid for gid in picture.paths if gid.startswith("tee")]
    assert ident("stands", "bed 1") in picture.paths


@pytest.mark.parametrize("tees", [2, 40])
def test_no_text_lies_on_another(tees: int) -> None:
    """Few tees or many, up to the edges of the sheet: none of its letters touch, and all rows are there."""
    many = json.loads(json.dumps(answer()))
    (design,) = many["designs"]
    some = [
        {"junction": f"tee {number}", "tee": None, "ports": [], "x_mm": 90.0 * number, "y_mm": 30.0 * number}
        for number in range(tees)
    ]
    design["junctions"] += some
    sheets = [sheet for sheet in drawn_of(many).sheets if sheet.name.split("-")[0] == "site"]
    assert (len(sheets) > 1) is (tees > 2)
    for sheet in sheets:
        assert sheet.canvas.height <= TALLEST + 20.0
        boxes = [text.box for text in sheet.canvas.texts()]
        assert all(left >= 0.0 and right <= WIDTH for left, _, right, _ in boxes)
        for a, b in combinations(boxes, 2):
            assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
    texts = [text.text for sheet in sheets for text in sheet.canvas.texts()]
    assert all(texts.count(one["junction"]) == 1 for one in some)
