"""Every way to build the runs of a small site, read straight from the price list."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import combinations, product

from autoplan.catalog.joining import Joining, Need
from autoplan.catalog.parts import (
    Catalog,
    End,
    Penetration,
    Pipe,
    SundryKind,
    TurnStyle,
    Way,
)
from autoplan.drawing import Drawing, DrawnJunction, DrawnPump
from autoplan.fittings.corner import Corner
from autoplan.fittings.ends import AtVessel, LineEnd
from autoplan.fittings.floor import ThroughFloor
from autoplan.fittings.outside import OutsideSiphon
from autoplan.fittings.rim import OPEN_TURN, OverRim
from autoplan.fittings.riser import Riser
from autoplan.fittings.valve import CheckValveSet, ValveSet
from autoplan.fittings.wall import Pierced, ThroughWall
from autoplan.line.joints import joints_of
from autoplan.line.laid import Bench, assemble
from autoplan.line.route import Leg, measured
from autoplan.line.row import Line
from autoplan.problem.flows import reaches
from autoplan.problem.site import Draw, Entry, Guard, Run, RunKind, Site, VesselKind
from autoplan.rules.survey import Survey
from autoplan.units import Dimension, read
from tests.lines import line as line_of
from tests.optimiser.bells import Bells, Standing
from tests.optimiser.crests import begun_outside
from tests.optimiser.orders import longest_of
from tests.optimiser.routes import Ends, Route, begins, have_room, ways_on_plan

RIM_M, OVER_WATER_M, FREE_M = 0.03, 0.03 - 0.02, 0.05 - 0.02
HOLE_DEPTH_M, HOLE_M, HOLE_SHARE, COVER_M, OFF_FLOOR_M = 0.030, 0.006, 0.2, 0.050, 0.05
FASTEST_BUBBLE = 1.2
FILM_M, TURNS, SCREWED_TURNS, CARRIES_M = 0.003, 10, 4, 0.006
CLEANER_M, GREASE_M, SLIDES_M = 0.001, 0.0005, 0.05
LEAST_SHARE, STRIP_M, DRILL_M, FREE_FALL_M = 0.6, 0.02, 0.005, 0.25
WASTE = 1.02

Want = tuple[SundryKind, object]
"""A sundry and its size: a diameter [0.1 mm], a thread, or None."""


@dataclass(frozen=True)
class Option:
    """One way to build some runs together, with their pump and tees if any.

    Attributes:
        runs, pumps, tees: as drawn.
        shape: all that a rule's check sees of them; ways of one shape differ only in what they cost.
        pieces: pipe to cut, by the first row of its family [m].
        parts: pieces of every other part.
        wants: sundries of the joints and walls, with drains welded and screwed.
    """

    runs: Mapping[str, Line]
    pumps: Mapping[str, DrawnPump]
    tees: Mapping[str, DrawnJunction]
    shape: object
    pieces: tuple[tuple[str, float], ...]
    parts: Counter[str]
    wants: tuple[dict[Want, float], dict[Want, float]]


class NothingHoldsError(Exception):
    """No design of a site holds."""


class Ways:
    """Every way to build the runs of a site whose levels are given.

    Args:
        site: each vessel's least and greatest water level are the same; nothing is owned.
        catalog: the price list, of two shops.
    """

    def __init__(self, site: Site, catalog: Catalog) -> None:
        self.site, self.catalog = site, catalog
        self.joining = Joining(catalog)
        self.bench = Bench(catalog, self.joining)
        self.reach = reaches(site)
        self.shut_off_m = max(pump.curve[0][1] for pump in catalog.pumps.values())
        self.first = {pipe.family: pipe for pipe in reversed(list(catalog.pipes.values()))}
        given = site.rule_settings.get("siphon-back", {}).get("hole_depth")
        self.hole_depth_m = HOLE_DEPTH_M if given is None else read(given, Dimension.LENGTH)
        self.bells = Bells(site, catalog, list(self.first.values()))

    # --- what a run can be made of ----------------------------------------------------------------------

    def asked(self, run: Run, side: str) -> Need:
        """Filters and pumps come apart; drains at a vessel of uncertain height give."""
        vessel = self.site.vessels.get(run.start if side == "start" else run.finish)
        if vessel is None:
            return Need.JOIN
        if run.kind is RunKind.GRAVITY and vessel.uncertain_m > 0.010:
            return Need.GIVE
        apart = vessel.kind in (VesselKind.SETTLER, VesselKind.BIOFILTER)
        return Need.COME_APART if apart or (run.kind is RunKind.PRESSURE and side == "start") else Need.JOIN

    @cache  # noqa: B019
    def chains(self, pressed: bool, a: End, b: End, need: Need, most: int) -> tuple[tuple[str, ...], ...]:
        """Adaptors and stubs between two openings, all but those with more parts than they need."""
        if need is Need.JOIN and self.joining.mates(a, b):
            return ((),)
        found: dict[tuple[str, ...], tuple[str, ...]] = {}
        stubs = [
            (p.id, p.end, p.end, p.rating_m, Need.JOIN) for p in self.first.values() if not p.bend_radius_m
        ]
        steps = [*stubs]
        for part in self.catalog.adaptors.values():
            can = Need.GIVE if part.flexible else Need.COME_APART if part.apart else Need.JOIN
            steps += [(part.id, *ends, part.rating_m, can) for ends in {part.ends, part.ends[::-1]}]

        def grow(here: End, parts: tuple[str, ...], can: Need) -> None:
            if parts and can >= need and self.joining.mates(here, b):
                found.setdefault(tuple(sorted(parts)), parts)
            elif len(parts) < most:
                for part, near, far, rating, able in steps:
                    if self.joining.mates(here, near) and (not pressed or rating >= self.shut_off_m):
                        grow(far, (*parts, part), max(can, able))

        grow(a, (), Need.JOIN)
        counts = {key: Counter(key) for key in found}
        return tuple(
            parts
            for key, parts in found.items()
            if not any(other != key and counts[other] < counts[key] for other in found)
        )

    def ways(self, run: Run) -> Iterator[Line]:
        """Every way to draw a run that its own rules allow: heights and what meets at tees come later."""
        for pipe in self.first.values():
            if not self.suits(run, pipe):
                continue
            for start, finish, stood in product(
                self.starts(run, pipe), self.finishes(run, pipe), self.in_line(run, pipe)
            ):
                check = any(isinstance(one, CheckValveSet) for one in stood)
                if check is not (guard_of(finish) is Guard.CHECK_VALVE):
                    continue
                for way in self.courses(run, pipe, finish):
                    angles = run.turns if way is None else way.angles
                    for turns in self.turned(run, pipe, angles, over_rim=isinstance(finish, OverRim)):
                        yield from self.drawn(run, pipe, (start, finish), stood, turns, way)

    def courses(self, run: Run, pipe: Pipe, finish: LineEnd) -> Iterator[Route | None]:
        """Every way that a run on the plan may take; None for measured legs."""
        if run.plan is None:
            yield None
            return
        bends, rim = pipe.bend_radius_m > 0, isinstance(finish, OverRim)
        yield from ways_on_plan(self.site, run, pipe.outside_m, rim=rim, bends=bends)

    def drawn(
        self,
        run: Run,
        pipe: Pipe,
        ends: tuple[LineEnd, LineEnd],
        stood: Sequence[ValveSet],
        turns: Sequence[Corner],
        way: Route | None,
    ) -> Iterator[Line]:
        """The run with these ends, valves and turns, laid in every way; nothing where there is no room."""
        (start, finish), drop, corners = ends, 0.0, turns
        if isinstance(finish, OverRim):
            finish = self.over_rim(run, pipe, turns[-1], finish.guard)
            if (finish.mouth_m or 0.0) < self.site.vessels[run.finish].floor_m + OFF_FLOOR_M:
                return
            drop = (finish.centre_m or 0.0) - (finish.mouth_m or 0.0)
            corners = turns[:-1]
        if isinstance(start, OutsideSiphon):
            start = self.crested(run, pipe, start, corners)
        legs = (
            measured(run.legs_m) if way is None else self.routed(way, pipe, (start, finish), corners, stood)
        )
        if legs is None:
            return
        along = sum(leg.length_m for leg in legs)
        if not self.bends(along, pipe, turns, drop, *((one.valve, *one.chain) for one in stood)):
            return
        length = along + drop
        if isinstance(start, ThroughFloor) and start.standpipe is None:
            vessel = self.site.vessels[run.start]
            length += vessel.water_max_m - vessel.floor_m
        line = line_of(run.name, pipe.id, start, finish, *stood, *corners, length_m=length)
        if way is not None:
            line = replace(line, legs=tuple(legs), stands=way.before)
        yield from self.cut(run, pipe, line)

    def routed(
        self,
        way: Route,
        pipe: Pipe,
        ends: tuple[LineEnd, LineEnd],
        turns: Sequence[Corner],
        stood: Sequence[ValveSet],
    ) -> Sequence[Leg] | None:
        """The legs of a run on the plan, where it has room for all that stands on it."""
        (start, finish), lengths = ends, self.bench.lengths(pipe)
        rim = finish if isinstance(finish, OverRim) else None
        begin, end = begins(self.site, way.run), self.end_height(way.run, pipe, finish)
        crest = start.crest_m(pipe) if isinstance(start, OutsideSiphon) else None
        if isinstance(start, OutsideSiphon):
            begin = start.centre_m
        if begin is None:
            begin = self.outlet(way.run, pipe, start)
        tee = lengths.tee_half if self.meeting(way.run.finish) > 2 else 0.0
        found = Ends(
            *(begin, end, pipe.outside_m, start.takes_m(lengths), finish.takes_m(lengths) + tee),
            *(lengths.stub, rim, lambda turn: self.half(pipe, turn), crest or 0.0),
        )
        legs = way.legs(replace(found, end_takes_m=finish.takes_m(lengths)), turns)
        if legs is None:
            return None
        if any(turn.bends for turn in turns):
            return legs
        whole, all_turns = legs, turns
        if rim is not None:
            all_turns = (*turns, rim.corner)
            whole = [*legs, Leg(math.inf)]
        stands = [lengths.stub + self.taken_whole(pipe, one) for one in stood]
        return legs if have_room(whole, all_turns, found, way.before, stands) else None

    def crested(self, run: Run, pipe: Pipe, start: OutsideSiphon, turns: Sequence[Corner]) -> OutsideSiphon:
        """With its crest where the inflow runs over it with the bed at its flood, cut to a tenth of a mm."""
        bare = line_of(run.name, pipe.id, start, LineEnd(run.finish), *turns)
        survey = Survey(self.site, self.catalog, Drawing({run.name: bare}, {}, {}, {}, (), ()))
        vessel, flow = self.site.vessels[run.start], self.site.flows[run.name].design_m3_s
        deep = vessel.water_max_m - vessel.floor_m - survey.inlet_head(run.name, flow)
        return replace(start, lip_m=vessel.floor_m + math.floor(deep * 1e4 + 1e-6) / 1e4)

    def meeting(self, junction: str) -> int:
        """How many runs meet at a junction."""
        return sum(junction in (run.start, run.finish) for run in self.site.runs.values())

    def taken_whole(self, pipe: Pipe, stood: ValveSet) -> float:
        """What a valve takes with its adaptors [m]."""
        return self.taken(pipe, (stood.valve, *stood.chain)) - self.bench.lengths(pipe).stub

    def outlet(self, run: Run, pipe: Pipe, start: LineEnd) -> float:
        """Centre of the hole that holds its vessel's level [m]."""
        bare = Drawing({run.name: line_of(run.name, pipe.id, start, LineEnd(run.finish))}, {}, {}, {}, (), ())
        head = Survey(self.site, self.catalog, bare).inlet_head(
            run.name, self.site.flows[run.name].design_m3_s
        )
        return self.site.vessels[run.start].water_min_m - head + self.inlet(pipe, start) / 2

    def inlet(self, pipe: Pipe, start: LineEnd) -> float:
        """Bore of a hole in a wall with its adaptors [m]."""
        assert isinstance(start, Pierced)
        own = self.catalog.penetrations[start.penetration].bore_m or math.inf
        return min(pipe.bore_m, own, self.bore(start.chain))

    def end_height(self, run: Run, pipe: Pipe, finish: LineEnd) -> float:
        """Where a run ends [m]: at its tee, over a rim, or through a wall."""
        if isinstance(finish, OverRim):
            assert finish.centre_m is not None
            return finish.centre_m
        if not isinstance(finish, Pierced):
            at = self.site.junctions[run.finish].at_m
            assert at is not None
            return at
        assert run.kind is RunKind.GRAVITY
        return self.drilled(run, pipe, finish)

    def drilled(self, run: Run, pipe: Pipe, finish: Pierced) -> float:
        """Centre of a drain's end in a wall [m]: with 250 mm of fall high in a sump, else under its water."""
        above, below = self.site.vessels[run.start], self.site.vessels[run.finish]
        high = below.rim_m - STRIP_M - self.catalog.penetrations[finish.penetration].hole_m / 2 - DRILL_M
        drive = above.floor_m if above.bed else above.water_min_m
        if run.finish in self.site.pumped_vessels() and drive - high - pipe.outside_m / 2 >= FREE_FALL_M:
            return below.floor_m + math.floor((high - below.floor_m) * 1e3 + 1e-6) / 1e3
        return below.water_min_m - pipe.outside_m / 2

    def in_line(self, run: Run, pipe: Pipe) -> Iterator[tuple[ValveSet, ...]]:
        """What may stand in the run: its valve if one is asked for, then a check valve or none."""
        valves = [(ValveSet(*made),) for made in self.valves(run, pipe)] if run.valve else [()]
        guarded = run.siphon_back is not Guard.AIR_GAP
        checks = self.valves(run, pipe, "check") if guarded else ()
        for valve, check in product(valves, [(), *((CheckValveSet(*made),) for made in checks)]):
            yield *valve, *check

    def turned(
        self, run: Run, pipe: Pipe, along: Sequence[int], *, over_rim: bool
    ) -> Iterator[tuple[Corner, ...]]:
        """All turns of one angle alike, but for the last of a pipe that bends, which may be an elbow."""
        angles = [*along, *([90] if over_rim else [])]
        kinds = sorted(set(angles))
        for made in product(*(self.turns(run, pipe, angle) for angle in kinds)):
            turns = tuple(dict(zip(kinds, made, strict=True))[angle] for angle in angles)
            if over_rim and pipe.bend_radius_m and 90 in along:
                yield from ((*turns[:-1], last) for last in self.turns(run, pipe, 90))
            else:
                yield turns

    def bends(
        self,
        along: float,
        pipe: Pipe,
        turns: Sequence[Corner],
        drop: float,
        *beside: Sequence[str],
    ) -> bool:
        """Whether legs hold R tan(a / 2) on both sides of each bend, what a valve takes left out, drops R."""
        own = [turn.angle for turn in turns if turn.style is TurnStyle.BEND]
        if not own:
            return True
        tangents = [pipe.bend_radius_m * math.tan(math.radians(angle) / 2) for angle in own]
        over = bool(drop) and turns[-1].style is TurnStyle.BEND
        asked = 2 * sum(tangents) - (tangents[-1] if over else 0.0)
        for turn in turns:
            if turn.style is not TurnStyle.BEND:
                asked += 2 * self.half(pipe, turn)
        asked += sum(self.taken(pipe, parts) for parts in beside)
        return along >= asked - 1e-9 and (not over or drop >= tangents[-1] - 1e-9)

    def half(self, pipe: Pipe, turn: Corner) -> float:
        """From a corner to the stop of an elbow [m]; two 45s cut the corner, an arc begins before it."""
        if turn.bends:
            return pipe.bend_radius_m * math.tan(math.radians(turn.angle) / 2)
        part = self.catalog.turns[turn.pieces[0]]
        reach = part.radius_over_bore * part.bore_m * math.tan(math.radians(part.angle) / 2)
        between = (2 * reach + 2 * self.socket(pipe) + 0.008) / math.sqrt(2)
        return reach + (between if turn.style is TurnStyle.PAIRED else 0.0)

    def socket(self, pipe: Pipe) -> float:
        """Depth of the sockets for a pipe [m]: stated, or half its outside and 6 mm."""
        size = self.catalog.systems[pipe.end.system][pipe.end.size]
        if size.socket_m is not None:
            return size.socket_m
        return 0.0 if size.outside_m is None else size.outside_m / 2 + 0.006

    def taken(self, pipe: Pipe, parts: Sequence[str]) -> float:
        """What a valve and its adaptors take with the stub before them [m], as the price list says."""
        lengths = self.bench.lengths(pipe)
        return lengths.stub + sum(lengths.chain(parts))

    def cut(self, run: Run, pipe: Pipe, drawn: Line) -> Iterator[Line]:
        """The run with its pieces, laid in every way; each coupling that may join two of them."""
        needed = assemble(self.bench, self.site, drawn).needed_m
        rows = [row for row in self.catalog.pipes.values() if row.family == pipe.family]
        lengths = sorted({row.stick_m or longest_of(row) for row in rows}, reverse=True)
        chains = self.chains(run.kind is RunKind.PRESSURE, pipe.end, pipe.end, Need.JOIN, 1)
        least = 2 * self.socket(pipe) + 0.008
        for slots in product(*(laid(need, lengths, least) for need in needed)):
            for chain in chains if any(len(slot) > 1 for slot in slots) else ((),):
                yield replace(drawn, slots_m=slots, coupling=chain)

    def suits(self, run: Run, pipe: Pipe) -> bool:
        """Least bores of drains (34 mm, 45 over 1000 L/h, of beds 20, or 15 over a crest); 1.5 m/s pumped."""
        flow = self.site.flows[run.name].design_m3_s
        if run.kind is RunKind.PRESSURE:
            return flow / (math.pi / 4 * pipe.bore_m**2) <= 1.5 and pipe.rating_m > 0
        least = 0.045 if flow * 3.6e6 > 1000.001 else 0.034
        least = {Draw.STANDPIPE: 0.020, Draw.OUTSIDE: 0.015}.get(run.draw, least)
        return pipe.bore_m >= least - 1e-9 and pipe.bend_radius_m == 0

    def turns(self, run: Run, pipe: Pipe, angle: int) -> Iterator[Corner]:
        """A bend of that angle, two 45s for a right angle, or the pipe itself if it bends."""
        if pipe.bend_radius_m > 0:
            yield Corner(angle, TurnStyle.BEND, ())
        for turn in self.catalog.turns.values():
            if not all(self.joining.mates(end, pipe.end) for end in turn.ends):
                continue
            tight = turn.style is TurnStyle.TIGHT
            if turn.angle == angle and not (run.kind is RunKind.GRAVITY and angle == 90 and tight):
                yield Corner(angle, turn.style, (turn.id,))
            if angle == 90 and turn.angle == 45 and tight:
                yield Corner(angle, TurnStyle.PAIRED, (turn.id, turn.id))

    def valves(self, run: Run, pipe: Pipe, style: str | None = None) -> Iterator[tuple[str, tuple[str, ...]]]:
        """Valves with at most one adaptor on either side, as many on one as on the other.

        Of a style, or balancing ones: ball valves, on the feed of a timed bed timed valves.
        """
        pressed = run.kind is RunKind.PRESSURE
        style = style or ("timed" if run.finish in self.site.timed_beds() else "ball")
        for valve in self.catalog.valves.values():
            sides = [self.chains(pressed, end, pipe.end, Need.JOIN, 1) for end in valve.ends]
            for before, after in product(*sides):
                if valve.style == style and len(before) == len(after):
                    yield valve.id, (*before, *after)

    def starts(self, run: Run, pipe: Pipe) -> Iterator[LineEnd]:
        """Through the wall, or the floor under a standpipe; a main starts at its pump or tee."""
        if run.kind is RunKind.PRESSURE or run.start in self.site.junctions:
            yield LineEnd(run.start)
        elif run.draw is Draw.OUTSIDE:
            for wall in self.through(run, pipe, "start", in_floor=False):
                yield from begun_outside(self.site, self.catalog, wall)
        else:
            yield from self.through(run, pipe, "start", in_floor=run.draw is Draw.STANDPIPE)

    def finishes(self, run: Run, pipe: Pipe) -> Iterator[LineEnd]:
        """Through the wall, over the rim, or at a tee."""
        if run.finish in self.site.junctions:
            yield LineEnd(run.finish)
            return
        asked = run.siphon_back
        guards = [g for g in Guard if asked is Guard.ANY or g is asked if g is not Guard.ANY]
        if run.kind is RunKind.PRESSURE and run.entry is not Entry.WALL:
            velocity = self.site.flows[run.name].design_m3_s / (math.pi / 4 * pipe.bore_m**2)
            fast = velocity / math.sqrt(9.80665 * pipe.bore_m) >= FASTEST_BUBBLE
            for guard in guards:
                if guard is Guard.AIR_GAP or fast:
                    yield OverRim(run.finish, corner=OPEN_TURN, guard=guard)
        if run.kind is RunKind.GRAVITY:
            if run.entry is not Entry.OVER_RIM:
                yield from self.through(run, pipe, "finish", in_floor=False)
            if run.plan is not None and run.entry is not Entry.WALL:
                yield OverRim(run.finish, corner=OPEN_TURN)
        elif run.entry is not Entry.OVER_RIM:
            for end in self.through(run, pipe, "finish", in_floor=False):
                yield from (replace(end, guard=guard) for guard in guards if guard is not Guard.HOLE)

    def over_rim(self, run: Run, pipe: Pipe, turn: Corner, guard: Guard) -> OverRim:
        """With an air gap a bare turn over a rim, its mouth 30 mm over water 20 mm under the rim, or higher.

        A drain's mouth is 50 mm over it. A line that runs higher than it needs to goes over at its own
        height, with a piece below its turn where there is room for one. An elbow reaches down by its radius
        and the depth of its socket, two 45s by what they cut and that. Guarded, a piece hangs down under the
        water, whose level is given.
        """
        rim, low = self.site.vessels[run.finish].rim_m, RIM_M + pipe.outside_m / 2
        if run.plan is not None and run.plan.height_m is not None:
            low = max(low, run.plan.height_m - rim)
        if guard is not Guard.AIR_GAP:
            return self.hanging(run, pipe, turn, guard)
        mouth = OVER_WATER_M if run.kind is RunKind.PRESSURE else FREE_M
        if turn.style is TurnStyle.BEND:
            low = max(low, mouth + pipe.bend_radius_m)
            return OverRim(run.finish, corner=turn, centre_m=rim + low, mouth_m=rim + mouth)
        reach = self.half(pipe, turn) + self.socket(pipe)
        low = max(low, mouth + reach)
        hangs = low - reach - mouth > self.bench.lengths(pipe).stub
        mouth = rim + mouth if hangs else rim + low - reach
        return OverRim(run.finish, corner=turn, centre_m=rim + low, mouth_m=mouth)

    def hanging(self, run: Run, pipe: Pipe, turn: Corner, guard: Guard) -> OverRim:
        """Over a rim and down: a hole 30 mm under the water, the mouth 50 mm under its lower edge.

        The rims of these sites stand so high over the water that every elbow has room for a piece below it;
        pipe that bends by itself comes down by its radius first.
        """
        vessel, wide = self.site.vessels[run.finish], max(HOLE_M, HOLE_SHARE * pipe.bore_m)
        wide = math.ceil(wide * 1e3 - 1e-6) / 1e3
        deep = vessel.water_min_m - self.hole_depth_m - vessel.floor_m
        hole = vessel.floor_m + math.floor(deep * 1e3 + 1e-6) / 1e3
        mouth = math.floor((hole - wide / 2 - COVER_M) * 1e4 + 1e-6) / 1e4
        crest = vessel.rim_m + RIM_M + pipe.outside_m / 2
        if turn.style is TurnStyle.BEND:
            crest = max(crest, mouth + pipe.bend_radius_m + self.bench.lengths(pipe).stub)
        if run.plan is not None and run.plan.height_m is not None:
            crest = max(crest, run.plan.height_m)
        end = OverRim(run.finish, corner=turn, centre_m=crest, mouth_m=mouth, guard=guard)
        return replace(end, air_hole_m=hole, air_hole_width_m=wide) if guard is Guard.HOLE else end

    def through(self, run: Run, pipe: Pipe, side: str, *, in_floor: bool) -> Iterator[Pierced]:
        """Every wall part that the wall and the pipe take, with every set of adaptors."""
        at = run.start if side == "start" else run.finish
        vessel = self.site.vessels[at]
        wall = vessel.base_m if in_floor else vessel.wall_m
        stood = list(self.bells.standings(run, pipe)) if in_floor else [None]
        for part, standing in product(self.catalog.penetrations.values(), stood):
            if not part.wall_min_m <= wall <= part.wall_max_m or part.head_max_m < vessel.depth_m:
                continue
            if side == "finish" and self.settles(run):
                yield from self.turned_down(run, pipe, part)
                continue
            if standing is not None and not self.bells.over(standing, part):
                continue
            for outside, inside in self.wall_part(run, pipe, part, self.asked(run, side), standing):
                bore = min(self.bore(outside), part.bore_m or math.inf)
                if bore >= LEAST_SHARE * pipe.bore_m:
                    if standing is None:
                        yield ThroughWall(at, outside, way=part.way, penetration=part.id, inner_chain=inside)
                        continue
                    yield ThroughFloor(
                        *(at, outside),
                        way=part.way,
                        penetration=part.id,
                        inner_chain=inside,
                        standpipe=standing.own,
                        siphon=standing.siphon,
                        drain_hole=standing.drain_hole,
                    )

    def settles(self, run: Run) -> bool:
        """Whether a run is a drain into a settler."""
        vessel = self.site.vessels.get(run.finish)
        return run.kind is RunKind.GRAVITY and vessel is not None and vessel.kind is VesselKind.SETTLER

    def turned_down(self, run: Run, pipe: Pipe, part: Penetration) -> Iterator[ThroughWall]:
        """Into a settler with a turn on the inner end, tight where there is such a one on the pipe."""
        turns = [row for row in self.catalog.turns.values() if row.angle == 90]
        turns = [row for row in turns if all(self.joining.mates(end, pipe.end) for end in row.ends)]
        tight = [row for row in turns if row.style is TurnStyle.TIGHT]
        both = self.wall_part(run, pipe, part, self.asked(run, "finish"), None)
        outsides = dict.fromkeys(outside for outside, _ in both)
        for row, outside in product(tight or turns, outsides):
            within: Iterable[tuple[str, ...]] = [()]
            if part.way is not Way.SEAL:
                within = self.chains(False, part.ends[0], row.ends[0], Need.JOIN, 1)
            for chain in within:
                bore = min(self.bore(outside), self.bore(chain), part.bore_m or math.inf)
                if bore >= LEAST_SHARE * pipe.bore_m:
                    down = Corner(90, row.style, (row.id,))
                    wall = ThroughWall(run.finish, outside, way=part.way, penetration=part.id, down=down)
                    yield replace(wall, inner_chain=chain)

    def wall_part(
        self, run: Run, pipe: Pipe, part: Penetration, need: Need, standing: Standing | None
    ) -> Iterable[tuple[tuple[str, ...], tuple[str, ...]]]:
        """Adaptors outside and inside: a seal's piece of pipe has a coupling outside and a stop inside."""
        pressed, most = run.kind is RunKind.PRESSURE, 1 if need is Need.JOIN else 3
        if part.way is Way.SEAL:
            if not self.joining.mates(part.ends[1], pipe.end) or pipe.bend_radius_m or standing is not None:
                return ()
            outside = self.chains(pressed, pipe.end, pipe.end, need, most)
            return product(outside, self.chains(pressed, pipe.end, pipe.end, Need.JOIN, 1))
        outside = self.chains(pressed, part.ends[1], pipe.end, need, most)
        if standing is None:
            return product(outside, ((),))
        return product(outside, self.chains(pressed, part.ends[0], standing.pipe.end, Need.JOIN, 1))

    def bore(self, chain: Sequence[str]) -> float:
        """Smallest passage through adaptors and stubs; infinite through none."""
        adaptors, pipes = self.catalog.adaptors, self.catalog.pipes
        return min(
            (adaptors[p].bore_m if p in adaptors else pipes[p].bore_m for p in chain), default=math.inf
        )

    # --- runs that meet ---------------------------------------------------------------------------------

    def options(self) -> list[list[Option]]:
        """Ways to build what meets: drains class by class, and all that hangs on the pump."""
        classes = {run.run_class: run for run in self.site.runs.values()}
        ways = {name: list(self.ways(run)) for name, run in classes.items()}
        if not all(ways.values()):
            raise NothingHoldsError({name: len(found) for name, found in ways.items()})
        found = []
        for kind in RunKind:
            names = [run.name for run in self.site.runs.values() if run.kind is kind]
            alike: dict[str, list[str]] = {}
            for name in names:
                alike.setdefault(self.site.runs[name].run_class, []).append(name)
            for group in [names] if kind is RunKind.PRESSURE else alike.values():
                of = list(dict.fromkeys(self.site.runs[name].run_class for name in group))
                made = []
                for chosen in product(*(ways[name] for name in of)):
                    by_class = dict(zip(of, chosen, strict=True))
                    runs = {n: self.member(by_class[self.site.runs[n].run_class], n) for n in group}
                    made += list(
                        self.joined(runs) if kind is RunKind.PRESSURE else [self.option(runs, {}, {})]
                    )
                found.append(made)
        return found

    def member(self, drawn: Line, name: str) -> Line:
        """A run of a class, drawn like another of it."""
        run = self.site.runs[name]
        assert drawn.run == name or run.plan is None
        start, finish = replace(drawn.start, at=run.start), replace(drawn.finish, at=run.finish)
        return replace(drawn, run=name).with_ends(start, finish)

    def joined(self, runs: Mapping[str, Line]) -> Iterator[Option]:
        """The same pressure runs with every pump, tee, way round on the tee, and adaptors."""
        vessel = self.site.pumped_vessels()[0]
        main = next(name for name in runs if self.site.runs[name].start == vessel)
        for pump in self.catalog.pumps.values():
            for chain in self.chains(True, pump.outlet, self.end_of(runs[main]), Need.COME_APART, 4):
                on_pump = {**runs, main: chained(runs[main], chain)}
                for tees, teed in self.teed(on_pump, list(self.site.junctions)):
                    yield self.option(teed, {vessel: DrawnPump(vessel, pump.id, "throttled", 1.0)}, tees)

    def teed(
        self, runs: Mapping[str, Line], places: Sequence[str]
    ) -> Iterator[tuple[dict[str, DrawnJunction], dict[str, Line]]]:
        """Every tee at each junction in turn, either way round, with every set of adaptors."""
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
                steps = [
                    self.step_down(end, self.end_of(runs[n]))
                    for n, end in zip(ports, tee.ends[1:], strict=True)
                ]
                junction = DrawnJunction(here, tee.id, (trunk, *ports))
                for chains in product(*steps):
                    new = {n: chained(runs[n], chain) for n, chain in zip(ports, chains, strict=True)}
                    for others, drawn in self.teed({**runs, **new}, rest):
                        yield {here: junction, **others}, drawn

    def step_down(self, opening: End, pipe_end: End) -> tuple[tuple[str, ...], ...]:
        """Up to three adaptors from a tee to a run no wider than the tee's opening."""
        found = self.chains(True, opening, pipe_end, Need.JOIN, 3)
        return found if found == ((),) or self.width(pipe_end) <= self.width(opening) else ()

    def width(self, end: End) -> float:
        """The widest pipe of that system and size."""
        alike = (
            p for p in self.catalog.pipes.values() if (p.end.system, p.end.size) == (end.system, end.size)
        )
        return max((pipe.bore_m for pipe in alike), default=0.0)

    def end_of(self, drawn: Line) -> End:
        """What the run's pipe offers to its neighbour."""
        return self.catalog.pipes[drawn.pipe].end

    def option(
        self,
        runs: Mapping[str, Line],
        pumps: Mapping[str, DrawnPump],
        tees: Mapping[str, DrawnJunction],
    ) -> Option:
        """What runs take together."""
        parts: Counter[str] = Counter(pump.part for pump in pumps.values())
        parts.update(junction.tee for junction in tees.values() if junction.tee)
        pieces: list[tuple[str, float]] = []
        shape: list[object] = [tuple(pump.part for pump in pumps.values()), tuple(tees.values())]
        for run in runs.values():
            parts.update(part for turn in run.turns for part in turn.pieces)
            parts.update(run.coupling * sum(len(slot) - 1 for slot in run.slots_m))
            for end in run.ends:
                parts.update(end.chain)
            for hole in run.holes():
                down = getattr(hole, "down", None)
                parts.update([hole.penetration, *hole.inner_chain, *(down.pieces if down else ())])
            pieces += [(run.pipe, self.planned(run.pipe, piece)) for slot in run.slots_m for piece in slot]
            floor = run.start if isinstance(run.start, ThroughFloor) else None
            if run.outside is not None:
                tube = run.outside.air_tube
                parts.update([] if tube is None else [tube])
                shape += [run.outside.lip_m, tube]
            if floor is not None and floor.drain_hole is not None and floor.drain_hole.guard is not None:
                # A guard was fitted when it was made, and no rule tells one from another.
                parts[floor.drain_hole.guard] += 1
            if floor is not None and floor.siphon is not None:
                parts.update(floor.siphon.parts)
                # Bells of one bore run alike; the rest of a siphon was fitted when it was made.
                bell = self.catalog.siphons.get(floor.siphon.bell or "")
                shape += [floor.standpipe, floor.siphon.flare, self.bore(floor.inner_chain)]
                shape.append(bell.inside_m if bell is not None else None)
            if floor is not None and floor.standpipe is not None:
                vessel = self.site.vessels[floor.at]
                pieces.append((floor.standpipe, (vessel.water_max_m - vessel.floor_m) * WASTE))
            shape += [run.pipe, run.turns, run.legs, guard_of(run.finish), way_of(run.finish)]
            shape += [getattr(end, "penetration", None) for end in run.ends]
            shape += [getattr(end, "down", None) for end in run.ends]
            shape += [self.bore(chain) for chain in (run.start.chain, run.finish.chain, run.coupling)]
            for kind in (ValveSet, CheckValveSet):
                stood = run.one(kind)
                parts.update(() if stood is None else (stood.valve, *stood.chain))
                shape.append(None if stood is None else (stood.valve, self.bore(stood.chain)))
        for stub in [part for part in parts if part in self.catalog.pipes]:
            row = self.catalog.pipes[stub]
            size = self.catalog.systems[row.end.system][row.end.size]
            pieces += [(row.id, (2 * (size.socket_m or 0.0) + 0.008) * WASTE)] * parts.pop(stub)
        cuts = tuple(sorted((self.first[self.catalog.pipes[p].family].id, length) for p, length in pieces))
        wants = [self.wants(runs, pumps, tees, screwed=screwed) for screwed in (False, True)]
        return Option(runs, pumps, tees, (*shape, cuts), cuts, parts, (wants[0], wants[1]))

    def planned(self, pipe: str, piece: float) -> float:
        """What is kept for a piece [m]: a fiftieth more, no more than the least whole length it fits on."""
        family = self.catalog.pipes[pipe].family
        rows = (row for row in self.catalog.pipes.values() if row.family == family)
        whole = (row.stick_m or longest_of(row) for row in rows)
        return min([piece * WASTE, *(length for length in whole if length >= piece - 1e-9)])

    # --- cement, tape and the like ----------------------------------------------------------------------

    def may_be_taped(self, name: str) -> bool:
        """Whether a run is a drain, and not that of a siphon, which goes to a vessel without a junction."""
        run = self.site.runs[name]
        bed = self.site.vessels[run.start].bed if run.start in self.site.vessels else None
        return run.kind is RunKind.GRAVITY and (bed is None or not bed.siphon)

    def wants(
        self,
        runs: Mapping[str, Line],
        pumps: Mapping[str, DrawnPump],
        tees: Mapping[str, DrawnJunction],
        *,
        screwed: bool,
    ) -> dict[Want, float]:
        """What every joint and every thin wall takes, of the kinds that the price list has."""
        survey = Survey(self.site, self.catalog, Drawing(runs, tees, pumps, {}, (), ()))
        found: dict[Want, float] = {}
        for name, drawn in runs.items():
            line, taped = survey.assembled(name), screwed and self.may_be_taped(name)
            for joint in joints_of(line, self.joining, self.reach[name], screwed=taped):
                sides = (joint.left, joint.left_end), (joint.right, joint.right_end)
                taken = self.joint_wants(str(joint.kind), *sides)
                for want, amount in taken.items():
                    found[want] = found.get(want, 0.0) + amount
            over = drawn.rim is not None
            asked = self.site.runs[name]
            over += (
                asked.plan is not None and asked.kind is RunKind.PRESSURE and asked.start in self.site.vessels
            )
            self.clip(drawn, found)
            if over:
                bracket = (SundryKind.BRACKET, round(self.catalog.pipes[drawn.pipe].outside_m * 1e4))
                found[bracket] = found.get(bracket, 0.0) + over
            if drawn.one(Riser) is not None:
                screw = (SundryKind.SCREW, None)
                found[screw] = found.get(screw, 0.0) + 1
            for end in drawn.holes():
                if end.way is Way.SEAL and self.site.vessels[end.at].wall_m < CARRIES_M - 1e-9:
                    stand = (SundryKind.STAND, round(self.catalog.pipes[drawn.pipe].outside_m * 1e4))
                    found[stand] = found.get(stand, 0.0) + 1
        listed = {row.kind for row in self.catalog.sundries.values()}
        return {want: amount for want, amount in found.items() if want[0] in listed}

    def clip(self, drawn: Line, found: dict[Want, float]) -> None:
        """A clip for each spacing begun on each leg of a run that is at least half as long."""
        outside = self.catalog.pipes[drawn.pipe].outside_m
        apart = 1.0 if outside <= 0.036 else 1.4 if outside <= 0.066 else 1.5
        legs = [leg.length_m for leg in drawn.legs] or self.site.runs[drawn.run].legs_m
        count = sum(math.ceil(leg / apart - 1e-6) for leg in legs if leg >= apart / 2)
        if count and not drawn.later:
            clip = (SundryKind.CLIP, round(outside * 1e4))
            found[clip] = found.get(clip, 0.0) + count

    @cache  # noqa: B019
    def joint_wants(self, kind: str, one: tuple[str, End], other: tuple[str, End]) -> dict[Want, float]:
        """Cement [m3], tape [m], pieces of the rest for one joint.

        A wall part brings its washer, and so does the loose nut of a union or nut-and-tail.
        """
        (left, end), (right, _) = one, other
        size = self.catalog.systems[end.system][end.size] if end.system in self.catalog.systems else None
        around = math.pi * ((size.outside_m or size.thread_major_m or 0.0) if size else 0.0)
        if kind == "solvent-welded":
            surface = around * ((size and size.socket_m) or 0.0)
            return {
                (SundryKind.CEMENT, None): surface * FILM_M,
                (SundryKind.CLEANER, None): surface * CLEANER_M,
            }
        if kind == "push-in seal":
            return {(SundryKind.LUBRICANT, None): around * SLIDES_M * GREASE_M}
        if kind == "tape-and-screw":
            return {(SundryKind.TAPE, None): around * SCREWED_TURNS, (SundryKind.SCREW, None): 1}
        if kind == "threaded with tape":
            return {(SundryKind.TAPE, None): around * TURNS}
        if kind == "threaded with washer":
            if any(self.is_nut(part, e) for part, e in (one, other)):
                return {}
            tape = {(SundryKind.TAPE, None): around * TURNS}
            walls = left in self.catalog.penetrations or right in self.catalog.penetrations
            return tape if walls else {**tape, (SundryKind.WASHER, ("G", end.size)): 1}
        if kind == "barbed with clamp":
            hose = next(p for p in (left, right) if p in self.catalog.pipes)
            return {(SundryKind.CLAMP, round(self.catalog.pipes[hose].outside_m * 1e4)): 1}
        return {}

    def is_nut(self, part: str, end: End) -> bool:
        """Whether an end is the loose nut of a part; the thread of a compression part is fixed."""
        row = self.catalog.adaptors.get(part)
        if row is None or not row.apart or end.form != "female":
            return False
        return all(other.form != "compression" for other in row.ends)


