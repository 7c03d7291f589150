"""Which ends mate, and the cheapest chains between those that do not."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import product
from time import perf_counter

import pytest

from autoplan.catalog.joining import (
    MOST_PARTS,
    Chain,
    Joining,
    Need,
    least_price,
    stub_length,
)
from autoplan.catalog.parts import Adaptor, Catalog, End, Offer, Pipe


def end(text: str) -> End:
    """An end in three words."""
    return End(*text.split())


def test_nothing_is_needed_where_ends_mate(small: Catalog) -> None:
    """An empty chain costs nothing and narrows nothing."""
    chain = Joining(small).chain(end("socket metric 50"), end("spigot metric 50"))
    assert chain == Chain((), (0.0,), math.inf, math.inf, ())


def test_a_chain_by_hand(small: Catalog) -> None:
    """Pump thread to 50 mm pipe: adaptor, stub of 32 pipe, bush turned round, coupling."""
    chain = Joining(small).chain(end("male G 1"), end("spigot metric 50"))
    assert chain is not None
    assert chain.parts == ("thread-32-1", "pipe-32", "bush-50-32", "coupling-50")
    # 1.25 + 1.05 + 1.60, and of a 3 m stick at 4.10 two sockets of 22 mm with 8 mm between them.
    assert chain.prices == (pytest.approx(125 + 105 + 160 + 410 * 0.052 / 3),)
    assert chain.stubs == ("pipe-32",)
    assert chain.bore_m == pytest.approx(0.026)
    assert chain.rating_m == pytest.approx(10 * 1e5 / 9806.65)


def test_a_pack_is_priced_by_the_piece(small: Catalog) -> None:
    """Five for 0.95 is 0.19 each, less than the other shop's 0.30."""
    chain = Joining(small).chain(end("female G 1"), end("bore poly 25"))
    assert chain == Chain(("tail-1-25",), (19.0,), 0.021, pytest.approx(3 * 1e5 / 9806.65), ())


def test_a_stub_comes_from_pipe_by_the_metre(small: Catalog) -> None:
    """Where a size is sold by the metre too, no stick is broken for a stub, though its metre is cheaper."""
    chain = Joining(small).chain(end("socket metric 50"), end("socket metric 50"))
    assert chain is not None
    assert chain.parts == chain.stubs == ("pipe-50-metre",)
    # Two sockets of 31 mm and 8 mm between them at 3.30 a metre.
    assert chain.prices == (pytest.approx(330 * 0.070),)


def test_a_seal_takes_pipe_only(small: Catalog) -> None:
    """A bush is too short for a rubber ring: a stub goes through it, from either side."""
    out = Joining(small).chain(end("seal metric 50"), end("spigot metric 32"))
    assert out is not None
    assert out.parts == ("pipe-50-metre", "coupling-50", "bush-50-32")
    back = Joining(small).chain(end("spigot metric 32"), end("seal metric 50"))
    assert back is not None
    assert back.parts == out.parts[::-1]
    assert back.prices == out.prices


def test_parts_can_be_left_out(small: Catalog) -> None:
    """Without the only bush there is no way from 32 to 50."""
    joining = Joining(small, frozenset({"bush-50-32"}))
    assert joining.chain(end("spigot metric 32"), end("spigot metric 50")) is None
    assert Joining(small).chain(end("spigot metric 32"), end("spigot metric 50")) is not None


def test_rating_asked_for(small: Catalog) -> None:
    """A chain whose weakest part holds 3 bar is offered up to that head and not beyond."""
    joining = Joining(small)
    ends = end("female G 1"), end("bore poly 25")
    weakest = 3 * 1e5 / 9806.65
    assert joining.chain(*ends, need_rating_m=weakest) is not None
    assert joining.chain(*ends, need_rating_m=weakest + 0.01) is None
    assert joining.chain(end("socket metric 50"), end("spigot metric 50"), need_rating_m=1e6) == Chain(
        prices=(0.0,)
    )


