"""The same least cost by another formulation and another solver: HiGHS, through scipy.

Taken from the draft are the options and their numbers: candidates, pumps, ways to join, losses in 0.1 mm. The
variables and rows are written here: heads with big-M rows where an inlet may be over a rim or through a wall,
pack counts for every offer, a bill for every shop, rating by pairs, loads of cement, tape and the like.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import product
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_matrix

import autoplan
from autoplan.catalog.parts import Catalog
from autoplan.fittings.ends import AtVessel
from autoplan.hydraulics.pump import PumpCurve
from autoplan.line.needs import Want
from autoplan.line.water import flap_head
from autoplan.optimiser.cutting.cutting import Stick, cheapest
from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.model.joints import InLine, Teed
from autoplan.optimiser.options.consumables import Needs
from autoplan.optimiser.search.presolve import Narrowing
from autoplan.optimiser.search.solve import Ending, Search
from autoplan.problem.brief import DrainJoints, Overload, Survives
from autoplan.problem.flows import running_drains
from autoplan.problem.site import Guard, Run, RunKind, Site, VesselKind
from autoplan.rules.balance import flood_drawdown, pumped_flow
from autoplan.rules.book import read_rules
from autoplan.rules.heights import Place
from autoplan.rules.linear import Linear, Var
from tests.one_bed import one_bed
from tests.optimiser.conftest import CORNER_SHELF, cut_down
from tests.optimiser.orders import longest_of
from tests.short_list import gone
from tests.stored import read

PROBLEMS = Path(__file__).parents[2] / "problems"
MM = 10
"""A millimetre in the draft's heads [0.1 mm]."""

HIGH = 100_000
"""More than any height or head on a site [0.1 mm]."""

Row = dict[int, float]


def summed(*rows: Row) -> Row:
    """The sum of rows."""
    total: Row = {}
    for row in rows:
        for column, coef in row.items():
            total[column] = total.get(column, 0.0) + coef
    return total


