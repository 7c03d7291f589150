"""What the drawings of water against time say beside the line: figures of the answer, none that flatters."""

from __future__ import annotations

import copy
import re
from typing import Any

import pytest

from autoplan.report.drawings.canvas import ident
from tests.report.drawings.drawn import Drawn, answer_of, drawn_of

STANDS = re.compile(r"stands (\d+) mm to (\d+) mm above its floor, at its highest (\d+) mm under the rim")


def told(drawn: Drawn, name: str, what: str) -> list[tuple[int, ...]]:
    """Each range that is told of a vessel, with the wall that is left at its top [mm]."""
    return [
        tuple(map(int, found)) for found in STANDS.findall(drawn.drawings[ident("hours", name, what)].alt)
    ]


def test_what_is_drawn_is_told(drawn: Drawn) -> None:
    """Lowest and highest to the millimetre; the wall left is never overstated."""
    depths = {vessel["name"]: (vessel["floor_mm"], vessel["depth_mm"]) for vessel in drawn.design["vessels"]}
    for trace in drawn.design["traces"]:
        floor, depth = depths[trace["vessel"]]
        heights = [point["mm"] - floor for point in trace["points"]]
        lowest, highest, left = told(drawn, trace["vessel"], trace["what"])[0]
        assert lowest == pytest.approx(min(heights), abs=0.51)
        assert highest == pytest.approx(max(heights), abs=0.51)
        assert left <= depth - max(heights) + 1e-6 < left + 1


def moved(to_mm: float) -> tuple[Drawn, dict[str, Any], str]:
    """A stored answer whose pumped water, watched for hours, came so much higher than in what is drawn."""
    answer = copy.deepcopy(dict(answer_of("small")))
    design = answer["designs"][0]
    (sump,) = design["running"][0]["sumps"]
    trace = next(
        one for one in design["traces"] if (one["vessel"], one["what"]) == (sump["vessel"], "floods")
    )
    sump["highest_mm"] = max(point["mm"] for point in trace["points"]) + to_mm
    sump["lowest_mm"] = min(point["mm"] for point in trace["points"])
    return drawn_of(answer), sump, sump["vessel"]


def test_water_that_rises_later_is_told_too() -> None:
    """Where two pumps hand water on, later floods end higher than the first that are drawn."""
    drawn, sump, name = moved(5.0)
    vessel = next(vessel for vessel in drawn.design["vessels"] if vessel["name"] == name)
    _, (_, highest, left) = told(drawn, name, "floods")
    assert highest == pytest.approx(sump["highest_mm"] - vessel["floor_mm"], abs=0.51)
    assert left <= vessel["depth_mm"] - (sump["highest_mm"] - vessel["floor_mm"]) + 1e-6 < left + 1
    assert len(told(drawn, name, "power cut")) == 1


def test_what_is_drawn_is_told_once_where_it_is_all() -> None:
    """A millimetre more, which is what a drawing leaves out, is not worth a sentence."""
    drawn, _, name = moved(1.0)
    assert len(told(drawn, name, "floods")) == 1