def test_no_chain_between_strangers(small: Catalog) -> None:
    """An opening of a system that the catalogue does not know joins nothing."""
    assert Joining(small).chain(end("spigot inch 2"), end("spigot metric 50")) is None


def test_an_opening_that_no_part_has(small: Catalog) -> None:
    """A taper thread is joined though no part of the catalogue has one."""
    chain = Joining(small).chain(end("male R 1"), end("spigot metric 32"))
    assert chain is not None
    assert chain.parts == ("thread-32-1",)


def test_length_of_a_stub(small: Catalog) -> None:
    """Two sockets and 8 mm between; ISO 727 (from memory) makes a socket half the outside and 6 mm deep."""
    pipe = small.pipes["pipe-50"]
    assert stub_length(small, pipe) == pytest.approx(2 * 0.031 + 0.008)
    unstated = replace(small.systems["metric"]["50"], socket_m=None)
    without = replace(small, systems={**small.systems, "metric": {"50": unstated}})
    assert stub_length(without, pipe) == pytest.approx(2 * (0.025 + 0.006) + 0.008)
    shallow = replace(small.systems["metric"]["50"], socket_m=0.020)
    with_it = replace(small, systems={**small.systems, "metric": {"50": shallow}})
    assert stub_length(with_it, pipe) == pytest.approx(2 * 0.020 + 0.008)


def test_the_least_price_among_some_shops(small: Catalog) -> None:
    """A part costs what the cheaper of the shops asks, and has no price where none of them sells it."""
    assert least_price(small, "tail-1-25") == 19.0
    assert least_price(small, "tail-1-25", ["pond"]) == 30.0
    assert math.isinf(least_price(small, "bush-50-32", ["pond"]))


Prices = Callable[[str], tuple[float, ...]]
Score = tuple[tuple[float, ...], float]


def walks(
    catalog: Catalog, joining: Joining, prices: Prices, a: End, b: End, rating: float, most: int
) -> Iterator[tuple[tuple[str, ...], tuple[float, ...], float, Need]]:
    """Every row of up to `most` parts between two openings, without a graph: parts, prices, bore, ability."""
    steps: list[tuple[str, End, End, float, Need]] = []
    for part in catalog.adaptors.values():
        can = (Need.GIVE if part.flexible else Need.COME_APART) if part.apart else Need.JOIN
        for near, far in {part.ends: 0, part.ends[::-1]: 0}:
            steps += [(part.id, near, far, part.bore_m, can)] if part.rating_m >= rating else []
    rigid = [p for p in catalog.pipes.values() if p.end.form == "spigot" and p.bend_radius_m == 0]
    metres = {pipe.end for pipe in rigid if pipe.stick_m == 0 and pipe.rating_m >= rating}
    for pipe in rigid:
        if pipe.rating_m >= rating and (pipe.stick_m == 0 or pipe.end not in metres):
            steps.append((pipe.id, pipe.end, pipe.end, pipe.bore_m, Need.JOIN))

    def walk(
        here: End, parts: tuple[str, ...], bore: float, can: Need
    ) -> Iterator[tuple[tuple[str, ...], tuple[float, ...], float, Need]]:
        # A seal's ring takes pipe that goes on behind it.
        if joining.mates(here, b) and (b.form != "seal" or not parts or parts[-1] in catalog.pipes):
            costs = [prices(part) for part in parts]
            yield parts, tuple(sum(column) for column in zip(*costs, strict=True)), bore, can
        for part, near, far, narrow, able in steps if len(parts) < most else ():
            if joining.mates(here, near) and (here.form != "seal" or part in catalog.pipes):
                yield from walk(far, (*parts, part), min(bore, narrow), max(can, able))

    yield from walk(a, (), math.inf, Need.JOIN)


