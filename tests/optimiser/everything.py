"""Every design of a small site in order of cost, and whether it holds."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from heapq import heapify, heappop, heappush
from itertools import product

import autoplan
from autoplan.catalog.parts import (
    Catalog,
    SundryKind,
)
from autoplan.drawing import Drawing, DrawnLevel
from autoplan.fittings.floor import ThroughFloor
from autoplan.fittings.outside import OutsideSiphon
from autoplan.fittings.wall import Pierced
from autoplan.outcome import Outcome, Status
from autoplan.problem.brief import DrainJoints
from autoplan.problem.site import Guard, Run, RunKind, Site, Vessel
from autoplan.rules.book import read_rules
from autoplan.rules.survey import Survey
from tests.optimiser.orders import Orders, is_plain, least_at_once, least_order
from tests.optimiser.ways import NothingHoldsError, Option, Want, Ways

AIR_GAP_M = 0.03

COUNTED_HERE = (
    "purchase-list",
    "stock",
    "budget",
    "sundries",
    "hose-clamps",
    "hole-saw",
    "seal-stand",
    "rim-bracket",
    "pipe-clips",
)
"""Rules about the order, which is counted here and not drawn."""

JOINTS = {
    DrainJoints.ANY: (False, True),
    DrainJoints.WELDED: (False,),
    DrainJoints.SCREWED: (True,),
}
"""Whether drains are screwed, by what the problem asks for."""

Bill = tuple[float, ...]
"""Cents by shop, pieces of limited parts, sundries wanted."""

Lines = list[frozenset[tuple[int, ...]]]
"""Of each line of an order every way to buy it, as cents by shop."""

Made = tuple[Lines, tuple[Option, ...]]
"""An order, and what it is for."""


class Everything(Ways):
    """Every design of a site whose levels are given, in order of cost.

    Args:
        site: each vessel's least and greatest water level are the same; nothing is owned.
        catalog: the price list, of two shops.
    """

    def __init__(self, site: Site, catalog: Catalog) -> None:
        super().__init__(site, catalog)
        self.order = Orders(catalog)
        self.book = read_rules(site).without(*COUNTED_HERE)

    def by_cost(self) -> Iterator[tuple[int, Drawing]]:
        """The cheapest design of every shape, cheapest first; levels and holes are still open.

        An order is worked out only for what may be next by the least that it could cost.
        """
        shops = list(self.catalog.shops.values())
        queue: list[tuple[int, int, bool, list[Made], bool]] = []
        for number, (made, screwed) in enumerate(self._shapes()):
            least = min(least_at_once(shops, lines) for lines, _ in made)
            queue.append((least, number, False, made, screwed))
        heapify(queue)
        while queue:
            cents, number, known, made, screwed = heappop(queue)
            if known:
                yield cents, self.drawing_of(made[0][1], screwed=screwed)
                continue
            costs = [least_order(shops, lines) for lines, _ in made]
            best = min(range(len(made)), key=costs.__getitem__)
            heappush(queue, (costs[best], number, True, [made[best]], screwed))

    def drawing_of(self, made: Sequence[Option], *, screwed: bool) -> Drawing:
        """What was chosen, put together; siphons' drains are glued whatever the others are."""
        runs = {name: run for option in made for name, run in option.runs.items()}
        pumps = {name: pump for option in made for name, pump in option.pumps.items()}
        tees = {name: tee for option in made for name, tee in option.tees.items()}
        glued = tuple(
            name
            for name, run in self.site.runs.items()
            if run.kind is RunKind.GRAVITY and not self.may_be_taped(name)
        )
        return Drawing(runs, tees, pumps, {}, (), (), screwed, glued=glued)

    def _shapes(self) -> Iterator[tuple[list[Made], bool]]:
        """Of every shape what may be cheapest, each with its order, and whether drains are screwed."""
        groups = self.options()
        used = {part for options in groups for option in options for part in option.parts}
        limited = sorted(part for part in used if not is_plain(self.catalog, part))
        for screwed in JOINTS[self.site.wishes.drain_joints]:
            wants = sorted({w for options in groups for o in options for w in o.wants[screwed]}, key=str)
            shapes = [self.by_shape(options, limited, wants, screwed=screwed) for options in groups]
            for chosen in product(*shapes):
                bills: list[tuple[Bill, tuple[Option, ...]]] = [((0,) * len(chosen[0][0][0]), ())]
                for more in chosen:
                    bills = undearest(
                        (tuple(map(sum, zip(a, b, strict=True))), made + new)
                        for a, made in bills
                        for b, new in more
                    )
                yield [(self.lines(bill, made, limited, wants), made) for bill, made in bills], screwed

    def by_shape(
        self, options: Sequence[Option], limited: Sequence[str], wants: Sequence[Want], *, screwed: bool
    ) -> list[list[tuple[Bill, tuple[Option, ...]]]]:
        """Of every shape, the ways that no other undercuts at each shop, in each limited part and want."""
        shapes: dict[object, list[tuple[Bill, tuple[Option, ...]]]] = {}
        for option in options:
            plain = [(self.catalog.part(p).offers[0], n) for p, n in option.parts.items() if p not in limited]
            counts = (
                *(option.parts[p] for p in limited),
                *(option.wants[screwed].get(w, 0.0) for w in wants),
            )
            bill = (*self.order.by_shop(plain), *counts)
            shapes.setdefault(option.shape, []).append((bill, (option,)))
        return [undearest(found) for found in shapes.values()]

    def lines(
        self, bill: Bill, made: Sequence[Option], limited: Sequence[str], wants: Sequence[Want]
    ) -> Lines:
        """The order for a design: of each line every way to buy it, what is bought one way first."""
        shops = len(self.order.shops)
        lines = [frozenset({tuple(int(cents) for cents in bill[:shops])})]
        for part, count in zip(limited, bill[shops:], strict=False):
            lines.append(self.order.orders(part, int(count)))
        by_kind: dict[SundryKind, set[tuple[object, float]]] = {}
        for (kind, size), amount in zip(wants, bill[shops + len(limited) :], strict=True):
            if amount:
                by_kind.setdefault(kind, set()).add((size, amount))
        if any(row.kind is SundryKind.SAW for row in self.catalog.sundries.values()):
            parts = {hole.penetration for o in made for run in o.runs.values() for hole in run.holes()}
            holes: set[tuple[object, float]] = {
                (round(self.catalog.penetrations[part].hole_m * 1e4), 1.0) for part in parts
            }
            by_kind |= {SundryKind.SAW: holes} if holes else {}
        lines += [self.order.sundries(kind, frozenset(wanted)) for kind, wanted in by_kind.items()]
        pieces: dict[str, list[float]] = {}
        for option in made:
            for pipe, length in option.pieces:
                pieces.setdefault(pipe, []).append(length)
        return lines + [self.order.cuts(pipe, tuple(sorted(list_))) for pipe, list_ in pieces.items()]

    def cheapest(self) -> tuple[int, Drawing, int]:
        """The cheapest design that holds, and how many shapes cheaper than it do not.

        Raises:
            NothingHoldsError: none does.
        """
        for tried, (cents, drawing) in enumerate(self.by_cost()):
            if self.holds(drawing):
                return cents, drawing, tried
        raise NothingHoldsError

    def holds(self, drawing: Drawing) -> bool:
        """Whether every hard rule passes the design once its holes are placed at the given levels."""
        levels = {n: DrawnLevel(n, v.water_min_m, v.water_min_m) for n, v in self.site.vessels.items()}
        drawing = self.holed(replace(drawing, levels=levels))
        survey = Survey(self.site, self.catalog, drawing)
        return all(f.ok for rule in self.book.rules for f in rule.check(survey) if f.hard)

    def leaks(self, survey: Survey, run: Run) -> float:
        """What a drain hole takes with the bed full [m3/s]: Torricelli, with 0.6 for its sharp edge."""
        start, bed = survey.drawn(run.name).start, self.site.vessels[run.start].bed
        hole = start.drain_hole if isinstance(start, ThroughFloor) else None
        if hole is None or bed is None:
            return 0.0
        area = math.pi / 4 * hole.hole_m**2
        return 0.6 * area * math.sqrt(2 * 9.80665 * (bed.flood_m - hole.height_m))

    def holed(self, drawing: Drawing) -> Drawing:
        """Outlets where they hold their vessel's level, drains' ends under water, inlets over the flood."""
        runs = dict(drawing.runs)
        survey = Survey(self.site, self.catalog, drawing)
        for run in survey.gravity_runs():
            start, finish = runs[run.name].ends
            vessel, pipe = self.site.vessels[run.start], survey.pipe(run.name)
            head = survey.inlet_head(run.name, survey.design_flow(run.name) - self.leaks(survey, run))
            if isinstance(start, ThroughFloor):
                top = survey.level(run.start) - head
                start = replace(start, centre_m=vessel.floor_m, standpipe_top_m=top)
            elif not isinstance(start, OutsideSiphon):
                assert isinstance(start, Pierced)
                start = replace(start, centre_m=survey.level(run.start) - head + self.inlet(pipe, start) / 2)
            if isinstance(finish, Pierced):
                finish = replace(finish, centre_m=self.drilled(run, pipe, finish))
            runs[run.name] = runs[run.name].with_ends(start, finish)
        survey = Survey(self.site, self.catalog, replace(drawing, runs=runs))
        for run in survey.pressure_runs():
            end = runs[run.name].finish
            if isinstance(end, Pierced):
                flood = survey.standing_level(run.finish, survey.overload_factor())
                half = survey.pipe(run.name).outside_m / 2
                high = at_a_mark(self.site.vessels[run.finish], flood + AIR_GAP_M + half)
                if end.guard is Guard.CHECK_VALVE:
                    high = survey.level(run.finish) - half
                runs[run.name] = runs[run.name].with_ends(runs[run.name].start, replace(end, centre_m=high))
        return replace(drawing, runs=runs)


