"""The metric price list: large enough to choose from, and sensible in itself."""

from __future__ import annotations

import re
from itertools import groupby, pairwise

import pytest

from autoplan.catalog.parts import Catalog, End, Part, Pipe, Pump, TurnStyle, Way

SIZES = ("20", "25", "32", "40", "50", "63", "75", "90", "110")


def price(part: Part) -> float:
    """Price of one piece at the part's own shop, in cents."""
    return part.offers[0].price_cents / part.offers[0].pack


def parts(catalog: Catalog) -> list[Part]:
    """All parts in the order of the files."""
    return [part for group in catalog.groups() for part in group.values()]


def test_enough_to_choose_from(metric: Catalog) -> None:
    """At least 150 parts and 10 pumps, two shops, some parts offered by both."""
    assert len(parts(metric)) >= 150
    assert len(metric.pumps) >= 10
    assert len(metric.shops) >= 2
    assert sum(len(part.offers) > 1 for part in parts(metric)) >= 20


def test_no_metal_that_harms_fish(metric: Catalog) -> None:
    """Copper, brass and galvanised parts poison fish (Boyd: copper lethal from 0.05 mg/L)."""
    for part in parts(metric):
        assert not re.search("copper|brass|bronze|galvani|zinc", part.description, re.IGNORECASE)


@pytest.mark.parametrize("size", SIZES)
def test_every_size_has_its_fittings(size: str, metric: Catalog) -> None:
    """Tight 90, swept 90, 45, tee and coupling for each metric size."""
    socket = End("socket", "metric", size)
    turns = {(turn.angle, turn.style) for turn in metric.turns.values() if turn.ends[0] == socket}
    assert {(90, TurnStyle.TIGHT), (90, TurnStyle.SWEPT), (45, TurnStyle.TIGHT)} <= turns
    assert any(tee.ends == (socket, socket, socket) for tee in metric.tees.values())
    assert any(adaptor.ends == (socket, socket) for adaptor in metric.adaptors.values())


@pytest.mark.parametrize("size", SIZES)
def test_two_45s_cost_less_than_a_sweep(size: str, metric: Catalog) -> None:
    """Two 45s are often cheaper than a sweep bend: common practice, no source."""
    assert 2 * price(metric.turns[f"elbow-{size}-45"]) < price(metric.turns[f"sweep-{size}-90"])
    assert price(metric.turns[f"elbow-{size}-90"]) < price(metric.turns[f"sweep-{size}-90"])


def family(part: Part) -> str:
    """The id without its first number: parts that differ in size alone have the same."""
    return re.sub(r"\d+", "#", part.id, count=1)


def width(part: Part) -> int:
    """The first number of the id."""
    found = re.search(r"\d+", part.id)
    assert found is not None
    return int(found.group())


def test_bigger_is_dearer(metric: Catalog) -> None:
    """Within parts that differ by size alone, and not by thread, the price rises with the size."""
    compared = 0
    listed = [part for part in parts(metric) if re.search(r"\d", part.id) and not isinstance(part, Pump)]
    listed = [
        part for part in listed if "thread" not in part.id and "tail" not in part.id and "pn1" not in part.id
    ]
    listed = [part for part in listed if part.id.split("-")[0] not in ("nipple", "wall")]
    for _, group in groupby(sorted(listed, key=lambda part: (family(part), width(part))), key=family):
        for small, large in pairwise(group):
            assert price(small) < price(large), (small.id, large.id)
            compared += 1
    assert compared > 80


def metre_price(pipe: Pipe) -> float:
    """Price of a metre in cents."""
    return price(pipe) / (pipe.stick_m or 1.0)


def test_pipe_prices_hang_together(metric: Catalog) -> None:
    """By the metre a long stick is cheapest and loose pipe dearest; PN 16 costs more than PN 10."""
    pipes = metric.pipes
    for size in SIZES[2:7]:
        long, short, metre = (metre_price(pipes[f"pn10-{size}-{cut}"]) for cut in ("6m", "3m", "metre"))
        assert long < short < metre
        assert short < metre_price(pipes[f"pn16-{size}-3m"])
        assert pipes[f"pn10-{size}-3m"].bore_m > pipes[f"pn16-{size}-3m"].bore_m


def test_a_bulkhead_is_about_three_seals(metric: Catalog) -> None:
    """A 50 mm bulkhead costs about three times a seal with its two couplings: common practice, no source."""
    seal = price(metric.penetrations["seal-50"]) + 2 * price(metric.adaptors["coupling-50"])
    assert 2.2 <= price(metric.penetrations["bulkhead-50"]) / seal <= 4.0


def test_penetrations_suit_their_walls(metric: Catalog) -> None:
    """Seals close on 3 to 13 mm, curved too; bulkheads clamp thin flat walls (from memory)."""
    for part in metric.penetrations.values():
        if part.way is Way.SEAL:
            assert (part.wall_min_m, part.wall_max_m) == (0.003, 0.013)
            assert part.curved_ok
            assert not part.thin_flexing_ok
        elif part.way is Way.BULKHEAD:
            assert part.wall_min_m <= 0.002
            assert part.thin_flexing_ok
            assert not part.curved_ok
        else:
            assert not part.thin_flexing_ok


def test_pump_curves_look_like_pumps(metric: Catalog) -> None:
    """Ever steeper curves, 1.8 to 9 m, 1,000 to 12,000 L/h; at best 15 to 45 % of the power in the water."""
    for pump in metric.pumps.values():
        slopes = [(b[1] - a[1]) / (b[0] - a[0]) for a, b in pairwise(pump.curve)]
        assert all(later < earlier < 0 for earlier, later in pairwise(slopes)), pump.id
        assert 1.8 <= pump.curve[0][1] <= 9.0
        assert 1000 <= pump.curve[-1][0] * 3.6e6 <= 12000.1
        best = max(flow * head for flow, head in pump.curve) * 9806.65 / pump.watts
        assert 0.15 <= best <= 0.45, pump.id
        assert 0.04 <= pump.cover_m <= 0.12


def test_slowing_costs_money(metric: Catalog) -> None:
    """A pump whose speed can be set is dearer than the plain one of the same flow."""
    pairs = [
        (p, metric.pumps[p.id.removesuffix("-slow")])
        for p in metric.pumps.values()
        if p.slowable and p.id.removesuffix("-slow") in metric.pumps
    ]
    assert len(pairs) >= 3
    assert all(price(slow) > price(plain) for slow, plain in pairs)


def test_drains_have_a_real_choice(metric: Catalog) -> None:
    """At 50 mm there is drain pipe without pressure, cheaper than pressure pipe and narrower."""
    drain, pressure = metric.pipes["drain-50-3m"], metric.pipes["pn10-50-3m"]
    assert drain.rating_m == 0 < pressure.rating_m
    assert price(drain) < price(pressure)
    assert drain.bore_m < pressure.bore_m
