"""What is shown to be in vain is in vain: against searching all the same, and against drafts made afresh."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

import autoplan
from autoplan.catalog.parts import Catalog
from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.model.model import Model
from autoplan.optimiser.options.consumables import COUNTED_BY
from autoplan.optimiser.options.making import NoOptionError
from autoplan.optimiser.options.option_cache import Workshop
from autoplan.optimiser.search.solve import Ending
from autoplan.optimiser.search.without import Without
from autoplan.problem.site import Site
from autoplan.rules.base import Rule
from autoplan.rules.book import RuleBook, read_rules
from tests.optimiser.conftest import cut_down
from tests.searched import searched

SHELF = """drain-40-3m drain-50-3m pn10-32-3m pn16-25-3m pn16-20-metre drain-bend-40-45 drain-sweep-40-90
    drain-tee-40 drain-coupling-40 drain-sweep-50-90 drain-coupling-50 seal-50 elbow-32-90 elbow-25-90
    elbow-25-45 seal-40 bulkhead-25 bush-25-20 union-female-32-1 union-female-25-34 tee-32 tee-25 tee-32-25
    bush-32-25 ball-32 ball-25 pump-1600 pump-2200 pump-3000"""

RUBBER = " rubber-coupling-40 rubber-coupling-50"
"""Without them no drain of a settler comes apart."""

BEDS = """
name = "Beds over a sump"
[tank]
volume = "500 L"
depth = "750 mm"
floor = "150 mm"
[beds]
count = 1
area = "{area} m2"
floor = "550 mm"
floods = "{floods}/hour"
[sump]
volume = "{litres} L"
depth = "500 mm"
floor = "-450 mm"
[wishes]
{wishes}
"""

SETTLER = """
name = "No fall from tank to settler"
[tank]
volume = "500 L"
depth = "750 mm"
floor = "149 mm"
[settler]
volume = "200 L"
depth = "750 mm"
floor = "140 mm"
water_min = "670 mm"
[sump]
volume = "500 L"
floor = "-600 mm"
"""

NONE = {
    "levels": SETTLER,
    "nothing comes apart": SETTLER,
    "a sump too small": BEDS.format(area=1, floods=2, litres=120, wishes=""),
    "floods too often": BEDS.format(area=1, floods=6, litres=900, wishes=""),
    "too little money": BEDS.format(area=1, floods=2, litres=500, wishes="budget = 60"),
    "nothing starts": BEDS.format(area=0.5, floods=0.2, litres=500, wishes=""),
}
"""Problems without a design, each for a reason of its own."""


@pytest.fixture
def shelf(request: pytest.FixtureRequest) -> Catalog:
    """A short price list, for the problem that lacks them without rubber couplings."""
    rigid = "nothing comes apart" in request.node.name
    return cut_down(autoplan.load_catalog("metric"), SHELF if rigid else SHELF + RUBBER)


BY_WATER = ("levels", "a sump too small", "floods too often")
"""Those in which water finds no way, whatever it costs."""


def read(folder: Path, text: str) -> Site:
    """The problem in a text."""
    path = folder / "none.toml"
    path.write_text(text)
    return autoplan.load_problem(path).outline


def shaping(book: RuleBook) -> Iterator[Rule]:
    """Rules that shape the model before a row is written."""
    return (rule for rule in book.rules if rule.answered)


EVERYDAY = 6
"""Every day each reason is tried without every sixth rule, and all six reasons together without each; all
by `pytest -m long tests/optimiser/search/test_without.py`."""


def by_turns(book: RuleBook, reason: str, *, often: int) -> list[str]:
    """Ids of every sixth rule, or of as many as that, other ones for each reason."""
    return [rule.id for rule in book.rules][list(NONE).index(reason) % often :: often]


@pytest.mark.parametrize(("tries", "often"), [(2, EVERYDAY), pytest.param(60, 1, marks=pytest.mark.long)])
@pytest.mark.parametrize("reason", NONE)
def test_in_vain_is_in_vain(tmp_path: Path, shelf: Catalog, reason: str, tries: int, often: int) -> None:
    """Without a rule alone, and without some at random: what is shown to have no design has none."""
    site = read(tmp_path, NONE[reason])
    book = read_rules(site)
    assert searched(site, shelf, book, any_will_do=True).ranking.ending is Ending.NONE
    vain = Without(site, shelf, book, Workshop(shelf))
    wet = Without(site, shelf, book, Workshop(shelf), water_only=True)
    draw, ids = random.Random(reason), [rule.id for rule in book.rules]
    told = [{rule_id} for rule_id in by_turns(book, reason, often=often)]
    told += [set(draw.sample(ids, draw.randint(2, 12))) for _ in range(tries)]
    shown = 0
    for off in told:
        by_water = reason in BY_WATER and wet.none_without(off)
        if vain.none_without(off) or by_water:
            shown += 1
            found = searched(site, shelf, book.without(*off), any_will_do=True).ranking
            assert not found.designs, off
            assert found.ending is Ending.NONE, off
    # A tool that never shows anything would pass the rest.
    assert shown > len(told) / 2
    assert not vain.none_without(ids)


def same(one: Model, other: Model) -> bool:
    """Whether two models are the same, row by row."""
    return (one.variables, one.groups, one.equalities, one.inequalities) == (
        other.variables,
        other.groups,
        other.equalities,
        other.inequalities,
    )


def drafted(site: Site, catalog: Catalog, book: RuleBook, workshop: Workshop | None) -> Model | str:
    """The model, or what it lacks."""
    try:
        return Draft(site, catalog, book, workshop=workshop).model
    except NoOptionError as lacking:
        return str(lacking)


@pytest.mark.parametrize(
    ("reason", "often"),
    [
        *(("levels", EVERYDAY), ("floods too often", EVERYDAY)),
        *(pytest.param(reason, 1, marks=pytest.mark.long) for reason in NONE),
    ],
)
def test_a_workshop_changes_nothing(tmp_path: Path, shelf: Catalog, reason: str, often: int) -> None:
    """A draft that takes over what earlier ones worked out is the same as one made afresh, rule by rule."""
    site = read(tmp_path, NONE[reason])
    book, workshop = read_rules(site), Workshop(shelf)
    drafted(site, shelf, book, workshop)
    for rule_id in by_turns(book, reason, often=often):
        less = book.without(rule_id)
        shared, fresh = (drafted(site, shelf, less, kept) for kept in (workshop, None))
        assert isinstance(shared, Model) == isinstance(fresh, Model), rule_id
        assert shared == fresh if isinstance(shared, str) else same(shared, fresh), rule_id  # type: ignore[arg-type]


def test_a_rule_that_only_writes_rows_takes_them_along(tmp_path: Path, shelf: Catalog) -> None:
    """Without a rule that neither refuses nor asks anything the model is the same but for its rows."""
    site = read(tmp_path, NONE["a sump too small"])
    book = read_rules(site)
    whole = Draft(site, shelf, book).model
    shapes = {rule.id for rule in shaping(book)} | {"pressure-rating", *COUNTED_BY}
    for rule in book.rules:
        if rule.id in shapes:
            continue
        less = Draft(site, shelf, book.without(rule.id)).model
        assert less.groups == whole.groups
        assert less.equalities == whole.equalities
        bought = [row for row in whole.inequalities if row.rule != rule.id or rule.id == "purchase-list"]
        assert less.inequalities == bought, rule.id


def test_one_rule_is_enough(tmp_path: Path, shelf: Catalog) -> None:
    """A siphon fed for less than one flood an hour is forbidden by its rule alone; heights take two rules."""
    seldom = read(tmp_path, BEDS.format(area=3, floods=0.8, litres=2000, wishes=""))
    book = read_rules(seldom)
    vain = Without(seldom, shelf, book, Workshop(shelf))
    assert [rule.id for rule in book.rules if vain.none_under(rule.id)] == ["flood-rate"]
    assert searched(seldom, shelf, book.without("flood-rate"), any_will_do=True).ranking.designs
    levels = read(tmp_path, NONE["a sump too small"])
    book = read_rules(levels)
    vain = Without(levels, shelf, book, Workshop(shelf))
    assert not any(vain.none_under(rule.id) for rule in book.rules)


def test_no_height_helps(tmp_path: Path, shelf: Catalog) -> None:
    """Where a siphon cannot be slow enough no height of the tank is worth trying; where fall lacks it is."""
    often = read(tmp_path, NONE["floods too often"])
    assert Without(often, shelf, read_rules(often), Workshop(shelf)).none_at_any_height("tank")
    levels = read(tmp_path, NONE["levels"])
    assert not Without(levels, shelf, read_rules(levels), Workshop(shelf)).none_at_any_height("tank")


def test_any_design_will_do(tmp_path: Path, shelf: Catalog) -> None:
    """Asked for any design, one that the verdict passes comes; it is called proven only where it is."""
    site = read(tmp_path, BEDS.format(area=1, floods=2, litres=500, wishes=""))
    book = read_rules(site)
    (some,) = searched(site, shelf, book, any_will_do=True).ranking.designs
    (best,) = searched(site, shelf, book).ranking.designs
    assert some.verdict.ok
    assert best.proven
    assert some.objective >= best.objective
    assert some.bound <= best.objective


def test_the_least_that_is_spent(tmp_path: Path, shelf: Catalog) -> None:
    """What any design costs at least without the budget is a bound: near the cheapest, and never over it."""
    site = read(tmp_path, NONE["too little money"])
    book = read_rules(site)
    (best,) = searched(site, shelf, book.without("budget")).ranking.designs
    least = Without(site, shelf, book, Workshop(shelf)).least_cost()
    assert least is not None
    assert 0.8 * best.objective < least <= best.objective
    assert Without(site, shelf, book, Workshop(shelf), water_only=True).least_cost() is None


def test_what_is_given_to_rows(tmp_path: Path, shelf: Catalog) -> None:
    """With as much given to a row as it asks the relaxation has an answer, with less none; the row stays.

    In so small a sump the water sinks by more than a full bed's siphon bears, which is left aside here.
    """
    site = read(tmp_path, NONE["a sump too small"])
    book = read_rules(site).without("full-bed-start")
    rows = Without(site, shelf, book, Workshop(shelf), water_only=True).plain
    assert rows is not None
    (place,) = [n for n, row in enumerate(rows.rows) if row.rule == "sump-low"]
    lacks = rows.least_given({place: 1})
    assert lacks is not None
    assert lacks > 0
    low = rows.rows[place]
    for given, none in ((lacks - 1, True), (lacks + 1, False)):
        low.constraint.SetBounds(low.low - given, low.high)
        assert rows.none(()) is none
        low.constraint.SetBounds(low.low, low.high)
    assert rows.none(())
    assert rows.least_given({place: 1}) == pytest.approx(lacks)
    assert rows.least_given({}) is None


def test_a_pump_by_itself(tmp_path: Path, shelf: Catalog) -> None:
    """Where the sump is too small no pump helps; without the rules of its levels each does or does not."""
    site = read(tmp_path, NONE["a sump too small"])
    rows = Without(site, shelf, read_rules(site), Workshop(shelf), water_only=True).plain
    assert rows is not None
    pumps = [var for var, _ in rows.draft.pumps("sump")]
    assert all(rows.none_with(pump) for pump in pumps)
    by_level = ("sump-low", "sump-high", "full-bed-start")
    assert {rows.none_with(pump, by_level) for pump in pumps} == {True, False}


@pytest.mark.parametrize("reason", ["levels", "a sump too small"])
def test_a_height_in_vain_is_in_vain(tmp_path: Path, shelf: Catalog, reason: str) -> None:
    """Heights of the tank that are shown to have no design have none; one that has a design is not shown."""
    site = read(tmp_path, NONE[reason])
    book = read_rules(site)
    vain = Without(site, shelf, book, Workshop(shelf))
    shown = []
    for by in (0.005, 0.03, 0.1, 0.3):
        tank = site.vessels["tank"]
        higher = replace(
            tank,
            floor_m=tank.floor_m + by,
            water_min_m=tank.water_min_m + by,
            water_max_m=tank.water_max_m + by,
        )
        moved = replace(site, vessels={**site.vessels, "tank": higher})
        shown.append(vain.none_at(moved))
        assert not (shown[-1] and searched(moved, shelf, book, any_will_do=True).ranking.designs), by
    assert any(shown)
    assert all(shown) == (reason == "a sump too small")
