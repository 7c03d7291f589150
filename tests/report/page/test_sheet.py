"""What stands on the build sheet: all that the JSON has for a builder, in the figures of the screen."""

from __future__ import annotations

import copy
import itertools
import math
import re
from dataclasses import replace
from typing import Any

import pytest

from autoplan.outcome import Outcome
from autoplan.problem.brief import PrintUnits
from autoplan.report.contract import outcome_json
from autoplan.report.contract.base import MOST
from autoplan.report.contract.reading import read_answer, wrong_in
from autoplan.report.page.figures import Figures
from autoplan.report.page.sheet import SECTIONS, sheet_html
from autoplan.report.render.plain import plain_text
from autoplan.report.sections.contents import ALL, sections
from autoplan.report.units import SI, US, whole_marks
from tests.report.page.reading import Read, read


@pytest.fixture(scope="module")
def back(page: str) -> Read:
    """The page read back."""
    return read(page)


@pytest.fixture(scope="module")
def words(back: Read) -> dict[str, str]:
    """The words of each section."""
    return back.words


def test_sections_in_the_order_of_the_work(back: Read) -> None:
    """Every section is there, in its order, and the list of contents leads to each."""
    elements = back.elements
    assert [attrs["id"] for tag, attrs in elements if tag == "section"] == [word for word, _ in SECTIONS]
    assert [attrs["href"] for tag, attrs in elements if tag == "a"] == [f"#{word}" for word, _ in SECTIONS]


@pytest.mark.parametrize(("off_mm", "said"), [(1.0, "0.03 in"), (3.0, "1/16 in"), (1.59, "1/16 in")])
def test_no_hole_is_to_be_drilled_within_nothing(answer: dict[str, Any], off_mm: float, said: str) -> None:
    """1 mm is less than a sixteenth of an inch (1.5875 mm): told in hundredths, rounded down, not 0."""
    whole = read_answer({**answer, "units": PrintUnits.US.value})
    assert Figures.of(whole, whole.designs[0]).off(off_mm) == said


def test_nothing_is_fetched_and_nothing_runs(page: str, back: Read) -> None:
    """No script, no address of anything elsewhere, no handler of events: the page is complete in itself."""
    for tag, attrs in back.elements:
        assert tag not in {"script", "iframe", "object", "embed", "link", "form", "base"}
        for name, value in attrs.items():
            assert not name.startswith("on")
            if name in {"src", "href", "xlink:href", "action"}:
                assert (value or "").startswith("#")
    assert "url(" not in re.sub(r"url\(#", "", page)
    assert "@import" not in page


def test_summary_tells_what_it_costs(answer: dict[str, Any], words: dict[str, str]) -> None:
    """To pay, power in a year and both over the years stand first, with the pump and the worst faults."""
    cost, (pump,) = answer["designs"][0]["cost"], answer["designs"][0]["pumps"]
    said = words["summary"]
    for amount in (cost["to_pay"], cost["running_per_year"], cost["ownership"]):
        assert f"{amount:.2f} EUR" in said
    assert f"pond pump 6000 L/h, 4 m ({pump['part']})" in said
    assert said.count("lost in a night") == 3
    assert "Rank 1 is proven cheapest" in said


def test_every_caution_and_every_assumption(answer: dict[str, Any], words: dict[str, str]) -> None:
    """No caution is left out, nor anything that was assumed."""
    for caution in answer["cautions"]:
        assert caution in words["cautions"]
    for assumed in answer["assumptions"]:
        assert f"{assumed['place']} = {assumed['text']}: {assumed['why']}" in words["assumed"]


