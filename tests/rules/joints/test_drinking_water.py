"""Parts sold for drinking water in the circuit: both halves of the rule, the wish, and what it costs."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

import autoplan
from autoplan.catalog.materials import Grade
from autoplan.catalog.parts import FixtureKind, SundryKind
from autoplan.fittings.riser import Riser
from autoplan.fittings.valve import ValveSet
from autoplan.line.row import Line
from autoplan.outcome import Outcome, Status
from autoplan.problem.brief import DrainGrade
from autoplan.report.render.plain import plain_text
from autoplan.report.shelf import shelf
from autoplan.report.units import SI
from autoplan.rules.asked import InWall, OnShelf
from autoplan.rules.book import read_rules
from autoplan.rules.joints.drinking_water import DrinkingWater
from tests.lines import the
from tests.short_list import from_shortest_list

BASE = Path("problems/one-tank-one-bed.toml").read_text(encoding="utf-8")
ALLOWED = '\n[wishes]\ndrain_grade = "drain"\n'


@pytest.fixture
def pure(plan):
    """The plan in a price list that sells everything for drinking water."""
    catalog = plan.catalog
    for kind in ("pipes", "turns", "tees", "adaptors", "valves", "penetrations", "pumps", "siphons", "air"):
        rows = {part.id: replace(part, grade=Grade.DRINKING) for part in getattr(catalog, kind).values()}
        catalog = replace(catalog, **{kind: rows})
    return replace(plan, catalog=catalog)


def bad(plan) -> set[str]:
    """The parts that the rule finds in the wrong place."""
    return {place for place, found in plan.findings("drinking-water").items() if not found.ok}


def in_drain(plan) -> str:
    """The bend under the tank's riser."""
    return the(plan.drawing.runs["tank drain"], Riser).corner.pieces[0]


def unjudged(plan) -> list[str]:
    """What the rule says that it cannot judge."""
    return [SI.told(said) for said in DrinkingWater({}).unjudged(plan.survey)]


def allowed(plan):
    """The plan of a builder who trusts parts sold for drains in drains."""
    return plan.wishes(drain_grade=DrainGrade.DRAIN)


def test_sold_for_drinking_water_holds(pure) -> None:
    """Where everything is sold for drinking water there is one finding, it holds, and nothing is unjudged."""
    (found,) = pure.findings("drinking-water").values()
    assert (found.value, found.limit, found.ok) == (0.0, 0.0, True)
    assert not unjudged(pure)


def test_a_drain_part_is_refused_until_it_is_asked_for(pure) -> None:
    """A bend sold for drains breaks the rule, and keeps it in a drain where the builder says so."""
    bend = in_drain(pure)
    spoilt = pure.part(bend, grade=Grade.DRAIN, rating_m=0.0)
    assert bad(spoilt) == {bend}
    assert bad(allowed(spoilt)) == set()


def test_only_parts_without_pressure_are_of_drains(pure) -> None:
    """A bend sold for drains that holds a little pressure is none that the wish speaks of."""
    bend = in_drain(pure)
    assert bad(allowed(pure.part(bend, grade=Grade.DRAIN, rating_m=0.1))) == {bend}


@pytest.mark.parametrize("grade", list(Grade))
def test_under_pressure(pure, grade: Grade) -> None:
    """With drain grade allowed in drains, a valve on the feed is not of it, nor holds nothing."""
    valve = the(pure.drawing.runs["tank feed"], ValveSet).valve
    spoilt = allowed(pure.part(valve, grade=grade))
    assert bad(spoilt) == ({valve} if grade is Grade.DRAIN else set())
    assert bad(spoilt.part(valve, rating_m=0.0)) == {valve}


def test_what_is_not_said_is_told_once(pure) -> None:
    """Parts that do not say what they are sold for are allowed, and told in one sentence with their count."""
    valve, bend = the(pure.drawing.runs["tank feed"], ValveSet).valve, in_drain(pure)
    silent = pure.part(valve, grade=Grade.UNKNOWN).part(bend, grade=Grade.UNKNOWN)
    assert bad(silent) == set()
    (said,) = unjudged(silent)
    assert said.startswith("2 of ")
    assert not unjudged(pure.part(valve, grade=Grade.DRAIN))


