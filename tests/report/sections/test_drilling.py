"""The drilling list: heights, saws and stands."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from autoplan.catalog.parts import SundryKind, TurnStyle, Way
from autoplan.drawing import Purchase
from autoplan.fittings.corner import Corner
from autoplan.fittings.floor import ThroughFloor
from autoplan.fittings.rim import OverRim
from autoplan.line.needs import Want
from autoplan.outcome import Finding, Outcome
from autoplan.places import OfWant
from autoplan.report.render.plain import plain_text
from autoplan.report.sections.drilling import Hole, holes, holes_of
from autoplan.report.units import SI


def _holes(outcome: Outcome) -> dict[str, Hole]:
    return {hole.vessel: hole for hole in holes_of(outcome, outcome.designs[0])}


def _with_drawing(outcome: Outcome, **changes: object) -> Outcome:
    first = outcome.designs[0]
    return replace(outcome, designs=(replace(first, drawing=replace(first.drawing, **changes)),))


def test_heights_are_above_each_floor(outcome: Outcome) -> None:
    """1.2345 m with the floor at 0.5 m is 734.5 mm; 0.05 m with the floor at -0.4 m is 450.0 mm."""
    text = plain_text(holes(outcome, outcome.designs[0], SI))
    assert re.search(
        r"fish tank +tank drain +wall +734\.5 +63\.5 +not on the +push-in rubber seal 50 mm\n", text
    )
    assert re.search(r"sump +tank drain +wall +450\.0 +72 +not on the +bulkhead fitting 50 mm\n", text)
    assert [hole.place for hole in _holes(outcome).values()] == ["wall", "wall"]


def test_floor_holes_and_standpipes_are_told(outcome: Outcome) -> None:
    """A floor hole has no height, and its standpipe's top has one: 0.75 m over a floor at 0.5 m is 250 mm."""
    runs = outcome.designs[0].drawing.runs
    drain = runs["tank drain"]
    start = ThroughFloor(
        "fish tank", way=Way.BULKHEAD, penetration="bulk-50", centre_m=0.5, standpipe_top_m=0.75
    )
    changed = _with_drawing(outcome, runs={**runs, "tank drain": drain.with_ends(start, drain.finish)})
    assert _holes(changed)["fish tank"].place == "floor"
    text = " ".join(plain_text(holes(changed, changed.designs[0], SI)).split())
    assert "fish tank tank drain floor - 72" in text
    assert "cut the standpipe of tank drain so that its top is 250.0 mm above the floor" in text


def test_no_holes_are_told_as_none(outcome: Outcome) -> None:
    """A design that drills nothing says so."""
    runs = {name: run for name, run in outcome.designs[0].drawing.runs.items() if name != "tank drain"}
    changed = _with_drawing(outcome, runs=runs)
    assert "None." in plain_text(holes(changed, changed.designs[0], SI))


def test_each_saw_has_its_origin(outcome: Outcome) -> None:
    """A saw of the size is owned, bought, or only in the price list; of another size there is none."""
    found = _holes(outcome)
    assert (found["fish tank"].saw, found["fish tank"].saw_from) == ("saw-63", "not on the list")
    assert (found["sump"].saw, found["sump"].saw_from) == (None, "not on the list")
    bought = _with_drawing(outcome, purchases=(Purchase("saw-63", "reed", 1, 1),))
    assert _holes(bought)["fish tank"].saw_from == "bought"
    owned = replace(outcome, site=replace(outcome.site, owned={"saw-63": 1}))
    assert _holes(owned)["fish tank"].saw_from == "owned"


@pytest.mark.parametrize(("size_m", "fits"), [(0.0635, True), (0.0636, False), (0.0634, False)])
def test_a_saw_of_another_size_is_none(outcome: Outcome, size_m: float, fits: bool) -> None:
    """A tenth of a millimetre beside the size of the hole is another saw."""
    saw = replace(outcome.catalog.sundries["saw-63"], least_m=size_m, most_m=size_m)
    changed = replace(outcome, catalog=replace(outcome.catalog, sundries={saw.id: saw}))
    assert (_holes(changed)["fish tank"].saw == "saw-63") is fits


@pytest.mark.parametrize(("needed", "stand"), [(1.0, "stand-50"), (0.0, None)])
def test_stands_carry_the_thinnest_walls(outcome: Outcome, needed: float, stand: str | None) -> None:
    """As many seals as the findings ask stands for have one; a bulkhead fitting has none."""
    first = outcome.designs[0]
    place = OfWant(Want(SundryKind.STAND, "500"))
    asked = Finding("seal-stand", "carried", place, 1, needed, 0, "stands", True, True, "x")
    verdict = replace(first.verdict, findings=(*first.verdict.findings, asked))
    found = _holes(replace(outcome, designs=(replace(first, verdict=verdict),)))
    assert found["fish tank"].stand == stand
    assert found["sump"].stand is None


def test_a_mouth_over_a_rim_hangs_free(outcome: Outcome) -> None:
    """A mouth at 0.76 m over a floor at 0.5 m is 260 mm up, 30 mm over water at 0.73 m; it is said why.

    Of pipe that bends by itself it is said how tight, and how high that lifts it: 1.06 m is 560 mm up.
    """
    first = outcome.designs[0]
    level = replace(first.drawing.levels["fish tank"], overload_m=0.73)
    levels = {**first.drawing.levels, "fish tank": level}
    feed = first.drawing.runs["tank feed"]
    tight, bend = Corner(90, TurnStyle.TIGHT, ("elbow-32-90",)), Corner(90, TurnStyle.BEND, ())
    over = OverRim("fish tank", corner=tight, centre_m=1.42, mouth_m=0.76)
    elbow = feed.with_ends(feed.start, over)
    bent = feed.with_ends(feed.start, replace(over, corner=bend, centre_m=1.06))
    radius = 1000 * outcome.catalog.pipes[feed.pipe].bend_radius_m
    for drawn, said in (
        (elbow, "turned down over the rim, mouth 260.0 mm above the floor"),
        (
            bent,
            f"bent down over the rim, no tighter than a radius of {radius:.1f} mm, its axis at the top 560.0",
        ),
    ):
        runs = {**first.drawing.runs, "tank feed": drawn}
        changed = _with_drawing(outcome, levels=levels, runs=runs)
        text = " ".join(plain_text(holes(changed, changed.designs[0], SI)).split())
        assert f"tank feed {said}" in text
        assert "30.0 mm over the highest water" in text
        assert "siphons the vessel empty" in text


@pytest.mark.parametrize("second", [False, True])
def test_two_holes_in_a_wall_keep_apart(outcome: Outcome, second: bool) -> None:
    """Wherever they sit: said where a wall has more than one hole, and not where each has one."""
    drawing = outcome.designs[0].drawing
    drain = drawing.runs["tank drain"]
    runs = (
        {"tank drain": drain, "second drain": replace(drain, run="second drain")} if second else drawing.runs
    )
    site = outcome.site
    if second:
        site = replace(
            site, runs={**site.runs, "second drain": replace(site.runs["tank drain"], name="second drain")}
        )
    design = replace(outcome.designs[0], drawing=replace(drawing, runs=runs))
    walls = [hole.vessel for hole in holes_of(replace(outcome, site=site), design) if hole.place == "wall"]
    assert (len(walls) > len(set(walls))) is second
    said = plain_text(holes(replace(outcome, site=site), design, SI))
    assert ("two holes in one wall keep" in " ".join(said.split())) is second