class Programme:
    """A mixed-integer programme for one draft."""

    def __init__(self, draft: Draft) -> None:
        self.draft, self.site, self.catalog = draft, draft.site, draft.catalog
        self.low: list[float] = []
        self.high: list[float] = []
        self.whole: list[int] = []
        self.rows: list[tuple[Row, float]] = []
        self.column: dict[int, int] = {}
        for name in self.site.classes():
            self.one_of(var for var, _ in draft.candidates(name))
        for vessel in self.site.pumped_vessels():
            self.one_of(var for var, _ in draft.pumps(vessel))
        self.join()
        settings = draft.book.settings
        self.level = {
            n: self.add(math.ceil(v.water_min_m * 1e4 - 1e-6), math.floor(v.water_max_m * 1e4 + 1e-6))
            for n, v in self.site.vessels.items()
        }
        dry = settings["overload"]["freeboard"]
        self.flood = {
            n: self.level[n]
            if n in self.site.pumped_vessels()
            else self.add(-HIGH, math.floor((v.rim_m - dry) * 1e4 + 1e-6))
            for n, v in self.site.vessels.items()
        }
        self.drains(settings["drain-fall"]["reserve"])
        if self.site.wishes.survives is Survives.HALF_BLOCKED:
            self.half_blocked(settings["half-blocked"]["freeboard"])
        self.pumps(settings["pump-duty"]["margin"], self.spare())
        self.trunk(**settings["trunk-bore"])
        self.sump(settings["sump-high"]["freeboard"])
        self.holes(settings["hole-place"]["strip"])
        self.routes()
        self.ratings()
        self.bill = {shop: self.add(0, 10**7) for shop in self.catalog.shops}
        self.orders(settings["purchase-list"]["kerf"])

    # --- writing ----------------------------------------------------------------------------------------

    def add(self, low: float, high: float, *, whole: bool = True) -> int:
        """A new variable."""
        self.low.append(low)
        self.high.append(high)
        self.whole.append(int(whole))
        return len(self.low) - 1

    def one_of(self, choices: Iterable[int]) -> None:
        """Columns for choices of the draft, of which one is made."""
        columns = []
        for var in choices:
            self.column[var] = self.add(0, 1)
            columns.append(self.column[var])
        self.same(dict.fromkeys(columns, 1.0), 1.0)

    def require(self, row: Row, least: float) -> None:
        """Row >= least."""
        self.rows.append((row, least))

    def same(self, row: Row, value: float) -> None:
        """Row == value."""
        self.require(row, value)
        self.require({i: -c for i, c in row.items()}, -value)

    def terms(self, given: Linear, sign: float = 1.0) -> Row:
        """The draft's numbers for its choices, in columns of this programme."""
        assert given.constant == 0
        return {self.column[var]: sign * coef for var, coef in given.terms.items()}

    # --- what must hold ---------------------------------------------------------------------------------

    def join(self) -> None:
        """Each way to join is tied to the sizes that meet."""
        for place, joint in self.draft.all_joints().items():
            if isinstance(joint, InLine):
                self.one_of(var for var, _ in joint.ways)
                for side in (0, 1):
                    self.meet(
                        [(way.keys[side], var) for var, way in joint.ways],
                        self.sizes_in(place, joint.names[side]),
                    )
                continue
            assert isinstance(joint, Teed)
            self.one_of(var for var, _ in joint.tees)
            self.meet([(tee.trunk, var) for var, tee in joint.tees], self.sizes(joint.trunk))
            for run, ways in joint.ports.items():
                self.one_of(var for var, _ in ways)
                self.meet([(way.run, var) for var, way in ways], self.sizes(run))
                for var, tee in joint.tees:
                    opening = tee.tee.ends[tee.ports.index(run)]
                    leaves = {self.column[way_var]: 1.0 for way_var, way in ways if opening in way.openings}
                    self.require(leaves | {self.column[var]: -1.0}, 0.0)

    def sizes(self, run: str) -> list[tuple[object, int]]:
        """The opening of each way to build a run."""
        found = self.draft.candidates(self.site.runs[run].run_class)
        return [(c.pipe.end, var) for var, c in found]

    def sizes_in(self, place: str, name: str) -> list[tuple[object, int]]:
        """The openings of what stands before or after a joint in line: a pump or a run."""
        if name in self.site.runs:
            return self.sizes(name)
        return [(c.pump.outlet, var) for var, c in self.draft.pumps(place)]

    def meet(self, one: Sequence[tuple[object, int]], other: Sequence[tuple[object, int]]) -> None:
        """As many choices of a size on one side as on the other."""
        for key in dict.fromkeys([key for key, _ in (*one, *other)]):
            row: Row = {}
            for side, sign in ((one, 1.0), (other, -1.0)):
                for found, var in side:
                    if found == key:
                        row[self.column[var]] = row.get(self.column[var], 0.0) + sign
            self.same(row, 0.0)

    def drains(self, reserve_m: float) -> None:
        """Falls, and levels at overload that push the flow down or hold it over the inlet."""
        assert self.site.wishes.overload is Overload.FACTOR
        factor = self.site.wishes.overload_factor
        for path in self.draft.open_paths():
            above, below = self.site.runs[path[0]].start, self.site.runs[path[-1]].finish
            vessel, last = self.site.vessels[above], self.site.runs[path[-1]]
            lost = self.terms(self.draft.drain_loss(path), -1.0)
            crown = self.crown(last)
            pushed = self.terms(self.draft.path_loss(path, factor), -1.0)
            for against, flooded in ({self.level[below]: -1.0}, {self.flood[below]: -1.0}), (crown, crown):
                if vessel.kind is VesselKind.BED:
                    floor = math.floor(vessel.floor_m * 1e4 + 1e-6)
                    self.require(summed(against, lost), reserve_m * 1e4 - floor)
                else:
                    self.require(summed({self.level[above]: 1.0}, against, lost), reserve_m * 1e4)
                self.require(summed({self.flood[above]: 1.0}, flooded, pushed), 0.0)
            held = self.terms(self.draft.inlet_rise(path[0], factor), -1.0)
            self.require({self.flood[above]: 1.0, self.level[above]: -1.0, **held}, 0.0)

    def crown(self, last: Run) -> Row:
        """Crown of a drain's end that has a height of its own, from which it is taken."""
        crown: Row = {}
        for var, c in self.draft.candidates(last.run_class):
            finish = c.drawn[last.name].finish
            centre = finish.centre_m if isinstance(finish, AtVessel) else None
            if centre is not None:
                crown[self.column[var]] = -math.ceil((centre + c.pipe.outside_m / 2) * 1e4 - 1e-6)
        return crown

    def half_blocked(self, dry_m: float) -> None:
        """Twice what comes at the most, as through a drain half closed, leaves its vessel's rim dry.

        The vessel below stands as it runs, or the drain ends over it; the inlet holds its water as at twice.
        """
        (sump,) = self.site.pumped_vessels()
        assert not self.site.timed_beds()
        for path in self.draft.open_paths():
            above, last = self.site.runs[path[0]].start, self.site.runs[path[-1]]
            if above == sump:
                continue
            dry = -math.floor((self.site.vessels[above].rim_m - dry_m) * 1e4 + 1e-6)
            twice = {name: 2.0 * flow.peak_m3_s for name, flow in self.site.flows.items()}
            share = self.site.flows[path[0]].design_m3_s / self.site.flows[path[0]].peak_m3_s
            lost = self.draft.loss_at(path, {name: share * flow for name, flow in twice.items()})
            for against in {self.level[last.finish]: -1.0}, self.crown(last):
                self.require(summed(against, self.terms(lost, -1.0)), dry)
            rise = self.terms(self.draft.inlet_rise(path[0], 2.0), -1.0)
            self.require({self.level[above]: -1.0, **rise}, dry)

    def trunk(self, left: float, keeps: float) -> None:
        """From tee to tee most of the bore that it began with, until a share of its water has left it."""
        tees = [
            run
            for run in self.site.runs.values()
            if run.kind is RunKind.PRESSURE and run.finish in self.site.junctions
        ]
        ahead = [(run, run) for run in tees if run.start in self.site.vessels]
        while ahead:
            run, first = ahead.pop()
            for on in (one for one in tees if one.start == run.finish):
                here, whole = (self.site.flows[one.name].design_m3_s for one in (on, first))
                if here <= (1 - left) * whole + 1e-12:
                    ahead.append((on, on))
                    continue
                ahead.append((on, first))
                bores = self.draft.candidates(on.run_class), self.draft.candidates(first.run_class)
                own, began = ({self.column[var]: c.pipe.bore_m * 1e3 for var, c in ways} for ways in bores)
                self.require(summed(own, {x: -keeps * bore for x, bore in began.items()}), -1e-6)

    def spare(self) -> float:
        """Share of its flow that the pump is to give more; for a bed more, what the largest bed takes."""
        if not self.site.wishes.spare_bed:
            return self.site.wishes.spare
        fed = [run for run in self.site.runs.values() if run.kind is RunKind.PRESSURE]
        beds = [run for run in fed if run.finish in self.site.vessels and self.site.vessels[run.finish].bed]
        (sump,) = self.site.pumped_vessels()
        return max(self.site.flows[run.name].design_m3_s for run in beds) / pumped_flow(self.site, sump)

    def pumps(self, margin: float, spare: float) -> None:
        """Head over the lift from low water and the losses with their margin; so at the flow with the spare.

        Losses are those of pipe after a year.
        """
        for path in self.draft.pressure_paths():
            sump, last = self.site.runs[path[0]].start, self.site.runs[path[-1]]
            top = self.add(-HIGH, HIGH)
            head: Row = {
                self.column[var]: math.floor(c.head_m * 1e4 + 1e-6) for var, c in self.draft.pumps(sump)
            }
            head[self.level[sump]] = 1.0
            drawdown = math.ceil(flood_drawdown(self.site, sump) * 1e4 - 1e-6)
            lost = self.terms(self.draft.path_loss(path, 1.0, grown=True), -1.0)
            over = {column: math.floor((1 + margin) * loss + 1e-6) for column, loss in lost.items()}
            self.require(head | over | {top: -1.0}, drawdown)
            more = (1 + spare) * pumped_flow(self.site, sump)
            flat_out = {self.column[var]: PumpCurve(c.pump.curve) for var, c in self.draft.pumps(sump)}
            has: Row = {
                column: math.floor(curve.head(more) * 1e4 + 1e-6) if more <= curve.run_out_m3_s else 0
                for column, curve in flat_out.items()
            }
            has[self.level[sump]] = 1.0
            lost = self.terms(self.draft.path_loss(path, 1 + spare, grown=True), -1.0)
            self.require(has | lost | {top: -1.0}, drawdown)
            for var, c in self.draft.candidates(last.run_class):
                half, drawn = c.pipe.outside_m / 2, c.drawn[last.name]
                x, rim = self.column[var], drawn.rim
                if drawn.guard is not Guard.AIR_GAP:
                    self.require({top: 1.0, self.level[last.finish]: -1.0, x: -2.0 * HIGH}, -2.0 * HIGH)
                elif rim is not None and rim.centre_m is not None:
                    height = math.ceil((rim.centre_m + half) * 1e4 - 1e-6)
                    self.require({top: 1.0, x: -(height + HIGH)}, -HIGH)
                else:
                    over = math.ceil((c.places[last.name, "finish"].offset_m + half) * 1e4 - 1e-6)
                    self.require({top: 1.0, self.flood[last.finish]: -1.0, x: -2.0 * HIGH}, over - 2.0 * HIGH)
            head |= {
                self.column[var]: math.floor(c.head_m / (1 + margin) * 1e4 + 1e-6)
                for var, c in self.draft.pumps(sump)
            }
            self.starts(last, summed(head, self.terms(self.losses_before(path), -1.0)), drawdown)

    def losses_before(self, path: Sequence[str]) -> Linear:
        """What a path loses before its last run."""
        return self.draft.path_loss(path, 1.0, grown=True) - self.draft.run_loss(path[-1], grown=True)

    def starts(self, last: Run, there: Row, drawdown: float) -> None:
        """Half the flow over the rim while the leg behind it is empty; the vessel then covers a hole.

        At half the flow the losses in smooth pipe are 0.5^1.75 of those at the whole.
        """
        share = 0.5
        factor = 1 / (1 - share**1.75)
        water = self.level[last.finish]
        lowest = self.site.vessels[last.finish].water_min_m
        for var, c in self.draft.candidates(last.run_class):
            finish, x = c.drawn[last.name].rim, self.column[var]
            if finish is None or finish.guard is Guard.AIR_GAP or finish.centre_m is None:
                continue
            flap = flap_head(self.catalog, c.drawn[last.name]) * 1e4
            crest = (finish.centre_m + c.pipe.outside_m / 2) * 1e4
            over = drawdown + factor * crest + flap - 9.0 * HIGH
            self.require(summed(there, {water: factor - 1.0, x: -9.0 * HIGH}), over)
            if finish.air_hole_m is None:
                continue
            edge = (finish.air_hole_m + finish.air_hole_width_m / 2 - lowest) * 1e4
            for run in self.site.runs.values():
                if run.kind is RunKind.GRAVITY and run.start == last.finish:
                    rise = self.terms(self.draft.inlet_rise(run.name, share))
                    self.require(summed(rise, {x: -HIGH}), edge - HIGH)

    def sump(self, dry_m: float) -> None:
        """Low water covers the pump; what runs back with the power off stays under the rim."""
        (name,) = self.site.pumped_vessels()
        vessel, running = self.site.vessels[name], running_drains(self.site)
        drawdown = math.ceil(flood_drawdown(self.site, name) * 1e4 - 1e-6)
        cover = {
            self.column[var]: -math.ceil(c.pump.cover_m * 1e4 - 1e-6) for var, c in self.draft.pumps(name)
        }
        self.require({self.level[name]: 1.0, **cover}, drawdown + math.ceil(vessel.floor_m * 1e4 - 1e-6))
        held: Row = {self.level[name]: -1.0}
        fallen: dict[tuple[str, RunKind], Row] = {}
        for run in self.site.runs.values():
            start, finish = self.site.vessels.get(run.start), self.site.vessels.get(run.finish)
            for var, c in self.draft.candidates(run.run_class):
                column = self.column[var]
                if run.kind is RunKind.PRESSURE or run.name in running:
                    litres = math.pi / 4 * c.pipe.bore_m**2 * c.drawn[run.name].length_m
                    rise = math.ceil(litres / vessel.area_m2 * 1e4 - 1e-6)
                    held[column] = held.get(column, 0.0) - rise
                if run.kind is RunKind.PRESSURE:
                    if finish is not None and finish.bed is None:
                        deep = 0.0
                        rim = c.drawn[run.name].rim
                        if rim is not None and rim.guard is Guard.HOLE and rim.air_hole_m is not None:
                            deep = finish.water_min_m - rim.air_hole_m + rim.air_hole_width_m / 2
                        row = fallen.setdefault((run.finish, run.kind), {})
                        row[column] = row.get(column, 0.0) - math.ceil(
                            deep * finish.area_m2 / vessel.area_m2 * 1e4 - 1e-6
                        )
                elif start is not None and start.bed is None and (run.name, "start") in c.places:
                    place = c.places[run.name, "start"]
                    litres = (place.bore_m / 2 - place.offset_m) * start.area_m2
                    row = fallen.setdefault((run.start, run.kind), {})
                    row[column] = row.get(column, 0.0) - math.ceil(litres / vessel.area_m2 * 1e4 - 1e-6)
        # Each vessel falls through its drains or through its inlet, whichever takes more.
        alike = [[row for (at, _), row in fallen.items() if at == one] for one in {at: 0 for at, _ in fallen}]
        for rows in product(*alike):
            self.require(summed(held, *rows), -math.floor((vessel.rim_m - dry_m) * 1e4 + 1e-6))

    def holes(self, strip_m: float) -> None:
        """Sound wall over and under each hole that a level places, a row for each way to build it."""
        for run in self.site.runs.values():
            ends = {"start": run.start, "finish": run.finish}
            for var, c in self.draft.candidates(run.run_class):
                for side, at in ends.items():
                    place = c.places.get((run.name, side))
                    if place is None:
                        continue
                    level = (self.flood if run.kind is RunKind.PRESSURE else self.level)[at]
                    vessel, half = self.site.vessels[at], place.hole_m / 2 + strip_m
                    low = math.floor((place.offset_m - half) * 1e4 + 1e-6)
                    high = math.ceil((place.offset_m + half) * 1e4 - 1e-6)
                    x = self.column[var]
                    floor = math.ceil(vessel.floor_m * 1e4 - 1e-6)
                    rim = math.floor(vessel.rim_m * 1e4 + 1e-6)
                    self.require({level: 1.0, x: -2.0 * HIGH}, floor - low - 2.0 * HIGH)
                    self.require({level: -1.0, x: -2.0 * HIGH}, high - rim - 2.0 * HIGH)

    def routes(self) -> None:
        """What the legs of a run on the plan ask of levels, two rows for each way to build it.

        The bounds are the draft's numbers; levels are of the water or, for an inlet's hole, of the flood.
        """
        for run in self.site.runs.values():
            for var, c in self.draft.candidates(run.run_class):
                x = self.column[var]
                for asked in c.apart.get(run.name, ()):
                    apart = summed(self.at(asked.higher), self.at(asked.lower, -1.0))
                    for sign, bound in ((1.0, asked.least_m), (-1.0, -asked.most_m)):
                        if bound > -math.inf:
                            signed = {column: sign * coef for column, coef in apart.items()}
                            least = math.ceil(bound * 1e4 - 1e-6)
                            self.require({**signed, x: -2.0 * HIGH}, least - 2.0 * HIGH)

    def at(self, place: Place, sign: float = 1.0) -> Row:
        """A level as a row; the datum is nothing."""
        if isinstance(place, str):
            return {}
        return {(self.flood if place.overloaded else self.level)[place.vessel]: sign}

    def ratings(self) -> None:
        """No part of a lower rating together with a pump that can burst it."""
        (sump,) = self.site.pumped_vessels()
        groups = [
            [(var, c.rating_m) for var, c in self.draft.candidates(name)]
            for name, members in self.site.classes().items()
            if members[0].kind is RunKind.PRESSURE
        ]
        pressed = {run.start for run in self.site.runs.values() if run.kind is RunKind.PRESSURE}
        groups += [list(ways) for at, found in self.draft.joints().items() if at in pressed for ways in found]
        for ways in groups:
            for var, c in self.draft.pumps(sump):
                weak = [other for other, rating in ways if rating < c.shut_off_m]
                if weak:
                    self.require({self.column[v]: -1.0 for v in (var, *weak)}, -1.0)

    # --- what it costs ----------------------------------------------------------------------------------

    def orders(self, kerf_m: float) -> None:
        """Packs and sticks of every offer, and what each shop charges for them with freight."""
        goods: dict[str, Row] = {shop: {} for shop in self.catalog.shops}
        used = {shop: self.add(0, 1) for shop in self.catalog.shops}

        def packs(part: str) -> list[tuple[int, int]]:
            found = []
            for offer in self.catalog.part(part).offers:
                most = 300 if offer.stock is None else offer.stock
                column = self.add(0, most)
                goods[offer.shop][column] = float(offer.price_cents)
                self.require({used[offer.shop]: float(most), column: -1.0}, 0.0)
                found.append((column, offer.pack))
            return found

        for part, count in self.draft.uses().items():
            row: Row = {column: float(pack) for column, pack in packs(part)}
            self.require(row | self.terms(count, -1.0), 0.0)
        self.sundries(packs)
        for pipe, groups in self.draft.cuts_by_group.items():
            self.sticks(pipe, groups, packs, goods, kerf_m)
        for shop in self.catalog.shops.values():
            if goods[shop.id]:
                self.charge(shop.id, goods[shop.id], used[shop.id])

    def charge(self, shop_id: str, goods: Row, used: int) -> None:
        """The bill: goods and freight, or topped up to the value of free freight."""
        shop, bill = self.catalog.shops[shop_id], self.bill[shop_id]
        less = {column: -cents for column, cents in goods.items()}
        self.require({bill: 1.0, **less}, 0.0)
        topped = self.add(0, 1 if shop.free_from_cents is not None else 0)
        freight = float(shop.freight_cents)
        self.require({bill: 1.0, **less, used: -freight, topped: freight}, 0.0)
        self.require({bill: 1.0, topped: -float(shop.free_from_cents or 0)}, 0.0)

    def sundries(self, packs: Callable[[str], list[tuple[int, int]]]) -> None:
        """Cement and the like for all joints, welded or screwed, and a saw for each size of hole.

        What each choice takes is a row's load; pieces that fit several sizes are handed out one size each.
        """
        joints = self.site.wishes.drain_joints
        screwed = self.add(joints is DrainJoints.SCREWED, joints is not DrainJoints.WELDED)
        loads: dict[Want, tuple[Row, Row]] = {}
        for var, *needs in self.taken():
            for way, taking in enumerate(needs):
                for want, amount in taking.items():
                    load = loads.setdefault(want, ({}, {}))[way]
                    load[self.column[var]] = load.get(self.column[var], 0.0) + amount
        holes: dict[Want, list[int]] = {}
        for name in self.site.classes():
            for var, candidate in self.draft.candidates(name):
                for want in candidate.saws:
                    holes.setdefault(want, []).append(self.column[var])
        had: dict[Want, Row] = {want: {} for want in (*loads, *holes)}
        for row in self.catalog.sundries.values():
            wants = [want for want in had if want.fits(row)]
            content = self.draft.counting.content(row.id)
            room: Row = {column: float(pack * content) for column, pack in packs(row.id)} if wants else {}
            for want in wants:
                share = self.add(0, 10**6, whole=False)
                had[want][share] = 1.0
                room[share] = -1.0
            self.require(room, 0.0)
        for want, ways in loads.items():
            for sign, load in zip((1.0, -1.0), ways, strict=True):
                # Frees the row of the way in which drains are not joined.
                free = 1e6
                spare = {screwed: sign * free}
                less = {column: -amount for column, amount in load.items()}
                self.require(summed(had[want], less, spare), 0.0 if sign > 0 else -free)
        for want, columns in holes.items():
            for column in columns:
                self.require({**had[want], column: -1.0}, 0.0)

    def taken(self) -> Iterator[tuple[int, Needs, Needs]]:
        """Every choice with what it takes, with drains welded and screwed."""
        for name in self.site.classes():
            for var, candidate in self.draft.candidates(name):
                yield var, candidate.needs, candidate.screwed_needs
        for joint in self.draft.all_joints().values():
            yield from joint.needs()

    def sticks(
        self,
        pipe: str,
        groups: Sequence[Sequence[tuple[int, Sequence[float]]]],
        packs: Callable[[str], list[tuple[int, int]]],
        goods: Mapping[str, Row],
        kerf_m: float,
    ) -> None:
        """Length on sticks and metres, long pieces one to a stick, and each choice's pieces by themselves."""
        rows = self.draft.shelf.rows_of(self.catalog.pipes[pipe])
        kerf = kerf_m * 1e4 if any(row.stick_m for row in rows) else 0.0
        room: Row = {}
        price: Row = {}
        holding: list[tuple[int, int, float]] = []
        metres: list[int] = []
        longest = max(row.stick_m for row in rows)
        for row in rows:
            for column, pack in packs(row.id):
                room[column] = (row.stick_m * 1e4 + kerf if row.stick_m else 1e4) * pack
                metres += [] if row.stick_m else [column]
                holding += [(column, pack, row.stick_m)] if row.stick_m else []
                price[column] = next(cents[column] for cents in goods.values() if column in cents)
        cuts = [(self.column[var], list_) for group in groups for var, list_ in group]
        length = {x: -sum(math.ceil(p * 1e4 - 1e-6) + kerf for p in list_) for x, list_ in cuts}
        self.require(room | length, -kerf * sum(not row.stick_m for row in rows))
        if longest and metres:
            over = {x: -sum(p * 1e4 for p in list_ if p > longest + 1e-9) for x, list_ in cuts}
            self.require(dict.fromkeys(metres, 1e4) | over, 0.0)
        # A shop's metres hold no piece longer than it cuts; of what is beyond half a stick each takes one.
        cut_m = max((longest_of(row) for row in rows if not row.stick_m), default=0.0)
        alone = max(cut_m, longest / 2)
        if longest and math.isfinite(alone):
            large = {x: -float(sum(p > alone + 1e-9 for p in list_)) for x, list_ in cuts}
            hold = {column: float(pack) for column, pack, m in holding if m > alone + 1e-9}
            self.require(hold | large, 0.0)
        kinds = [
            Stick(
                row.id,
                round((row.stick_m or 1.0) * 1e4),
                min(math.floor(o.price_cents / o.pack) for o in row.offers),
                300,
                not row.stick_m,
                longest=None if row.stick_m or row.bend_radius_m else round(longest_of(row) * 1e4),
                keeps=100 if row.stick_m else 0,
            )
            for row in rows
        ]
        for group in groups:
            alone: Row = {}
            for var, list_ in group:
                if list_:
                    best = cheapest([math.ceil(p * 1e4 - 1e-6) for p in list_], kinds, round(kerf))
                    alone[self.column[var]] = -float(best[0] if best is not None else 10**7)
            self.require(price | alone, 0.0)

    def least_cost(self, time_limit_s: float) -> tuple[int, bool]:
        """Cost in cents, and whether it is proven."""
        shape = (len(self.rows), len(self.low))
        where = [(r, c, value) for r, (row, _) in enumerate(self.rows) for c, value in row.items()]
        r, c, value = zip(*where, strict=True)
        matrix = csr_matrix((value, (r, c)), shape=shape)
        cost = np.zeros(len(self.low))
        cost[list(self.bill.values())] = 1.0
        answer = milp(
            cost,
            integrality=np.array(self.whole),
            bounds=Bounds(self.low, self.high),
            constraints=LinearConstraint(matrix, np.array([least for _, least in self.rows])),
            options={"time_limit": time_limit_s, "mip_rel_gap": 0.0},
        )
        assert answer.x is not None, answer.message
        return round(answer.fun), answer.status == 0


