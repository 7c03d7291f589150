"""The picture of heights: to scale, inside its width, alike vessels once."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from autoplan.drawing import DrawnLevel
from autoplan.outcome import Outcome
from autoplan.problem.brief import PrintUnits
from autoplan.report.blocks import Picture, Points
from autoplan.report.render.plain import WIDTH, plain_text
from autoplan.report.sections.levels_picture import ABREAST, MOST_ROWS, heights
from autoplan.report.units import INCH_M, SI, units_of


def _pictures(outcome: Outcome, units=SI) -> list[tuple[str, ...]]:
    return [
        block.lines for block in heights(outcome, outcome.designs[0], units) if isinstance(block, Picture)
    ]


def _rows(lines: tuple[str, ...]) -> dict[float, str]:
    """The picture's lines by the height they stand for."""
    return {float(line.split()[0]): line for line in lines if line[:6].strip()}


def _beside(outcome: Outcome, count: int, *, lower_m: float) -> Outcome:
    """The outcome with more tanks beside the first, each lower than the one before."""
    site, design = outcome.site, outcome.designs[0]
    tank, level = site.vessels["fish tank"], design.drawing.levels["fish tank"]
    vessels, levels = dict(site.vessels), dict(design.drawing.levels)
    for number in range(1, count + 1):
        down, name = number * lower_m, f"tank {number}"
        vessels[name] = replace(
            tank, name=name, floor_m=tank.floor_m - down, water_min_m=1.0, water_max_m=1.3
        )
        levels[name] = DrawnLevel(name, level.design_m - down, level.overload_m - down)
    drawing = replace(design.drawing, levels=levels)
    designs = (replace(design, drawing=drawing), *outcome.designs[1:])
    return replace(outcome, site=replace(site, vessels=vessels), designs=designs)


def test_floor_water_and_rim_stand_at_their_heights(outcome: Outcome) -> None:
    """Each of them is on the line nearest to its height: half a line from it at most."""
    (lines,) = _pictures(outcome)
    rows = _rows(lines)
    heights_mm = sorted(rows)
    step = heights_mm[1] - heights_mm[0]
    half = (max(map(len, lines)) + 7) // 2
    for name, columns in (("fish tank", slice(7, half)), ("sump", slice(half, None))):
        vessel, level = outcome.site.vessels[name], outcome.designs[0].drawing.levels[name]
        drawn = {height: line[columns] for height, line in rows.items() if line[columns].strip()}
        floor = [height for height, part in drawn.items() if "+" in part]
        water = [height for height, part in drawn.items() if "~" in part]
        assert floor == [min(drawn)]
        assert abs(floor[0] - 1000 * vessel.floor_m) <= step / 2
        assert abs(water[0] - 1000 * level.design_m) <= step / 2
        assert abs(max(drawn) - 1000 * vessel.rim_m) <= step / 2
        assert str(round(1000 * level.design_m)) in drawn[water[0]]


def test_every_line_is_one_step(outcome: Outcome) -> None:
    """Lines follow each other at one distance and are few enough to see at once."""
    (lines,) = _pictures(outcome)
    at = list(_rows(lines))
    assert len({round(a - b, 6) for a, b in pairwise(at)}) == 1
    assert len(at) <= MOST_ROWS + 1


def test_inches(outcome: Outcome) -> None:
    """In US units a line is whole inches, and the water's height has its fraction."""
    us = replace(outcome, site=replace(outcome.site, print_units=PrintUnits.US))
    (lines,) = _pictures(us, units_of(PrintUnits.US))
    at = list(_rows(lines))
    assert (at[0] - at[1]) in (1, 2, 3, 6, 12)
    assert any("~50-1/16" in line or "50-1/16~" in line for line in lines)
    assert pytest.approx(1.2712, abs=INCH_M / 32) == 50.0625 * INCH_M


def test_falls_from_water_to_water(outcome: Outcome) -> None:
    """1271.2 mm of water above 100.0 mm fall 1171.2 mm."""
    (points,) = [b for b in heights(outcome, outcome.designs[0], SI) if isinstance(b, Points)]
    assert points.items == ("fish tank to sump: a fall of 1171.2 mm from water to water.",)


def test_where_drains_pass_the_walls(outcome: Outcome) -> None:
    """The tank's drain leaves near its water and arrives low in the sump; the pump stands on the floor."""
    (lines,) = _pictures(outcome)
    rows = _rows(lines)
    assert rows[1200.0].rstrip().endswith(">")
    assert " >" in rows[0.0] or " >" in rows[100.0]
    assert any("pump" in line for line in lines)


def test_alike_vessels_are_drawn_once(outcome: Outcome) -> None:
    """Three tanks of the same heights stand in one place and are named together."""
    more = _beside(outcome, 3, lower_m=0.0)
    text = plain_text(heights(more, more.designs[0], SI))
    assert "tank 1 to" in text
    assert "tank 2" not in text
    assert "alike" not in text


def test_many_vessels_fold_into_pictures(outcome: Outcome) -> None:
    """Ten tanks of other heights take two pictures on one scale, none wider than the page."""
    pictures = _pictures(_beside(outcome, 10, lower_m=0.07))
    assert len(pictures) == 2
    assert list(_rows(pictures[0])) == list(_rows(pictures[1]))
    assert max(len(line) for lines in pictures for line in lines) <= WIDTH
    assert sum(line.count("+") for lines in pictures for line in lines) == 2 * 12
    assert max(line.count("+") for lines in pictures for line in lines) <= 2 * ABREAST
