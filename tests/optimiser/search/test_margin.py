"""Ranked by margin: the most height to spare within the budget, against trying everything."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import pytest

import autoplan
from autoplan.catalog.parts import Catalog
from autoplan.drawing import DrawnLevel
from autoplan.errors import InputError
from autoplan.optimiser.search.margin import MOST_MM, rank_by_margin
from autoplan.optimiser.search.merge import Merged, Placed
from autoplan.optimiser.search.ranking import Ranked
from autoplan.optimiser.search.solve import Ending
from autoplan.optimiser.search.variants import Variant
from autoplan.outcome import Finding, Outcome, Status
from autoplan.places import OnRun
from autoplan.problem.site import Site
from autoplan.report.contract import outcome_json
from autoplan.report.render.plain import plain_text
from autoplan.report.render.show import report
from autoplan.rules.book import KINDS
from autoplan.rules.margin import HEIGHTS, least_margin, margin_mm
from autoplan.rules.survey import Survey
from tests.optimiser.everything import Everything

SITE = Callable[..., Site]
FALLING: dict[str, Any] = {"flow_l_h": 950.0, "tank_water_m": (0.14, 0.14), "drain_legs_m": (2.6, 1.0, 2.6)}
"""A tank 40 mm over what it drains to: fall is what is short."""


def spared(site: Site, catalog: Catalog) -> list[tuple[int, float]]:
    """Cost [cents] and least height to spare [mm] of designs that hold, on real numbers, cheapest first.

    All of them but those that spare no more than a cheaper one.
    """
    everything, found = Everything(site, catalog), []
    levels = {n: DrawnLevel(n, v.water_min_m, v.water_min_m) for n, v in site.vessels.items()}
    for cents, shape in everything.by_cost():
        drawing = everything.holed(replace(shape, levels=levels))
        survey = Survey(site, catalog, drawing)
        heights = [one for rule in everything.book.rules if rule.id in HEIGHTS for one in rule.check(survey)]
        spare = min(one.margin * (1000 if one.unit == "m" else 1) for one in heights)
        if found and spare <= found[-1][1]:
            continue
        others = (
            one for rule in everything.book.rules if rule.id not in HEIGHTS for one in rule.check(survey)
        )
        if all(one.ok for one in (*heights, *others) if one.hard):
            found.append((cents, spare))
    return found


@pytest.fixture(scope="module")
def falling(site_of: SITE, corner_shelf: Catalog) -> list[tuple[int, float]]:
    """Every design where fall is what is short."""
    return spared(site_of(**FALLING), corner_shelf)


def best_of(found: Sequence[tuple[int, float]], budget: float) -> tuple[int, int]:
    """Most whole millimetres within a budget, and the least cost with so many [cents]."""
    within = [(cents, spare) for cents, spare in found if cents <= round(budget * 100)]
    most = math.floor(max(spare for _, spare in within))
    return most, min(cents for cents, spare in within if spare >= most)


def ranked(site: Site, catalog: Catalog, budget: float | None, top: int = 1) -> Outcome:
    """Designs by margin."""
    return autoplan.design(site, catalog, top=top, budget=budget, rank_by="margin")


def turns(found: Sequence[tuple[int, float]]) -> list[int]:
    """What costs buy a whole millimetre more than any lower one [cents]."""
    costs, most = [], -1
    for cents, spare in sorted(found):
        if math.floor(spare) > most:
            costs, most = [*dict.fromkeys([*costs, cents])], math.floor(spare)
    return costs


@pytest.mark.parametrize(
    ("turn", "more"),
    [
        *((0, 5), (1, 0), (2, -1), (2, 0)),
        *(pytest.param(*more, marks=pytest.mark.long) for more in ((1, -1), (1, 1000), (2, 16_000))),
    ],
    ids=str,
)
def test_the_most_margin_within_a_budget(
    site_of: SITE, corner_shelf: Catalog, falling: list[tuple[int, float]], turn: int, more: int
) -> None:
    """A little money buys a millimetre, more buys a wider drain; a cent too little buys neither."""
    site, budget = site_of(**FALLING), (turns(falling)[turn] + more) / 100
    most, cents = best_of(falling, budget)
    outcome = ranked(site, corner_shelf, budget)
    (design,) = outcome.designs
    assert outcome.status is Status.PROVEN
    assert design.proven
    assert design.kept_mm == most
    assert round(design.objective * 100) == cents
    assert design.margin is not None
    assert margin_mm(design.margin) >= most
    judged = {rule for rule in HEIGHTS if KINDS[rule].concerns(site)}
    assert {one.rule for one in design.verdict.findings} >= {"budget", *judged}


def test_the_budgets_above_are_where_it_turns(falling: list[tuple[int, float]]) -> None:
    """The first step is of a millimetre for under 2 EUR, the second of many for more than ten times that."""
    steps = [best_of(falling, cents / 100) for cents in turns(falling)]
    assert [cents for _, cents in steps] == turns(falling)
    (least, first), (more, second), (most, third) = steps
    assert more - least == 1
    assert second - first < 200
    assert most - more > 5
    assert third - second > 2000


def test_without_a_budget_a_tenth_over_the_cheapest(
    site_of: SITE, corner_shelf: Catalog, falling: list[tuple[int, float]]
) -> None:
    """A tenth over what the cheapest costs may be spent, which is said among the assumptions."""
    site = site_of(**FALLING)
    budget = math.floor(min(falling)[0] * 1.1) / 100
    outcome = ranked(site, corner_shelf, None)
    (design,) = outcome.designs
    assert (design.kept_mm, round(design.objective * 100)) == best_of(falling, budget)
    (assumed,) = [one for one in outcome.site.assumptions if one.place == "wishes.budget"]
    assert assumed.text == f"{budget:.2f}"
    assert "10% over the cheapest design" in assumed.why
    assert assumed.mark == "common practice, no source"


def test_a_pump_may_be_what_is_tight(site_of: SITE, corner_shelf: Catalog) -> None:
    """With fall enough it is the pump's head that is short, and a larger budget buys a stronger pump."""
    site = site_of(flow_l_h=1150.0)
    found = spared(site, corner_shelf)
    rules, kept = [], []
    for budget in (min(found)[0] / 100, 2 * min(found)[0] / 100):
        (design,) = ranked(site, corner_shelf, budget).designs
        assert (design.kept_mm, round(design.objective * 100)) == best_of(found, budget)
        assert design.margin is not None
        rules.append(design.margin.rule)
        kept.append(design.kept_mm)
    assert rules[0] == "pump-duty"
    assert kept[0] < kept[1]


