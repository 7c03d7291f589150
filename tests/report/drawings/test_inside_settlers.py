"""A settler from the side: what turns the water down at its inlet, and the cone below its floor, to scale."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from itertools import combinations
from typing import Any

import pytest

from autoplan.outcome import Design, Outcome, SolverReport, Status
from autoplan.problem.brief import PrintUnits
from autoplan.report.contract import json_text
from autoplan.report.drawings.canvas import WIDTH, ident
from autoplan.report.drawings.levels import fall_of
from autoplan.report.drawings.view import DesignView
from autoplan.rules.book import read_rules
from autoplan.verdict.judge import complete, judge
from tests.report.drawings.drawn import Drawn, drawn_of
from tests.report.drawings.read import Picture
from tests.rules.conftest import Plan
from tests.stored import kept, loaded, read

PX = 1.0
DRAIN, WASTE = "tank drain", "settler waste"
CONE_MM, WELL_MM = 200.0, 500.0
TURNED, WELLED, FLAT = "turned down", "in a well", "with nothing inside"
WAYS = (TURNED, WELLED, FLAT)


@cache
def drawn(inlet: str, cone_mm: float = 0.0, units: PrintUnits = PrintUnits.SI) -> Drawn:
    """The kept system with a settler whose inlet and floor are so."""
    held = kept("sludge-to-the-garden")
    site, catalog = read(held["problem"])
    plan = Plan(replace(site, print_units=units), catalog, loaded(held["drawing"]))
    assert plan.drawing.runs[DRAIN].finish.down.pieces == ("elbow-40-90",)
    if inlet != TURNED:
        plan = plan.end(DRAIN, "finish", down=None, inner_chain=("coupling-40",))
    if inlet == WELLED:
        plan = plan.end(DRAIN, "finish", well="well-110", well_m=WELL_MM / 1000)
    if cone_mm:
        tip = site.vessels["settler"].floor_m - cone_mm / 1000
        plan = plan.vessel("settler", cone_m=cone_mm / 1000).end(WASTE, "start", centre_m=tip)
    book = read_rules(plan.site)
    verdict = judge(plan.site, plan.catalog, book, plan.drawing)
    told = complete(plan.site, plan.catalog, book, plan.drawing, verdict)
    design = Design(1, True, 0.0, 0.0, plan.drawing, told)
    report = SolverReport(0.0, 0.0, 0, 1, {})
    outcome = Outcome(Status.PROVEN, plan.site, plan.catalog, (design,), report)
    return drawn_of(json.loads(json_text(outcome)))


class Side:
    """The drawing of levels, heights in it as millimetres above the settler's floor."""

    def __init__(self, seen: Drawn) -> None:
        self.picture: Picture = seen.picture("levels")
        (self.vessel,) = (one for one in seen.design["vessels"] if one["name"] == "settler")
        (self.level,) = (one for one in seen.design["levels"] if one["vessel"] == "settler")
        (self.run,) = (one for one in seen.design["runs"] if one["name"] == DRAIN)
        _, self.rim, _, self.floor = self.picture.span(ident("vessel", "settler"))
        self.scale = (self.floor - self.rim) / self.vessel["depth_mm"]

    @property
    def end(self) -> Mapping[str, Any]:
        """The settler's inlet."""
        found: Mapping[str, Any] = self.run["ends"][1]
        return found

    def y(self, mm: float) -> float:
        """Where a height over the floor is to be drawn [px]."""
        return self.floor - mm * self.scale

    def row(self) -> str:
        """The texts of the drawing after the heading of what is inside, in one; "" where there is none."""
        texts = self.picture.texts
        return " ".join(texts[texts.index("inlet of") :]) if "inlet of" in texts else ""


def test_a_turn_looks_down_to_scale() -> None:
    """From its middle to its mouth are 0.6 bores of 34 mm, and 26 mm of socket by ISO 727."""
    side = Side(drawn(TURNED))
    assert side.end["down"] == "elbow-40-90"
    assert side.end["down_mm"] == pytest.approx(0.6 * 34.0 + 26.0)
    points = side.picture.paths[ident("turned-down", DRAIN)]
    assert points[0][1] == pytest.approx(side.y(side.end["centre_above_floor_mm"]), abs=PX)
    assert points[-1][1] == pytest.approx(side.y(side.end["centre_above_floor_mm"] - 46.4), abs=PX)
    assert points[-1][0] > points[0][0]
    mouth = side.vessel["floor_mm"] + side.end["centre_above_floor_mm"] - 46.4
    under = side.level["water_mm"] - mouth
    assert under > 0.0
    assert f"{mouth:.0f} {under:.0f}" in side.row()