def best_by_trying(
    catalog: Catalog, joining: Joining, prices: Prices, a: End, b: End, rating: float, need: Need, most: int
) -> set[Score]:
    """Prices and bore of what no other row of parts beats in every price and in bore."""
    start = b if b.form == "seal" and a.form != "seal" else a
    bores = [
        p.bore_m for p in catalog.pipes.values() if (p.end.system, p.end.size) == (start.system, start.size)
    ]
    cap = max(bores, default=math.inf)
    found: set[Score] = {
        (tuple(round(cost, 6) for cost in costs), min(bore, cap))
        for parts, costs, bore, can in walks(catalog, joining, prices, a, b, rating, most)
        if can >= need and parts
    }
    return {
        one
        for one in found
        if not any(
            other != one
            and other[1] >= one[1]
            and all(its <= mine for its, mine in zip(other[0], one[0], strict=True))
            for other in found
        )
    }


def chosen(catalog: Catalog, chains: tuple[Chain, ...], start: End) -> list[Score]:
    """Prices and bore of chains, the bore as far as the size of the opening goes."""
    bores = [
        p.bore_m for p in catalog.pipes.values() if (p.end.system, p.end.size) == (start.system, start.size)
    ]
    cap = max(bores, default=math.inf)
    return [(tuple(round(price, 6) for price in c.prices), min(c.bore_m, cap)) for c in chains]


def openings(catalog: Catalog) -> list[End]:
    """Every opening of a price list."""
    return sorted({e for group in catalog.groups() for part in group.values() for e in part.openings})


SECOND_SHOP = {
    "coupling-50": 90.0,
    "pipe-50-metre": 60.0,
    "union-32": 800.0,
    "rubber-50": 300.0,
    "bush-50-32": 4.0,
}
"""Invented: what a second shop asks; where it asks nothing of its own, twice the first."""


def two_shops(catalog: Catalog) -> Prices:
    """Prices by two sets of shops that do not agree on what is dear."""

    def prices(part: str) -> tuple[float, float]:
        first = least_price(catalog, part)
        return first, SECOND_SHOP.get(part, 2 * first)

    return prices


@pytest.fixture(scope="module")
def wide(small: Catalog) -> Catalog:
    """The small price list with a dear, wide way beside a cheap, narrow one."""
    bush, coupling = small.adaptors["bush-50-32"], small.adaptors["coupling-50"]
    more = {
        "bush-50-32-wide": replace(bush, id="bush-50-32-wide", bore_m=0.0280, offers=small_offer(bush, 300)),
        "coupling-50-wide": replace(
            coupling, id="coupling-50-wide", bore_m=0.045, offers=small_offer(coupling, 240)
        ),
        "coupling-50-worse": replace(
            coupling, id="coupling-50-worse", bore_m=0.040, offers=small_offer(coupling, 300)
        ),
    }
    return replace(small, adaptors={**small.adaptors, **more})


def small_offer(row: Adaptor, cents: int) -> tuple[Offer, ...]:
    """The row's own offer at another price."""
    return (replace(row.offers[0], price_cents=cents),)


@pytest.mark.parametrize("need", list(Need))
@pytest.mark.parametrize("rating", [0.0, 40.0, 110.0])
def test_chains_against_trying_everything(wide: Catalog, need: Need, rating: float) -> None:
    """Over every pair of openings, what is offered is what no other row of parts beats in price and bore."""
    joining, prices = Joining(wide), lambda part: (least_price(wide, part),)
    joined = several = 0
    for a, b in product(openings(wide), repeat=2):
        if need is Need.JOIN and joining.mates(a, b):
            assert joining.chains(a, b, rating) == (Chain(prices=(0.0,)),)
            continue
        chains = joining.chains(a, b, rating, need)
        scores = chosen(wide, chains, b if b.form == "seal" and a.form != "seal" else a)
        assert set(scores) == best_by_trying(wide, joining, prices, a, b, rating, need, MOST_PARTS)
        assert scores == sorted(scores)
        assert len(set(scores)) == len(scores)
        assert all(chain.can >= need and chain.rating_m >= rating for chain in chains)
        joined += bool(chains)
        several += len(chains) > 1
    # Rubber holds no head at all, and nothing that comes apart here holds more than 10 bar.
    none = rating > {Need.JOIN: 1e3, Need.COME_APART: 102.0, Need.GIVE: 0.0}[need]
    assert (joined == 0) is none
    assert several > 0 or rating > 102.0 or none