def optimum(draft: Draft) -> int:
    """The draft's own proven optimum [cents], among the choices that twice its bound leaves."""
    cost = draft.spending()
    (sump,) = draft.site.pumped_vessels()
    pumps: dict[str, list[Var]] = {}
    for var, choice in draft.pumps(sump):
        pumps.setdefault(choice.pump.id, []).append(var)
    narrowing = Narrowing(draft.model, cost, [list(pumps.values())])
    for share in (1.06, 1.3, 2.0):
        limit = narrowing.bound * share
        answer = Search(draft.model, out=narrowing.out(limit)).minimize(cost)
        if answer.objective is not None and answer.objective <= limit:
            assert answer.ending is Ending.PROVEN
            return answer.objective
    raise AssertionError("no optimum within twice the bound")


@pytest.mark.parametrize(
    ("flow_l_h", "beds"),
    [
        *((750.0, 0), (1300.0, 1)),
        *(
            pytest.param(*more, marks=pytest.mark.long)
            for more in ((750.0, 1), (750.0, 2), (1300.0, 0), (1300.0, 2))
        ),
    ],
)
def test_small_shelf(site_of: Callable[..., Site], corner_shelf: Catalog, flow_l_h: float, beds: int) -> None:
    """Tank, sump and up to two beds, inlets over the rim or through the wall, levels free."""
    site = site_of(beds=beds, flow_l_h=flow_l_h, tank_water_m=(0.4, 0.6), sump_water_m=(0.05, 0.15))
    draft = Draft(site, corner_shelf, read_rules(site))
    assert Programme(draft).least_cost(30.0) == (optimum(draft), True)