def test_every_run_with_its_parts_and_cuts(answer: dict[str, Any], words: dict[str, str]) -> None:
    """Each run is there with each of its parts by description, each piece as it is marked on its stick."""
    design, said = answer["designs"][0], words["runs"]
    for run in design["runs"]:
        assert f"{run['name']} {run['from']} to {run['to']}" in said
        for item in run["line"]:
            assert design["parts"][item["part"]]["description"] in said
    for cut in design["cuts"]:
        for piece, length in zip(cut["pieces"], cut["pieces_mm"], strict=True):
            assert f": {piece['place']}" in words["cutting"]
            # Those with numbers are told as spans.
            assert piece["run"][-1].isdigit() or piece["run"] in words["cutting"]
            # Marks are to the nearest millimetre, or one less where a stick is full.
            marked = {round(length), round(length) - 1}
            assert any(re.search(rf"\b{mark}\b", said) for mark in marked)


def test_every_hole_and_how_far_it_may_be_off(answer: dict[str, Any], words: dict[str, str]) -> None:
    """Each hole stands under its vessel with its height in whole millimetres, its saw and its part."""
    design, said = answer["designs"][0], words["holes"]
    for hole in design["holes"]:
        assert hole["run"] in said
        size = f"{hole['hole_mm']:.1f}".removesuffix(".0")
        assert f" {size} " in said
        assert design["parts"][hole["part"]]["description"] in said
        assert f"({hole['saw']}): bought" in said
        if hole["place"] == "wall":
            room = f"3 mm; {hole['higher_mm']:.0f} up, {hole['lower_mm']:.0f} down"
            row = f"wall, {hole['around']} {round(hole['centre_above_floor_mm'])} {room} {size}"
            assert row in " ".join(said.split())


def test_every_line_of_the_order_has_its_box(
    answer: dict[str, Any], back: Read, words: dict[str, str]
) -> None:
    """What is bought stands by its description with packs, price and cost, and a box to tick."""
    boxes = [attrs["aria-label"] for tag, attrs in back.elements if attrs.get("type") == "checkbox"]
    for line in answer["designs"][0]["purchase"]:
        assert f"bought {line['description']}: done" in boxes
        assert f"{line['packs']} x {line['sold_as']} {line['unit_price']:.2f} {line['line_cost']:.2f}" in (
            " ".join(words["shopping"].split())
        )
    assert f"to pay: {answer['designs'][0]['cost']['to_pay']:.2f} EUR" in words["shopping"]


def test_first_run_is_that_of_the_screen(
    demo: Outcome, answer: dict[str, Any], words: dict[str, str]
) -> None:
    """What is timed and its seconds are the screen's, beside each a field for what was measured."""
    timed = {"bucket": "10 L bucket", "jug": "1 L jug", "rise": "rise of 20 mm"}
    screen = " ".join(plain_text(sections(demo, SI, (ALL,))).split())
    for outlet in answer["designs"][0]["commissioning"]["outlets"]:
        measure = outlet["measure"]
        what, seconds = timed[measure["by"]], f"{measure['seconds']:.0f} s"
        assert f"{outlet['flow_l_h']:.0f} {what} {seconds} {outlet['open_flow_l_h']:.0f}" in screen
        row = f"{what} {measure['open_seconds']:.0f} s s {seconds} s"
        assert row in words["filling"]


@pytest.mark.parametrize("section", ["faults", "rules"])
def test_faults_and_rules_are_those_of_the_screen(demo: Outcome, words: dict[str, str], section: str) -> None:
    """Every row of the screen's tables is on the page, figure by figure, though made from the JSON alone."""
    from autoplan.report.blocks import Grid
    from autoplan.report.sections import judged

    verdict = demo.designs[0].verdict
    blocks = {
        "faults": judged.faults(verdict.faults, whole_marks(SI)),
        "rules": judged.rules(verdict.findings, "EUR", SI),
    }[section]
    rows = [row for block in blocks if isinstance(block, Grid) for row in block.rows]
    assert len(rows) > 5
    for row in rows:
        assert " ".join(row) in " ".join(words[section].split())


