"""The price lists that come with the program, and the metric one in particular: sensible in themselves."""

from __future__ import annotations

import re
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest

from autoplan.catalog.check import audit
from autoplan.catalog.joining import Joining, Need
from autoplan.catalog.load import load_catalog
from autoplan.catalog.parts import Adaptor, Catalog, End, Part, Pipe, Pump, SundryKind, TurnStyle, Valve, Way

SIZES = ("20", "25", "32", "40", "50", "63", "75", "90", "110")

LISTS = {"metric": ("metric", "50"), "inch": ("inch", "2"), "bore-named": ("iron-pipe", "50")}
"""System of rigid pipe in each list, and its size nearest to 50 mm."""

FOLDERS = Path(__file__).parents[2] / "catalogs"


@cache
def listed(name: str) -> Catalog:
    """A price list that comes with the program, read once."""
    return load_catalog(FOLDERS / name)


def price(part: Part) -> float:
    """Price of one piece at the part's own shop, in cents."""
    return part.offers[0].price_cents / part.offers[0].pack


def least(part: Part) -> float:
    """Least price of one piece at any shop, in cents."""
    return min(offer.price_cents / offer.pack for offer in part.offers)


def parts(catalog: Catalog) -> list[Part]:
    """All parts in the order of the files."""
    return [part for group in catalog.groups() for part in group.values()]


@pytest.mark.parametrize(("name", "least_parts"), [("metric", 300), ("inch", 300), ("bore-named", 200)])
def test_enough_to_choose_from(name: str, least_parts: int) -> None:
    """Hundreds of parts, ten pumps or more, two shops or more, every sixth part offered by two of them."""
    catalog = listed(name)
    assert len(parts(catalog)) >= least_parts
    assert len(catalog.pumps) >= 10
    assert len(catalog.shops) >= 2
    assert sum(len(part.offers) > 1 for part in parts(catalog)) >= len(parts(catalog)) / 6


@pytest.mark.parametrize("name", LISTS)
def test_no_gaps(name: str) -> None:
    """Every part can be used, every pipe size reached, every pump connected."""
    assert audit(listed(name)) == ()


@pytest.mark.parametrize("name", LISTS)
def test_metal_that_harms_fish_says_so(name: str) -> None:
    """Copper, brass and galvanised parts poison fish (Boyd: copper lethal from 0.05 mg/L): rows name them."""
    metal = re.compile("copper|brass|bronze|galvani|zinc", re.IGNORECASE)
    told = {part.id: bool(metal.search(part.description)) for part in parts(listed(name))}
    written = {part.id: bool(metal.search(part.material)) for part in parts(listed(name))}
    assert told == written
    assert any(written.values())


@pytest.mark.parametrize("name", LISTS)
def test_a_removable_handle_is_a_little_dearer(name: str) -> None:
    """Rows that speak of a removable handle say so in their column, and cost more than the plain valve."""
    valves = listed(name).valves
    for part in valves.values():
        assert part.handle_off is ("removable handle" in part.description)
    pairs = [(valves[i.replace("-off", "")], row) for i, row in valves.items() if "-off-" in i]
    assert len(pairs) == 6
    for plain, row in pairs:
        assert 1.05 < row.offers[0].price_cents / plain.offers[0].price_cents < 1.25
        assert (plain.ends, plain.bore_m, plain.handle_off) == (row.ends, row.bore_m, False)


@pytest.mark.parametrize("name", LISTS)
def test_every_size_has_its_fittings(name: str) -> None:
    """Tight 90, swept 90, 45, tee and coupling for each size of rigid pipe, and a seal or a bulkhead."""
    catalog = listed(name)
    for size in {pipe.end.size for pipe in catalog.pipes.values() if pipe.end.form == "spigot"}:
        socket, seal = (End(form, LISTS[name][0], size) for form in ("socket", "seal"))
        turns = {(turn.angle, turn.style) for turn in catalog.turns.values() if turn.ends[0] == socket}
        assert {(90, TurnStyle.TIGHT), (90, TurnStyle.SWEPT), (45, TurnStyle.TIGHT)} <= turns
        assert any(tee.ends == (socket, socket, socket) for tee in catalog.tees.values())
        assert any(adaptor.ends == (socket, socket) for adaptor in catalog.adaptors.values())
        assert any({seal, socket} & set(part.ends) for part in catalog.penetrations.values())