def test_a_well_hangs_from_the_rim_to_scale() -> None:
    """Both its sides go from the rim down by what it is cut to; how far under the water is told."""
    side = Side(drawn(WELLED))
    assert (side.end["well"], side.end["well_mm"], side.end["down"]) == ("well-110", WELL_MM, None)
    for gid in (ident("well", DRAIN), ident("well", DRAIN, "far side")):
        _, top, _, bottom = side.picture.span(gid)
        assert top == pytest.approx(side.rim, abs=PX)
        assert bottom == pytest.approx(side.y(side.vessel["depth_mm"] - WELL_MM), abs=PX)
    near, far = (side.picture.span(ident("well", DRAIN, *more))[2] for more in ((), ("far side",)))
    left, _, right, _ = side.picture.span(ident("vessel", "settler"))
    # Vessels are drawn in no scale across: a well takes three tenths of theirs at most.
    assert far - near == pytest.approx(min(110.0 * side.scale, 0.3 * (right - left)), abs=PX)
    foot = side.vessel["rim_mm"] - WELL_MM
    assert f"{foot:.0f} {side.level['water_mm'] - foot:.0f}" in side.row()
    assert "cut 500 mm long" in side.row()


def test_the_words_tell_the_same() -> None:
    """The text beside the drawing tells the mouth and how far it lies under the running water."""
    for inlet in (TURNED, WELLED):
        alt, side = drawn(inlet).drawings["levels"].alt, Side(drawn(inlet))
        at = (
            side.vessel["depth_mm"] - WELL_MM if inlet == WELLED else side.end["centre_above_floor_mm"] - 46.4
        )
        mouth = side.vessel["floor_mm"] + at
        found = re.search(
            rf"Inside on the end of {DRAIN} in settler, .*; its mouth at (\d+) mm, (\d+) mm under", alt
        )
        assert found is not None
        assert int(found[1]) == pytest.approx(mouth, abs=0.5)
        assert int(found[2]) == pytest.approx(side.level["water_mm"] - mouth, abs=0.5)


def test_a_mouth_over_the_water_is_not_under_it() -> None:
    """With the water a millimetre over the mouth that is told; with it a millimetre lower nothing is."""
    answer = json.loads(json.dumps(drawn(TURNED).answer))
    (level,) = (one for one in answer["designs"][0]["levels"] if one["vessel"] == "settler")
    side = Side(drawn(TURNED))
    mouth = side.vessel["floor_mm"] + side.end["centre_above_floor_mm"] - side.end["down_mm"]
    for over, said in ((1.0, f"{mouth:.0f} 1"), (-1.0, f"{mouth:.0f} -")):
        level["water_mm"] = mouth + over
        seen = drawn_of(answer)
        assert f" {said} " in f"{Side(seen).row()} "
        assert ("1 mm under the running water" in seen.drawings["levels"].alt) is (over > 0.0)


def test_where_a_page_holds_no_more_it_stands_by_itself() -> None:
    """With so many rows that the table would pass the page it is a drawing of its own, with its words."""
    answer = json.loads(json.dumps(drawn(TURNED).answer))
    (design,) = answer["designs"]
    (run,) = (one for one in design["runs"] if one["name"] == DRAIN)
    for count, apart in ((1, False), (12, True)):
        more = [{**run, "name": f"inlet {number}", "class": f"inlet {number}"} for number in range(count)]
        seen = drawn_of({**answer, "designs": [{**design, "runs": [*design["runs"], *more]}]}).drawings
        assert ("levels-inlets" in seen) is apart
        at = "levels-inlets" if apart else "levels"
        assert "inlet of" in Picture(seen[at].svg, at).texts
        for one in more:
            assert f"Inside on the end of {one['name']} in settler" in seen[at].alt
        assert (Picture(seen["levels"].svg, "levels").texts.count("inlet of") == 1) is not apart


