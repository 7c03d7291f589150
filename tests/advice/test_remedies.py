"""Why there is no design: what is named as the clash, and what is said to mend it, is tried out again."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

import autoplan
from autoplan.advice.remedies import MATTERS_OF_TASTE
from autoplan.catalog.parts import Catalog, Way
from autoplan.outcome import Outcome, Status
from autoplan.problem.site import Site
from autoplan.rules.book import ALL
from tests.short_list import from_short_list, gone

TOO_LOW = """
name = "The tank's water stands two millimetres over the settler's at most"
[tank]
volume = "2000 L"
depth = "800 mm"
floor = "191 mm"
[settler]
volume = "250 L"
depth = "800 mm"
floor = "190 mm"
water_min = "719 mm"
[sump]
volume = "900 L"
"""

WALL = """
name = "A round tank with a wall that gives way"
[tank]
volume = "600 L"
floor = "150 mm"
wall = "1.5 mm"
[sump]
volume = "500 L"
floor = "-600 mm"
"""


@pytest.fixture(scope="module")
def catalog() -> Catalog:
    """The metric price list."""
    return autoplan.load_catalog("metric")


def none_for(text: str, folder, catalog: Catalog) -> Outcome:
    """The outcome of a problem that has no design."""
    path = folder / "none.toml"
    path.write_text(text)
    outcome = autoplan.design(autoplan.load_problem(path), catalog, top=1)
    assert outcome.status is Status.NONE
    assert outcome.designs == ()
    assert outcome.clash is not None
    return outcome


@pytest.fixture(scope="module")
def too_low(tmp_path_factory: pytest.TempPathFactory, catalog: Catalog) -> Outcome:
    """The drain between tank and settler has no fall to run by."""
    return none_for(from_short_list(TOO_LOW), tmp_path_factory.mktemp("too-low"), catalog)


def solved(site: Site, catalog: Catalog) -> bool:
    """Whether a problem has a design."""
    return bool(autoplan.design(site, catalog, top=1).designs)


def lifted(site: Site, vessel: str, by_mm: float) -> Site:
    """The site with one vessel and its water raised."""
    old, by = site.vessels[vessel], by_mm / 1000
    new = replace(
        old, floor_m=old.floor_m + by, water_min_m=old.water_min_m + by, water_max_m=old.water_max_m + by
    )
    return replace(site, vessels={**site.vessels, vessel: new})


def test_the_clash_is_about_levels(too_low: Outcome) -> None:
    """The rules named are rules of the book, and the range of the water is among them."""
    assert too_low.clash is not None
    assert set(too_low.clash.rules) <= {kind.id for kind in ALL}
    assert "level-range" in too_low.clash.rules


def test_each_rule_named_mends_it(too_low: Outcome, catalog: Catalog) -> None:
    """Without any one of the rules named there is a design; a rule of physics is not offered for dropping."""
    assert too_low.clash is not None
    for rule in too_low.clash.rules:
        site = replace(too_low.site, rule_settings={rule: {"off": True}})
        (design,) = autoplan.design(site, catalog, top=1).designs
        (sentence,) = [text for text in too_low.clash.sentences if text.startswith(rule)]
        price = f"for {design.verdict.cost.purchase + design.verdict.cost.freight:.2f} EUR"
        assert (price in sentence) == (rule in MATTERS_OF_TASTE)
        assert ("no rule to drop" in sentence) == (rule not in MATTERS_OF_TASTE)


def test_raising_the_tank_mends_it(too_low: Outcome, catalog: Catalog) -> None:
    """Raised by the step that is told there is a design, and half of that is not enough."""
    assert too_low.clash is not None
    (told,) = [text for text in too_low.clash.sentences if text.startswith("Raising tank")]
    (step,) = re.findall(r"by (\d+) mm", told)
    assert solved(lifted(too_low.site, "tank", float(step)), catalog)
    assert not solved(lifted(too_low.site, "tank", float(step) / 2), catalog)


def test_no_part_suits_the_wall(tmp_path, catalog: Catalog) -> None:
    """A thin curved wall takes seals alone: without them the class and the rule are told."""
    seals = [part.id for part in catalog.penetrations.values() if part.way is Way.SEAL]
    outcome = none_for(f"unavailable = {[*seals, *gone()]}" + WALL, tmp_path, catalog)
    assert outcome.clash is not None
    assert "penetration-fit" in outcome.clash.rules
    first = outcome.clash.sentences[0]
    assert re.match(r"tank drain: no .+ is left; refused by .*penetration-fit", first)
    # A flat wall of the same thickness takes a bulkhead fitting.
    square = tmp_path / "square.toml"
    square.write_text(from_short_list(WALL).replace('wall = "1.5 mm"', 'wall = "1.5 mm"\nshape = "square"'))
    assert solved(autoplan.load_problem(square), catalog)


def test_no_time_for_remedies(too_low: Outcome, catalog: Catalog) -> None:
    """Where time runs out no remedy is made up: whatever is told was tried."""
    outcome = autoplan.design(too_low.site, catalog, top=1, time_limit=1.0)
    assert outcome.status in (Status.NONE, Status.UNDECIDED)
    if outcome.clash is not None:
        assert too_low.clash is not None
        told, tried = (
            {re.sub(r"for \d+\.\d\d", "for less than all", text) for text in clash.sentences}
            for clash in (outcome.clash, too_low.clash)
        )
        # A design found in a hurry may be dearer than the cheapest that the whole search told.
        assert told <= tried
