"""Orders over two shops, few sticks in stock and pieces of the builder's own, against trying every order.

A shelf so small that there is one way to build each run, so that only the order is to choose. Its prices are
invented here. Every number of packs, sticks and metres of every offer is tried, pieces are laid in every way,
and every line is given to every shop that has it.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from itertools import product
from pathlib import Path
from typing import Any

import pytest
from hypothesis import strategies as st

import autoplan
from autoplan.catalog.parts import Catalog, Offer, Shop
from autoplan.drawing import Drawing
from autoplan.fittings.ends import AtVessel
from autoplan.fittings.floor import ThroughFloor
from autoplan.fittings.riser import Riser
from autoplan.line.laid import Bench, assemble
from autoplan.optimiser.cutting import sticks
from autoplan.optimiser.cutting.cutting import CuttingUndecidedError
from autoplan.outcome import Outcome, Status
from autoplan.problem.site import Entry, Site
from autoplan.rules.book import read_rules
from autoplan.rules.order.purchase_list import PurchaseList
from autoplan.rules.survey import Survey
from tests.bulk import few_and_many
from tests.lists import rewritten
from tests.optimiser.orders import longest_of
from tests.searched import searched

KERF = 30
"""Width of a saw cut [0.1 mm], as the rule has it if the problem says nothing."""

ONE_WAY = """drain-50-3m drain-sweep-50-90 drain-coupling-50 seal-50 bulkhead-50
    pn10-32-3m pn10-32-6m pn10-32-metre elbow-32-90 union-female-32-1 union-female-32-34 tee-32 ball-32
    pump-2200 pump-3000"""

PROBLEMS = Path(__file__).parents[2] / "problems"

Cents = tuple[int, ...]
"""What an order line costs at each shop."""

ShelfOf = Callable[[str], Catalog]


# --- trying everything ----------------------------------------------------------------------------------


def least_order(site: Site, catalog: Catalog, drawing: Drawing) -> int:
    """The least that any order for a drawing costs with freight [cents]."""
    survey = Survey(site, catalog, drawing)
    used, pipe = survey.used_pieces(), as_bought(survey)
    lines = [part_ways(site, catalog, part, count) for part, count in used.items() if count]
    lines += [pipe_ways(site, catalog, row, [round(p * 1e4) for p in pieces]) for row, pieces in pipe.items()]
    # What is used up in joints is not counted in pieces; its lines are taken as they are.
    others = [p for p in drawing.purchases if p.part not in used and p.part not in catalog.pipes]
    for line in others:
        price = {offer.shop: offer.price_cents for offer in catalog.part(line.part).offers}[line.shop]
        lines.append([tuple(price * line.packs * (shop == line.shop) for shop in catalog.shops)])
    totals: set[Cents] = {(0,) * len(catalog.shops)}
    for ways in lines:
        totals = {tuple(map(sum, zip(total, way, strict=True))) for total in totals for way in ways}
    return min(sum(map(with_freight, catalog.shops.values(), total)) for total in totals)


def as_bought(survey: Survey) -> dict[str, list[float]]:
    """Pieces by pipe [m] as long as they are bought: before it is known what a run meets at tees and pumps.

    Taken as a definition of a design; what the parts there take, and what a riser ends below the highest
    water, is cut off afterwards.
    """
    runs = {}
    for name, drawn in survey.drawing.runs.items():
        start, finish = (end if isinstance(end, AtVessel) else replace(end, chain=()) for end in drawn.ends)
        if isinstance(start, ThroughFloor):
            start = replace(start, standpipe_top_m=None)
        elif drawn.one(Riser) is not None:
            assert isinstance(start, AtVessel)
            start = replace(start, centre_m=None)
        bare = drawn.with_ends(start, finish)
        line = assemble(Bench(survey.catalog, survey.joining), survey.site, bare)
        slots = [
            (*slot[:-1], needed - sum(slot[:-1]))
            for slot, needed in zip(drawn.slots_m, line.needed_m, strict=True)
        ]
        runs[name] = replace(drawn, slots_m=tuple(slots))
    return Survey(survey.site, survey.catalog, replace(survey.drawing, runs=runs)).used_pipe()


def with_freight(shop: Shop, goods: int) -> int:
    """Goods and freight; topped up to the value of free freight where that is less."""
    if not goods:
        return 0
    whole = goods + shop.freight_cents
    return whole if shop.free_from_cents is None else min(whole, max(goods, shop.free_from_cents))


def part_ways(site: Site, catalog: Catalog, part: str, count: int) -> list[Cents]:
    """Every number of packs from every shop that holds so many pieces, as what each shop is paid."""
    offers = catalog.part(part).offers
    need = max(0, count - site.owned.get(part, 0))
    ranges = [range(min(-(-need // o.pack), need if o.stock is None else o.stock) + 1) for o in offers]
    return [
        paid(catalog, offers, packs)
        for packs in product(*ranges)
        if sum(n * o.pack for n, o in zip(packs, offers, strict=True)) >= need
    ]


def pipe_ways(site: Site, catalog: Catalog, pipe: str, pieces: Sequence[int]) -> list[Cents]:
    """As few of everything as the pieces can be cut from, in every mix, as what each shop is paid."""
    rows = [row for row in catalog.pipes.values() if row.family == catalog.pipes[pipe].family]
    own: list[int] = []
    for row in rows:
        count = site.owned.get(row.id, 0)
        own += [round(row.stick_m * 1e4)] * count if row.stick_m else [10_000 * count] * bool(count)
        own += [round(piece * 1e4) for piece in site.offcuts.get(row.id, ())]
    lines = [(row, offer) for row in rows for offer in row.offers]
    whole = [round((row.stick_m or longest_of(row)) * 1e4) for row in rows]
    pieces = [planned(piece, [*own, *whole]) for piece in pieces]
    metres = -(-sum(pieces) // 10_000) + 1
    ranges = [
        range(min(len(pieces) if r.stick_m else metres, metres if o.stock is None else o.stock) + 1)
        for r, o in lines
    ]
    found: list[tuple[int, ...]] = []
    for counts in sorted(product(*ranges), key=sum):
        if any(all(a <= b for a, b in zip(old, counts, strict=True)) for old in found):
            continue
        lengths = list(own)
        for (row, offer), n in zip(lines, counts, strict=True):
            number = n * offer.pack
            lengths += [round(row.stick_m * 1e4)] * number if row.stick_m else [10_000 * number]
        if laid(sorted(pieces, reverse=True), [length + KERF for length in lengths]):
            found.append(counts)
    return [paid(catalog, [offer for _, offer in lines], counts) for counts in found]


def planned(piece: int, whole: Sequence[int]) -> int:
    """What is kept for a piece [0.1 mm]: a fiftieth more, no more than the least length it is cut from."""
    return min([math.ceil(piece * 1.02 - 1e-6), *(length for length in whole if length >= piece)])


def laid(pieces: Sequence[int], rooms: Sequence[int]) -> bool:
    """Whether pieces, each with a saw cut, fit; every piece tried in every room."""
    if not pieces:
        return True
    if sum(pieces) + KERF * len(pieces) > sum(rooms):
        return False
    need = pieces[0] + KERF
    return any(
        room >= need and laid(pieces[1:], [*rooms[:i], room - need, *rooms[i + 1 :]])
        for i, room in enumerate(rooms)
        if room not in rooms[:i]
    )


def paid(catalog: Catalog, offers: Sequence[Offer], packs: Sequence[int]) -> Cents:
    """What each shop is paid for so many packs of each offer."""
    return tuple(
        sum(n * o.price_cents for n, o in zip(packs, offers, strict=True) if o.shop == shop)
        for shop in catalog.shops
    )


# --- problems -------------------------------------------------------------------------------------------


def priced(catalog: Catalog, offers: Mapping[str, Iterable[Offer]], **shops: Shop) -> Catalog:
    """A price list with other offers for some parts, and other shops."""
    new = rewritten(catalog, lambda row: replace(row, offers=tuple(offers.get(row.id, row.offers))))
    return replace(new, shops={**catalog.shops, **shops})


def checked(site: Site, catalog: Catalog) -> Outcome:
    """Design; the proven cost is that of the order to the cent, and no order for the drawing costs less."""
    outcome = autoplan.design(site, catalog, top=1)
    assert outcome.status is Status.PROVEN
    assert outcome.solver.rejected == 0
    (design,) = outcome.designs
    survey = Survey(site, catalog, design.drawing)
    assert survey.order_cents() == round(design.objective * 100)
    assert least_order(site, catalog, design.drawing) == survey.order_cents()
    return outcome


def shops_of(outcome: Outcome) -> set[str]:
    """The shops ordered from."""
    return {line.shop for line in outcome.designs[0].drawing.purchases}


@pytest.fixture(scope="module")
def shelf(shelf_of: ShelfOf) -> Catalog:
    """One way to build each run."""
    return shelf_of(ONE_WAY)


@pytest.fixture
def corner(site_of: Callable[..., Site]) -> Callable[..., Site]:
    """Builds a tank and a sump with the given legs of the main, over the rim."""
    return lambda *legs, **more: site_of(main_legs_m=legs, entry=Entry.OVER_RIM, **more)


@pytest.mark.parametrize(
    ("saved", "freight", "shops"), [(900, 850, {"weir", "alder"}), (900, 950, {"weir"})], ids=["split", "not"]
)
def test_an_order_is_split_only_where_that_saves_money(
    shelf: Catalog, corner: Callable[..., Site], saved: int, freight: int, shops: set[str]
) -> None:
    """A pump that is 9.00 cheaper at the second shop is bought there for a freight of 8.50, not for 9.50."""
    pumps = {
        pump: [Offer("weir", offer.price_cents), Offer("alder", offer.price_cents - saved)]
        for pump in ("pump-2200", "pump-3000")
        for offer in shelf.pumps[pump].offers[:1]
    }
    all_at_weir = {
        part.id: [replace(part.offers[0], shop="weir")]
        for group in shelf.groups()
        for part in group.values()
        if part.id not in pumps
    }
    second = replace(shelf.shops["alder"], freight_cents=freight, free_from_cents=None)
    catalog = priced(shelf, {**all_at_weir, **pumps}, alder=second)
    assert shops_of(checked(corner(1.2, 1.4), catalog)) == shops


def test_equal_money_in_sticks_that_do_not_hold(shelf_of: ShelfOf, corner: Callable[..., Site]) -> None:
    """A leg of 4 m is cut from a 6 m stick, not from two of 3 m for the same money."""
    offers = {"pn10-32-3m": [Offer("weir", 350)], "pn10-32-6m": [Offer("weir", 700)]}
    catalog = priced(shelf_of(ONE_WAY.replace("pn10-32-metre", "")), offers)
    outcome = checked(corner(4.0, 1.7), catalog)
    assert {cut.stick_m for cut in outcome.designs[0].drawing.cuts if cut.pipe.startswith("pn10")} == {6.0}


def test_few_cheap_sticks_in_stock(shelf: Catalog, corner: Callable[..., Site]) -> None:
    """Two cheap sticks at the second shop, one long one at the first: the mix that holds the pieces."""
    offers = {
        "pn10-32-3m": [Offer("weir", 350), Offer("alder", 340, 1, 2)],
        "pn10-32-6m": [Offer("weir", 700, 1, 1), Offer("alder", 640, 2, 3)],
        "pn10-32-metre": [Offer("weir", 233, 1, 2)],
    }
    free = replace(shelf.shops["alder"], freight_cents=0)
    for legs in ((4.0, 1.7), (2.0, 2.0, 2.0), (2.9, 4.0, 2.9, 3.1)):
        checked(corner(*legs), priced(shelf, offers, alder=free))


@pytest.mark.parametrize(
    "owned",
    [{"pn10-32-metre": 1, "pn10-32-3m": 1}, {"pn10-32-metre": 5}, {"pn10-32-6m": 1, "pn10-32-metre": 2}],
    ids=str,
)
@pytest.mark.parametrize("legs", [(2.0, 2.0, 2.0), (4.0, 1.7), (2.9, 2.9, 1.0)], ids=str)
def test_odd_sticks_owned(
    shelf: Catalog,
    corner: Callable[..., Site],
    owned: dict[str, int],
    legs: tuple[float, ...],
) -> None:
    """Sticks and metres of one's own, and few to buy at prices that make mixes of them cost the same."""
    offers = {
        "pn10-32-3m": [Offer("weir", 300, 1, 2)],
        "pn10-32-6m": [Offer("weir", 600, 1, 2)],
        "pn10-32-metre": [Offer("weir", 100, 1, 3), Offer("alder", 100, 1, 5)],
    }
    site = replace(corner(*legs), owned=owned)
    catalog = priced(shelf, offers)
    assert checked(site, catalog).designs[0].objective <= checked(corner(*legs), catalog).designs[0].objective


