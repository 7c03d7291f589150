"""Bells and guards over the part in a bed's floor, guards to the rim, and what is told of them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

import autoplan
from autoplan.catalog.parts import Catalog
from autoplan.outcome import Design, Outcome
from autoplan.report.render.plain import plain_text
from autoplan.report.sections.siphons import siphons
from autoplan.report.units import SI
from autoplan.rules.asked import OverPart
from autoplan.rules.beds.flange_fit import FlangeFit
from autoplan.rules.book import read_rules
from autoplan.rules.survey import Survey
from tests.one_bed import one_bed
from tests.optimiser.conftest import cut_down

DRAIN = "bed drain 1"

SHELF = """drain-40-3m pn10-32-3m pn16-25-3m pn16-20-metre drain-bend-40-45 drain-sweep-40-90 drain-tee-40
    drain-coupling-40 elbow-32-90 elbow-25-90 elbow-25-45 seal-40 bulkhead-25 bush-25-20 union-female-32-1
    union-female-25-34 tee-32 tee-25 tee-32-25 bush-32-25 ball-32 ball-25 pump-1600 pump-2200
    bell-63 bell-75 guard-100 guard-110 snorkel-4 snorkel-6"""


OFF = "".join(
    f"[rules.{rule}]\noff = true\n"
    for rule in ("drinking-water", "feed-handle", "feed-bore", "siphon-start", "full-bed-start")
)
"""Rules that ask for more parts than the shelf has, and have nothing to do with it."""


@pytest.fixture(scope="module")
def shelf() -> Catalog:
    """The metric price list cut down to a few parts, one wall part for a bed's floor among them."""
    return cut_down(autoplan.load_catalog("metric"), SHELF)


def designed(folder: Path, catalog: Catalog, more: str = "") -> tuple[Outcome, Design]:
    """The cheapest design of a bed with a siphon, with more in its file."""
    path = folder / "bed.toml"
    path.write_text(f"{one_bed()}{OFF}{more}")
    outcome = autoplan.design(autoplan.load_problem(path), catalog, top=1)
    return outcome, outcome.designs[0]


def siphon_of(design: Design) -> Any:
    """What makes the bed's siphon."""
    floor = design.drawing.runs[DRAIN].floor
    assert floor is not None
    return floor.siphon


def test_a_bell_as_wide_as_the_flange_asks(tmp_path: Path, shelf: Catalog) -> None:
    """A flange of 60 mm takes the bell of 67.8 mm inside for that of 57, and the wider guard round it."""
    _, design = designed(tmp_path, shelf)
    wide = siphon_of(design)
    assert (wide.bell, wide.guard) == ("bell-75", "guard-110")
    _, loose = designed(tmp_path, shelf, "[rules.flange-fit]\noff = true\n")
    narrow = siphon_of(loose)
    assert (narrow.bell, narrow.guard) == ("bell-63", "guard-100")
    dearer = sum(least(shelf, part) for part in (wide.bell, wide.guard))
    dearer -= sum(least(shelf, part) for part in (narrow.bell, narrow.guard))
    assert design.objective - loose.objective == pytest.approx(dearer / 100)


def least(catalog: Catalog, part: str) -> float:
    """What one piece costs [cents]."""
    return min(offer.price_cents / offer.pack for offer in catalog.part(part).offers)


def test_a_list_that_tells_no_flange(tmp_path: Path, shelf: Catalog) -> None:
    """Nothing is refused, the narrow bell is taken, and the part is named once to be measured."""
    rows = {name: replace(part, flange_m=None) for name, part in shelf.penetrations.items()}
    outcome, design = designed(tmp_path, replace(shelf, penetrations=rows))
    assert siphon_of(design).bell == "bell-63"
    assert not [found for found in design.verdict.findings if found.rule == "flange-fit"]
    (rule,) = (rule for rule in read_rules(outcome.site).rules if isinstance(rule, FlangeFit))
    survey = Survey(outcome.site, outcome.catalog, design.drawing)
    (said,) = rule.unjudged(survey)
    assert "bulkhead fitting 25 mm" in SI.told(said)


def test_a_known_flange_is_judged(plan) -> None:
    """Of a list that tells all flanges there is nothing left to look at."""
    (rule,) = (rule for rule in read_rules(plan.site).rules if isinstance(rule, FlangeFit))
    assert list(rule.unjudged(plan.survey)) == []
    assert len(plan.findings("flange-fit")) == 2


@pytest.mark.parametrize(("flange_mm", "ok"), [(63.8, True), (63.81, False)])
def test_both_sides_in_the_search(plan, flange_mm: float, ok: bool) -> None:
    """A bell of 67.8 mm inside is offered over a flange of 63.8 mm, 4 mm less, and over none wider."""
    start = plan.drawing.runs[DRAIN].start
    siphon = replace(start.siphon, bell="bell-75", guard="guard-110")
    wide = plan.part(start.penetration, flange_m=flange_mm / 1000)
    asked = OverPart(wide.catalog, start.penetration, replace(start, siphon=siphon))
    (rule,) = (rule for rule in read_rules(plan.site).rules if isinstance(rule, FlangeFit))
    assert rule.admits(asked) is ok


@pytest.mark.parametrize(("depth_mm", "ok"), [(500, True), (501, False)])
def test_a_guard_for_a_deep_bed(tmp_path: Path, shelf: Catalog, depth_mm: int, ok: bool) -> None:
    """Guards of 500 mm do for a bed of 500 mm, and for none deeper, though its water is no higher."""
    path = tmp_path / "deep.toml"
    path.write_text(one_bed(f'depth = "{depth_mm} mm"\nflood = "250 mm"') + OFF)
    outcome = autoplan.design(autoplan.load_problem(path), shelf, top=1)
    assert bool(outcome.designs) is ok
    assert ok or any("guard-rim" in str(place) for place in outcome.clash.rules)


def test_the_guard_is_told_to_the_rim(tmp_path: Path, shelf: Catalog) -> None:
    """It is cut to the bed's depth, not to what is over the water, and so it is said."""
    outcome, design = designed(tmp_path, shelf)
    bed = outcome.site.vessels["bed 1"]
    told = " ".join(plain_text(siphons(outcome, design, SI)).split())
    assert f"guard up to the rim, at least {(bed.rim_m - bed.floor_m) * 1000:.1f} mm high (" in told


def test_the_thin_air_tube_is_not_taken(tmp_path: Path, shelf: Catalog) -> None:
    """Of 4 and 6 mm inside the cheaper one is too thin; where the limit is put down it is taken."""
    _, design = designed(tmp_path, shelf)
    assert siphon_of(design).snorkel == "snorkel-6"
    _, thin = designed(tmp_path, shelf, '[rules.air-tube]\nleast = "4 mm"\n')
    assert siphon_of(thin).snorkel == "snorkel-4"