def test_further_ranks_have_less_to_spare(site_of: SITE, corner_shelf: Catalog) -> None:
    """Down the ranks margin falls, and at one margin cost rises; no two ranks are alike in their traits."""
    outcome = ranked(site_of(**FALLING), corner_shelf, 130.0, top=4)
    assert len(outcome.designs) == 4
    keys = [(-(design.kept_mm or 0), design.objective) for design in outcome.designs]
    assert keys == sorted(keys)
    assert len({tuple(sorted(design.traits.items())) for design in outcome.designs}) == 4
    assert [design.rank for design in outcome.designs] == [1, 2, 3, 4]


def test_no_design_within_the_budget(site_of: SITE, corner_shelf: Catalog) -> None:
    """A budget under the cheapest leaves none, as it does when cost ranks."""
    outcome = ranked(site_of(**FALLING), corner_shelf, 92.64)
    assert outcome.status is Status.NONE
    assert outcome.clash is not None
    assert "budget" in outcome.clash.rules


def test_what_is_printed(site_of: SITE, corner_shelf: Catalog, falling: list[tuple[int, float]]) -> None:
    """The answer says what margin is, how much there is and where, how sure that is; so does the JSON."""
    outcome = ranked(site_of(**FALLING), corner_shelf, 111.0)
    spare = max(spare for cents, spare in falling if cents <= 11_100)
    assert math.floor(spare) == 19
    text = " ".join(plain_text(report(outcome)).split())
    assert "Rank 1 keeps 19 mm of margin within 111.00 EUR" in text
    assert "nothing within 111.00 EUR keeps 20 mm, and that nothing that keeps 19 mm costs less." in text
    assert "Margin is the least height of water to spare over what the rules ask" in text
    tenths = math.floor(spare * 10) / 10
    assert f"Rank 1: {tenths} mm to spare, least by drain-fall at drain." in text
    design: Any = outcome_json(outcome)["designs"]
    assert design[0]["kept_margin_mm"] == 19
    assert design[0]["margin"]["id"] == "drain-fall"
    assert design[0]["margin"]["margin"] == pytest.approx(spare, abs=0.01)


