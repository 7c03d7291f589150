"""Screens on drains: the rule's limits, what a screen does to the water, and how one is chosen."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

import autoplan
from autoplan.catalog.naming import name_of
from autoplan.errors import InputError
from autoplan.fittings.screen import InletScreen
from autoplan.line.row import Line
from autoplan.line.water import conduit_of, inlet_line, screen_head, site_water
from autoplan.outcome import Finding, Outcome
from autoplan.problem.toml.write import expand_to_toml
from autoplan.report.contract import outcome_json
from autoplan.report.render.plain import plain_text
from autoplan.report.render.show import report
from autoplan.rules.book import read_rules
from autoplan.rules.survey import Survey
from tests.lines import put, redrawn, the, without
from tests.short_list import from_short_list
from tests.stored import stored
from tests.words import by_place

BASE = Path("problems/one-tank-one-bed.toml").read_text(encoding="utf-8")


def text_with(tank: str, beds: str = "") -> str:
    """The smallest shipped problem with something added to its tables, built from the short list."""
    text = BASE.replace("[tank]\n", f"[tank]\n{tank}").replace("[beds]\n", f"[beds]\n{beds}")
    return from_short_list(text)


def load(folder: Path, tank: str, beds: str = "", extra: str = "") -> Any:
    """The site of that."""
    path = folder / "screened.toml"
    path.write_text(text_with(tank, beds) + extra, encoding="utf-8")
    return autoplan.load_problem(path).outline


@pytest.fixture(scope="module")
def outcome() -> Outcome:
    """The smallest shipped problem with a screen on every drain."""
    return stored("screens", text_with("screen = true\n", 'screen = true\ndrain = "standpipe"\n'))


def findings(outcome: Outcome, screen: str | None, **changes: float) -> Mapping[str, Finding]:
    """What the rule says of the tank drain with another screen, its row changed."""
    drawing, catalog = outcome.designs[0].drawing, outcome.catalog
    drain = without(drawing.runs["tank drain"], InletScreen)
    if screen is not None:
        drain = put(drain, InletScreen(screen))
        row = replace(catalog.fixtures[screen], **changes)
        catalog = replace(catalog, fixtures={**catalog.fixtures, screen: row})
    (rule,) = [rule for rule in read_rules(outcome.site).rules if rule.id == "screens"]
    survey = Survey(outcome.site, catalog, redrawn(drawing, drain))
    return by_place(rule.check(survey))


def screen_on(line: Line) -> str:
    """The screen on a drain's inlet."""
    return the(line, InletScreen).part


def test_openings_hold_back_fingerlings(outcome: Outcome) -> None:
    """Three millimetres hold, a hair more does not, and no screen at all lets everything through."""
    assert findings(outcome, "screen-40", slot_m=0.003)["tank drain"].ok
    assert not findings(outcome, "screen-40", slot_m=0.00301)["tank drain"].ok
    assert not findings(outcome, None)["tank drain"].ok
    assert findings(outcome, "screen-40")["bed drain 1"].limit == pytest.approx(5.0)


def test_openings_are_as_wide_as_the_pipe(outcome: Outcome) -> None:
    """The area of the pipe's bore holds, one per cent less does not."""
    drain = outcome.designs[0].drawing.runs["tank drain"]
    area = math.pi / 4 * outcome.catalog.pipes[drain.pipe].bore_m ** 2
    place = "tank drain: all openings as one"
    assert findings(outcome, "screen-40", open_m2=area)[place].ok
    assert not findings(outcome, "screen-40", open_m2=0.99 * area)[place].ok


def test_chosen_bought_and_told(outcome: Outcome) -> None:
    """Each drain has its own; 3 mm ask for the strainer, 5 mm are met by the cheaper drilled cap."""
    (design,) = outcome.designs
    screens = {name: one.part for name, run in design.drawing.runs.items() for one in run.all(InletScreen)}
    assert set(screens) == {"tank drain", "bed drain 1"}
    assert "cap" not in screens["tank drain"]
    assert "cap" in screens["bed drain 1"]
    bought = {line.part for line in design.drawing.purchases}
    assert set(screens.values()) <= bought
    text = " ".join(plain_text(report(outcome)).split())
    assert f"screen on its inlet: {name_of(outcome.catalog, screens['tank drain'])}" in text
    runs = outcome_json(outcome)["designs"][0]["runs"]  # type: ignore[index, call-overload]
    assert {run["name"]: run["screen"] for run in runs if run["screen"]} == screens  # type: ignore[index, union-attr, call-overload]


