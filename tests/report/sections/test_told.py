"""What the JSON tells in words for the build sheet, and the order of work, against the screen and by hand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from autoplan.catalog.mating import JointKind
from autoplan.catalog.naming import name_of
from autoplan.outcome import Filling, MovingLevel, Outcome
from autoplan.problem.brief import PrintUnits
from autoplan.problem.site import RunKind
from autoplan.report.blocks import Grid, Heading, Para, Points, numbers
from autoplan.report.contract import outcome_json
from autoplan.report.contract.told import sentences
from autoplan.report.render.plain import plain_text
from autoplan.report.render.show import report
from autoplan.report.sections.build_order import build_order, order_of_work
from autoplan.report.sections.drilling import holes_of
from autoplan.report.units import SI, whole_marks


def _first(outcome: Outcome) -> Any:
    return outcome_json(outcome)["designs"][0]  # type: ignore[index, call-overload]


def _titles(outcome: Outcome) -> list[str]:
    return [stage.title for stage in build_order(outcome, outcome.designs[0], SI)]


def test_stages_in_the_order_of_the_work(outcome: Outcome) -> None:
    """Vessels stand before holes are drilled, holes before pipes, water comes last; none is empty."""
    assert _titles(outcome) == [
        "Stand the vessels",
        "Drill and fit what goes through walls",
        "Lay the drains",
        "Set the pump and lay what it feeds",
        "Try it with water, before there are fish",
    ]
    assert all(stage.steps for stage in build_order(outcome, outcome.designs[0], SI))


def test_stages_have_their_numbers(outcome: Outcome) -> None:
    """Heights of floors, holes by size, and runs with the pipe of their pieces stand in their stages."""
    first = outcome.designs[0]
    stages = {stage.title: " ".join(stage.steps) for stage in build_order(outcome, first, whole_marks(SI))}
    assert "fish tank: 500 mm above it" in stages["Stand the vessels"]
    drilled = [hole for hole in holes_of(outcome, first) if hole.place in ("wall", "floor")]
    said = stages["Drill and fit what goes through walls"]
    for size in {hole.hole_m for hole in drilled}:
        count = sum(hole.hole_m == size for hole in drilled)
        assert f"{count} of {1000 * size:.6g} mm" in said
    for name, run in first.drawing.runs.items():
        stage = {RunKind.GRAVITY: "Lay the drains"}.get(
            outcome.site.runs[name].kind, "Set the pump and lay what it feeds"
        )
        assert f"of {name_of(outcome.catalog, run.pipe)}" in stages[stage]


def test_glue_cures_only_where_there_is_glue(outcome: Outcome) -> None:
    """Where no joint is welded nothing is said of curing; air is never let into plastic pipe to test it."""
    first = outcome.designs[0]
    dry = tuple(joint for joint in first.verdict.joints if joint.kind is not JointKind.WELDED)
    for joints, cures in ((first.verdict.joints, True), (dry, False)):
        told = replace(first, verdict=replace(first.verdict, joints=joints))
        (*_, trial) = build_order(replace(outcome, designs=(told,)), told, SI)
        assert any("cure" in step for step in trial.steps) is cures
        assert any("Never test with air" in step for step in trial.steps)


def test_the_plug_is_pulled_once(outcome: Outcome) -> None:
    """The trial ends with the highest water to expect when the power fails, above the vessel's own floor."""
    first = outcome.designs[0]
    moving = MovingLevel("fish tank", 0.6, 0.7, 1.0)
    told = replace(first, verdict=replace(first.verdict, filling=Filling(1.0, (moving,))))
    (*_, trial) = build_order(replace(outcome, designs=(told,)), told, whole_marks(SI))
    # 1.0 m above the datum, in a tank whose floor is at 0.5 m.
    assert trial.steps[-1] == (
        "Then pull the plug once and watch: fish tank rises at the most to 500 mm above its floor."
    )


def test_the_order_is_on_the_screen(outcome: Outcome) -> None:
    """The screen has each stage with its number, in the words of the JSON but for whole marks."""
    text = " ".join(plain_text(order_of_work(outcome, outcome.designs[0], SI)).split())
    for number, title in enumerate(_titles(outcome), start=1):
        assert f"{number}. {title}: " in text
    assert "Order of work" in plain_text(report(outcome))


