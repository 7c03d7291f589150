"""Ways to build each class of runs, from the parts that the rules admit, less those that lose everywhere."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product

from autoplan.catalog.parts import Pipe, TurnStyle, Way
from autoplan.fittings.base import Fitting
from autoplan.fittings.cap import EndCap
from autoplan.fittings.corner import Corner
from autoplan.fittings.ends import AtVessel, LineEnd
from autoplan.fittings.floor import ThroughFloor
from autoplan.fittings.outside import OutsideSiphon
from autoplan.fittings.passage import smallest_bore
from autoplan.fittings.rim import OPEN_TURN, OverRim
from autoplan.fittings.riser import Riser
from autoplan.fittings.screen import InletScreen
from autoplan.fittings.trim import Trim
from autoplan.fittings.valve import CheckValveSet, ValveSet
from autoplan.fittings.wall import Pierced, ThroughWall, well_needed_m
from autoplan.hydraulics.conduit import Conduit, Resistance
from autoplan.line.laid import slots_needed
from autoplan.line.route import Descent
from autoplan.line.row import Line
from autoplan.line.water import head_at_wall, inlet_bore, rating_of, resistances_of, stretches_of, trim_of
from autoplan.optimiser.options.consumables import Counting
from autoplan.optimiser.options.dominance import Kept
from autoplan.optimiser.options.ends import EndOption, finishes, starts
from autoplan.optimiser.options.fittings import optional, valves_of
from autoplan.optimiser.options.fittings import turns as turns_on
from autoplan.optimiser.options.fittings import valves as valves_on
from autoplan.optimiser.options.inlets import Inlets, marked_down, marked_up
from autoplan.optimiser.options.laying import layings
from autoplan.optimiser.options.making import ROOM, Making
from autoplan.optimiser.options.outside import crested
from autoplan.optimiser.options.routes import Routed, Router, descents
from autoplan.optimiser.options.standpipes import stands_so, stood_up
from autoplan.problem.brief import Mouth
from autoplan.problem.flows import gravity_paths, vented
from autoplan.problem.site import Draw, Guard, Run, RunKind
from autoplan.rules.asked import DrawnSo, OfPipe, UnderHead
from autoplan.rules.base import Concern, Given
from autoplan.rules.book import ROLES
from autoplan.rules.candidate import Candidate, Place

FITTINGS_M = 0.5
"""More than a valve, a check valve and their adaptors take of a run's length; typical, no source [m]."""

DRILL_ROOM_M = 0.005
"""How much higher a hole high in a sump may come than it is planned, or lower one near a bed's floor; from
memory [m]."""

FREE_FALL_M = 0.25
"""Fall over the crown from which a drain enters a sump high in its wall; common practice, no source."""


def candidates_for(making: Making, counting: Counting) -> list[Candidate]:
    """Every way worth considering to build one class.

    Args:
        making: the class, with the problem, the parts that may be used and the rules in force; remembers what
            was refused by which rule.
        counting: what joints take of cement and the like.

    Returns:
        Candidates in the order of the price list, less those that another beats (`dominance`).

    Raises:
        NoOptionError: nothing is left; names the rules that refused the last options.
    """
    return _Builder(making, counting).build()


@dataclass(frozen=True, slots=True)
class _Fitted:
    """What stands on a run besides turns and ends: balancing valve, check valve, whatever else must.

    And how it turns down over a rim, where that is not as it turns elsewhere; how it leaves its start.
    """

    valve: ValveSet | None
    check: ValveSet | None
    more: tuple[Fitting, ...]
    rim: Corner | None
    descent: Descent


