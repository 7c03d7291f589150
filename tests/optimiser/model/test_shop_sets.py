"""Many shops: an order over the best of all sets of them, each set bounded before it is searched."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import combinations, product
from typing import Any

import pytest
from hypothesis import strategies as st

import autoplan
from autoplan.catalog.parts import Catalog, Offer, Part, Shop
from autoplan.optimiser.model import shop_sets
from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.model.goods import Goods
from autoplan.optimiser.model.shop_sets import divisions
from autoplan.optimiser.search.presolve import Narrowing, impossible
from autoplan.optimiser.search.relaxation import Relaxation
from autoplan.optimiser.search.separate import Separator
from autoplan.optimiser.search.solve import Ending, Search
from autoplan.outcome import Status
from autoplan.problem.site import Site
from autoplan.rules.book import read_rules
from autoplan.rules.linear import Linear, evaluate
from tests.bulk import few_and_many
from tests.lists import rewritten

SITES = Callable[..., Site]


def over_shops(catalog: Catalog, market: dict[str, Any]) -> Catalog:
    """The list with parts sold by some of the market's shops, at their own prices times what each asks.

    Where the market says so they come in packs.
    """
    shops = {
        f"shop {n}": Shop(f"shop {n}", f"shop {n}", freight, free_from)
        for n, (freight, free_from) in enumerate(market["shops"])
    }
    asked = iter(market["asked"] * 1000)
    having = iter(market["having"] * 1000)
    packs = iter(market.get("packs", [1]) * 1000)

    def sold(part: Part) -> Part:
        first, many = part.offers[0], next(packs)
        offers = [
            Offer(shop, max(5, many * round(first.price_cents * next(asked) / 500) * 5), many * first.pack)
            for shop in shops
            if next(having)
        ]
        return replace(part, offers=tuple(offers) or (replace(first, shop="shop 0"),))

    return replace(rewritten(catalog, sold), shops=shops)


@st.composite
def markets(draw: st.DrawFn, least: int = 3, most: int = 5) -> dict[str, Any]:
    """Shops with freight and perhaps free freight, which of them sell a part, and per cent of its price."""
    shop = st.tuples(
        st.sampled_from((0, 150, 450, 900, 1400)), st.sampled_from((None, None, 4000, 9000, 25_000))
    )
    return {
        "shops": draw(st.lists(shop, min_size=least, max_size=most)),
        "asked": draw(st.lists(st.integers(80, 125), min_size=61, max_size=61)),
        "having": draw(st.lists(st.sampled_from((True, True, False)), min_size=67, max_size=67)),
        "packs": draw(st.lists(st.sampled_from((1, 1, 3, 10)), min_size=53, max_size=53)),
    }


def only_from(catalog: Catalog, shops: Sequence[str]) -> Catalog:
    """The list without what no shop of these sells."""

    def sold(part: Part) -> Part | None:
        offers = tuple(offer for offer in part.offers if offer.shop in shops)
        return replace(part, offers=offers) if offers else None

    return replace(rewritten(catalog, sold), shops={name: catalog.shops[name] for name in shops})


def draft_of(site: Site, catalog: Catalog) -> Draft:
    """A draft under the usual rules."""
    return Draft(site, catalog, read_rules(site))


def sets_bound_what_they_hold(corner_shelf: Catalog, site_of: SITES, market: dict[str, Any]) -> None:
    """What is said of a set, by all shops open or by another set, is no more than its relaxation comes to."""
    draft = draft_of(site_of(), over_shops(corner_shelf, market))
    out = impossible(draft.model)
    cost = draft.spending()
    parts, sets = divisions(draft, draft.model, cost, out, None)
    if sets is None:
        assert len(draft.orders.asking) <= 2
        return
    relaxation = Relaxation(draft.model, cost, out, parts, None, sets)
    before = tuple(0 for _ in parts)
    solved = [relaxation.branch((*before, member)) for member in range(len(sets.partition))]
    least = sets.least(before)
    assert all(bound <= branch.bound + 1e-3 for bound, branch in zip(least, solved, strict=True))
    places, separate, rows = range(len(solved)), Separator(draft, out), list[Linear]()
    for _ in range(2):
        for branch in solved:
            if branch.multipliers:
                told = sets.from_like(branch, rows, places) or [-math.inf] * len(solved)
                assert all(bound <= other.bound + 1e-3 for bound, other in zip(told, solved, strict=True))
        # Once more with what tightens the first of them that has an answer.
        rows = [row for branch in solved[:9] if branch.values for row in separate(branch.values)]
        for row in rows:
            relaxation.require(row)
        solved = [relaxation.branch(branch.members) for branch in solved]


test_sets_bound_what_they_hold, test_sets_bound_what_they_hold_at_length = few_and_many(
    sets_bound_what_they_hold, 4, 100, market=markets(3, 4)
)


def same_cost_as_the_whole_model(corner_shelf: Catalog, site_of: SITES, market: dict[str, Any]) -> None:
    """The model narrowed set by set has the optimum of the whole model, and all its choices are still in."""
    draft = draft_of(site_of(), over_shops(corner_shelf, market))
    cost, out = draft.spending(), impossible(draft.model)
    whole = Search(draft.model).minimize(cost)
    assert whole.ending is Ending.PROVEN
    assert whole.objective is not None
    parts, sets = divisions(draft, draft.model, cost, out, None)
    narrowing = Narrowing(draft.model, cost, parts, Separator(draft, out), out=out, last=sets)
    assert narrowing.bound <= whole.objective + 1e-3
    left_out = narrowing.out(whole.objective)
    values = draft.orders.with_least_freight(whole.values)
    assert evaluate(cost, values) == whole.objective
    assert not {var for group in draft.model.groups for var in group if values[var]} & left_out


test_same_cost_as_the_whole_model, test_same_cost_as_the_whole_model_at_length = few_and_many(
    same_cost_as_the_whole_model, 4, 100, market=markets(3, 5)
)


MARKET: dict[str, Any] = {
    "shops": [(450, 9000), (900, None), (150, None), (450, 4000)],
    "asked": [93, 110, 101, 88, 120, 97, 105],
    "having": [True, False, True, True, True, True, True],
}


@pytest.mark.parametrize("listed", [1, pytest.param(5, marks=pytest.mark.long), 30])
def test_sets_that_are_not_listed_are_not_forgotten(
    corner_shelf: Catalog, site_of: SITES, monkeypatch: pytest.MonkeyPatch, listed: int
) -> None:
    """However few sets of shops are listed or bounded one by one, the cost is that of the whole model."""
    monkeypatch.setattr(shop_sets, "MOST_LISTED", listed)
    monkeypatch.setattr(shop_sets, "MOST_SETS", listed)
    catalog = over_shops(corner_shelf, MARKET)
    draft = draft_of(site_of(), catalog)
    whole = Search(draft.model).minimize(draft.spending())
    (design,) = autoplan.design(site_of(), catalog, top=1).designs
    assert (design.proven, round(100 * design.objective)) == (True, whole.objective)


@pytest.mark.parametrize("shops", [3, pytest.param(4, marks=pytest.mark.long)])
def test_any_few_shops_together_are_no_cheaper(corner_shelf: Catalog, site_of: SITES, shops: int) -> None:
    """The best of orders over every two of the shops costs no less than one over all, or just as much."""
    market = {**MARKET, "shops": [(700, None), (900, None), (650, None), (800, None)][:shops]}
    catalog = over_shops(corner_shelf, market)
    (design,) = autoplan.design(site_of(), catalog, top=1).designs
    costs = []
    for pair in combinations(catalog.shops, 2):
        left = only_from(catalog, pair)
        found = autoplan.design(site_of(), left, top=1).designs
        costs += [one.objective for one in found]
    used = {line.shop for line in design.drawing.purchases}
    assert design.objective <= min(costs)
    assert len(used) > 2 or design.objective == min(costs)


def test_every_way_to_order_is_a_member(corner_shelf: Catalog, site_of: SITES) -> None:
    """Each shop with freight is left out, charges or is topped up: 3 x 2 x 2 x 3 ways over four shops."""
    draft = draft_of(site_of(), over_shops(corner_shelf, MARKET))
    _, sets = divisions(draft, draft.model, draft.spending(), impossible(draft.model), None)
    assert sets is not None
    assert len({tuple(sorted(member)) for member in sets.partition}) == 3 * 2 * 2 * 3
    places = [(one.used, one.unused, one.topped, one.untopped) for one in draft.orders.asking]
    for member, ways in product(sets.partition, places):
        assert sum(var in member for var in ways[:2]) == 1
        assert ways[2] is None or sum(var in member for var in ways[2:]) == 1


def test_shops_without_freight_are_all_ordered_from(site_of: SITES, corner_shelf: Catalog) -> None:
    """Where no shop asks for freight parts come from where each is cheapest, and no sets are told apart."""
    shops: list[tuple[int, int | None]] = [(0, None)] * 5
    catalog = over_shops(corner_shelf, {**MARKET, "shops": shops})
    draft = draft_of(site_of(), catalog)
    assert divisions(draft, draft.model, draft.spending(), frozenset(), None)[1] is None
    (design,) = autoplan.design(site_of(), catalog, top=1).designs
    for line in design.drawing.purchases:
        offers = catalog.part(line.part).offers
        asked = {offer.shop: offer.price_cents for offer in offers}
        assert asked[line.shop] == min(asked.values())


def test_goods_of_all_shops_are_bounded_by_any_set(corner_shelf: Catalog, site_of: SITES) -> None:
    """Fewer shops never make goods cheaper: the bound of a set is no less than that of one that holds it."""
    draft = draft_of(site_of(), over_shops(corner_shelf, MARKET))
    out = impossible(draft.model)
    parts, _ = divisions(draft, draft.model, draft.spending(), out, None)
    goods = Goods(draft, draft.model, draft.spending(), out, parts, None)
    read = goods.read((0,) * len(parts))
    assert read is not None
    names = list(draft.catalog.shops)
    sets = [frozenset(c) for size in range(1, 5) for c in combinations(names, size)]
    found = dict(zip(sets, goods.of(read, sets).tolist(), strict=True))
    for small, large in product(sets, sets):
        if small <= large:
            assert found[small] >= found[large] - 1e-6


@pytest.mark.parametrize("shops", [2, 3])
def test_few_shops_are_divided_one_by_one(corner_shelf: Catalog, site_of: SITES, shops: int) -> None:
    """Two shops with freight are two partitions of their own; with three there are sets."""
    market = {**MARKET, "shops": MARKET["shops"][:shops]}
    draft = draft_of(site_of(), over_shops(corner_shelf, market))
    parts, sets = divisions(draft, draft.model, draft.spending(), impossible(draft.model), None)
    assert (sets is None) == (shops == 2)
    ordered = set(draft.orders.ordered.values())
    assert any(ordered & {*member} for part in parts for member in part) == (shops == 2)
    outcome = autoplan.design(site_of(), draft.catalog, top=1)
    assert outcome.status is Status.PROVEN