def demo(
    name: str, catalog: Catalog, time_limit_s: float, without: tuple[str, ...] = (), off: tuple[str, ...] = ()
) -> None:
    """A demo problem on the price list, less some parts of it, by all rules but some."""
    site = replace(autoplan.load_problem(PROBLEMS / name).outline, unavailable=frozenset(without))
    draft = Draft(site, catalog, read_rules(site).without(*off))
    assert Programme(draft).least_cost(time_limit_s) == (optimum(draft), True)


BELLS = """ drain-tee-50 seal-25 pn16-20-3m bush-25-20 bell-63 bell-75 bell-90 guard-110 guard-125 snorkel-6
    poly-19-metre ball-poly-19"""


def test_a_bell(metric: Catalog) -> None:
    """A problem file with a solids-lifting drain and a bed under a bell siphon, on a small shelf."""
    site, _ = read(one_bed('floods = "3.3/hour"'))
    draft = Draft(site, cut_down(metric, CORNER_SHELF + BELLS), read_rules(site))
    assert any(
        drawn.floor is not None and drawn.floor.siphon is not None
        for _, candidate in draft.candidates(site.runs["bed drain 1"].run_class)
        for drawn in candidate.drawn.values()
    )
    assert Programme(draft).least_cost(30.0) == (optimum(draft), True)