def test_a_screen_is_one_more_loss(outcome: Outcome) -> None:
    """With its screen the drain loses more by the head before it, and without one there is none."""
    drain = outcome.designs[0].drawing.runs["tank drain"]
    bare, flow = without(drain, InletScreen), 750 / 3.6e6
    head = screen_head(outcome.catalog, drain, flow)
    assert head == the(drain, InletScreen).resistance(outcome.catalog).loss(flow) > 0.0
    assert screen_head(outcome.catalog, bare, flow) == 0.0
    run, water = outcome.site.runs["tank drain"], site_water(outcome.site)
    lost = [conduit_of(outcome.catalog, run, line).loss(flow, water) for line in (drain, bare)]
    assert lost[0] - lost[1] == pytest.approx(head, rel=1e-6)


def test_it_lifts_the_level(outcome: Outcome) -> None:
    """A screen of a tenth of the openings makes the water stand where the outlets no longer hold it."""
    drawing, catalog = outcome.designs[0].drawing, outcome.catalog
    screen = screen_on(drawing.runs["tank drain"])
    row = catalog.fixtures[screen]
    before = Survey(outcome.site, catalog, drawing).standing_level("tank", 1.0)
    tight = replace(catalog, fixtures={**catalog.fixtures, screen: replace(row, open_m2=row.open_m2 / 10)})
    after = Survey(outcome.site, tight, drawing).standing_level("tank", 1.0)
    assert after > before + 0.001


def test_switched_off_none_is_bought(tmp_path: Path) -> None:
    """Without the rule the cheapest is no screen."""
    site = load(tmp_path, "screen = true\n", extra="[rules.screens]\noff = true\n")
    found = autoplan.design(site, autoplan.load_catalog("metric"), top=1)
    assert not any(run.all(InletScreen) for run in found.designs[0].drawing.runs.values())


def test_written_out_and_wrong(tmp_path: Path) -> None:
    """The long form keeps it; a pressure run and an overflow cannot have one, nor can a sump."""
    site = load(tmp_path, "screen = true\n")
    path = tmp_path / "long.toml"
    text = expand_to_toml(site)
    path.write_text(text, encoding="utf-8")
    assert autoplan.load_problem(path).outline.runs["tank drain"].screen
    path.write_text(text.replace('name = "main"', 'name = "main"\nscreen = true'), encoding="utf-8")
    with pytest.raises(InputError, match="has a screen"):
        autoplan.load_problem(path)
    path.write_text(BASE.replace("[sump]\n", "[sump]\nscreen = true\n"), encoding="utf-8")
    with pytest.raises(InputError, match="screen"):
        autoplan.load_problem(path)


def test_under_a_bell_it_sits_on_the_standpipe(tmp_path: Path) -> None:
    """A siphon has its media guard; a screen asked for besides fits the standpipe and slows it."""
    catalog = autoplan.load_catalog("metric")
    assert not load(tmp_path, "").runs["bed drain 1"].screen
    (design,) = autoplan.design(load(tmp_path, "", "screen = true\n"), catalog, top=1).designs
    site, drawing = load(tmp_path, "", "screen = true\n"), design.drawing
    drain = drawing.runs["bed drain 1"]
    start = drain.floor
    assert start is not None
    screen, stood = catalog.fixtures[screen_on(drain)], catalog.pipes[start.standpipe or drain.pipe]
    assert start.siphon is not None
    assert screen.least_m <= stood.outside_m <= screen.most_m
    bare = redrawn(drawing, without(drain, InletScreen))
    water = site.vessels["bed 1"].floor_m + 0.2
    flows = [Survey(site, catalog, each).siphon_flow("bed drain 1", water) for each in (drawing, bare)]
    assert flows[0] < flows[1]
    bed = site.vessels["bed 1"]
    pipe = catalog.pipes[drain.pipe]
    feet = [inlet_line(catalog, pipe, start, bed, screen) for screen in (screen_on(drain), None)]
    flow = flows[0]
    more = feet[0].loss(flow, Survey(site, catalog, drawing).water)
    less = feet[1].loss(flow, Survey(site, catalog, drawing).water)
    assert more - less == pytest.approx(screen_head(catalog, drain, flow), rel=1e-6)
