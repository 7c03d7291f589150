"""What a class has no way to be built without, and what is said of it once time is up."""

from __future__ import annotations

import time
from dataclasses import replace
from pathlib import Path
from typing import cast

import pytest

import autoplan
from autoplan.advice.case import Allowance, Case
from autoplan.advice.missing import missing
from autoplan.catalog.parts import Catalog
from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.options.consumables import Counting
from autoplan.optimiser.options.option_cache import Workshop
from autoplan.optimiser.search.attempt import Try
from autoplan.optimiser.search.clock import OutOfTimeError
from autoplan.optimiser.search.without import Without
from autoplan.problem.site import Site
from autoplan.rules.book import RuleBook, read_rules
from tests.one_bed import one_bed
from tests.optimiser.conftest import cut_down
from tests.rules.test_siphons import SHELF
from tests.short_list import gone


def site_of(folder: Path, without: str) -> Site:
    """One bed, and parts of these kinds sold out."""
    path = folder / "bed.toml"
    path.write_text(without + one_bed(sump="500 L"))
    return autoplan.load_problem(path).outline


def case_of(site: Site, catalog: Catalog, book: RuleBook, deadline: float | None) -> Case:
    """What is looked into, with nothing tried yet, and no search."""
    workshop = Workshop(catalog)
    vain = Without(site, catalog, book, workshop)
    return Case(site, catalog, book, cast(Try, None), vain, workshop, Allowance(deadline))


@pytest.fixture(scope="module")
def shelf() -> Catalog:
    """What a tank and a bed with a siphon are built of, and little else."""
    return cut_down(autoplan.load_catalog("metric"), SHELF)


@pytest.fixture
def no_wall_parts(tmp_path: Path, shelf: Catalog) -> Site:
    """Nothing passes a wall."""
    walls = [part.id for part in shelf.penetrations.values()]
    return site_of(tmp_path, f"unavailable = {[*walls, *gone()]}\n")


def test_what_was_refused_is_told_once_time_is_up(no_wall_parts: Site, shelf: Catalog) -> None:
    """With time the parts that are sold out; without, what lacks, and no blame."""
    book = read_rules(no_wall_parts)
    case = case_of(no_wall_parts, shelf, book, None)
    lacking = case.vain.lacking
    assert lacking is not None
    _, (said,) = missing(case, lacking)
    assert "is to be had that fits" in said
    late = replace(case, clock=Allowance(time.monotonic() - 1))
    blamed, (said,) = missing(late, lacking)
    assert blamed == []
    assert said.startswith(f"{lacking.run_class}: no way out of its vessel is left")
    assert said.endswith("not found out in the time given.")


def test_a_class_under_way_is_left_once_time_is_up(tmp_path: Path, shelf: Catalog) -> None:
    """In the middle of building one, not only before the next; after that the shelf is unhurried again."""
    site = site_of(tmp_path, "")
    book = read_rules(site)
    workshop = Workshop(shelf)
    name, members = next(iter(site.classes().items()))
    stock = workshop.shelf(site, book)
    with stock.until(time.monotonic() - 1), pytest.raises(OutOfTimeError):
        workshop.built(site, book, Counting(site, stock, book), name, members)
    assert workshop.built(site, book, Counting(site, stock, book), name, members).candidates


def test_a_draft_keeps_to_the_time_of_its_workshop(tmp_path: Path, shelf: Catalog) -> None:
    """Whatever time it was given itself."""
    site = site_of(tmp_path, "")
    book = read_rules(site)
    workshop = Workshop(shelf)
    workshop.until = time.monotonic() - 1
    with pytest.raises(OutOfTimeError):
        Draft(site, shelf, book, 0, workshop, deadline=time.monotonic() + 100)
    workshop.until = time.monotonic() + 100
    assert Draft(site, shelf, book, 0, workshop).choices_with_parts()
    with pytest.raises(OutOfTimeError):
        Draft(site, shelf, book, 0, Workshop(shelf), deadline=time.monotonic() - 1)