def test_metres_of_two_shops_are_two_lengths(shelf_of: ShelfOf, corner: Callable[..., Site]) -> None:
    """A leg of 1.7 m is not cut from a metre of one shop and a metre of another."""
    offers = {
        "pn10-32-3m": [Offer("weir", 900)],
        "pn10-32-metre": [Offer("weir", 100, 1, 1), Offer("alder", 100, 1, 1)],
    }
    free = replace(shelf_of(ONE_WAY).shops["alder"], freight_cents=0)
    catalog = priced(shelf_of(ONE_WAY.replace("pn10-32-6m", "")), offers, alder=free)
    drawing = checked(corner(1.7, 0.4), catalog).designs[0].drawing
    assert any(cut.pipe == "pn10-32-3m" for cut in drawing.cuts)


def test_offcuts_lower_the_cost(shelf: Catalog, corner: Callable[..., Site]) -> None:
    """An offcut just as long as a piece saves more than one 1.1 mm shorter; each is drawn as one's own."""
    site = corner(2.0, 1.0)
    drawing = autoplan.design(site, shelf, top=1).designs[0].drawing
    (pieces,) = [
        tuple(math.ceil(piece * 1e4 - 1e-6) / 1e4 for piece in found)
        for pipe, found in as_bought(Survey(site, shelf, drawing)).items()
        if pipe.startswith("pn10-32")
    ]
    longest = max(pieces)
    costs = []
    for offcuts in ((), (longest - 0.0011,), (longest,), pieces):
        given = replace(site, offcuts={"pn10-32-3m": offcuts} if offcuts else {})
        outcome = checked(given, shelf)
        costs.append(outcome.designs[0].objective)
        own = [round(cut.stick_m, 4) for cut in outcome.designs[0].drawing.cuts if cut.owned]
        assert not Counter(own) - Counter(round(length, 4) for length in offcuts)
    assert costs[0] > costs[1] > costs[2] > costs[3]


