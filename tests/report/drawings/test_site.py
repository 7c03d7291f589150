"""The plan of the site is to scale: middles, walls and runs by the length that is drawn to measure by."""

from __future__ import annotations

import copy
import json
import math
from collections.abc import Mapping
from typing import Any

import pytest

from autoplan.report.drawings.canvas import ident
from tests.report.drawings.drawn import answer_of, drawn_of
from tests.report.drawings.read import Picture

PX = 1.0


def placed(turned: float = 0.0) -> dict[str, Any]:
    """An answer whose vessels stand in a row, 3 m apart, the second moved across and turned."""
    answer: dict[str, Any] = copy.deepcopy(json.loads(json.dumps(answer_of("small"))))
    for number, vessel in enumerate(answer["designs"][0]["vessels"]):
        vessel |= {"x_mm": 3000.0 * number, "y_mm": 800.0 * (number == 1), "facing_deg": 0.0}
        vessel |= {"outside_length_mm": 1200.0, "outside_width_mm": 600.0}
        if number == 1:
            vessel |= {"shape": "flat", "facing_deg": turned}
    (design,) = answer["designs"]
    design["runs"][0]["on_plan"] = [{"x_mm": 600.0, "y_mm": 0.0}, {"x_mm": 2400.0, "y_mm": 0.0}]
    return answer


def seen(answer: Mapping[str, Any]) -> tuple[Picture, float, list[str]]:
    """The drawing, its scale [px/mm], and the vessels in their order."""
    picture = drawn_of(answer).picture("site")
    left, _, right, _ = picture.span("bar")
    return picture, (right - left) / 1000.0, [v["name"] for v in answer["designs"][0]["vessels"]]


def test_vessels_and_runs_are_to_scale() -> None:
    """Middles are as far apart as they are told, walls as wide, a run as long."""
    picture, scale, names = seen(placed())
    spans = [picture.span(ident("stands", name)) for name in names]
    middles = [((left + right) / 2, (top + bottom) / 2) for left, top, right, bottom in spans]
    assert middles[1][0] - middles[0][0] == pytest.approx(3000 * scale, abs=PX)
    # Across is up.
    assert middles[0][1] - middles[1][1] == pytest.approx(800 * scale, abs=PX)
    assert spans[1][2] - spans[1][0] == pytest.approx(1200 * scale, abs=PX)
    assert spans[1][3] - spans[1][1] == pytest.approx(600 * scale, abs=PX)
    run = placed()["designs"][0]["runs"][0]["name"]
    left, _, right, _ = picture.span(ident("goes", run))
    assert right - left == pytest.approx(1800 * scale, abs=PX)


@pytest.mark.parametrize("degrees", [30.0, 90.0])
def test_a_turned_vessel(degrees: float) -> None:
    """One of 1200 by 600 mm turned by an angle is as wide and high as its corners then are."""
    picture, scale, names = seen(placed(degrees))
    left, top, right, bottom = picture.span(ident("stands", names[1]))
    cos, sin = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    assert right - left == pytest.approx((1200 * cos + 600 * sin) * scale, abs=PX)
    assert bottom - top == pytest.approx((1200 * sin + 600 * cos) * scale, abs=PX)


def test_without_places_there_is_no_plan() -> None:
    """Of vessels whose places nobody gave there is the scheme alone."""
    assert "site" not in drawn_of(answer_of("small")).drawings
    assert "site" in drawn_of(placed()).drawings
