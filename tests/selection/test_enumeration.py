"""Small problems by trying everything: no choice that the rules allow is cheaper than the design.

Ways to build each run are read straight from the price list, every order is priced by trying every number
of packs, sticks and metres from every shop, and the rules' checks say of each whole design, cheapest first,
whether it holds. Taken as definitions of a design: how a run is drawn from its legs (a piece down over a
rim, a standpipe's piece), the cheapest chain of adaptors between two openings, at most one on a wall part
or on either side of a valve, a tee in its trunk's own size that steps down and never up.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import cache
from itertools import product

import pytest

import autoplan
from autoplan.catalog.joining import STUB_M, Joining
from autoplan.catalog.parts import Catalog, End, Penetration, Pipe, Shop, TurnStyle, Way
from autoplan.drawing import (
    Drawing,
    DrawnEnd,
    DrawnJunction,
    DrawnLevel,
    DrawnPump,
    DrawnRun,
    DrawnTurn,
)
from autoplan.outcome import Outcome, Status
from autoplan.problem.site import Draw, Entry, Run, RunKind, Site
from autoplan.rules.book import read_rules
from autoplan.rules.survey import Survey

KERF_M, DROP_M, RIM_M, AIR_GAP_M, STRIP_M, PAIR_GAP_M = 0.003, 0.15, 0.03, 0.03, 0.02, 0.02
FREE_FALL_M = 0.25
COUNTED_HERE = ("purchase-list", "stock", "budget")
"""Rules about the order, which is counted here and not drawn."""


class Everything:
    """Every design of a site whose levels are given, in order of cost.

    Args:
        site: each vessel's least and greatest water level are the same.
        catalog: the price list.
    """

    def __init__(self, site: Site, catalog: Catalog) -> None:
        self.site, self.catalog = site, catalog
        self.joining = Joining(catalog)
        self.shut_off_m = max(pump.curve[0][1] for pump in catalog.pumps.values())
        self.book = read_rules(site).without(*COUNTED_HERE)
        self.names = list(site.runs)

    # --- what a run can be made of ----------------------------------------------------------------------

    def chain(self, run: Run, a: End, b: End, most: int) -> tuple[str, ...] | None:
        """The cheapest adaptors between two openings, strong enough for any pump if under pressure."""
        need = self.shut_off_m if run.kind is RunKind.PRESSURE else 0.0
        found = self.joining.chain(a, b, need_rating_m=need)
        return None if found is None or len(found.parts) > most else found.parts

    def ways(self, run: Run) -> Iterator[DrawnRun]:
        """Every way to draw a run that its own rules allow: heights are filled in later."""
        for pipe in self.first_rows():
            if not self.suits(run, pipe):
                continue
            valves = list(self.valves(run, pipe)) if run.valve else [(None, ())]
            for start, finish, (valve, chain) in product(
                self.starts(run, pipe), self.finishes(run, pipe), valves
            ):
                pieces, angles = list(run.legs_m), list(run.turns)
                if finish.way is Way.OVER_RIM:
                    pieces.append(DROP_M)
                    angles.append(90)
                if start.in_floor:
                    vessel = self.site.vessels[run.start]
                    pieces.insert(0, vessel.water_max_m - vessel.floor_m)
                kinds = sorted(set(angles))
                for made in product(*(self.turns(run, pipe, angle) for angle in kinds)):
                    turns = tuple(dict(zip(kinds, made, strict=True))[angle] for angle in angles)
                    bends = pipe.bend_radius_m > 0 and all(t.style is TurnStyle.BEND for t in turns)
                    between = [
                        pipe.outside_m + PAIR_GAP_M
                        for t in turns
                        if t.style is TurnStyle.PAIRED
                        and self.catalog.turns[t.parts[0]].ends[0].form == "socket"
                    ]
                    length = sum(pieces)
                    cut = (length,) if bends else (*pieces, *between)
                    yield DrawnRun(run.name, pipe.id, cut, length, turns, (), valve, chain, start, finish)

    def first_rows(self) -> list[Pipe]:
        """One row per pipe, whatever lengths it is sold in."""
        return list({pipe.family: pipe for pipe in reversed(self.catalog.pipes.values())}.values())

    def suits(self, run: Run, pipe: Pipe) -> bool:
        """Least bores of drains (34 mm, 45 mm over 1000 L/h, 20 mm for a bed), 1.5 m/s under pressure."""
        flow = self.site.flows[run.name].design_m3_s
        if run.kind is RunKind.PRESSURE:
            return flow / (math.pi / 4 * pipe.bore_m**2) <= 1.5 and pipe.rating_m > 0
        least = 0.020 if run.draw is Draw.STANDPIPE else 0.045 if flow * 3.6e6 > 1000.001 else 0.034
        return pipe.bore_m >= least - 1e-9 and pipe.bend_radius_m == 0

    def turns(self, run: Run, pipe: Pipe, angle: int) -> Iterator[DrawnTurn]:
        """A bend of that angle, two 45s for a right angle, or the pipe itself if it bends."""
        if pipe.bend_radius_m > 0:
            yield DrawnTurn(angle, TurnStyle.BEND, ())
        for turn in self.catalog.turns.values():
            if not all(self.joining.mates(end, pipe.end) for end in turn.ends):
                continue
            tight = turn.style is TurnStyle.TIGHT
            if turn.angle == angle and not (run.kind is RunKind.GRAVITY and angle == 90 and tight):
                yield DrawnTurn(angle, turn.style, (turn.id,))
            if angle == 90 and turn.angle == 45 and tight:
                yield DrawnTurn(angle, TurnStyle.PAIRED, (turn.id, turn.id))

    def valves(self, run: Run, pipe: Pipe) -> Iterator[tuple[str, tuple[str, ...]]]:
        """Ball valves with at most one adaptor on either side, as many on one as on the other."""
        for valve in self.catalog.valves.values():
            a, b = (self.chain(run, end, pipe.end, 1) for end in valve.ends)
            if valve.style == "ball" and a is not None and b is not None and len(a) == len(b):
                yield valve.id, (*a, *b)

    def starts(self, run: Run, pipe: Pipe) -> Iterator[DrawnEnd]:
        """Through the wall, or the floor under a standpipe; a main starts at its pump or tee."""
        if run.kind is RunKind.PRESSURE or run.start in self.site.junctions:
            yield DrawnEnd(run.start)
        else:
            yield from self.through(run, pipe, run.start, in_floor=run.draw is Draw.STANDPIPE)

    def finishes(self, run: Run, pipe: Pipe) -> Iterator[DrawnEnd]:
        """Through the wall, over the rim, or at a tee."""
        if run.finish in self.site.junctions:
            yield DrawnEnd(run.finish)
            return
        if run.kind is RunKind.PRESSURE and run.entry is not Entry.WALL:
            height = self.site.vessels[run.finish].rim_m + RIM_M + pipe.outside_m / 2
            yield DrawnEnd(run.finish, Way.OVER_RIM, centre_m=height)
        if run.kind is RunKind.GRAVITY or run.entry is not Entry.OVER_RIM:
            yield from self.through(run, pipe, run.finish, in_floor=False)

    def through(self, run: Run, pipe: Pipe, at: str, *, in_floor: bool) -> Iterator[DrawnEnd]:
        """Every wall part that the wall and the pipe take."""
        vessel = self.site.vessels[at]
        wall = vessel.base_m if in_floor else vessel.wall_m
        for part in self.catalog.penetrations.values():
            if not part.wall_min_m <= wall <= part.wall_max_m or part.head_max_m < vessel.depth_m:
                continue
            made = self.wall_part(run, pipe, part, in_floor=in_floor)
            if made is not None:
                yield DrawnEnd(at, part.way, part.id, None, in_floor, *made)

    def wall_part(
        self, run: Run, pipe: Pipe, part: Penetration, *, in_floor: bool
    ) -> tuple[tuple[str, ...], tuple[str, ...]] | None:
        """Adaptors outside and inside, or None if the part does not take the pipe."""
        if part.way is Way.SEAL:
            fits = self.joining.mates(part.ends[1], pipe.end) and not pipe.bend_radius_m and not in_floor
            return ((), ()) if fits else None
        outside = self.chain(run, part.ends[1], pipe.end, 1)
        inside = self.chain(run, part.ends[0], pipe.end, 1) if in_floor else ()
        if outside is None or inside is None:
            return None
        bores = [
            part.bore_m,
            *(self.catalog.adaptors[p].bore_m for p in outside if p in self.catalog.adaptors),
        ]
        return (outside, inside) if min(bores) >= 0.6 * pipe.bore_m else None

    # --- whole designs ----------------------------------------------------------------------------------

    def by_cost(self) -> list[tuple[int, Drawing]]:
        """Every design with its cost in cents, cheapest first, not yet judged."""
        classes = {run.run_class: run for run in reversed(self.site.runs.values())}
        options = {name: list(self.ways(run)) for name, run in classes.items()}
        assert all(options.values()), {name: len(found) for name, found in options.items()}
        found = []
        for made in product(*options.values()):
            drawn = dict(zip(options, made, strict=True))
            runs = {n: replace(drawn[self.site.runs[n].run_class], run=n) for n in self.names}
            found += [(self.cents(drawing), drawing) for drawing in self.joined(runs)]
        return sorted(found, key=lambda item: item[0])

    def joined(self, runs: Mapping[str, DrawnRun]) -> Iterator[Drawing]:
        """The same runs with every pump, tee, and way round on the tee."""
        vessel = self.site.pumped_vessels()[0]
        main = next(r for r in self.site.runs.values() if r.start == vessel and r.kind is RunKind.PRESSURE)
        for pump in self.catalog.pumps.values():
            chain = self.chain(main, pump.outlet, self.end_of(runs[main.name]), 4)
            if chain is None:
                continue
            on_pump = {**runs, main.name: self.chained(runs[main.name], chain)}
            for tees, teed in self.teed(on_pump, list(self.site.junctions)):
                pumps = {vessel: DrawnPump(vessel, pump.id, "throttled", 1.0)}
                yield Drawing(teed, tees, pumps, {}, (), ())

    def teed(
        self, runs: Mapping[str, DrawnRun], places: Sequence[str]
    ) -> Iterator[tuple[dict[str, DrawnJunction], dict[str, DrawnRun]]]:
        """Every tee at each junction in turn, either way round, with the adaptors it needs."""
        if not places:
            yield {}, dict(runs)
            return
        here, *rest = places
        trunk = next(run.name for run in self.site.runs.values() if run.finish == here)
        leave = [run.name for run in self.site.runs.values() if run.start == here]
        for tee in self.catalog.tees.values():
            if not self.joining.mates(tee.ends[0], self.end_of(runs[trunk])) or tee.rating_m == 0:
                continue
            for ports in (leave, leave[::-1]):
                chains = [
                    self.step_down(self.site.runs[n], end, self.end_of(runs[n]))
                    for n, end in zip(ports, tee.ends[1:], strict=True)
                ]
                if None in chains:
                    continue
                new = {n: self.chained(runs[n], chain or ()) for n, chain in zip(ports, chains, strict=True)}
                junction = DrawnJunction(here, tee.id, (trunk, *ports))
                for others, drawn in self.teed({**runs, **new}, rest):
                    yield {here: junction, **others}, drawn

    def step_down(self, run: Run, opening: End, pipe_end: End) -> tuple[str, ...] | None:
        """Up to three adaptors from a tee to a run no wider than the tee's opening."""
        chain = self.chain(run, opening, pipe_end, 3)
        if chain and self.width(pipe_end) > self.width(opening):
            return None
        return chain

    def width(self, end: End) -> float:
        """The widest pipe of that system and size."""
        return max(
            (
                p.bore_m
                for p in self.catalog.pipes.values()
                if (p.end.system, p.end.size) == (end.system, end.size)
            ),
            default=0.0,
        )

    def end_of(self, drawn: DrawnRun) -> End:
        """What the run's pipe offers to its neighbour."""
        return self.catalog.pipes[drawn.pipe].end

    @staticmethod
    def chained(drawn: DrawnRun, chain: tuple[str, ...]) -> DrawnRun:
        """The run with adaptors at its start."""
        return replace(drawn, start=replace(drawn.start, chain=chain))

    def holds(self, drawing: Drawing) -> bool:
        """Whether every hard rule passes the design once its holes are placed at the given levels."""
        levels = {n: DrawnLevel(n, v.water_min_m, v.water_min_m) for n, v in self.site.vessels.items()}
        drawing = self.holed(replace(drawing, levels=levels))
        survey = Survey(self.site, self.catalog, drawing)
        return all(f.ok for rule in self.book.rules for f in rule.check(survey) if f.hard)

    def holed(self, drawing: Drawing) -> Drawing:
        """Outlets where they hold their vessel's level, drains' ends under water, inlets over the flood."""
        runs = dict(drawing.runs)
        survey = Survey(self.site, self.catalog, drawing)
        for run in survey.gravity_runs():
            start, finish = runs[run.name].start, runs[run.name].finish
            vessel, pipe = self.site.vessels[run.start], survey.pipe(run.name)
            head = survey.inlet_head(run.name, survey.design_flow(run.name))
            if start.in_floor:
                top = survey.level(run.start) - head
                start = replace(start, centre_m=vessel.floor_m, standpipe_top_m=top)
            else:
                bore = min(pipe.bore_m, self.catalog.penetrations[start.penetration or ""].bore_m or math.inf)
                start = replace(start, centre_m=survey.level(run.start) - head + bore / 2)
            hole = self.catalog.penetrations[finish.penetration or ""].hole_m
            high = self.site.vessels[run.finish].rim_m - STRIP_M - hole / 2
            drive = vessel.floor_m if vessel.bed else vessel.water_min_m
            ample = drive - high - pipe.outside_m / 2 >= FREE_FALL_M
            if run.finish in self.site.pumped_vessels() and ample:
                finish = replace(finish, centre_m=math.floor(high * 1e4 + 1e-6) / 1e4)
            else:
                finish = replace(finish, centre_m=survey.level(run.finish) - pipe.outside_m / 2)
            runs[run.name] = replace(runs[run.name], start=start, finish=finish)
        survey = Survey(self.site, self.catalog, replace(drawing, runs=runs))
        for run in survey.pressure_runs():
            finish = runs[run.name].finish
            if finish.penetration is not None:
                flood = survey.standing_level(run.finish, survey.overload_factor())
                half = survey.pipe(run.name).outside_m / 2
                finish = replace(finish, centre_m=flood + AIR_GAP_M + half)
                runs[run.name] = replace(runs[run.name], finish=finish)
        return replace(drawing, runs=runs)

    def cheapest(self) -> tuple[int, Drawing, int]:
        """The cheapest design that holds, and how many cheaper ones do not.

        Raises:
            AssertionError: none holds.
        """
        for tried, (cents, drawing) in enumerate(self.by_cost()):
            if self.holds(drawing):
                return cents, drawing, tried
        raise AssertionError("no design holds")

    # --- what it costs ----------------------------------------------------------------------------------

    def cents(self, drawing: Drawing) -> int:
        """The cheapest order for a design, freight and all."""
        parts: Counter[str] = Counter(pump.part for pump in drawing.pumps.values())
        parts.update(junction.tee for junction in drawing.junctions.values() if junction.tee)
        pieces: dict[str, list[float]] = {}
        for run in drawing.runs.values():
            parts.update(part for turn in run.turns for part in turn.parts)
            parts.update([*run.extras, *run.valve_chain])
            for end in (run.start, run.finish):
                parts.update([*end.chain, *end.inner_chain, *([end.penetration] if end.penetration else [])])
            parts.update([run.valve] if run.valve else [])
            pieces.setdefault(run.pipe, []).extend(run.pieces_m)
        first = {pipe.family: pipe.id for pipe in self.first_rows()}
        for stub in [part for part in parts if part in self.catalog.pipes]:
            row = first[self.catalog.pipes[stub].family]
            pieces.setdefault(row, []).extend([STUB_M] * parts.pop(stub))
        lines = [self.orders(part, count) for part, count in parts.items()]
        lines += [self.cuts(pipe, tuple(sorted(list_))) for pipe, list_ in pieces.items()]
        return least_order(list(self.catalog.shops.values()), lines)

    @cache  # noqa: B019
    def orders(self, part: str, count: int) -> frozenset[tuple[int, ...]]:
        """Every way to order so many pieces of a part, as cents by shop."""
        offers = self.catalog.part(part).offers
        counts = [
            range(min(-(-count // offer.pack), offer.stock if offer.stock is not None else count) + 1)
            for offer in offers
        ]
        shops = list(self.catalog.shops)
        return undominated(
            tuple(
                sum(n * o.price_cents for n, o in zip(packs, offers, strict=True) if o.shop == shop)
                for shop in shops
            )
            for packs in product(*counts)
            if sum(n * o.pack for n, o in zip(packs, offers, strict=True)) >= count
        )

    @cache  # noqa: B019
    def cuts(self, pipe: str, pieces: tuple[float, ...]) -> frozenset[tuple[int, ...]]:
        """Every way to order pipe for the pieces, as cents by shop."""
        family = self.catalog.pipes[pipe].family
        rows = [row for row in self.catalog.pipes.values() if row.family == family]
        lines = [(row, offer) for row in rows for offer in row.offers]
        kerf = KERF_M if any(row.stick_m for row in rows) else 0.0
        metres = max(len(pieces), math.ceil(sum(pieces) + kerf * len(pieces) - 1e-9))
        most = [
            range(min(len(pieces) if row.stick_m else metres, metres if o.stock is None else o.stock) + 1)
            for row, o in lines
        ]
        shops = list(self.catalog.shops)
        found = set()
        for counts in product(*most):
            sticks = [row.stick_m for (row, _), n in zip(lines, counts, strict=True) for _ in range(n)]
            pool = sum(n for (row, _), n in zip(lines, counts, strict=True) if not row.stick_m)
            rooms = [stick for stick in sticks if stick] + [float(pool)]
            cents = tuple(
                sum(n * o.price_cents for (_, o), n in zip(lines, counts, strict=True) if o.shop == shop)
                for shop in shops
            )
            cheaper = any(all(a <= b for a, b in zip(old, cents, strict=True)) for old in found)
            if not cheaper and packs(pieces[::-1], tuple(room + kerf for room in rooms), kerf):
                found.add(cents)
        return frozenset(found)


def packs(pieces: tuple[float, ...], rooms: tuple[float, ...], kerf: float) -> bool:
    """Whether pieces, each with a saw cut, fit on sticks; every piece tried on every stick."""
    if not pieces:
        return True
    if sum(pieces) + kerf * len(pieces) > sum(rooms) + 1e-9:
        return False
    need = pieces[0] + kerf
    return any(
        room >= need - 1e-9 and packs(pieces[1:], (*rooms[:i], room - need, *rooms[i + 1 :]), kerf)
        for i, room in enumerate(rooms)
        if room not in rooms[:i]
    )


def undominated(totals: Iterable[tuple[int, ...]]) -> frozenset[tuple[int, ...]]:
    """Totals than which no other is as low at every shop; more goods never cost less, freight and all."""
    kept: list[tuple[int, ...]] = []
    for total in sorted(set(totals)):
        if not any(all(a <= b for a, b in zip(old, total, strict=True)) for old in kept):
            kept.append(total)
    return frozenset(kept)


def least_order(shops: Sequence[Shop], lines: Sequence[frozenset[tuple[int, ...]]]) -> int:
    """The least that an order of all lines costs: each line by any of its ways, then freight by shop."""
    totals = {(0,) * len(shops)}
    for ways in lines:
        totals = undominated(tuple(map(sum, zip(t, way, strict=True))) for t in totals for way in ways)
    return min(sum(map(with_freight, shops, total)) for total in totals)


def with_freight(shop: Shop, goods: int) -> int:
    """Goods and freight; topped up to the free value where that is less."""
    if goods == 0 or shop.freight_cents == 0:
        return goods
    paid = goods + shop.freight_cents
    return paid if shop.free_from_cents is None else min(paid, max(goods, shop.free_from_cents))


def checked(site: Site, catalog: Catalog) -> tuple[Outcome, Drawing, int]:
    """Design and enumerate; assert the same cost to the cent; what both found, and how many were refused."""
    outcome = autoplan.design(site, catalog, top=1)
    cents, drawing, refused = Everything(site, catalog).cheapest()
    assert outcome.status is Status.PROVEN
    assert round(outcome.designs[0].objective * 100) == cents
    cost = outcome.designs[0].verdict.cost
    assert round((cost.purchase + cost.freight) * 100) == cents
    return outcome, drawing, refused


CUT = Callable[..., Catalog]
SITE = Callable[..., Site]


@pytest.mark.parametrize(
    "given",
    [
        {},
        {"flow_l_h": 1100.0},
        {"flow_l_h": 2000.0},
        {"entry": Entry.WALL},
        {"main_legs_m": (0.85,), "flow_l_h": 1200.0},
        {"main_legs_m": (2.9, 2.0, 2.9), "drain_legs_m": (1.9, 1.5, 1.9)},
        {"overload": 2.5, "tank_water_m": (0.68, 0.68)},
    ],
    ids=str,
)
def test_tank_and_sump(site_of: SITE, corner_shelf: Catalog, given: Mapping[str, object]) -> None:
    """Whatever the flow, the lengths and the way in: nothing that holds is cheaper."""
    checked(site_of(**given), corner_shelf)


def test_wider_shelf(site_of: SITE, shelf_of: CUT, corner_shelf: Catalog) -> None:
    """Four drains and five pressure pipes in some thousand designs, 80 mm over the drain's end."""
    more = """ drain-40-3m drain-sweep-40-90 drain-bend-40-45 seal-40 bulkhead-40 pn10-40-3m pn10-40-metre
        elbow-40-90 sweep-40-90 elbow-40-45 hose-32-metre hose-nut-114-32 hose-elbow-25-90 bulkhead-thread-1
        bulkhead-thread-114 hose-tail-1-25 hose-tail-114-32 thread-male-32-1 thread-female-40-114
        thread-bush-114-1 bush-40-32"""
    kept = [part for group in corner_shelf.groups() for part in group]
    site = site_of(flow_l_h=950.0, tank_water_m=(0.353, 0.353), drain_legs_m=(1.5, 1.0, 1.2))
    outcome, _, _ = checked(site, shelf_of(" ".join(kept) + more))
    assert outcome.designs[0].drawing.runs["drain"].pipe not in corner_shelf.pipes


def test_cheapest_pump_too_weak(site_of: SITE, corner_shelf: Catalog) -> None:
    """At 1300 L/h the cheapest pump falls short of the tank; every design with it is refused."""
    outcome, drawing, refused = checked(site_of(flow_l_h=1300.0), corner_shelf)
    cheapest = min(corner_shelf.pumps.values(), key=lambda p: min(o.price_cents for o in p.offers)).id
    assert refused > 0
    assert drawing.pumps["sump"].part != cheapest
    assert outcome.designs[0].drawing.pumps["sump"].part == drawing.pumps["sump"].part


def test_short_fall_asks_for_a_bigger_drain(site_of: SITE, corner_shelf: Catalog) -> None:
    """Over 20 mm of fall the drain is wider than over 40 mm, though the wider costs more."""
    drain = {"flow_l_h": 950.0, "drain_legs_m": (2.0, 1.0, 2.0)}
    bores, costs = [], []
    for tank_water in (0.12, 0.14):
        outcome, drawing, _ = checked(site_of(tank_water_m=(tank_water, tank_water), **drain), corner_shelf)
        designed = outcome.designs[0].drawing.runs["drain"].pipe
        bores.append(corner_shelf.pipes[designed].bore_m)
        assert bores[-1] == corner_shelf.pipes[drawing.runs["drain"].pipe].bore_m
        costs.append(outcome.designs[0].objective)
    assert bores[0] > bores[1]
    assert costs[0] > costs[1]


def test_freight_of_the_second_shop_decides(
    site_of: SITE, corner_shelf: Catalog, changed: Callable[..., Catalog]
) -> None:
    """The second shop is cheaper by less than its freight: it is ordered from only where that is small."""
    site, shop = site_of(flow_l_h=2000.0), corner_shelf.shops["alder"]
    shops: dict[int, set[str]] = {}
    for freight in (shop.freight_cents, 100, 0):
        shelf = changed(corner_shelf, {"alder": replace(shop, freight_cents=freight)})
        outcome, _, _ = checked(site, shelf)
        shops[freight] = {line.shop for line in outcome.designs[0].drawing.purchases}
    assert shops[shop.freight_cents] == {"weir"}
    assert shops[100] == shops[0] == {"weir", "alder"}


@pytest.mark.parametrize("free_from", [6000, 8500, 20_000])
def test_free_freight_above_a_value(
    site_of: SITE, corner_shelf: Catalog, changed: Callable[..., Catalog], free_from: int
) -> None:
    """An order that comes near the value of free freight pays up to it and no more."""
    shop = corner_shelf.shops["weir"]
    shelf = changed(corner_shelf, {"weir": replace(shop, free_from_cents=free_from)})
    outcome, _, _ = checked(site_of(flow_l_h=2000.0), shelf)
    cost = outcome.designs[0].verdict.cost
    assert cost.freight <= shop.freight_cents / 100
    assert (cost.freight == shop.freight_cents / 100) == (free_from == 20_000)


def test_levels_are_chosen(site_of: SITE, corner_shelf: Catalog) -> None:
    """With ranges of levels the design costs what the best of a grid of levels does, less than the worst."""
    drain = {"flow_l_h": 950.0, "drain_legs_m": (2.0, 1.0, 2.0)}
    free = autoplan.design(
        site_of(tank_water_m=(0.12, 0.14), sump_water_m=(0.10, 0.12), **drain), corner_shelf, top=1
    )
    grid = []
    for tank, sump in product((0.12, 0.14), (0.10, 0.11, 0.12)):
        try:
            site = site_of(tank_water_m=(tank, tank), sump_water_m=(sump, sump), **drain)
            grid.append(Everything(site, corner_shelf).cheapest()[0])
        except AssertionError:
            grid.append(10**6)
    assert free.status is Status.PROVEN
    assert round(free.designs[0].objective * 100) == min(grid) < max(grid)


def test_tee_to_a_bed(site_of: SITE, shelf_of: CUT) -> None:
    """A main that parts to tank and bed: every size, valve, tee and way round on the tee, every pump."""
    kept = """drain-50-2m drain-50-3m pn10-32-3m pn10-32-metre pn16-25-3m drain-bend-50-45 drain-sweep-50-90
        elbow-32-90 elbow-25-90 elbow-25-45 seal-50 bulkhead-25 thread-female-32-1 thread-female-25-34
        thread-female-32-34 tee-32 tee-25 tee-32-25 bush-32-25 ball-32 ball-25 pump-1600 pump-2200
        pump-3000"""
    site = site_of(beds=1, bed_flow_l_h=500.0, flow_l_h=950.0, entry=Entry.OVER_RIM)
    outcome, drawing, refused = checked(site, shelf_of(kept))
    assert refused > 0
    assert outcome.designs[0].drawing.pumps["sump"].part == drawing.pumps["sump"].part == "pump-3000"


@pytest.mark.parametrize(
    "leg",
    [
        0.99,
        1.0,
    ],
)
def test_whole_metres(site_of: SITE, shelf_of: CUT, corner_shelf: Catalog, leg: float) -> None:
    """A leg of just one metre takes one metre of pipe by the metre, where there are sticks too."""
    kept = [
        part
        for group in corner_shelf.groups()
        for part in group
        if not part.startswith(("pn16-25", "hose-25"))
    ]
    checked(site_of(main_legs_m=(leg,), entry=Entry.WALL), shelf_of(" ".join(kept)))


def test_nothing_holds(site_of: SITE, corner_shelf: Catalog) -> None:
    """Where trying everything finds nothing, the status says there is none."""
    site = site_of(entry=Entry.WALL, flow_l_h=1200.0, tank_water_m=(0.70, 0.70))
    everything = Everything(site, corner_shelf)
    assert not any(everything.holds(drawing) for _, drawing in everything.by_cost())
    assert autoplan.design(site, corner_shelf, top=1).status is Status.NONE
