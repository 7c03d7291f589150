"""What holds of every problem: designs hold, costs rise down the ranks, more choice never costs more."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from hypothesis import strategies as st

import autoplan
from autoplan.catalog.parts import Catalog, Shop
from autoplan.outcome import Outcome, Status
from autoplan.problem.site import Entry, Site
from autoplan.report.contract import outcome_json
from autoplan.rules.book import read_rules
from autoplan.verdict.judge import judge
from tests.bulk import few_and_many
from tests.lists import rewritten

FEW, MANY = 3, 60

LEGS = st.lists(st.integers(30, 290).map(lambda cm: cm / 100), min_size=1, max_size=3).map(tuple)


@st.composite
def givens(draw: st.DrawFn) -> dict[str, object]:
    """A small problem, as `site_of` takes it: lengths, flows, levels that may clash, up to two beds."""
    sump = draw(st.integers(0, 20)) / 100
    tank = sump + draw(st.integers(1, 45)) / 100
    return {
        "beds": draw(st.integers(0, 2)),
        "bed_flow_l_h": draw(st.integers(200, 600)),
        "flow_l_h": draw(st.integers(400, 2400)),
        "tank_water_m": (tank, tank + draw(st.integers(0, 5)) / 100),
        "sump_water_m": (sump, sump + draw(st.integers(0, 10)) / 100),
        "main_legs_m": draw(LEGS),
        "drain_legs_m": draw(LEGS),
        "entry": draw(st.sampled_from(Entry)),
        "overload": draw(st.sampled_from([1.2, 1.5, 2.0])),
    }


def objective(outcome: Outcome) -> float:
    """Cost of rank 1, infinite where there is no design."""
    return outcome.designs[0].objective if outcome.designs else float("inf")


def order(outcome: Outcome) -> list[tuple[object, object, object, object]]:
    """Everything that a builder would see of each design."""
    return [(d.objective, d.drawing.runs, d.drawing.pumps, d.drawing.purchases) for d in outcome.designs]


def designs_hold_or_there_are_none(
    site_of: Callable[..., Site], corner_shelf: Catalog, given: dict[str, object]
) -> None:
    """Every design passes a fresh verdict and costs no less than the one before; else the answer is none."""
    site = site_of(**given)
    outcome = autoplan.design(site, corner_shelf, top=3)
    assert outcome.status is (Status.PROVEN if outcome.designs else Status.NONE)
    for design in outcome.designs:
        verdict = judge(site, corner_shelf, read_rules(site), design.drawing)
        assert verdict.ok, [finding for finding in verdict.findings if not finding.ok]
        assert round((verdict.cost.purchase + verdict.cost.freight) * 100) == round(design.objective * 100)
    costs = [design.objective for design in outcome.designs]
    assert costs == sorted(costs)
    assert outcome.solver.rejected == 0
    if outcome.status is Status.NONE:
        assert outcome.clash is not None


test_designs_hold_or_there_are_none, test_designs_hold_or_there_are_none_at_length = few_and_many(
    designs_hold_or_there_are_none, FEW, MANY, given=givens()
)


def starts_a_count(catalog: Catalog, part: str) -> bool:
    """Whether a row is the only sundry of its kind: what a list has none of is not counted at all."""
    row = catalog.sundries.get(part)
    return row is not None and sum(other.kind is row.kind for other in catalog.sundries.values()) == 1


def more_parts_never_cost_more(
    site_of: Callable[..., Site], corner_shelf: Catalog, given: dict[str, object], left_out: int
) -> None:
    """A row more on the price list never makes the design dearer.

    Excepted is the first sundry of a kind, with which that kind begins to be counted. A part that may not be
    used does the same as one that is not there, but for sundries, whose kind stays counted.
    """
    site = site_of(**given)
    parts = [part for group in corner_shelf.groups() for part in group]
    part = parts[left_out % len(parts)]
    whole = objective(autoplan.design(site, corner_shelf, top=1))
    gone = objective(
        autoplan.design(replace(site, unavailable=frozenset({part})), corner_shelf, top=1),
    )
    assert whole <= gone
    if not starts_a_count(corner_shelf, part):
        without = rewritten(corner_shelf, lambda row: None if row.id == part else row)
        assert whole <= objective(autoplan.design(site, without, top=1)) <= gone


test_more_parts_never_cost_more, test_more_parts_never_cost_more_at_length = few_and_many(
    more_parts_never_cost_more, FEW, MANY, given=givens(), left_out=st.integers(0, 200)
)


def the_printed_list_adds_up(
    site_of: Callable[..., Site],
    corner_shelf: Catalog,
    changed: Callable[..., Catalog],
    given: dict[str, object],
    freight: int,
) -> None:
    """Lines of the printed purchase list, and freight by shop, come to the cost that was minimised."""
    alder = replace(corner_shelf.shops["alder"], freight_cents=freight)
    catalog = changed(corner_shelf, {"alder": alder})
    answer: dict[str, Any] = dict(outcome_json(autoplan.design(site_of(**given), catalog, top=2)))
    for design in answer["designs"]:
        by_shop: dict[str, int] = {}
        for line in design["purchase"]:
            cents = round(line["line_cost"] * 100)
            assert cents == round(line["packs"] * line["unit_price"] * 100)
            assert line["quantity"] > 0
            by_shop[line["shop"]] = by_shop.get(line["shop"], 0) + cents
        goods = sum(by_shop.values())
        paid = goods + sum(charge(catalog.shops[shop], cents) for shop, cents in by_shop.items())
        assert paid == round(design["objective"] * 100)
        assert goods == round(design["cost"]["purchase"] * 100)


test_the_printed_list_adds_up, test_the_printed_list_adds_up_at_length = few_and_many(
    the_printed_list_adds_up, max(1, FEW // 2), MANY, given=givens(), freight=st.integers(0, 1500)
)


def charge(shop: Shop, goods: int) -> int:
    """Freight, or what tops the order up to the value from which freight is free, whichever is less."""
    free = shop.free_from_cents
    return shop.freight_cents if free is None else min(shop.freight_cents, max(0, free - goods))


def same_problem_same_answer(
    site_of: Callable[..., Site], corner_shelf: Catalog, given: dict[str, object]
) -> None:
    """Asked twice, the same designs in the same order, to the last part and hole."""
    site = site_of(**given)
    first, second = (autoplan.design(site, corner_shelf, top=2) for _ in range(2))
    assert first.status is second.status
    assert order(first) == order(second)


test_same_problem_same_answer, test_same_problem_same_answer_at_length = few_and_many(
    same_problem_same_answer, 2, MANY, given=givens()
)