@pytest.mark.parametrize(
    ("off", "place"), [(("budget",), "rules.budget.off"), (HEIGHTS, "rules"), (HEIGHTS[1:], None)]
)
def test_rules_that_it_speaks_of(
    site_of: SITE, corner_shelf: Catalog, off: Sequence[str], place: str | None
) -> None:
    """Without the budget, or without any rule of heights, there is nothing to rank; one of them will do."""
    site = replace(site_of(**FALLING), rule_settings={rule: {"off": True} for rule in off})
    if place is None:
        assert ranked(site, corner_shelf, 111.0).designs
        return
    with pytest.raises(InputError) as caught:
        ranked(site, corner_shelf, 111.0)
    assert [mistake.place for mistake in caught.value.mistakes] == [place]


@dataclass
class Shop:
    """A make-believe search: designs that keep so many tenths of a millimetre for so many cents."""

    rows: Sequence[tuple[int, int]]
    stops_at: int | None = None
    asked: int = 0

    def __call__(self, reserve: int, known: Sequence[Placed], top: int) -> Merged:
        """The cheapest that keep the reserve and are not known."""
        self.asked += 1
        if self.stops_at is not None and reserve >= self.stops_at:
            return Merged(ending=Ending.UNDECIDED)
        gone = {placed.ranked.key["row"] for placed in known}
        left = [row for row in self.rows if row[0] >= reserve and str(row) not in gone]
        found = [self._placed(row) for row in sorted(left, key=lambda row: row[1])[:top]]
        return Merged(found, Ending.PROVEN if found else Ending.NONE)

    def _placed(self, row: tuple[int, int]) -> Placed:
        finding = Finding("drain-fall", "", OnRun("drain"), 0.0, 0.0, row[0] / 10, "mm", True, True, "")
        verdict: Any = type("Judged", (), {"findings": (finding,)})()
        drawing: Any = None
        ranked = Ranked(drawing, verdict, row[1], row[1], True, {}, {"row": str(row)})
        return Placed(Variant(None), ranked, row[1], True)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "rows",
    [
        [(5, 10)],
        [(0, 10), (9, 11), (10, 12)],
        [(399, 10), (400, 20), (409, 15), (410, 99)],
        [(77 * k % 1009, 1000 - k) for k in range(60)],
        [(10 * MOST_MM, 1), (20 * MOST_MM, 2)],
    ],
    ids=len,
)
def test_halving_finds_what_sorting_does(rows: list[tuple[int, int]]) -> None:
    """Whole millimetres, then cents: the order is that of sorting all rows, whatever they are."""
    shop = Shop(rows)
    whole = rank_by_margin(shop, 5)
    expected = sorted(((-min(spare // 10, MOST_MM), cents) for spare, cents in rows))[:5]
    found = [(-mm, one.ranked.objective) for mm, one in zip(whole.kept_mm, whole.merged.designs, strict=True)]
    assert found == expected
    assert all(one.proven for one in whole.merged.designs)
    assert shop.asked < 100


def test_time_running_out_proves_nothing() -> None:
    """Where a search ends undecided the best so far is told, and not as proven."""
    whole = rank_by_margin(Shop([(123, 5), (200, 9)], stops_at=150), 3)
    assert whole.kept_mm
    assert whole.kept_mm[0] == 12
    assert not whole.merged.designs[0].proven


def test_the_least_of_mixed_units() -> None:
    """40 mm of fall are more to spare than 0.03 m of head; what is no height does not count."""

    def found(rule: str, margin: float, unit: str) -> Finding:
        return Finding(rule, "", OnRun(""), 0.0, 0.0, margin, unit, True, True, "")

    rows = [found("drain-fall", 40.0, "mm"), found("pump-duty", 0.03, "m"), found("drain-bore", 1.0, "mm")]
    least = least_margin(rows)
    assert least is rows[1]
    assert margin_mm(least) == pytest.approx(30.0)
    assert least_margin(rows[2:]) is None