def test_the_shelf(plan) -> None:
    """Off the shelf go all drain parts, or those that drains have no use for; what stays dry may be any."""
    rule, catalog, strict, loose = DrinkingWater({}), plan.catalog, plan.site, allowed(plan).site
    turn = next(iter(catalog.turns.values()))
    kinds = catalog.fixtures.values()
    screen, cap = (
        next(one for one in kinds if one.kind is kind) for kind in (FixtureKind.SCREEN, FixtureKind.CAP)
    )
    seal = next(iter(catalog.penetrations.values()))
    of_drains = [replace(turn, rating_m=0.0), screen, seal, next(iter(catalog.siphons.values()))]
    others = [replace(turn, rating_m=1.0), cap, *catalog.pumps.values(), *catalog.vessels.values()]
    for row in (*of_drains, *others):
        for grade in Grade:
            part = replace(row, grade=grade)
            assert rule.admits(OnShelf(part, strict)) is (grade is not Grade.DRAIN)
            assert rule.admits(OnShelf(part, loose)) is (grade is not Grade.DRAIN or row in of_drains)
    clamp = next(row for row in catalog.sundries.values() if row.kind is SundryKind.CLAMP)
    assert rule.admits(OnShelf(replace(clamp, grade=Grade.DRAIN), strict))


def test_no_such_wall_part_on_an_inlet(plan) -> None:
    """A wall part sold for drains is for a drain, not for an inlet under pressure."""
    rule, site = DrinkingWater({}), allowed(plan).site
    for part in plan.catalog.penetrations.values():
        for grade in Grade:
            row = replace(part, grade=grade)
            assert rule.admits(InWall(site, site.runs["tank drain"], "tank", False, row))
            pressed = InWall(site, site.runs["tank feed"], "tank", False, row)
            assert rule.admits(pressed) is (grade is not Grade.DRAIN)


def cheapest(folder: Path, extra: str = "") -> Outcome:
    """The cheapest design of the smallest shipped problem with something added."""
    path = folder / "graded.toml"
    path.write_text(from_shortest_list(BASE) + extra, encoding="utf-8")
    return autoplan.design(autoplan.load_problem(path), autoplan.load_catalog("metric"), top=1)


def sold_for_drains(outcome: Outcome, lines: list[Line]) -> set[str]:
    """Parts sold for drains on some lines."""
    rows = (outcome.catalog.part(part) for line in lines for part in (line.pipe, *line.parts()))
    return {row.id for row in rows if row.grade is Grade.DRAIN}


def test_what_it_costs(tmp_path: Path) -> None:
    """Drain parts are bought only where asked for, in drains alone, with no other rule on pressure."""
    off = "\n[rules.pressure-rating]\noff = true\n"
    pure, loose = cheapest(tmp_path, off), cheapest(tmp_path, ALLOWED + off)
    assert pure.status is loose.status is Status.PROVEN
    assert loose.solver.rejected == 0
    for outcome, some in ((pure, False), (loose, True)):
        drawn = outcome.designs[0].drawing.runs
        drains = [line for name, line in drawn.items() if "drain" in name]
        feeds = [line for name, line in drawn.items() if "drain" not in name]
        assert bool(sold_for_drains(outcome, drains)) is some
        assert not sold_for_drains(outcome, feeds)
        assert not outcome.designs[0].verdict.unjudged.get("drinking-water")
    assert loose.designs[0].verdict.cost.to_pay < pure.designs[0].verdict.cost.to_pay


def test_every_row_of_the_shipped_lists_says_it() -> None:
    """Whatever the water touches says its grade in each of the lists that come along."""
    for name in ("metric", "inch", "bore-named"):
        catalog = autoplan.load_catalog(name)
        rule = DrinkingWater({})
        site = autoplan.load_problem("problems/one-tank-one-bed.toml").outline
        rows = [part for group in catalog.groups() for part in group.values()]
        # What the rule would refuse as of drains is what water touches.
        wet = [row for row in rows if not rule.admits(OnShelf(replace(row, grade=Grade.DRAIN), site))]
        assert wet
        assert all(row.grade is not Grade.UNKNOWN for row in wet)
        assert any(row.grade is Grade.DRAIN for row in wet)


def test_the_price_list_tells_how_many() -> None:
    """Listing the parts counts those sold for drinking water, for drains, and those that do not say."""
    catalog = autoplan.load_catalog("metric")
    rows = [part for group in catalog.groups() for part in group.values()]
    count = {grade: sum(row.grade is grade for row in rows) for grade in Grade}
    text = " ".join(plain_text(shelf(catalog)).split())
    assert f"drinking water are {count[Grade.DRINKING]} of them, for drains {count[Grade.DRAIN]}" in text
    assert f"{count[Grade.UNKNOWN]} do not say" in text


def test_it_stands_for_a_wish(plan) -> None:
    """The rule is in force unless it is switched off, and names the wish that it stands for."""
    (rule,) = [rule for rule in read_rules(plan.site).rules if rule.id == "drinking-water"]
    assert hasattr(plan.site.wishes, rule.wished)