def test_sticks_that_are_not_to_be_had(shelf: Catalog, corner: Callable[..., Site]) -> None:
    """Where all that is left of a pipe is sold by the metre, the shop cuts it to measure.

    Four legs of 1 m less what their elbows take, which with three saw cuts of 100 mm would need more metres.
    """
    site = replace(corner(1.0, 1.0, 1.0, 1.0), rule_settings={"purchase-list": {"kerf": "100 mm"}})
    gone = replace(site, unavailable=frozenset({"pn10-32-3m", "pn10-32-6m"}))
    outcome = autoplan.design(gone, shelf, top=1)
    assert outcome.status is Status.PROVEN
    assert outcome.solver.rejected == 0
    (design,) = outcome.designs
    used = Survey(gone, shelf, design.drawing).used_pipe()["pn10-32-metre"]
    (line,) = [line for line in design.drawing.purchases if line.part == "pn10-32-metre"]
    assert line.packs == math.ceil(sum(used))
    assert line.packs < math.ceil(sum(used) + 0.1 * (len(used) - 1))


def test_offcuts_of_hose_are_cut_by_the_builder(shelf_of: ShelfOf, corner: Callable[..., Site]) -> None:
    """Where a shop sells nothing but metres, a piece of the builder's own saves metres."""
    catalog = shelf_of(ONE_WAY)
    only = replace(
        catalog, pipes={k: p for k, p in catalog.pipes.items() if k[:7] != "pn10-32" or not p.stick_m}
    )
    site = corner(1.2, 1.4)
    without = autoplan.design(site, only, top=1).designs[0]
    found = autoplan.design(replace(site, offcuts={"pn10-32-metre": (1.45,)}), only, top=1).designs[0]
    assert not any(cut.pipe == "pn10-32-metre" for cut in without.drawing.cuts)
    assert [cut.owned for cut in found.drawing.cuts if cut.pipe == "pn10-32-metre"].count(True) == 1
    assert found.objective < without.objective


