"""Drawings are true: what is read back from the SVG is where the answer says, to a pixel."""

from __future__ import annotations

import math
from collections.abc import Mapping
from itertools import pairwise
from typing import Any

import pytest

from autoplan.report.drawings.canvas import ident
from autoplan.report.drawings.view import DesignView
from tests.report.drawings.drawn import Drawn
from tests.report.drawings.read import Picture

PX = 1.0


def _first(drawn: Drawn) -> list[str]:
    """A vessel of each group that is drawn as one."""
    return [names[0] for names in DesignView(drawn.answer).groups]


def _levels(drawn: Drawn) -> tuple[Picture, dict[str, Mapping[str, Any]], float, float]:
    """The drawing of levels, the levels by vessel, its scale [px/mm], and where the datum is [px]."""
    picture = drawn.picture("levels")
    levels = {level["vessel"]: level for level in drawn.design["levels"]}
    tallest = max(_first(drawn), key=lambda name: levels[name]["rim_mm"] - levels[name]["floor_mm"])
    _, rim, _, floor = picture.span(ident("vessel", tallest))
    own = levels[tallest]
    scale = (floor - rim) / (own["rim_mm"] - own["floor_mm"])
    return picture, levels, scale, floor + own["floor_mm"] * scale


def test_levels_are_to_scale(drawn: Drawn) -> None:
    """Floor, water at rest, running and at overload, and rim of every vessel lie on one scale."""
    picture, levels, scale, datum = _levels(drawn)
    for name in _first(drawn):
        level = levels[name]
        _, rim, _, floor = picture.span(ident("vessel", name))
        assert floor == pytest.approx(datum - level["floor_mm"] * scale, abs=PX)
        assert rim == pytest.approx(datum - level["rim_mm"] * scale, abs=PX)
        for gid, key in (("running", "water_mm"), ("overload", "overload_mm"), ("rest", "rest_mm")):
            found = picture.y(ident("level", name, gid))
            assert found == pytest.approx(datum - level[key] * scale, abs=PX)


def _ends(drawn: Drawn) -> list[Mapping[str, Any]]:
    return [end for run in drawn.design["runs"] for end in run["ends"]]


def test_holes_in_the_levels_are_to_scale(drawn: Drawn) -> None:
    """Every hole in a wall is as high and as wide there as it is to be drilled."""
    picture, levels, scale, datum = _levels(drawn)
    walls = [hole for hole in drawn.design["holes"] if hole["place"] == "wall"]
    first = [hole for hole in walls if hole["vessel"] in _first(drawn)]
    # Where every drain ends over a rim there is none.
    assert bool(first) is any(
        end["way"] not in ("over the rim", None) and not end["in_floor"] for end in _ends(drawn)
    )
    for hole in first:
        gid = ident("hole", hole["run"], hole["vessel"])
        if gid not in picture.paths:
            continue  # of alike runs into one vessel one hole is drawn
        _, top, _, bottom = picture.span(gid)
        height = levels[hole["vessel"]]["floor_mm"] + hole["centre_above_floor_mm"]
        assert (top + bottom) / 2 == pytest.approx(datum - height * scale, abs=PX)
        assert bottom - top == pytest.approx(hole["hole_mm"] * scale, abs=PX)


def test_holes_to_drill_are_to_scale(drawn: Drawn) -> None:
    """Each hole's ring is as wide, and its middle as high over the floor, as the list says."""
    vessels = {vessel["name"]: vessel for vessel in drawn.design["vessels"]}
    holes = [hole for hole in drawn.design["holes"] if hole["vessel"] in _first(drawn)]
    assert holes
    for hole in holes:
        name = hole["vessel"]
        picture = drawn.picture(ident("drilling", name))
        floor, rim = picture.y(ident("floor", name)), picture.y(ident("rim", name))
        scale = (floor - rim) / vessels[name]["depth_mm"]
        place = "floor" if hole["place"] == "floor" else hole["place"]
        gid = ident("hole", hole["run"], name, place)
        left, _, right, _ = picture.span(gid)
        assert right - left == pytest.approx(hole["hole_mm"] * scale, abs=PX)
        if hole["centre_above_floor_mm"] is not None:
            _, y = picture.middle(gid)
            assert y == pytest.approx(floor - hole["centre_above_floor_mm"] * scale, abs=PX)


def test_water_on_the_walls_is_to_scale(drawn: Drawn) -> None:
    """The levels on a wall are as far over its floor as in the answer."""
    levels = {level["vessel"]: level for level in drawn.design["levels"]}
    for name in _first(drawn):
        if ident("drilling", name) not in drawn.drawings:
            continue
        picture, level = drawn.picture(ident("drilling", name)), levels[name]
        floor, rim = picture.y(ident("floor", name)), picture.y(ident("rim", name))
        scale = (floor - rim) / (level["rim_mm"] - level["floor_mm"])
        for gid, key in (("running", "water_mm"), ("overload", "overload_mm"), ("at rest", "rest_mm")):
            found = picture.y(ident("level", name, gid))
            assert found == pytest.approx(floor - (level[key] - level["floor_mm"]) * scale, abs=PX)