@pytest.mark.parametrize("need", list(Need))
@pytest.mark.parametrize("most", [1, 2, 3])
def test_chains_at_the_prices_of_two_shops(wide: Catalog, need: Need, most: int) -> None:
    """What is dear in one shop and cheap in the other is kept; never more parts than asked."""
    prices = two_shops(wide)
    joining, joined = Joining(wide, prices=prices), 0
    for a, b in product(openings(wide), repeat=2):
        if need is Need.JOIN and joining.mates(a, b):
            assert joining.chains(a, b, most=most) == (Chain(prices=(0.0, 0.0)),)
            continue
        chains = joining.chains(a, b, need=need, most=most)
        scores = chosen(wide, chains, b if b.form == "seal" and a.form != "seal" else a)
        assert set(scores) == best_by_trying(wide, joining, prices, a, b, 0.0, need, most)
        assert all(len(chain.parts) <= most for chain in chains)
        assert [min(c.prices) for c in chains] == sorted(min(c.prices) for c in chains)
        joined += bool(chains)
    assert joined > 0


def test_the_first_of_equals(wide: Catalog) -> None:
    """Cheapest first, then fewest parts, then first by id: the coupling before its dearer, wider rival."""
    chains = Joining(wide).chains(end("spigot metric 50"), end("spigot metric 50"))
    assert [chain.parts for chain in chains] == [("coupling-50",), ("coupling-50-wide",)]
    twin = replace(wide.adaptors["coupling-50"], id="a-coupling")
    twins = replace(wide, adaptors={**wide.adaptors, "a-coupling": twin})
    assert Joining(twins).chains(end("spigot metric 50"), end("spigot metric 50"))[0].parts == ("a-coupling",)


def test_parts_with_a_limit_are_not_weighed_against_others(wide: Catalog) -> None:
    """What comes in packs, or is owned, does not simply cost its price: it neither beats nor is beaten."""
    ends = end("spigot metric 50"), end("spigot metric 50")
    for special in ("coupling-50-worse", "coupling-50"):
        chains = Joining(wide, limited=frozenset({special})).chains(*ends)
        single = {chain.parts for chain in chains if len(chain.parts) == 1}
        assert (special,) in single
        # The wide one may not beat the worse one, nor the plain one the worse one, while either has a limit.
        assert (("coupling-50-worse",) in single) == (special == "coupling-50-worse")
        assert ("coupling-50-wide",) in single
    both = frozenset({"coupling-50-worse", "coupling-50"})
    single = {c.parts for c in Joining(wide, limited=both).chains(*ends) if len(c.parts) == 1}
    assert single == {("coupling-50",), ("coupling-50-worse",), ("coupling-50-wide",)}


def test_what_must_come_apart_though_it_mates(small: Catalog) -> None:
    """A pipe that would be glued straight into its socket gets a union in between, or none at all."""
    joining = Joining(small)
    ends = end("socket metric 32"), end("spigot metric 32")
    assert joining.chain(*ends) == Chain(prices=(0.0,))
    chain = joining.chain(*ends, need=Need.COME_APART)
    assert chain is not None
    assert chain.parts == ("pipe-32", "compression-32")
    assert chain.can is Need.COME_APART
    without = frozenset({"union-32", "compression-32", "rubber-50"})
    assert Joining(small, without).chain(*ends, need=Need.COME_APART) is None


