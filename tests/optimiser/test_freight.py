"""An answer of a search that was cut short pays no more freight than its orders ask for."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import product

import pytest

from autoplan.catalog.parts import Catalog
from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.model.purchase import Freight
from autoplan.problem.site import Site
from autoplan.rules.book import read_rules
from autoplan.rules.linear import Var, evaluate

SITE = Callable[..., Site]


@pytest.fixture(scope="module")
def draft(site_of: SITE, corner_shelf: Catalog) -> Draft:
    """A model that buys at two shops: one with freight that falls away from some value on, one without."""
    site = site_of()
    return Draft(site, corner_shelf, read_rules(site))


def ordering(draft: Draft, freight: Freight, cents: int) -> list[int]:
    """Values of a model in which goods for about so much are ordered from one shop, and nothing else."""
    values = [0] * len(draft.model.variables)
    var, price = min(freight.goods.terms.items(), key=lambda term: term[1])
    values[var] = round(cents / price)
    return values


def allowed(draft: Draft, freight: Freight, values: Sequence[int]) -> Iterator[int]:
    """What may be paid for carriage: every value of the shop's choices that keeps the rows they stand in."""
    own = [var for var in (freight.pays, freight.topped) if var is not None]
    rows = [row.left for row in draft.model.inequalities if any(var in row.left.terms for var in own)]
    assert rows
    used = int(evaluate(freight.goods, values) > 0)
    for pays, topped in product(range(freight.shop.freight_cents + 1), (0, 1)):
        tried = list(values)
        tried[freight.used], tried[freight.unused] = used, 1 - used
        tried[own[0]] = pays
        if freight.topped is not None:
            tried[freight.topped] = topped
        if all(evaluate(row, tried) >= 0 for row in rows):
            yield pays


@pytest.mark.parametrize("cents", [0, 1000, 23_900, 24_100, 24_600, 24_950, 25_050, 40_000])
@pytest.mark.parametrize("shop", [0, 1])
def test_no_more_freight_than_asked_for(draft: Draft, shop: int, cents: int) -> None:
    """Whatever was paid, the least that the model's own rows allow is; of the order nothing changes.

    Freight of 9.90 is asked for up to 250.00 at one shop, so from 240.10 on it is cheaper to top up.
    """
    freight = draft.orders.freight[shop]
    values = ordering(draft, freight, cents)
    least = min(allowed(draft, freight, values))
    for wasteful in (0, 1):
        values[freight.used], values[freight.unused] = 1, 0
        assert freight.pays is not None
        values[freight.pays] = freight.shop.freight_cents * wasteful
        found = draft.orders.with_least_freight(values)
        assert found[freight.pays] == least
        assert (found[freight.used], found[freight.unused]) == (int(cents > 0), int(cents == 0))
        own = {freight.used, freight.unused, freight.pays, freight.topped}
        others = [Var(i) for i in range(len(values)) if i not in own]
        kept = [i for i in others if not any(i in (f.unused, f.used) for f in draft.orders.freight)]
        assert [found[i] for i in kept] == [values[i] for i in kept]


def test_both_kinds_of_shop_are_tried(draft: Draft) -> None:
    """One shop sends for nothing from 250.00 on, the other never does; there are cheap lines at both."""
    shops = [(one.shop.freight_cents, one.shop.free_from_cents) for one in draft.orders.freight]
    assert sorted(shops) == [(990, 25_000), (1250, None)]
    assert all(min(one.goods.terms.values()) < 100 for one in draft.orders.freight)