def test_sticks_are_cut_to_scale(drawn: Drawn) -> None:
    """Every piece is as long as in the answer, each begins a saw cut behind the one before it."""
    cuts = drawn.design["cuts"]
    longest = max(cut["stick_mm"] for cut in cuts)
    pictures = [drawn.picture(name) for name in drawn.drawings if name.startswith("sticks")]
    saw = drawn.design["saw_cut_mm"]
    assert saw > 0.0
    for cut in cuts:
        own = ident(cut["pipe"], str(cut["stick"]))
        found = [picture for picture in pictures if f"stick-{own}" in picture.paths]
        if not found:  # cut like one before it, and drawn there
            assert any(
                (other["pipe"], other["pieces_mm"]) == (cut["pipe"], pytest.approx(cut["pieces_mm"], abs=0.5))
                for other in cuts[: cuts.index(cut)]
            )
            continue
        (picture,) = found
        left, _, right, _ = picture.span(f"stick-{own}")
        scale = (right - left) / cut["stick_mm"]
        assert right - left == pytest.approx(370.0 * cut["stick_mm"] / longest, abs=PX)
        at = 0.0
        for number, piece in enumerate(cut["pieces_mm"], start=1):
            begin, _, end, _ = picture.span(f"piece-{own}-{number}")
            assert begin == pytest.approx(left + at * scale, abs=PX)
            assert end - begin == pytest.approx(piece * scale, abs=PX)
            at += piece + saw


def test_pieces_from_the_roll_are_to_scale(drawn: Drawn) -> None:
    """What is cut from the roll is drawn, each piece as long against the longest as in the answer."""
    asked = sorted(piece["length_mm"] for piece in drawn.design["from_roll"])
    pictures = [drawn.picture(name) for name in drawn.drawings if name.startswith("roll")]
    found = sorted(
        span[2] - span[0]
        for picture in pictures
        for span in (picture.span(gid) for gid in picture.paths if gid.startswith("roll-"))
    )
    assert found == pytest.approx([370.0 * mm / asked[-1] for mm in asked], abs=PX)


def test_standpipes_are_to_scale(drawn: Drawn) -> None:
    """Lip, cut-outs, drain hole, bell and guard are as high and as wide as in the answer."""
    parts, seen = drawn.design["parts"], 0
    for run in drawn.design["runs"]:
        end = run["ends"][0]
        name = ident("standpipe", end["vessel"])
        if end["standpipe_top_above_floor_mm"] is None or name not in drawn.drawings:
            continue
        seen += 1
        picture, bed = drawn.picture(name), end["vessel"]
        floor = picture.y(ident("floor", bed))
        left, lip, right, _ = picture.span(ident("standpipe", bed))
        scale = (right - left) / parts[end["standpipe"] or run["pipe"]]["outside_mm"]
        assert floor - lip == pytest.approx(end["standpipe_top_above_floor_mm"] * scale, abs=PX)
        if end["siphon"]:
            siphon = end["siphon"]
            x0, _, x1, cut = picture.span(ident("bell", bed, "outside"))
            assert x1 - x0 == pytest.approx(parts[siphon["bell"]]["outside_mm"] * scale, abs=PX)
            assert floor - cut == pytest.approx(siphon["cut_out_mm"] * scale, abs=PX)
            (facts,) = [one for one in drawn.design["siphons"] if one["drain"] == run["name"]]
            inside = picture.span(ident("bell", bed, "inside"))
            assert floor - inside[1] == pytest.approx(facts["bell_least_mm"] * scale, abs=PX)
            assert inside[2] - inside[0] == pytest.approx(parts[siphon["bell"]]["inside_mm"] * scale, abs=PX)
        if end["drain_hole"]:
            hole, gid = end["drain_hole"], ident("drain-hole", bed)
            assert floor - picture.middle(gid)[1] == pytest.approx(
                hole["centre_above_floor_mm"] * scale, abs=PX
            )
            span = picture.span(gid)
            assert span[2] - span[0] == pytest.approx(hole["hole_mm"] * scale, abs=PX)
    assert seen


def test_pump_curves_are_to_scale(drawn: Drawn) -> None:
    """The pump's points, and where it runs, stand in the frame as flows and heads stand to each other."""
    for pump in drawn.design["pumps"]:
        vessel = pump["vessel"]
        picture, curve = drawn.picture(ident("pump", vessel)), pump["curve"]
        found = picture.paths[ident("curve", vessel)]
        across = (found[-1][0] - found[0][0]) / curve[-1]["flow_l_h"]
        up = (found[-1][1] - found[0][1]) / (curve[0]["head_m"] - curve[-1]["head_m"])
        for point, (x, y) in zip(curve, found, strict=True):
            assert x == pytest.approx(found[0][0] + point["flow_l_h"] * across, abs=PX)
            assert y == pytest.approx(found[0][1] + (curve[0]["head_m"] - point["head_m"]) * up, abs=PX)
        x, y = picture.middle(ident("meets", vessel))
        assert x == pytest.approx(found[0][0] + pump["meets"]["flow_l_h"] * across, abs=PX)
        assert y == pytest.approx(found[0][1] + (curve[0]["head_m"] - pump["meets"]["head_m"]) * up, abs=PX)