@pytest.mark.parametrize(("kind", "counted"), [("offcut", True), ("stick", True), ("neither", False)])
def test_the_check_knows_what_the_builder_has(
    shelf: Catalog, corner: Callable[..., Site], kind: str, counted: bool
) -> None:
    """A length said to be the builder's own must be one that the problem names: neither more nor longer."""
    site = replace(corner(2.0, 1.4), offcuts={"pn10-32-3m": (2.1, 1.5)})
    drawing = autoplan.design(site, shelf, top=1).designs[0].drawing
    assert sum(cut.owned for cut in drawing.cuts) == 2
    has: dict[str, Mapping[str, object]] = {
        "offcut": {"offcuts": {"pn10-32-3m": (2.1, 1.5)}},
        "stick": {"offcuts": {}, "owned": {"pn10-32-3m": 2}},
        "neither": {"offcuts": {"pn10-32-3m": (2.1, 1.3)}},
    }
    (rule,) = [rule for rule in read_rules(site).rules if isinstance(rule, PurchaseList)]
    survey = Survey(replace(site, **has[kind]), shelf, drawing)  # type: ignore[arg-type]
    assert all(finding.ok for finding in rule.check(survey)) is counted


@st.composite
def markets(draw: st.DrawFn) -> dict[str, Any]:
    """Prices, stocks, freight, what is owned, and the legs of the main."""
    stock = st.one_of(st.none(), st.integers(0, 2))
    few = st.integers(0, 3)

    def offer(shop: str, low: int, high: int, left: int | None) -> Offer:
        return Offer(shop, draw(st.integers(low, high)) * 10, 1, left)

    offers = {
        "pn10-32-3m": [offer("weir", 30, 40, None), offer("alder", 25, 40, draw(stock))],
        "pn10-32-6m": [offer("weir", 60, 75, None)],
        "pn10-32-metre": [offer("weir", 9, 20, draw(few)), offer("alder", 9, 20, draw(few))],
        "elbow-32-90": [
            offer("weir", 10, 12, None),
            Offer("alder", draw(st.integers(30, 120)), 2, draw(few)),
        ],
    }
    owned = draw(
        st.fixed_dictionaries({}, optional={"pn10-32-3m": few, "pn10-32-metre": few, "elbow-32-90": few})
    )
    offcuts = tuple(draw(st.lists(st.integers(2, 35).map(lambda dm: dm / 10), max_size=3)))
    return {
        "offers": offers,
        "freight": draw(st.integers(0, 12)) * 100,
        "free_from": draw(st.one_of(st.none(), st.integers(10, 50).map(lambda euros: euros * 100))),
        "given": {"owned": owned, "offcuts": {"pn10-32-6m": offcuts} if offcuts else {}},
        "legs": draw(st.lists(st.integers(3, 45).map(lambda dm: dm / 10), min_size=1, max_size=3)),
    }


