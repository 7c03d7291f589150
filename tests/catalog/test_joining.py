"""Which ends mate, and the cheapest chains between those that do not."""

from __future__ import annotations

import math
from itertools import permutations
from time import perf_counter

import pytest

from autoplan.catalog.joining import MOST_PARTS, STUB_M, Chain, Joining, ends_of
from autoplan.catalog.parts import Adaptor, Catalog, End, Pipe


def end(text: str) -> End:
    """An end in three words."""
    return End(*text.split())


MATES = [
    ("socket metric 50", "spigot metric 50"),
    ("seal metric 50", "spigot metric 50"),
    ("male G 1", "female G 1"),
    ("barb poly 25", "bore poly 25"),
    ("barb hose 25", "bore hose 25"),
    ("male R 1", "female G 1"),
    ("male R 1", "female R 1"),
]
STRANGERS = [
    ("socket metric 50", "spigot metric 40"),
    ("socket metric 50", "socket metric 50"),
    ("spigot metric 50", "spigot metric 50"),
    ("seal metric 50", "socket metric 50"),
    ("male G 1", "male G 1"),
    ("male G 1", "female G 3/4"),
    ("male G 1", "female R 1"),
    ("male NPT 1", "female G 1"),
    ("male G 1", "female NPT 1"),
    ("barb poly 25", "bore hose 25"),
    ("barb poly 25", "barb poly 25"),
    ("spigot metric 50", "socket inch 50"),
    ("spigot iron 32", "socket metric 32"),
    ("bore poly 25", "socket metric 25"),
    ("barb poly 25", "spigot metric 25"),
]


@pytest.mark.parametrize(("a", "b"), MATES)
def test_what_mates(a: str, b: str) -> None:
    """Mating holds either way round; a taper male seals in a parallel female (ISO 7-1 practice)."""
    assert Joining.mates(end(a), end(b))
    assert Joining.mates(end(b), end(a))


@pytest.mark.parametrize(("a", "b"), STRANGERS)
def test_what_does_not(a: str, b: str) -> None:
    """Other sizes, other systems, two of one kind, and a parallel male in a taper female do not mate."""
    assert not Joining.mates(end(a), end(b))
    assert not Joining.mates(end(b), end(a))


def test_nothing_is_needed_where_ends_mate(small: Catalog) -> None:
    """An empty chain costs nothing and narrows nothing."""
    chain = Joining(small).chain(end("socket metric 50"), end("spigot metric 50"))
    assert chain == Chain((), 0, math.inf, math.inf, ())


def test_a_chain_by_hand(small: Catalog) -> None:
    """Pump thread to 50 mm pipe: adaptor, stub of 32 pipe, bush turned round, coupling."""
    chain = Joining(small).chain(end("male G 1"), end("spigot metric 50"))
    assert chain is not None
    assert chain.parts == ("thread-32-1", "pipe-32", "bush-50-32", "coupling-50")
    # 1.25 + 1.05 + 1.60 and 0.08 m of a 3 m stick at 4.10, which is 0.1093, up to whole cents.
    assert chain.cost_cents == 125 + 105 + 160 + 11
    assert chain.stubs == ("pipe-32",)
    assert chain.bore_m == pytest.approx(0.026)
    assert chain.rating_m == pytest.approx(10 * 1e5 / 9806.65)


def test_a_pack_is_priced_by_the_piece(small: Catalog) -> None:
    """Five for 0.95 is 0.19 each, less than the other shop's 0.30."""
    chain = Joining(small).chain(end("female G 1"), end("bore poly 25"))
    assert chain == Chain(("tail-1-25",), 19, 0.021, pytest.approx(3 * 1e5 / 9806.65), ())


def test_a_stub_comes_from_pipe_by_the_metre(small: Catalog) -> None:
    """Where a size is sold by the metre too, no stick is broken for a stub, though its metre is cheaper."""
    chain = Joining(small).chain(end("socket metric 50"), end("socket metric 50"))
    assert chain is not None
    assert chain.parts == chain.stubs == ("pipe-50-metre",)
    assert chain.cost_cents == 27  # 0.08 m at 3.30 a metre is 0.264


def test_a_seal_takes_pipe_only(small: Catalog) -> None:
    """A bush is too short for a rubber ring: a stub goes through it, from either side."""
    out = Joining(small).chain(end("seal metric 50"), end("spigot metric 32"))
    assert out is not None
    assert out.parts == ("pipe-50-metre", "coupling-50", "bush-50-32")
    back = Joining(small).chain(end("spigot metric 32"), end("seal metric 50"))
    assert back is not None
    assert back.parts == out.parts[::-1]
    assert back.cost_cents == out.cost_cents


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
    assert joining.chain(end("socket metric 50"), end("spigot metric 50"), need_rating_m=1e6) == Chain()