@pytest.mark.parametrize("name", LISTS)
def test_two_45s_cost_less_than_a_sweep(name: str) -> None:
    """Two 45s are often cheaper than a sweep bend: common practice, no source."""
    turns = listed(name).turns
    sizes = [part.split("-")[1] for part in turns if re.fullmatch(r"sweep-\d+-90", part)]
    assert len(sizes) >= 7
    for size in sizes:
        sweep = price(turns[f"sweep-{size}-90"])
        assert 2 * price(turns[f"elbow-{size}-45"]) < sweep
        assert price(turns[f"elbow-{size}-90"]) < sweep


def kin(part: Part) -> tuple[object, ...]:
    """Parts that differ in size alone have the same: kind, words without figures, forms, number of sizes."""
    words = re.sub(r"[0-9][0-9./-]*", "#", part.description)
    ends = part.openings
    return type(part), words, tuple((end.form, end.system) for end in ends), len({end.size for end in ends})


def width(catalog: Catalog, end: End) -> float:
    """What the size of an end measures [m]."""
    size = catalog.systems[end.system][end.size]
    return size.outside_m or size.thread_major_m or size.bore_m or 0.0


@pytest.mark.parametrize(("name", "least_pairs"), [("metric", 140), ("inch", 140), ("bore-named", 120)])
def test_bigger_is_dearer(name: str, least_pairs: int) -> None:
    """Among parts all of whose ends have one size, and that differ in it alone, the price rises with it."""
    catalog = listed(name)
    groups: dict[tuple[object, ...], list[Part]] = {}
    for part in parts(catalog):
        ends = part.openings
        if ends and not isinstance(part, Pipe | Pump) and len(set(ends)) == 1 and ends[0].form != "sleeve":
            groups.setdefault(kin(part), []).append(part)
    compared = 0
    for group in groups.values():
        group.sort(key=lambda part: width(catalog, part.openings[0]))
        for small, large in pairwise(group):
            assert price(small) < price(large), (small.id, large.id)
            compared += 1
    assert compared >= least_pairs


def metre_price(pipe: Pipe) -> float:
    """Price of a metre in cents."""
    return price(pipe) / (pipe.stick_m or 1.0)


@pytest.mark.parametrize("name", LISTS)
def test_longer_pieces_are_cheaper_by_the_metre(name: str) -> None:
    """Of the same pipe a long stick or coil costs least by the metre, and loose pipe most."""
    families: dict[object, list[Pipe]] = {}
    for pipe in listed(name).pipes.values():
        # Drain pipe may have the dimensions of pressure pipe, but never its rating.
        families.setdefault(pipe.family, []).append(pipe)
    compared = 0
    for family in families.values():
        family.sort(key=lambda pipe: pipe.stick_m)
        for short, long in pairwise(family):
            assert metre_price(long) < metre_price(short), (short.id, long.id)
            compared += 1
    assert compared >= 15


def test_pipe_prices_hang_together(metric: Catalog) -> None:
    """PN 16 pipe costs more than PN 10 and is narrower; so is PE 100 of SDR 11 beside SDR 17."""
    pipes = metric.pipes
    for size in SIZES[2:7]:
        for thin, thick in (
            (f"pn10-{size}-3m", f"pn16-{size}-3m"),
            (f"pe-{size}-sdr17-metre", f"pe-{size}-sdr11-metre"),
        ):
            assert price(pipes[thin]) < price(pipes[thick])
            assert pipes[thin].bore_m > pipes[thick].bore_m
            assert pipes[thin].rating_m < pipes[thick].rating_m


@pytest.mark.parametrize("name", LISTS)
def test_a_bulkhead_is_about_three_seals(name: str) -> None:
    """A 50 mm bulkhead costs about three times a seal with its two couplings: common practice, no source."""
    catalog = listed(name)
    system, size = LISTS[name]
    socket, seal = End("socket", system, size), End("seal", system, size)
    for cost in (price, least):
        coupling = min(cost(part) for part in catalog.adaptors.values() if part.ends == (socket, socket))
        walls = catalog.penetrations.values()
        ring = min(cost(part) for part in walls if part.ends == (seal, seal))
        bulkhead = min(cost(part) for part in walls if part.ends == (socket, socket))
        assert 2.6 <= bulkhead / (ring + 2 * coupling) <= 3.4