def whatever_the_shops_have(shelf: Catalog, corner: Callable[..., Site], market: dict[str, Any]) -> None:
    """At any prices, stocks and freights, with anything owned: the cost is that of the best of all orders."""
    second = replace(
        shelf.shops["alder"],
        freight_cents=market["freight"],
        free_from_cents=market["free_from"],
    )
    catalog = priced(shelf, market["offers"], alder=second)
    checked(replace(corner(*market["legs"]), **market["given"]), catalog)


test_whatever_the_shops_have, test_whatever_the_shops_have_at_length = few_and_many(
    whatever_the_shops_have, 4, 400, market=markets()
)


@pytest.mark.parametrize("beds", [1, 2])
def test_many_runs_share_the_sticks(shelf_of: ShelfOf, site_of: Callable[..., Site], beds: int) -> None:
    """Runs of a main with beds are cut from the same few sticks, offcuts and metres, at the least cost."""
    shelf = shelf_of(ONE_WAY)
    offers = {
        "pn10-32-3m": [Offer("weir", 350), Offer("alder", 300, 1, 1)],
        "pn10-32-6m": [Offer("weir", 700, 1, 1)],
        "pn10-32-metre": [Offer("alder", 110, 1, 2)],
    }
    free = replace(shelf.shops["alder"], freight_cents=0)
    site = site_of(beds=beds, main_legs_m=(1.6, 1.5), entry=Entry.OVER_RIM)
    for offcuts in ((), (0.7, 0.35), (1.62,)):
        given = replace(site, offcuts={"pn10-32-metre": offcuts} if offcuts else {})
        checked(given, priced(shelf, offers, alder=free))