def at_a_mark(vessel: Vessel, height_m: float) -> float:
    """A height [m] up to the next whole millimetre over a vessel's floor, as it is drilled."""
    return vessel.floor_m + math.ceil((height_m - vessel.floor_m) * 1000 - 1e-6) / 1000


def checked(site: Site, catalog: Catalog) -> tuple[Outcome, Drawing, int]:
    """Design and enumerate; what both found, and how many shapes cheaper than it do not hold.

    The cost is the same to the cent, that of the order, and the verdict sent nothing back.
    """
    outcome = autoplan.design(site, catalog, top=1)
    cents, drawing, refused = Everything(site, catalog).cheapest()
    assert outcome.status is Status.PROVEN
    assert round(outcome.designs[0].objective * 100) == cents
    cost = outcome.designs[0].verdict.cost
    assert round((cost.purchase + cost.freight) * 100) == cents
    assert outcome.solver.rejected == 0
    return outcome, drawing, refused


def undearest(
    bills: Iterable[tuple[Bill, tuple[Option, ...]]],
) -> list[tuple[Bill, tuple[Option, ...]]]:
    """Those of which none else asks for no more in every place; of two alike the first."""
    kept: list[tuple[Bill, tuple[Option, ...]]] = []
    for bill, made in sorted(bills, key=lambda item: item[0]):
        if not any(all(a <= b for a, b in zip(old, bill, strict=True)) for old, _ in kept):
            kept.append((bill, made))
    return kept