class _Builder:
    def __init__(self, making: Making, counting: Counting) -> None:
        self.making = making
        self.counting = counting
        self.site = making.site
        self.shelf = making.shelf
        self.first = making.first
        self.inlets = Inlets.by(making.book)
        tilt, freeboard = making.book.given(Given.TILT), self.inlets.freeboard_m
        self.router = Router(self.shelf.bench, making.site, tilt, freeboard)
        self.overflow_gap_m = making.book.given(Given.OVERFLOW_GAP)
        self.strip_m = making.book.given(Given.STRIP)
        self.waste = making.book.given(Given.WASTE)
        self.trim_m = making.book.given(Given.TRIM)
        self.trimmed = {run.name for run in making.members if Trim.suits(making.site, run)}
        """Runs of the class whose share may be set by hand."""
        gravity = self.first.kind is RunKind.GRAVITY and self.first.start in self.site.vessels
        self.lifts = gravity and self.first.draw is Draw.SOLIDS_LIFTING
        """Whether the runs rise from their vessel's floor to an open tee at the wall."""
        self._starts: dict[tuple[str, int], LineEnd] = {}
        self._finishes: dict[tuple[str, int, Corner | None], LineEnd | None] = {}
        # Of one pipe: ends as drawn, by run, place of the option in memory and turn over the rim.

    def build(self) -> list[Candidate]:
        making = self.making
        offered: list[Candidate] = []
        for pipe in self.shelf.pipe_families():
            if making.pressed and not making.allows("pipe", [UnderHead(pipe, self.shelf.least_shut_off_m)]):
                continue
            if making.allows("pipe", [OfPipe(self.site, run, pipe) for run in making.members]):
                offered += self._with_pipe(pipe)
        if not offered:
            raise making.lacking
        kept = Kept(making, self.counting).best(offered)
        glued = [one for one in kept if self.counting.may_differ(one)]
        return [*kept, *(replace(one, glued=True, screwed_needs=one.needs) for one in glued)]

    def _with_pipe(self, pipe: Pipe) -> Iterator[Candidate]:
        making = self.making
        self._starts.clear()
        self._finishes.clear()
        ways_down = descents(self.site, making.members, self.router.tilt, bends=pipe.bend_radius_m > 0)
        if not ways_down:
            making.note(ROOM, ROLES[Concern.ROUTE])
        begin, end = starts(making, pipe), finishes(making, pipe)
        rims = {isinstance(way.end, OverRim) for way in end}
        angles = {(how, rim): self._angles(pipe, how, rim=rim) for how in ways_down for rim in sorted(rims)}
        turns = {angle: self._turns(pipe, angle) for angle in sorted(set().union(*angles.values()))}
        valves: Sequence[ValveSet | None] = valves_on(making, pipe) if self.first.valve else [None]
        checks = self._checks(pipe)
        added = optional(making, pipe)
        options: list[tuple[str, Sequence[object]]] = [("valve", valves), ("start", begin), ("finish", end)]
        options.append(("check valve", [valve for way in end for valve in checks[guard_of(way)]]))
        for what, found in [*options, *(("turn", made) for made in turns.values())]:
            if not found:
                making.lost = what
        beginnings = [both for both in product(begin, added) if self._begins(pipe, *both)]
        for (start, more), finish, valve in product(beginnings, end, valves):
            standing = product(checks[guard_of(finish)], self._rims(pipe, finish))
            for (check, rim), how in product(standing, ways_down):
                asked = angles[how, isinstance(finish.end, OverRim)]
                for made in product(*(turns[angle] for angle in asked)):
                    turned = dict(zip(asked, made, strict=True))
                    self.shelf.clock.check()
                    fitted = _Fitted(valve, check, more, rim, how)
                    yield from self._candidates(pipe, turned, fitted, start, finish)

    def _begins(self, pipe: Pipe, start: EndOption, more: Sequence[Fitting]) -> bool:
        """Whether a drain may start so, once wall part and whatever else must be there are known."""
        making = self.making
        for one in more:
            if not one.goes_with(start.end, making.catalog, pipe):
                making.lost = one.word
                return False
        screen = next((one for one in more if isinstance(one, InletScreen)), None)
        return not isinstance(start.end, ThroughFloor) or stands_so(making, pipe, start.end, screen)

    def _checks(self, pipe: Pipe) -> dict[Guard, Sequence[ValveSet | None]]:
        """By guard, the check valves that go with it: none at all but where one is the guard."""
        found: dict[Guard, Sequence[ValveSet | None]] = {guard: [None] for guard in Guard}
        asked = any(Guard.CHECK_VALVE in self.site.guards(run) for run in self.making.members)
        if self.making.pressed and asked:
            found[Guard.CHECK_VALVE] = valves_of(self.making, pipe, CheckValveSet, "check")
        return found

    def _turns(self, pipe: Pipe, angle: int) -> Sequence[Corner]:
        """How the runs turn by an angle along their way: pipe that bends and has room to needs no elbow.

        Where no run turns so along its way it is how they turn down over a rim.
        """
        found = turns_on(self.making, pipe, angle)
        bends = [turn for turn in found if turn.bends]
        along = any(angle in self._along(run, pipe) for run in self.making.members)
        return bends if bends and along and self._roomy(pipe) else found

    def _roomy(self, pipe: Pipe) -> bool:
        """Whether every run has room for all of its bends, whatever valve and adaptors stand on it."""
        lengths = self.shelf.bench.lengths(pipe)
        return all(
            run.length_m - FITTINGS_M
            >= sum(
                2 * Corner(angle, TurnStyle.BEND, ()).takes_m(lengths)
                for angle in (*self._along(run, pipe), 90)
            )
            for run in self.making.members
        )

    def _rims(self, pipe: Pipe, finish: EndOption) -> Sequence[Corner | None]:
        """How the run may turn down over a rim; None for as it turns elsewhere.

        Pipe that bends by itself along its way may take an elbow there, which asks for less height.
        """
        turns = any(90 in self._along(run, pipe) for run in self.making.members)
        if not isinstance(finish.end, OverRim) or not turns or not pipe.bend_radius_m:
            return (None,)
        return turns_on(self.making, pipe, 90)

    def _angles(self, pipe: Pipe, how: Descent, *, rim: bool) -> list[int]:
        """Every angle by which some run of the class turns, under a riser and down over a rim too."""
        found = {angle for run in self.making.members for angle in self._along(run, pipe, how, rim=rim)}
        return sorted(found | {90} if self.lifts or rim else found)

    def _along(
        self, run: Run, pipe: Pipe, how: Descent = Descent.LEVEL, *, rim: bool = True
    ) -> tuple[int, ...]:
        """The turns between the legs of a run [degrees]."""
        return run.turns if run.plan is None else self.router.outline(run, how, pipe, rim=rim).angles

    # --- one candidate ----------------------------------------------------------------------------------

    def _candidates(
        self,
        pipe: Pipe,
        turns: Mapping[int, Corner],
        fitted: _Fitted,
        start: EndOption,
        finish: EndOption,
    ) -> Iterator[Candidate]:
        """The class with these parts, once for each way to lay its straights (`laying`)."""
        drawn: dict[str, Line] = {}
        places: dict[tuple[str, str], Place] = {}
        needed: list[tuple[float, ...]] = []
        routed: dict[str, Routed] = {}
        for run in self.making.members:
            line = self._draw(run, pipe, turns, fitted, start, finish)
            if line is None:
                return
            own = dict(self._places(run, pipe, line, start, finish))
            places |= own
            if run.plan is None:
                drawn[run.name], least = line, self._measured(run, line)
            else:
                way = self._route(run, line, fitted.descent, own)
                if way is None:
                    return
                drawn[run.name], least, routed[run.name] = way.line, way.slots_m, way
            if not self._has_room(drawn[run.name]):
                return
            needed.append(least)
        lost, self.making.lost = self.making.lost, "coupling"
        for slots, coupling in layings(
            self.shelf, pipe, needed, self.waste, under_pressure=self.making.pressed
        ):
            self.making.lost = lost
            if not self.making.passes("coupling", smallest_bore(self.making.catalog, coupling)):
                continue
            laid = {
                name: replace(template, slots_m=pieces, coupling=coupling)
                for (name, template), pieces in zip(drawn.items(), slots, strict=True)
            }
            yield Candidate(
                self.making.run_class,
                pipe,
                way_of(start.end),
                way_of(finish.end),
                rating_of(self.making.catalog, laid[self.first.name]),
                laid,
                places,
                self._lines(pipe, laid),
                courses={name: way.course for name, way in routed.items()},
                apart={name: way.apart for name, way in routed.items()},
                legs_m={name: way.legs_m for name, way in routed.items()},
            )

    def _lines(self, pipe: Pipe, laid: Mapping[str, Line]) -> dict[str, Conduit]:
        """The runs as the water meets them; but for turns, couplings and lengths they are fitted alike."""
        catalog, lines = self.making.catalog, {}
        fittings: dict[object, tuple[Resistance, ...]] = {}
        for run in self.making.members:
            drawn = laid[run.name]
            alike = drawn.turns, drawn.joins, drawn.all(Trim)
            if alike not in fittings:
                fittings[alike] = resistances_of(catalog, run, drawn)
            also = stretches_of(catalog, drawn)
            lines[run.name] = Conduit(pipe.bore_m, pipe.roughness_m, drawn.length_m, fittings[alike], also)
        return lines

    def _draw(
        self,
        run: Run,
        pipe: Pipe,
        turns: Mapping[int, Corner],
        fitted: _Fitted,
        start: EndOption,
        finish: EndOption,
    ) -> Line | None:
        """The run as drawn, heights open where a level decides them, and legs with them."""
        tee = self.shelf.plain_tee(pipe.end) if self.lifts else None
        if self.lifts and tee is None:
            self.making.lost = "tee for the solids-lifting outlet"
            return None
        cap = self.shelf.cap(pipe.end) if run.spare and self.making.pressed else None
        if run.spare and self.making.pressed and cap is None:
            self.making.lost = "end cap for a spare connection"
            return None
        end = self._finish(run, pipe, finish, fitted.rim or turns.get(90, OPEN_TURN))
        if end is None:
            self.making.lost = "room for a mouth under water"
            return None
        begin = self._start(run, start)
        rises = None if tee is None else Riser(turns[90], tee.id)
        more = [one for one in fitted.more if run.name in self.trimmed or not isinstance(one, Trim)]
        before = [one for one in more if not one.on_straight]
        along = [one for one in more if one.on_straight]
        if isinstance(begin, ThroughWall) and any(type(one) is Trim for one in before):
            # It keeps the piece from sliding out of its seal as well.
            begin = replace(begin, inner_chain=())
        capped = None if cap is None else EndCap(cap.id)
        row = [*before, rises, begin, capped, fitted.valve, fitted.check, *along]
        rim = isinstance(end, OverRim)
        row += [turns[angle] for angle in self._along(run, pipe, fitted.descent, rim=rim)]
        drop = end.drop_m if isinstance(end, OverRim) else 0.0
        legs = run.length_m if run.plan is None else 0.0
        line = Line(
            run=run.name,
            pipe=pipe.id,
            fittings=(*(one for one in row if one is not None), end),
            length_m=legs + self._inside(run, begin) + drop,
            later=run.spare,
        )
        return line if line.outside is None else crested(self.making, line, line.outside)

    def _measured(self, run: Run, line: Line) -> tuple[float, ...]:
        """The slots of a measured run at their longest [m]."""
        return slots_needed(self.shelf.bench, self.site, self._reaching(run, line))

    def _reaching(self, run: Run, line: Line) -> Line:
        """The line with its riser's hole as high as it may be, where that is over its vessel's water."""
        over, start = self._over_water(run, line), line.start
        if over is None or not isinstance(start, ThroughWall):
            return line
        return line.with_ends(replace(start, centre_m=over), line.finish)

    def _route(
        self, run: Run, line: Line, how: Descent, places: Mapping[tuple[str, str], Place]
    ) -> Routed | None:
        """The run with its legs, and its slots at their longest; None where there is no room for them."""
        course, reaching = self.router.course(run, line, how), self._reaching(run, line)
        found = self.router.routed(run, reaching, course, places)
        if found is None:
            self.making.note(ROOM, ROLES[Concern.ROUTE])
            return None
        if reaching is line:
            return found
        return replace(found, line=found.line.with_ends(line.start, line.finish))

    def _has_room(self, drawn: Line) -> bool:
        """Whether every rule allows the run as it is drawn so far."""
        asked = DrawnSo(self.site, self.making.catalog, drawn)
        return self.making.allows("room for what stands on it", [asked])

    def _inside(self, run: Run, start: LineEnd) -> float:
        """Way of the water inside the vessel that a drain starts from [m]: across the floor, up the riser."""
        if run.kind is RunKind.PRESSURE or run.start not in self.site.vessels:
            return 0.0
        if run.draw in (Draw.WALL, Draw.OUTSIDE):
            return 0.0
        vessel = self.site.vessels[run.start]
        if isinstance(start, ThroughFloor) and start.standpipe is not None:
            return 0.0
        across = vessel.radius_m if run.draw is Draw.SOLIDS_LIFTING else 0.0
        return across + vessel.water_max_m - vessel.floor_m

    def _over_water(self, run: Run, drawn: Line) -> float | None:
        """Centre of a riser's hole over its vessel's highest water [m], which its pipe must reach.

        Only where little water in a wide pipe fills less than half of it; else None.
        """
        if not self.lifts:
            return None
        flow, bore = self.site.flows[run.name].design_m3_s, inlet_bore(self.making.catalog, drawn)
        over = bore / 2 - head_at_wall(self.making.catalog, self.site, drawn, flow)
        return self.site.vessels[run.start].water_max_m + over if over > 0 else None

    def _start(self, run: Run, start: EndOption) -> LineEnd:
        """The start with what heights of it no level decides, or could be at most."""
        starting = (run.name, id(start))
        if starting not in self._starts:
            self._starts[starting] = self._started(run, start)
        return self._starts[starting]

    def _started(self, run: Run, start: EndOption) -> LineEnd:
        end = replace(start.end, at=run.start)
        if run.waste and isinstance(end, Pierced):
            vessel = self.site.vessels[run.start]
            low = vessel.lowest_m if vessel.cone_m else vessel.floor_m + self.strip_m + start.hole_m / 2
            return replace(end, centre_m=marked_up(vessel, low))
        if isinstance(end, ThroughFloor):
            return stood_up(self.site, end)
        if isinstance(end, OutsideSiphon):
            vessel = self.site.vessels[run.start]
            low = vessel.floor_m + self.strip_m + start.hole_m / 2 + DRILL_ROOM_M
            return replace(end, centre_m=marked_up(vessel, low))
        return end

    def _finish(self, run: Run, pipe: Pipe, finish: EndOption, turn: Corner) -> LineEnd | None:
        """The finish with what heights of it no level decides, turning down so where it is over a rim."""
        key = (run.name, id(finish), turn if isinstance(finish.end, OverRim) else None)
        if key not in self._finishes:
            self._finishes[key] = self._finished(run, pipe, finish, turn)
        return self._finishes[key]

    def _finished(self, run: Run, pipe: Pipe, finish: EndOption, turn: Corner) -> LineEnd | None:
        end = replace(finish.end, at=run.finish)
        if isinstance(end, OverRim):
            lengths = self.shelf.bench.lengths(pipe)
            at = None if run.plan is None else run.plan.height_m
            over = replace(end, corner=turn)
            vessel, drain = self.site.vessels[run.finish], run.kind is RunKind.GRAVITY
            if self.site.mouth_of(run) is Mouth.BELOW_WATER:
                return self.inlets.drowned(self.site, over, lengths, at)
            return self.inlets.over_rim(vessel, over, lengths, at, drain=drain)
        if isinstance(end, ThroughWall) and end.well:
            under = self.making.book.given(Given.WELL_UNDER)
            end = replace(end, well_m=well_needed_m(self.site.vessels[run.finish], pipe.outside_m, under))
        if isinstance(end, AtVessel):
            return replace(end, centre_m=self._fixed_finish(run, pipe, finish))
        return end

    def _fixed_finish(self, run: Run, pipe: Pipe, finish: EndOption) -> float | None:
        """Height of a finish that no level decides [m]: high in a sump that a drain falls to.

        A drain enters a sump as high as the wall allows where its fall is ample, so that the hole of a buried
        sump is not under ground and water; otherwise it ends in the water, where it needs the least fall.
        """
        vessel = self.site.vessels.get(run.finish)
        if vessel is None or self.making.pressed or run.finish not in self.site.pumped_vessels():
            return None
        high = vessel.rim_m - self.strip_m - finish.hole_m / 2 - DRILL_ROOM_M
        if self._least_drive(run) - high - pipe.outside_m / 2 < FREE_FALL_M:
            return None
        return marked_down(vessel, high)

    def _least_drive(self, run: Run) -> float:
        """Lowest level that drives a drain's last run [m]: a bed's floor, another vessel's lowest water.

        Out of a junction that stands open to the air it is the height there.
        """
        at = self.site.junctions[run.start].height_m if run.start in vented(self.site) else None
        if at is not None:
            return at
        begins = [
            self.site.vessels[self.site.runs[path[0]].start]
            for path in gravity_paths(self.site)
            if path[-1] == run.name
        ]
        begins = begins or [self.site.vessels[run.start]]
        return min(vessel.floor_m if vessel.bed else vessel.water_min_m for vessel in begins)

    def _places(
        self, run: Run, pipe: Pipe, drawn: Line, start: EndOption, finish: EndOption
    ) -> Iterator[tuple[tuple[str, str], Place]]:
        """The holes that a level decides."""
        flow = self.site.flows[run.name].design_m3_s
        if start.hole_m and drawn.lip_m is None and drawn.floor is None and not run.waste:
            bore = inlet_bore(self.making.catalog, drawn)
            offset = bore / 2 - head_at_wall(self.making.catalog, self.site, drawn, flow)
            if run.name in self.trimmed and trim_of(drawn) is not None:
                offset -= self.trim_m
            if run.overflow:
                offset = bore / 2 + self.overflow_gap_m
            yield (run.name, "start"), Place(offset, start.hole_m, bore, over=run.overflow)
        end = drawn.finish
        if finish.hole_m and isinstance(end, Pierced) and end.centre_m is None:
            place = Place(-pipe.outside_m / 2, finish.hole_m, finish.bore_m)
            if run.kind is RunKind.PRESSURE:
                place = self.inlets.through_wall(end, pipe.outside_m, finish.hole_m, finish.bore_m)
            yield (run.name, "finish"), place


def way_of(end: LineEnd) -> Way | None:
    """How an end meets its vessel; None at a junction or a pump."""
    return end.way if isinstance(end, AtVessel) else None


def guard_of(option: EndOption) -> Guard:
    """What keeps the vessel there from siphoning back."""
    return option.end.guard if isinstance(option.end, AtVessel) else Guard.AIR_GAP