def undecided(*_: object, **__: object) -> None:
    """A search that has run out of steps or time."""
    raise CuttingUndecidedError


def test_the_solver_decides_where_the_search_does_not(
    shelf: Catalog, corner: Callable[..., Site], monkeypatch: pytest.MonkeyPatch
) -> None:
    """With the searches always out of steps the cost is the same, and that of the best order."""
    offers = {"pn10-32-3m": [Offer("weir", 300, 1, 2)], "pn10-32-6m": [Offer("weir", 600)]}
    site, catalog = corner(4.0, 1.7, 2.0), priced(shelf, offers)
    before = checked(site, catalog).designs[0].objective
    monkeypatch.setattr(sticks, "lay", undecided)
    monkeypatch.setattr(sticks, "lay_by_patterns", undecided)
    assert checked(site, catalog).designs[0].objective == before


def test_an_undecided_plan_is_no_fault(
    shelf: Catalog, corner: Callable[..., Site], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the solver runs out of time too, the answer is that nothing was found or shown, and no design."""
    monkeypatch.setattr(sticks, "lay", undecided)
    monkeypatch.setattr(sticks, "lay_by_patterns", undecided)
    monkeypatch.setattr(sticks, "lay_by_solver", undecided)
    outcome = autoplan.design(corner(1.2, 1.4), shelf, top=1)
    assert (outcome.status, outcome.designs) == (Status.UNDECIDED, ())


@pytest.mark.parametrize(
    "file",
    [
        pytest.param(path, marks=() if path.stem == "no-sump" else pytest.mark.long)
        for path in sorted(PROBLEMS.glob("*.toml"))
    ],
    ids=lambda path: path.stem,
)
def test_the_order_is_the_objective(file: Path) -> None:
    """On every problem that comes with the program the order's total is what was minimised, to the cent."""
    site = autoplan.load_problem(file).outline
    catalog = autoplan.load_catalog(PROBLEMS.parent / "catalogs" / site.catalog)
    found = searched(site, catalog)
    assert len(found.ranking.designs) == (file.stem != "wall-too-low")
    for design in found.ranking.designs:
        assert Survey(site, catalog, design.drawing).order_cents() == design.objective
        cost = design.verdict.cost
        assert round((cost.purchase + cost.freight) * 100) == design.objective