def test_where_nothing_is_inside_nothing_is_drawn() -> None:
    """An inlet that ends in a coupling has neither a turn nor a well nor a row of its own."""
    side = Side(drawn(FLAT))
    assert (side.end["down"], side.end["down_mm"], side.end["well"]) == (None, None, None)
    assert not [gid for gid in side.picture.paths if gid.startswith(("turned-down", "well"))]
    assert side.row() == ""


def test_a_cone_is_to_scale() -> None:
    """It goes from both walls down to a tip in the middle, whose height is told once."""
    side = Side(drawn(TURNED, CONE_MM))
    assert side.vessel["cone_mm"] == CONE_MM
    (left, a), (middle, tip), (right, b) = side.picture.paths[ident("cone", "settler")]
    assert [a, b] == pytest.approx([side.floor, side.floor], abs=PX)
    assert tip == pytest.approx(side.y(-CONE_MM), abs=PX)
    assert middle == pytest.approx((left + right) / 2, abs=PX)
    said = f"tip {side.vessel['floor_mm'] - CONE_MM:.0f}"
    assert [text for text in side.picture.texts if text.startswith("tip")] == [said]
    alt = drawn(TURNED, CONE_MM).drawings["levels"].alt
    assert f"tip at {side.vessel['floor_mm'] - CONE_MM:.0f} mm" in alt


def test_waste_leaves_by_the_tip() -> None:
    """The hole of a cone's waste lies in its tip; with a flat floor it is in the wall."""
    side = Side(drawn(TURNED, CONE_MM))
    _, (middle, tip), _ = side.picture.paths[ident("cone", "settler")]
    x, y = side.picture.middle(ident("hole", WASTE, "settler"))
    assert [x, y] == pytest.approx([middle, tip], abs=PX)
    flat = Side(drawn(TURNED))
    assert flat.vessel["cone_mm"] == 0.0
    assert ident("cone", "settler") not in flat.picture.paths
    x, _ = flat.picture.middle(ident("hole", WASTE, "settler"))
    assert x == pytest.approx(flat.picture.span(ident("vessel", "settler"))[2], abs=PX)


def test_waste_falls_to_no_water() -> None:
    """The levels tell from water to water of the settler's drain alone, not of its waste to the garden."""
    seen = drawn(TURNED)
    view, levels = DesignView(seen.answer), {one["vessel"]: one for one in seen.design["levels"]}
    onward, waste = view.runs["settler drain"], view.runs[WASTE]
    assert (onward.start, waste.start) == ("settler", "settler")
    assert fall_of(view, onward) == levels["settler"]["water_mm"] - levels[onward.finish]["water_mm"]
    assert fall_of(view, waste) is None
    assert f"{onward.name}: a fall of" in seen.drawings["levels"].alt
    assert f"{WASTE}: a fall of" not in seen.drawings["levels"].alt


def test_settlers_unlike_inside_are_drawn_each_by_itself() -> None:
    """Two that differ by their cones or their inlets alone are no longer drawn as one."""
    answer = json.loads(json.dumps(drawn(TURNED, CONE_MM).answer))
    alike = {
        DesignView(drawn(inlet, cone_mm).answer).alike("settler")
        for inlet in WAYS
        for cone_mm in (0.0, CONE_MM)
    }
    assert len(alike) == 6
    (vessel,) = (one for one in answer["designs"][0]["vessels"] if one["name"] == "settler")
    vessel["cone_mm"] += 10.0
    assert DesignView(answer).alike("settler") not in alike


@pytest.mark.parametrize("units", PrintUnits)
@pytest.mark.parametrize("cone_mm", [0.0, 20.0, CONE_MM])
@pytest.mark.parametrize("inlet", WAYS)
def test_nothing_lies_on_anything(inlet: str, cone_mm: float, units: PrintUnits) -> None:
    """No text touches another or leaves the sheet, nor is one written across a well or turn."""
    seen = drawn(inlet, cone_mm, units)
    texts = seen.drawings["levels"].canvas.texts()
    boxes = [text.box for text in texts]
    assert all(left >= 0.0 and right <= WIDTH for left, _, right, _ in boxes)
    picture = seen.picture("levels")
    made = [gid for gid in picture.paths if gid.startswith(("turned-down", "well"))]
    assert bool(made) is (inlet != FLAT)
    inside = [picture.span(gid) for gid in made]
    for a, b in [*combinations(boxes, 2), *((one, other) for one in inside for other in boxes)]:
        assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