@pytest.mark.long
@pytest.mark.parametrize("short", [True, False])
def test_one_tank_one_bed(metric: Catalog, short: bool) -> None:
    """The smallest demo on the short price list and on the whole."""
    demo("one-tank-one-bed.toml", metric, 60.0, gone() if short else ())


@pytest.mark.long
def test_an_inlet_that_saves_its_lift(metric: Catalog) -> None:
    """Without lines that bend by themselves, the inlet over the rim hangs under water: a hole guards it."""
    others = ("poly-", "ball-poly", "drain-75", "drain-63", "drain-110", "pn16-32")
    rows = (*metric.pipes, *metric.valves, *metric.turns, *metric.tees, *metric.adaptors)
    fewer = tuple(part for part in rows if part.startswith(others))
    demo("one-tank-one-bed.toml", metric, 60.0, (*gone(), *fewer))


@pytest.mark.long
def test_four_beds(metric: Catalog) -> None:
    """The demo of four beds on the whole price list, less the one rule that decides and has no rows here."""
    demo("four-beds.toml", metric, 600.0, off=("full-bed-start",))


@pytest.mark.parametrize(
    "given",
    [
        {"drain_legs_m": (8.3,), "main_legs_m": (1.2, 1.4)},
        {"drain_legs_m": (2.4, 3.3), "main_legs_m": (7.2,)},
        pytest.param({"drain_legs_m": (0.9, 0.8), "main_legs_m": (4.0, 9.5)}, marks=pytest.mark.long),
    ],
    ids=str,
)
def test_long_legs(site_of: Callable[..., Site], corner_shelf: Catalog, given: dict[str, object]) -> None:
    """Legs longer than a stick, whole sticks with couplings or metres in pieces of 6 m, a bed on the main."""
    site = site_of(beds=1, flow_l_h=750.0, tank_water_m=(0.4, 0.6), sump_water_m=(0.05, 0.15), **given)
    draft = Draft(site, corner_shelf, read_rules(site))
    coupled = [
        bool(drawn.couplings)
        for name in site.classes()
        for _, candidate in draft.candidates(name)
        for drawn in candidate.drawn.values()
    ]
    assert any(coupled)
    assert not all(coupled)
    assert Programme(draft).least_cost(30.0) == (optimum(draft), True)