@pytest.mark.parametrize("section", ["junctions", "warnings", "first-run", "joints"])
def test_words_are_those_of_the_screen(outcome: Outcome, section: str) -> None:
    """Each sentence of the JSON that has no height in it is on the screen word by word."""
    screen = " ".join(plain_text(report(outcome)).split())
    said = _first(outcome)["told"][section]
    for sentence in said:
        assert " ".join(sentence.split()) in screen


def test_runs_are_told_one_by_one(outcome: Outcome) -> None:
    """Each run tells where it starts and ends by name, with no mark left for another's."""
    for run in _first(outcome)["runs"]:
        assert run["told"].endswith(".")
        assert run["from"] in run["told"] or run["later"]
        assert "\x02" not in run["told"]
        assert "\x03" not in run["told"]


def test_heights_are_whole_marks(outcome: Outcome) -> None:
    """Sentences of the JSON speak of whole millimetres, or of sixteenths of an inch, as a tape has them."""
    (sentence,) = [said for said in _first(outcome)["told"]["holes"] if "mouth" in said][:1]
    assert " mm above the floor" in sentence
    assert ".0 mm above the floor" not in sentence
    us = replace(outcome, site=replace(outcome.site, print_units=PrintUnits.US))
    (sentence,) = [said for said in _first(us)["told"]["holes"] if "mouth" in said][:1]
    assert " in above the floor" in sentence


def test_orders_add_up(outcome: Outcome) -> None:
    """Goods and freight of every shop are what is to pay."""
    first = _first(outcome)
    for order in first["orders"]:
        assert order["total"] == pytest.approx(order["goods"] + order["charge"])
        assert order["name"] == outcome.catalog.shops[order["shop"]].name
    assert first["cost"]["to_pay"] == pytest.approx(first["cost"]["purchase"] + first["cost"]["freight"])


def test_litres_stand_beside_levels(outcome: Outcome) -> None:
    """Water under a level is its height over the floor times the vessel's area: 0.2 m x area, in litres."""
    first = outcome.designs[0]
    tank = outcome.site.vessels["fish tank"]
    moving = MovingLevel("fish tank", tank.floor_m + 0.2, tank.floor_m + 0.3, tank.floor_m + 0.4)
    told = replace(first, verdict=replace(first.verdict, filling=Filling(1.0, (moving,))))
    (level,) = _first(replace(outcome, designs=(told,)))["filling"]["levels"]
    assert level["low_l"] == pytest.approx(200 * tank.area_m2)
    assert level["running_l"] == pytest.approx(300 * tank.area_m2)
    assert level["high_l"] == pytest.approx(400 * tank.area_m2)
    assert level["rim_l"] == pytest.approx(1000 * tank.area_m2 * tank.depth_m)


def test_how_far_a_hole_may_be_off(outcome: Outcome) -> None:
    """3 mm, but 1 mm where two drains of a vessel share its water by height; an idle one shares none."""
    first, site = outcome.designs[0], outcome.site
    walls = {hole.run: hole.off_m for hole in holes_of(outcome, first) if hole.place == "wall"}
    (drain,) = [run for run in site.runs.values() if run.kind is RunKind.GRAVITY and run.start == "fish tank"]
    assert walls[drain.name] == pytest.approx(0.003)
    for twin, off in (
        (replace(drain, name="second"), 0.001),
        (replace(drain, name="o", overflow=True), 0.003),
    ):
        shared = replace(outcome, site=replace(site, runs={**site.runs, twin.name: twin}))
        (hole,) = [
            hole for hole in holes_of(shared, first) if (hole.run, hole.vessel) == (drain.name, "fish tank")
        ]
        assert hole.off_m == pytest.approx(off)


def test_sentences_of_blocks() -> None:
    """Paragraphs and points are sentences; headings and tables are none."""
    blocks = (Heading("h"), Para("p"), Grid((numbers("t", 3),), (("1",),)), Points(("a", "b")))
    assert list(sentences(blocks)) == ["p", "a", "b"]