def test_a_bell_is_as_tall_in_its_drawing_as_in_words(answer: dict[str, Any], words: dict[str, str]) -> None:
    """What must be so high at least is rounded up in both: 268.05 mm is no 268."""
    (facts, *_) = answer["designs"][0]["siphons"]
    least = math.ceil(facts["bell_least_mm"])
    assert least > facts["bell_least_mm"] + 0.5
    assert f"top of the bell, at least at {least} mm above the floor" in words["siphons"]
    assert f"bell at least {least} mm high inside" in words["siphons"]


def test_fields_and_boxes_have_names(back: Read) -> None:
    """Each box and field says to a reader of the screen what it is for."""
    inputs = [attrs for tag, attrs in back.elements if tag == "input"]
    assert {attrs["type"] for attrs in inputs} == {"checkbox", "text"}
    assert all(attrs["aria-label"] for attrs in inputs)


def test_drawings_stand_where_they_are_needed(back: Read) -> None:
    """The levels, a wall for each kind of vessel with holes, way and parts of each run; all with words."""
    drawn = [attrs for tag, attrs in back.elements if tag == "svg"]
    names = [attrs["id"] or "" for attrs in drawn]
    assert names[0] == "levels"
    assert len(names) == len(set(names))
    assert {"drilling-tank", "drilling-settler", "parts-main", "way-main"} <= set(names)
    assert all(attrs["role"] == "img" and attrs["aria-labelledby"] for attrs in drawn)


@pytest.mark.usefixtures("undrawn")
def test_another_rank(answer: dict[str, Any]) -> None:
    """The sheet of rank 2 says so and what sets it apart; a rank that is not there has no sheet."""
    words = read(sheet_html(answer, 2)).words
    assert "Rank 2 of 2" in words[""]
    assert "feeds: hose instead of poly line" in words["summary"]
    assert "2 (this sheet)" in words["ranks"]
    with pytest.raises(KeyError, match="rank 3"):
        sheet_html(answer, 3)


@pytest.mark.usefixtures("undrawn")
def test_us_units(demo: Outcome) -> None:
    """Where the problem asks for them every figure is in US units, but for what the shop calls its goods."""
    words = _in_us(demo).words
    assert "47-1/16 in" not in words["summary"]
    (pump,) = demo.designs[0].verdict.pumps.values()
    assert US.flow.said(pump.duty_flow_m3_s) in words["summary"]
    assert US.height.text(demo.designs[0].drawing.levels["tank"].design_m) in words["levels"]
    assert "stick of 6 m" in words["shopping"]
    for section in ("levels", "filling", "pump", "hours", "faults"):
        assert not re.search(r"\d (mm|L|L/h|m)\b(?! bore)(?!\s*\()", _without_names(words[section], demo))


def test_sizes_beyond_sense_are_shown(answer: dict[str, Any]) -> None:
    """Sizes that no builder has do no harm: what is in the file is shown."""
    changed = copy.deepcopy(answer)
    design = changed["designs"][0]
    sizes = itertools.cycle((1e-9, MOST, 1e-9))
    for table, keys in (
        (design["levels"][0], ("water_mm", "rim_mm", "overload_mm")),
        (design["holes"][0], ("hole_mm", "centre_above_floor_mm")),
        (design["cuts"][0], ("stick_mm", "offcut_mm")),
        (design["commissioning"]["outlets"][0], ("flow_l_h", "open_flow_l_h")),
        (design["runs"][0], ("length_m", "flow_l_h", "loss_mm")),
        (design["vessels"][0], ("width_mm", "depth_mm", "rim_mm")),
    ):
        table.update({key: next(sizes) for key in keys})
    assert list(wrong_in(changed)) == []
    assert "sources" in read(sheet_html(changed)).words


def _in_us(outcome: Outcome) -> Read:
    site = replace(outcome.site, print_units=PrintUnits.US)
    return read(sheet_html(outcome_json(replace(outcome, site=site))))


def _without_names(text: str, outcome: Outcome) -> str:
    """A text without the descriptions of parts, which are the shop's."""
    for group in outcome.catalog.groups():
        for part in group.values():
            text = text.replace(part.description, "")
    return text