ON_PLAN = """
name = "Tank, bed and sump on the plan"
[tank]
volume = "500 L"
depth = "750 mm"
floor = "{floor}"
{water}
[beds]
count = 1
area = "1 m2"
floor = "700 mm"
[sump]
volume = "400 L"
depth = "500 mm"
floor = "-450 mm"
[distances]
tank_to_sump = "{away}"
sump_to_tank = "2.2 m"
sump_to_first_bed = "1.8 m"
bed_to_sump = "1.2 m"
[corners]
tank_to_sump = []
bed_to_sump = []
sump_to_tank = [90]
"""

ROUTED = BELLS + " pn16-25-metre drain-tee-75 drain-bend-75-45"


class Unrouted(Programme):
    """The same with every way down open at any level."""

    def routes(self) -> None:
        """Nothing."""


@pytest.mark.parametrize(
    ("given", "felt"),
    [
        ({"floor": "150 mm", "water": "", "away": "1.5 m"}, False),
        pytest.param(
            {"floor": "-450 mm", "water": 'water_min = "400 mm"', "away": "2.8 m"},
            False,
            marks=pytest.mark.long,
        ),
        # So near that a tilt falls by little: its level would be under what the drain's fall asks for.
        ({"floor": "-450 mm", "water": 'water_min = "500 mm"', "away": "500 mm"}, True),
        pytest.param(
            {"floor": "-450 mm", "water": 'water_min = "400 mm"\nwater_max = "650 mm"', "away": "800 mm"},
            True,
            marks=pytest.mark.long,
        ),
    ],
    ids=str,
)
def test_on_the_plan(metric: Catalog, given: Mapping[str, str], felt: bool) -> None:
    """Levels decide how the tank's drain gets down, over the sump's rim or through its wall."""
    site, _ = read(ON_PLAN.format(**given))
    draft = Draft(site, cut_down(metric, CORNER_SHELF + ROUTED), read_rules(site))
    least = Programme(draft).least_cost(60.0)
    assert least == (optimum(draft), True)
    assert (Unrouted(draft).least_cost(60.0) < least) is felt