def test_traces_are_to_scale(drawn: Drawn) -> None:
    """Each point of a trace stands as late and as high in its frame as in the answer."""
    vessels = {vessel["name"]: vessel for vessel in drawn.design["vessels"]}
    assert {trace["what"] for trace in drawn.design["traces"]} == {"floods", "power cut"}
    for trace in drawn.design["traces"]:
        name, points = trace["vessel"], trace["points"]
        picture = drawn.picture(ident("hours", name, trace["what"]))
        found = picture.paths[ident("trace", name, trace["what"])]
        rim = picture.y(ident("line", name, "rim"))
        height = [point["mm"] - vessels[name]["floor_mm"] for point in points]
        top, bottom = max(height), min(height)
        scale = (max(y for _, y in found) - min(y for _, y in found)) / (top - bottom)
        across = (found[-1][0] - found[0][0]) / (points[-1]["s"] - points[0]["s"])
        floor = rim + vessels[name]["depth_mm"] * scale
        # matplotlib leaves out points on a straight line: each that it keeps is one of the answer's.
        asked = [
            (found[0][0] + point["s"] * across, floor - high * scale)
            for point, high in zip(points, height, strict=True)
        ]
        for x, y in found:
            assert min(max(abs(x - a), abs(y - b)) for a, b in asked) <= PX


def _ways(drawn: Drawn) -> list[tuple[Mapping[str, Any], Picture]]:
    """Each run of which the way is drawn by its own name, with the drawing."""
    return [
        (run, drawn.picture(ident("way", run["name"])))
        for run in drawn.design["runs"]
        if ident("way", run["name"]) in drawn.drawings
    ]


def test_ways_are_unrolled_to_scale(drawn: Drawn) -> None:
    """Each leg goes as far along and up or down as the answer says, from where the last one ended."""
    for run, picture in _ways(drawn):
        spans = [picture.span(ident("leg", run["name"], str(at))) for at in range(1, len(run["legs"]) + 1)]
        levels = [math.sqrt(max(0.0, leg["length_mm"] ** 2 - leg["rise_mm"] ** 2)) for leg in run["legs"]]
        wide = spans[-1][2] - spans[0][0]
        high = max(span[3] for span in spans) - min(span[1] for span in spans)
        heights = [run["start_height_mm"]]
        for leg in run["legs"]:
            heights.append(heights[-1] + leg["rise_mm"])
        assert heights[-1] == pytest.approx(run["finish_height_mm"], abs=2.0)
        scale = max(wide / max(sum(levels), 1.0), high / max(max(heights) - min(heights), 1.0))
        for leg, level, (left, top, right, bottom) in zip(run["legs"], levels, spans, strict=True):
            assert right - left == pytest.approx(level * scale, abs=PX)
            assert bottom - top == pytest.approx(abs(leg["rise_mm"]) * scale, abs=PX)
        for before, after in pairwise(spans):
            assert after[0] == pytest.approx(before[2], abs=PX)


def test_walls_stand_where_runs_pass_them(drawn: Drawn) -> None:
    """Between the two walls that a run goes from and to lies its level distance on the plan."""
    for run, picture in _ways(drawn):
        if not {"wall-start", "wall-finish"} <= set(picture.paths):
            continue
        first = picture.span(ident("leg", run["name"], "1"))
        last = picture.span(ident("leg", run["name"], str(len(run["legs"]))))
        level = sum(run["level_mm"]) + run["start_inside_mm"] + run["finish_inside_mm"]
        scale = (last[2] - first[0]) / level
        walls = picture.span("wall-start")[2], picture.span("wall-finish")[0]
        assert walls[1] - walls[0] == pytest.approx(sum(run["level_mm"]) * scale, abs=PX)


def test_runs_from_above_are_to_scale(drawn: Drawn) -> None:
    """Level distances from corner to corner stand to each other as in the answer, each written beside it."""
    for run, picture in _ways(drawn):
        spans = [
            picture.span(ident("above", run["name"], str(at))) for at in range(1, len(run["level_mm"]) + 1)
        ]
        drawn_px = [math.hypot(right - left, low - top) for left, top, right, low in spans]
        scale = sum(drawn_px) / sum(run["level_mm"])
        assert drawn_px == pytest.approx([level * scale for level in run["level_mm"]], abs=PX)
        for level in run["level_mm"]:
            assert f"{level:.0f}" in picture.texts


def test_every_way_is_drawn_once(drawn: Drawn) -> None:
    """Each run whose legs are known is in the words of one drawing, with all of its legs."""
    for run in drawn.design["runs"]:
        own = [sheet for sheet in drawn.sheets if sheet.name.startswith("way") and run["name"] in sheet.alt]
        known = all("rise_mm" in leg for leg in run["legs"])
        assert bool(own) is (known and not run["later"])
        for sheet in own[:1]:
            assert f"Leg {len(run['legs'])}: " in sheet.alt