@pytest.mark.parametrize(
    ("name", "bulkhead", "standpipe"),
    [("metric", "bulkhead-25", "20"), ("inch", "bulkhead-1", "3/4"), ("bore-named", "bulkhead-25", "20")],
)
def test_a_bed_floor_can_be_plumbed(name: str, bulkhead: str, standpipe: str) -> None:
    """One bush leads from a 25 mm bulkhead to a 20 mm standpipe: common practice, no source."""
    catalog = listed(name)
    part = catalog.penetrations[bulkhead]
    pipe = End("spigot", LISTS[name][0], standpipe)
    chain = Joining(catalog).chain(part.ends[0], pipe, most=1)
    assert chain is not None
    assert part.thin_flexing_ok
    assert any(row.end == pipe for row in catalog.pipes.values())


@pytest.mark.parametrize("name", LISTS)
def test_penetrations_suit_their_walls(name: str) -> None:
    """Seals close on 2 to 13 mm, curved too; bulkheads clamp thin flat walls (from memory)."""
    for part in listed(name).penetrations.values():
        if part.way is Way.SEAL:
            assert (part.wall_min_m, part.wall_max_m) == (0.002, 0.013)
            assert part.curved_ok
            assert not part.thin_flexing_ok
        elif part.way is Way.BULKHEAD:
            assert part.wall_min_m <= 0.002
            assert part.thin_flexing_ok
            assert not part.curved_ok
        else:
            assert not part.thin_flexing_ok


@pytest.mark.parametrize("name", LISTS)
def test_a_saw_for_every_hole(name: str) -> None:
    """Each hole of each penetration has a saw of just its diameter."""
    catalog = listed(name)
    saws = {
        round(part.least_m, 6): part.most_m
        for part in catalog.sundries.values()
        if part.kind is SundryKind.SAW
    }
    assert all(round(most, 6) == least for least, most in saws.items())
    holes = {round(part.hole_m, 6) for part in catalog.penetrations.values()}
    assert holes == set(saws)


@pytest.mark.parametrize("name", LISTS)
def test_sundries_serve_what_is_sold(name: str) -> None:
    """Washers for parallel threads, clamps for poly line and hose, stands for pipe in seals, and the rest."""
    catalog = listed(name)
    sundries = catalog.sundries.values()
    washers = {part.thread for part in sundries if part.kind is SundryKind.WASHER}
    assert {("G", size) for size in catalog.systems.get("G", {})} <= washers
    for kind, form in ((SundryKind.CLAMP, "bore"), (SundryKind.STAND, "spigot")):
        fitting = [part for part in sundries if part.kind is kind]
        for pipe in catalog.pipes.values():
            if pipe.end.form == form and pipe.outside_m >= 0.02:
                assert any(part.least_m <= pipe.outside_m <= part.most_m for part in fitting), pipe.id
    tins = sorted(part.content for part in sundries if part.kind is SundryKind.CEMENT)
    assert 50e-6 < tins[0] < tins[-1] < 1e-3
    assert all(5 <= part.content <= 20 for part in sundries if part.kind is SundryKind.TAPE)
    assert {SundryKind.TAPE, SundryKind.SCREW} <= {part.kind for part in sundries}


@pytest.mark.parametrize("name", LISTS)
def test_pump_curves_look_like_pumps(name: str) -> None:
    """Ever steeper curves, 1.8 to 9 m, 1,000 to 12,000 L/h; at best 15 to 45 % of the power in the water."""
    for pump in listed(name).pumps.values():
        slopes = [(b[1] - a[1]) / (b[0] - a[0]) for a, b in pairwise(pump.curve)]
        assert all(later < earlier < 0 for earlier, later in pairwise(slopes)), pump.id
        assert 1.8 <= pump.curve[0][1] <= 9.0
        assert 1000 <= pump.curve[-1][0] * 3.6e6 <= 12000.1
        best = max(flow * head for flow, head in pump.curve) * 9806.65 / pump.watts
        assert 0.15 <= best <= 0.45, pump.id
        assert 0.04 <= pump.cover_m <= 0.12


@pytest.mark.parametrize("name", LISTS)
def test_a_dead_pump_can_be_swapped(name: str) -> None:
    """A barrel union takes each pump's outlet, and a chain that comes apart leads on to rigid pipe."""
    catalog = listed(name)
    joining = Joining(catalog)
    unions = [part for part in catalog.adaptors.values() if part.id.startswith("union-")]
    assert unions
    assert all(part.apart for part in unions)
    for pump in catalog.pumps.values():
        assert any(joining.mates(pump.outlet, end) for part in unions for end in part.ends), pump.id
        head = pump.curve[0][1]
        rigid = {pipe.end for pipe in catalog.pipes.values() if pipe.end.form == "spigot"}
        assert any(joining.chain(pump.outlet, end, head, Need.COME_APART) for end in sorted(rigid)), pump.id