def test_no_chain_between_strangers(small: Catalog) -> None:
    """An opening of a system that the catalogue does not know joins nothing."""
    assert Joining(small).chain(end("spigot inch 2"), end("spigot metric 50")) is None


def test_an_opening_that_no_part_has(small: Catalog) -> None:
    """A taper thread is joined though no part of the catalogue has one."""
    chain = Joining(small).chain(end("male R 1"), end("spigot metric 32"))
    assert chain is not None
    assert chain.parts == ("thread-32-1",)


def shortest_by_trying(
    catalog: Catalog, a: End, b: End, need: float
) -> tuple[int, int, tuple[str, ...]] | None:
    """The same question answered without a graph: every order of every few parts, each way round."""
    steps: list[tuple[str, int, End, End]] = []
    for part in catalog.adaptors.values():
        cents = min(-(-offer.price_cents // offer.pack) for offer in part.offers)
        if part.rating_m >= need:
            steps += [(part.id, cents, *part.ends), (part.id, cents, *part.ends[::-1])]
    stub_of: dict[End, Pipe] = {}
    for pipe in catalog.pipes.values():
        if pipe.end.form == "spigot" and pipe.rating_m >= need:
            best = stub_of.get(pipe.end, pipe)
            stub_of[pipe.end] = min((best, pipe), key=lambda p: (p.stick_m > 0, p.offers[0].price_cents))
    for pipe in stub_of.values():
        cents = math.ceil(pipe.offers[0].price_cents * STUB_M / (pipe.stick_m or 1) - 1e-9)
        steps.append((pipe.id, cents, pipe.end, pipe.end))
    answers: list[tuple[int, int, tuple[str, ...]]] = []

    def walk(here: End, cost: int, parts: tuple[str, ...]) -> None:
        if Joining.mates(here, b):
            answers.append((cost, len(parts), parts))
        if len(parts) < MOST_PARTS:
            for part, cents, near, far in steps:
                if Joining.mates(here, near):
                    walk(far, cost + cents, (*parts, part))

    walk(a, 0, ())
    return min(answers, default=None)


@pytest.mark.parametrize("need", [0.0, 40.0])
def test_chains_against_trying_everything(small: Catalog, need: float) -> None:
    """Cheapest, then shortest, then first by id, over every pair of openings of the small price list."""
    joining = Joining(small)
    ends = sorted({e for group in small.groups() for part in group.values() for e in ends_of(part)})
    pairs = [(a, b) for a, b in permutations(ends, 2) if "seal" not in (a.form, b.form)]
    joined = 0
    for a, b in pairs:
        chain, tried = joining.chain(a, b, need), shortest_by_trying(small, a, b, need)
        assert (chain and (chain.cost_cents, len(chain.parts), chain.parts)) == tried
        joined += chain is not None
    assert 20 < joined < len(pairs)


def test_longer_chains_are_not_offered(small: Catalog) -> None:
    """From the pump thread to a 50 socket takes three parts; to a seal of 50 it would take five."""
    joining = Joining(small)
    assert joining.chain(end("male G 1"), end("spigot metric 50")) is not None
    assert joining.chain(end("male G 1"), end("socket metric 50")) is not None
    assert joining.chain(end("male G 1"), end("seal metric 50")) is None


def test_every_chain_of_metric_mates_all_the_way(metric: Catalog) -> None:
    """Along each chain every neighbour fits, and it is at most four parts long."""
    joining = Joining(metric)
    ends = sorted({e for group in metric.groups() for part in group.values() for e in ends_of(part)})
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
                here = {e for s in here for n, e in ((near, far), (far, near)) if Joining.mates(s, n)}
            assert any(Joining.mates(last, b) for last in here)
    assert chains > 1000


def test_same_answer_every_time(metric: Catalog) -> None:
    """Two graphs asked in different order give the same chains."""
    ends = sorted({e for group in metric.groups() for part in group.values() for e in ends_of(part)})
    first, second = Joining(metric), Joining(metric)
    pairs = [(a, b) for a in ends for b in ends[:12]]
    forward = [first.chain(a, b) for a, b in pairs]
    backward = [second.chain(a, b) for a, b in reversed(pairs)]
    assert forward == backward[::-1]


def test_hundreds_of_questions_are_quick(metric: Catalog) -> None:
    """Every opening to every pipe on the full price list takes well under the seconds of one search."""
    import networkx  # noqa: F401  (its import is not what is measured)

    ends = sorted({e for group in metric.groups() for part in group.values() for e in ends_of(part)})
    start = perf_counter()
    joining = Joining(metric)
    for a in ends:
        for pipe in metric.pipes.values():
            joining.chain(a, pipe.end)
    # About 0.03 s alone; the allowance is for a busy machine.
    assert perf_counter() - start < 1.0