def chained(drawn: Line, chain: tuple[str, ...]) -> Line:
    """The run with adaptors at its start."""
    return drawn.with_ends(replace(drawn.start, chain=chain), drawn.finish)


def guard_of(end: LineEnd) -> Guard:
    """What keeps the vessel at a run's finish from siphoning back; at a junction there is none to keep."""
    return end.guard if isinstance(end, AtVessel) else Guard.AIR_GAP


def way_of(end: LineEnd) -> Way | None:
    """How an end meets its vessel, None at a junction or a pump."""
    return end.way if isinstance(end, AtVessel) else None


def laid(need: float, lengths: Sequence[float], least: float) -> set[tuple[float, ...]]:
    """Every way to lay a straight: of any set of lengths, longest first, as many whole ones as leave a rest.

    Args:
        need: the straight [m].
        lengths: what can be bought in one piece, longest first [m].
        least: what two parts take of the rest [m], which the last whole one is cut for.
    """
    found = set()
    for some in (c for n in range(len(lengths) + 1) for c in combinations(lengths, n)):
        pieces: list[float] = []
        rest = need
        for length in some:
            while rest > length + 1e-9:
                pieces.append(length)
                rest -= length
        if pieces and rest < least:
            pieces[-1] -= least - rest
            rest = least
        if rest <= lengths[0] + 1e-9:
            found.add((*pieces, rest))
    return found
