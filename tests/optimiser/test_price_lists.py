"""Price lists as shops keep them: a stock in every row, adaptors in packs, money without small change."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

import autoplan
from autoplan.catalog.parts import Catalog, Offer, Part
from autoplan.errors import InternalError
from autoplan.optimiser.model import purchase
from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.model.model import ROW_LIMIT, Model
from autoplan.optimiser.model.purchase import money_step
from autoplan.optimiser.options.option_cache import Workshop
from autoplan.optimiser.search.clock import DraftLateError
from autoplan.optimiser.search.relaxation import Relaxation
from autoplan.optimiser.search.solve import Search
from autoplan.outcome import Status
from autoplan.problem.site import Site
from autoplan.rules.book import read_rules
from autoplan.rules.linear import Linear, Var, evaluate, weighted
from tests.lists import rewritten

SITES = Callable[..., Site]


def every_offer(catalog: Catalog, change: Callable[[Part, Offer], Offer]) -> Catalog:
    """The list with each offer of each row changed."""
    return rewritten(
        catalog, lambda part: replace(part, offers=tuple(change(part, offer) for offer in part.offers))
    )


def drafted(site: Site, catalog: Catalog) -> Draft:
    """A draft under the usual rules."""
    return Draft(site, catalog, read_rules(site))


def most_used(draft: Draft) -> dict[str, int]:
    """Of each part the most that any answer takes: the greediest choice of every group, group by group."""
    used = {part: uses.terms for part, uses in draft.uses().items()}
    return {
        part: sum(max(terms.get(var, 0) for var in group) for group in draft.model.groups)
        for part, terms in used.items()
    }


def test_a_stock_that_is_never_used_up_changes_nothing(site_of: SITES, corner_shelf: Catalog) -> None:
    """With fifty of everything in stock the model is that of a list that states no stock, to the last row."""
    site, plenty = site_of(beds=1), every_offer(corner_shelf, lambda _, offer: replace(offer, stock=50))
    free = every_offer(corner_shelf, lambda _, offer: replace(offer, stock=None))
    with_it, without = drafted(site, plenty).model, drafted(site, free).model
    assert with_it.variables == without.variables
    assert with_it.groups == without.groups
    assert with_it.equalities == without.equalities
    assert with_it.inequalities == without.inequalities


def test_a_stock_limits_from_one_piece_less_than_could_be_used(site_of: SITES, corner_shelf: Catalog) -> None:
    """A stock of the most that any answer takes is no limit; one piece less is, and then has its row."""
    site = site_of(beds=2)
    free = every_offer(corner_shelf, lambda _, offer: replace(offer, stock=None))
    most = most_used(drafted(site, free))
    # Of more than a handful, so that no guess says beforehand that they may be scarce.
    part = max(most, key=lambda one: (most[one], one))
    assert most[part] > 5

    def with_stock(count: int) -> Draft:
        def stocked(row: Part, offer: Offer) -> Offer:
            return replace(offer, stock=count) if row.id == part else offer

        return drafted(site, every_offer(free, stocked))

    enough, short = with_stock(most[part]), with_stock(most[part] - 1)
    assert not enough.may_run_short(part)
    assert short.may_run_short(part)
    assert not any(row.rule == "stock" for row in enough.model.inequalities)
    assert any(row.rule == "stock" for row in short.model.inequalities)


def test_one_piece_of_each_is_all_that_is_taken(site_of: SITES, corner_shelf: Catalog) -> None:
    """With one of every elbow and coupling no design takes two, or there is none; with plenty one does."""
    site = site_of()
    kinds = {*corner_shelf.turns, *corner_shelf.adaptors}

    def single(row: Part, offer: Offer) -> Offer:
        return replace(offer, stock=1) if row.id in kinds else offer

    usual, scarce = (
        autoplan.design(site, catalog, top=1) for catalog in (corner_shelf, every_offer(corner_shelf, single))
    )
    assert usual.status is Status.PROVEN
    taken = [
        max(line.packs for line in o.designs[0].drawing.purchases if line.part in kinds) for o in (usual,)
    ]
    assert taken[0] > 1
    for design in scarce.designs:
        assert design.objective >= usual.designs[0].objective
        assert all(line.packs == 1 for line in design.drawing.purchases if line.part in kinds)


def test_a_pack_and_single_pieces_do_not_beat_each_other(site_of: SITES, corner_shelf: Catalog) -> None:
    """A part that comes by ten, for less a piece but more by the pack, leaves the other worth keeping."""
    shelf = drafted(site_of(), corner_shelf).shelf
    bush, other = "thread-bush-1-34", "thread-female-32-34"

    def priced(pack_cents: int) -> tuple[bool, bool]:
        offers = {bush: Offer("weir", pack_cents, 10), other: Offer("weir", 100)}
        catalog = every_offer(corner_shelf, lambda row, offer: offers.get(row.id, offer))
        made = type(shelf)(shelf.site, catalog)
        one, two = made.bill([bush]), made.bill([other])
        return made.no_dearer(one, two), made.no_dearer(two, one)

    assert priced(90) == (True, False)
    assert priced(100) == (True, False)
    assert priced(101) == (False, False)
    assert priced(999) == (False, False)
    assert priced(1000) == (False, True)


def test_money_goes_by_the_least_step_of_a_list(site_of: SITES, corner_shelf: Catalog) -> None:
    """Prices times 160 have the same cheapest design, at 160 times the cost, and no row is out of bounds."""
    by = 160
    shops = {
        name: replace(
            shop,
            freight_cents=shop.freight_cents * by,
            free_from_cents=None if shop.free_from_cents is None else shop.free_from_cents * by,
        )
        for name, shop in corner_shelf.shops.items()
    }
    dear = every_offer(corner_shelf, lambda _, offer: replace(offer, price_cents=offer.price_cents * by))
    dear = replace(dear, shops=shops)
    assert money_step(dear) == by * money_step(corner_shelf)
    site = site_of(beds=1)
    usual, scaled = (autoplan.design(site, catalog, top=1) for catalog in (corner_shelf, dear))
    assert usual.status is scaled.status is Status.PROVEN
    assert scaled.designs[0].objective == pytest.approx(by * usual.designs[0].objective)


@given(
    coefs=st.lists(st.integers(-5, 5).map(lambda n: n * 1_000_000_000), min_size=6, max_size=6),
    loose=st.integers(-3, 3).map(lambda n: n * 1_000_000_000),
    constant=st.integers(-(10**9), 10**9),
)
def test_a_row_made_small_says_the_same(coefs: list[int], loose: int, constant: int) -> None:
    """A row past the limit is kept in smaller numbers, and holds for just the answers for which it held."""
    model = Model()
    groups = [[model.choice(f"{g} {i}") for i in range(3)] for g in range(2)]
    for group in groups:
        model.exactly_one(group)
    other = model.integer("other", 0, 2)
    row = weighted(zip((*groups[0], *groups[1]), coefs, strict=True)) + weighted([(other, loose)]) + constant
    try:
        model.at_least("rule", row, 0)
    except InternalError:
        return
    (kept,) = model.inequalities
    assert kept.left.size + abs(kept.left.constant) <= ROW_LIMIT
    for first, second, many in product(range(3), range(3), range(3)):
        values = [int(i == first) for i in range(3)] + [int(i == second) for i in range(3)] + [many]
        assert (evaluate(row, values) >= 0) == (evaluate(kept.left, values) >= 0)


def test_a_row_that_frees_most_options_stays_small() -> None:
    """Thousands of options freed by a large number, and two that are not, make a row of two large numbers."""
    model = Model()
    group = [model.choice(str(number)) for number in range(10_000)]
    model.exactly_one(group)
    free = weighted((var, 300_000 if number > 1 else 7 + number) for number, var in enumerate(group))
    model.at_least("rule", free, 100)
    assert model.inequalities[0].left.terms == {Var(0): 7 - 300_000, Var(1): 8 - 300_000}
    assert model.inequalities[0].left.constant == 300_000 - 100


def test_rows_that_cannot_be_made_small_are_a_fault() -> None:
    """Numbers without a common step, of different variables, are refused past the limit and taken at it."""
    model = Model()
    one, two = model.integer("one", 0, 1), model.integer("two", 0, 1)
    model.at_least("rule", Linear({one: 2, two: ROW_LIMIT - 2}), 0)
    with pytest.raises(InternalError, match="past what the solver can be trusted with"):
        model.at_least("rule", Linear({one: 2, two: ROW_LIMIT}), 0)


def test_a_draft_that_is_late_says_so(site_of: SITES, corner_shelf: Catalog) -> None:
    """A deadline that has passed ends a draft by its own error; one that is far off changes nothing."""
    site = site_of()
    book = read_rules(site)
    with pytest.raises(DraftLateError):
        Draft(site, corner_shelf, book, deadline=time.monotonic() - 1.0)
    made = Draft(site, corner_shelf, book, deadline=time.monotonic() + 1000.0)
    assert made.model.variables == drafted(site, corner_shelf).model.variables


@pytest.mark.parametrize("looks", [0, 1, 50, 300])
def test_a_draft_cut_short_leaves_the_next_one_whole(
    site_of: SITES, corner_shelf: Catalog, monkeypatch: pytest.MonkeyPatch, looks: int
) -> None:
    """Wherever the clock ends a draft, the next from the same workshop is what it would be from a new one."""
    site, left = site_of(beds=1), looks

    def late(_: float | None) -> bool:
        nonlocal left
        left -= 1
        return left < 0

    book, workshop = read_rules(site), Workshop(corner_shelf)
    with monkeypatch.context() as patch:
        patch.setattr("autoplan.optimiser.search.clock.late", late)
        with pytest.raises(DraftLateError):
            Draft(site, corner_shelf, book, workshop=workshop, deadline=1.0)
        # What is asked of its shelf afterwards is never late.
        workshop.shelf(site, book).clock.check()
    again, fresh = Draft(site, corner_shelf, book, workshop=workshop), drafted(site, corner_shelf)
    assert again.model.variables == fresh.model.variables
    assert again.model.inequalities == fresh.model.inequalities


@pytest.mark.parametrize("pack", [2, 10])
def test_a_pack_is_opened_by_its_first_piece(
    site_of: SITES, corner_shelf: Catalog, monkeypatch: pytest.MonkeyPatch, pack: int
) -> None:
    """The rows that say so leave the optimum as it is, and the relaxation of packs comes nearer to it."""
    kinds = {*corner_shelf.turns, *corner_shelf.tees, *corner_shelf.adaptors}

    def in_packs(row: Part, offer: Offer) -> Offer:
        return replace(offer, pack=pack, price_cents=pack * offer.price_cents) if row.id in kinds else offer

    site, catalog = site_of(), every_offer(corner_shelf, in_packs)
    tight = drafted(site, catalog)
    monkeypatch.setattr(purchase, "_opened", lambda *_: None)
    loose = drafted(site, catalog)
    assert len(tight.model.inequalities) > len(loose.model.inequalities)
    costs = [Search(draft.model).minimize(draft.spending()).objective for draft in (tight, loose)]
    bounds = [Relaxation(d.model, d.spending(), frozenset(), ()).branch(()).bound for d in (tight, loose)]
    assert costs[0] == costs[1] is not None
    assert bounds[1] + 100 < bounds[0] <= costs[0] + 1e-6