@pytest.mark.parametrize("name", LISTS)
def test_slowing_costs_money(name: str) -> None:
    """A pump whose speed can be set is dearer than the plain one of the same flow."""
    pumps = listed(name).pumps
    pairs = [
        (pump, pumps[pump.id.removesuffix("-slow")])
        for pump in pumps.values()
        if pump.slowable and pump.id.removesuffix("-slow") in pumps
    ]
    assert len(pairs) >= 3
    assert all(price(slow) > price(plain) for slow, plain in pairs)


@pytest.mark.parametrize("name", LISTS)
def test_what_comes_apart(name: str) -> None:
    """Unions, nuts, compression and rubber couplings come apart; what is welded or barbed does not."""
    catalog = listed(name)
    loose = re.compile("union|nut and tail|compression|rubber")
    rows: list[Adaptor | Valve] = [*catalog.adaptors.values(), *catalog.valves.values()]
    for part in rows:
        assert part.apart == bool(loose.search(part.description)), part.id


@pytest.mark.parametrize("name", LISTS)
def test_rubber_couplings_are_for_gravity(name: str) -> None:
    """They hold no pressure, close on pipe of the list and take up an angle at both ends."""
    catalog = listed(name)
    joining = Joining(catalog)
    flexible = [part for part in catalog.adaptors.values() if part.flexible]
    assert len(flexible) >= 5
    for part in flexible:
        assert part.rating_m == 0
        for end in part.ends:
            assert any(joining.mates(end, pipe.end) for pipe in catalog.pipes.values())
    for part in catalog.adaptors.values():
        if any(end.form == "sleeve" for end in part.ends):
            assert part in flexible


@pytest.mark.parametrize("name", LISTS)
def test_bushes_fill_the_socket(name: str) -> None:
    """A bush (its body and its own socket) is as long as the socket it goes into, or a little longer."""
    catalog = listed(name)
    depths = catalog.systems[LISTS[name][0]]
    bushes = [part for part in catalog.adaptors.values() if part.id.startswith("bush-")]
    assert len(bushes) >= 18
    for part in bushes:
        outer, inner = (depths[end.size].socket_m for end in part.ends)
        assert part.body_m is not None
        assert outer is not None
        assert inner is not None
        assert outer <= part.body_m + inner <= outer + 0.01


@pytest.mark.parametrize("name", LISTS)
def test_bodies_grow_with_what_is_in_them(name: str) -> None:
    """Coupling, barrel union, ball valve, ball valve with unions: each keeps its pipes further apart."""
    catalog = listed(name)
    compared = 0
    for part in catalog.valves.values():
        if part.id.startswith("ball-union-"):
            size = part.id.removeprefix("ball-union-")
            rows = (catalog.adaptors[f"coupling-{size}"], catalog.adaptors[f"union-{size}"])
            bodies = [row.body_m or 0.0 for row in (*rows, catalog.valves[f"ball-{size}"], part)]
            assert all(0 < short < long for short, long in pairwise(bodies)), bodies
            compared += 1
    assert compared >= 6


def test_drains_have_a_real_choice(metric: Catalog) -> None:
    """At 50 mm there is drain pipe without pressure, cheaper than pressure pipe and narrower."""
    drain, pressure = metric.pipes["drain-50-3m"], metric.pipes["pn10-50-3m"]
    assert drain.rating_m == 0 < pressure.rating_m
    assert price(drain) < price(pressure)
    assert drain.bore_m < pressure.bore_m


def test_polyethylene_is_gripped_and_never_welded(metric: Catalog) -> None:
    """PE pipe bends, mates with compression fittings of its size and with no solvent socket."""
    joining = Joining(metric)
    for pipe in metric.pipes.values():
        if pipe.end.form == "plain":
            size = pipe.end.size
            assert 20 * pipe.outside_m <= pipe.bend_radius_m <= 25 * pipe.outside_m + 1e-9
            assert joining.mates(pipe.end, End("compression", "metric", size))
            assert not joining.mates(pipe.end, End("socket", "metric", size))
            grip = End("compression", "metric", size)
            assert any(turn.ends == (grip, grip) for turn in metric.turns.values())
            assert any(tee.ends == (grip, grip, grip) for tee in metric.tees.values())
            assert any(adaptor.ends == (grip, grip) for adaptor in metric.adaptors.values())