def test_what_must_give(small: Catalog) -> None:
    """Between two 50 mm pipes the rubber coupling, which also comes apart; under any pressure nothing."""
    joining = Joining(small)
    ends = end("spigot metric 50"), end("spigot metric 50")
    for need in (Need.COME_APART, Need.GIVE):
        chain = joining.chain(*ends, need=need)
        assert chain is not None
        assert chain.parts == ("rubber-50",)
        assert chain.can is Need.GIVE
    assert joining.chain(*ends, need=Need.GIVE, need_rating_m=0.01) is None


@pytest.mark.parametrize("need", list(Need))
def test_both_sides_of_the_rating(small: Catalog, need: Need) -> None:
    """Each chain is offered up to the rating of its weakest part, and not a hair beyond."""
    joining = Joining(small)
    ends = end("female G 1"), end("spigot metric 32")
    chain = joining.chain(end("male G 1"), end("spigot metric 32"), need=need)
    assert (chain is None) == (need is Need.GIVE)
    if chain is not None:
        rated = min(small.part(part).rating_m for part in chain.parts)
        assert chain.rating_m == rated
        again = joining.chain(end("male G 1"), end("spigot metric 32"), rated, need)
        assert again == chain
        beyond = joining.chain(end("male G 1"), end("spigot metric 32"), rated + 1e-6, need)
        assert beyond is None or beyond.rating_m > rated
    assert joining.chain(*ends, need=Need.JOIN) is None


def test_longer_chains_are_not_offered(small: Catalog) -> None:
    """From the pump thread to a 50 socket takes three parts; to a seal of 50 it would take five."""
    joining = Joining(small)
    assert joining.chain(end("male G 1"), end("spigot metric 50")) is not None
    assert joining.chain(end("male G 1"), end("socket metric 50")) is not None
    assert joining.chain(end("male G 1"), end("seal metric 50")) is None


def test_every_chain_of_metric_mates_all_the_way(metric: Catalog) -> None:
    """Along each chain every neighbour fits, and it is at most four parts long."""
    joining = Joining(metric)
    ends = sorted({e for group in metric.groups() for part in group.values() for e in part.openings})
    chains = 0
    for a in ends:
        for b in (pipe.end for pipe in metric.pipes.values()):
            chain = joining.chain(a, b)
            if chain is None:
                continue
            chains += 1
            assert len(chain.parts) <= MOST_PARTS
            here = {a}
            for part_id in chain.parts:
                part = metric.part(part_id)
                assert isinstance(part, Adaptor | Pipe)
                near, far = part.ends if isinstance(part, Adaptor) else (part.end, part.end)
                here = {e for s in here for n, e in ((near, far), (far, near)) if joining.mates(s, n)}
            assert any(joining.mates(last, b) for last in here)
    assert chains > 1000


def test_same_answer_every_time(metric: Catalog) -> None:
    """Two graphs asked in different order give the same chains."""
    ends = sorted({e for group in metric.groups() for part in group.values() for e in part.openings})
    first, second = Joining(metric), Joining(metric)
    pairs = [(a, b) for a in ends for b in ends[:12]]
    forward = [first.chain(a, b) for a, b in pairs]
    backward = [second.chain(a, b) for a, b in reversed(pairs)]
    assert forward == backward[::-1]


def test_hundreds_of_questions_are_quick(metric: Catalog) -> None:
    """Every opening to every pipe on the full price list takes well under the seconds of one search."""
    import networkx  # noqa: F401  (its import is not what is measured)

    ends = sorted({e for group in metric.groups() for part in group.values() for e in part.openings})
    start = perf_counter()
    joining = Joining(metric)
    for a in ends:
        for pipe in metric.pipes.values():
            joining.chain(a, pipe.end)
    # About 0.3 s alone; the allowance is for a busy machine.
    assert perf_counter() - start < 5.0
