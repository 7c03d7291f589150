"""Everything about a finished drawing that can be worked out from its parts, on real numbers.

The rules' checks and the verdict ask here. Nothing is taken from the optimiser but the drawing itself.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from functools import cached_property

from autoplan.catalog.joining import Joining, stub_length
from autoplan.catalog.parts import Adaptor, Catalog, Pipe
from autoplan.drawing import Drawing
from autoplan.fittings.base import Opening, Role
from autoplan.fittings.ends import AtVessel, LineEnd
from autoplan.fittings.floor import BellSiphon, SideHole, ThroughFloor
from autoplan.fittings.wall import Pierced
from autoplan.hydraulics.pump import PumpCurve
from autoplan.line.joints import Joint, joints_of
from autoplan.line.laid import Bench, Laid, assemble
from autoplan.line.spare_half import spare_joints
from autoplan.line.water import head_at_wall, inlet_bore, throttled, trim_of
from autoplan.problem.brief import Overload
from autoplan.problem.flows import (
    drained_to,
    floods_in_turn,
    gravity_paths,
    pressure_paths,
    reaches,
    shared_outlets,
)
from autoplan.problem.site import Draw, Guard, Run, RunKind, Site, VesselKind
from autoplan.rules.falls import Falls
from autoplan.rules.line_losses import LineLosses
from autoplan.rules.lip import head_over_lip, held_depth


class Survey(LineLosses):
    """A drawing measured up against its site and price list.

    Args:
        site: the problem.
        catalog: the price list that the drawing's part ids refer to.
        drawing: the finished design.
    """

    def __init__(self, site: Site, catalog: Catalog, drawing: Drawing) -> None:
        super().__init__(site, catalog, drawing)
        self._assembled: dict[str, Laid] = {}
        self._low: dict[str, float] = {}

    def with_other(self, drawing: Drawing) -> Survey:
        """Another drawing measured up, in which lines that are this one's are not measured anew."""
        other = Survey(self.site, self.catalog, drawing)
        mine = self.drawing.runs
        other._lines = {name: line for name, line in self._lines.items() if drawing.runs[name] is mine[name]}
        return other

    @cached_property
    def _bench(self) -> Bench:
        return Bench(self.catalog, self.joining)

    @cached_property
    def joining(self) -> Joining:
        """What mates in the price list."""
        return Joining(self.catalog)

    def assembled(self, name: str) -> Laid:
        """The run put together, from opening to opening."""
        if name not in self._assembled:
            drawn = self.drawn(name)
            ends = self._opening(name, start=True), self._opening(name, start=False)
            self._assembled[name] = assemble(self._bench, self.site, drawn, *ends)
        return self._assembled[name]

    def _opening(self, name: str, *, start: bool) -> Opening | None:
        """The tee, the other run or the pump that a run starts or finishes at; None at a wall or rim."""
        end = self.drawn(name).start if start else self.drawn(name).finish
        if isinstance(end, AtVessel):
            return None
        if end.at in self.drawing.pumps and end.at not in self.drawing.junctions:
            pump = self.catalog.pumps[self.drawing.pumps[end.at].part]
            return Opening(pump.id, Role.PUMP, pump.outlet, pump.outlet)
        if end.at not in self.drawing.junctions:
            return None
        junction = self.drawing.junctions[end.at]
        if junction.tee is not None:
            ends = self.catalog.tees[junction.tee].ends
            own = ends[junction.ports.index(name)]
            trunk = max(junction.ports, key=self.design_flow)
            other = ends[junction.ports.index(trunk)] if trunk != name else ends[0]
            return Opening(junction.tee, Role.TEE, own, other)
        # Two runs in line: the adaptors are drawn at the start of the one that leaves.
        if not start:
            return None
        other_run = junction.ports[0] if junction.ports[1] == name else junction.ports[1]
        pipe = self.pipe(other_run)
        return Opening(pipe.id, Role.PIPE, pipe.end, pipe.end)

    @cached_property
    def joints(self) -> tuple[Joint, ...]:
        """Every joint of the drawing."""
        reach = reaches(self.site)
        return tuple(
            joint
            for name, run in self.site.runs.items()
            for joint in joints_of(
                self.assembled(name),
                self.joining,
                reach[name],
                screwed=self.drawing.screwed(run),
            )
        )

    @cached_property
    def spare_joints(self) -> tuple[Joint, ...]:
        """Every joint of what fits a spare pump, but that with the line, which is there already."""
        return tuple(
            joint
            for spare in self.drawing.spares.values()
            for joint in spare_joints(
                self.catalog, self.joining, self.drawn(spare.line), spare.outlet, spare.chain
            )
        )

    def ends(self) -> Iterator[tuple[str, str, LineEnd]]:
        """Every built run's name with its "start" and "finish"."""
        for name, drawn in self.drawing.runs.items():
            if drawn.later:
                continue
            yield name, "start", drawn.start
            yield name, "finish", drawn.finish

    def adaptors(self, end: LineEnd) -> list[Adaptor]:
        """The adaptors between an end's opening and its pipe, stubs left out."""
        return [self.catalog.adaptors[part] for part in end.chain if part in self.catalog.adaptors]

    def siphons(self) -> Iterator[tuple[str, ThroughFloor, BellSiphon]]:
        """Every drain with a bell siphon: its name, its start, the siphon."""
        for name, drawn in self.drawing.runs.items():
            if drawn.floor is not None and drawn.floor.siphon is not None:
                yield name, drawn.floor, drawn.floor.siphon

    def drain_holes(self) -> Iterator[tuple[str, ThroughFloor, SideHole]]:
        """Every drain of a bed with a drain hole: its name, its start, the hole in its standpipe."""
        for name, drawn in self.drawing.runs.items():
            if drawn.floor is not None and drawn.floor.drain_hole is not None:
                yield name, drawn.floor, drawn.floor.drain_hole

    def timed_feeds(self) -> dict[str, str]:
        """The run that feeds each timed bed, by the bed."""
        timed = self.site.timed_beds()
        return {run.finish: run.name for run in self.pressure_runs() if run.finish in timed}

    def standpipe(self, name: str) -> Pipe:
        """The pipe of a floor outlet's standpipe."""
        floor, pipe = self.drawn(name).floor, self.pipe(name)
        return pipe if floor is None else floor.stood(self.catalog, pipe)

    def siphon_flow(self, name: str, water_m: float) -> float:
        """Flow of a drain that runs as a siphon [m3/s], its bed's water at a height above the datum [m].

        What joins it further down runs at its design flow meanwhile.
        """
        return min(self.falls.flow(path, water_m) for path in self.falls.paths if path[0] == name)

    def level(self, vessel: str) -> float:
        """Design water level above the datum [m]."""
        return self.drawing.levels[vessel].design_m

    def gravity_runs(self) -> list[Run]:
        """Every gravity run, in the order of the site."""
        return [run for run in self.site.runs.values() if run.kind is RunKind.GRAVITY]

    def pressure_runs(self) -> list[Run]:
        """Every pressure run, in the order of the site."""
        return [run for run in self.site.runs.values() if run.kind is RunKind.PRESSURE]

    @cached_property
    def gravity_paths(self) -> tuple[tuple[str, ...], ...]:
        """Every way by gravity from one vessel to the next."""
        return gravity_paths(self.site)

    @cached_property
    def falls(self) -> Falls:
        """Its ways down, each as far as its fall pulls."""
        return Falls(self)

    @cached_property
    def pressure_paths(self) -> tuple[tuple[str, ...], ...]:
        """Every way under pressure from a pump to a vessel."""
        return pressure_paths(self.site)

    def drive_level(self, vessel: str) -> float:
        """Level that drives a drain at its peak [m]: the water, or a bed's floor, for a bed empties to it."""
        place = self.site.vessels[vessel]
        return place.floor_m if place.kind is VesselKind.BED else self.level(vessel)

    def inlet_head(self, name: str, flow_m3_s: float) -> float:
        """Head [m] that a gravity run needs over its inlet's invert, or over its standpipe's lip."""
        drawn = self.drawn(name)
        if self.run(name).draw is Draw.STANDPIPE:
            return head_over_lip(self.catalog, drawn, flow_m3_s)
        return head_at_wall(self.catalog, self.site, drawn, flow_m3_s)

    def control_height(self, name: str) -> float:
        """Height of a gravity run's inlet invert, or its standpipe's lip, above the datum [m].

        Of one whose share is set by hand the edge as set, for its share of the water that the widest holds.
        """
        widest = next((outlets[0] for outlets in self._shared if name in outlets[1:]), None)
        if widest is None or trim_of(self.drawn(name)) is None:
            return self.drilled_height(name)
        level = self.drilled_height(widest) + self.inlet_head(widest, self.design_flow(widest))
        return level - self.inlet_head(name, self.design_flow(name))

    @cached_property
    def _shared(self) -> tuple[tuple[str, ...], ...]:
        """Drains of one vessel that part its water, the widest stream first."""
        return tuple(shared_outlets(self.site).values())

    def drilled_height(self, name: str) -> float:
        """The same height as drilled, whatever is set by hand [m]."""
        drawn = self.drawn(name)
        if drawn.lip_m is not None:
            return drawn.lip_m
        if not isinstance(drawn.start, Pierced) or drawn.start.centre_m is None:
            raise ValueError(f"{name}: a gravity run needs a hole")
        return drawn.start.centre_m - inlet_bore(self.catalog, drawn) / 2

    def standing_level(self, vessel: str, factor: float, *, clogged: bool = False) -> float:
        """Level [m] at which a vessel passes on `factor` x its design inflow, as `level_at`."""
        return self.level_at(vessel, self.flows_at(factor), clogged=clogged)

    def level_at(
        self,
        vessel: str,
        flows: Mapping[str, float],
        known: Mapping[str, float] | None = None,
        *,
        clogged: bool = False,
    ) -> float:
        """Level [m] at which a vessel passes its inflow on, at the given flows by run [m3/s].

        Vessels in `known` stand at the level given there [m], a pumped vessel at its drawn level. Elsewhere
        each outlet asks for a level of its own, either over its inlet or to push the flow down to the next
        vessel; the highest rules. With `clogged` no drain hole takes anything.
        """
        if known is not None and vessel in known:
            return known[vessel]
        if vessel in self.site.pumped_vessels():
            return self.level(vessel)
        asked: list[float] = []
        for path in self.falls.paths:
            first, last = path[0], self.run(path[-1]).finish
            if self.run(first).start != vessel:
                continue
            water = None
            if last in self.site.vessels:
                water = self.level_at(last, flows, known, clogged=clogged)
            asked.append(self.falls.against(path, flows, water) + self.path_loss(path, flows))
            asked.append(self._held_level(first, flows[first], clogged=clogged))
        return max(asked, default=self.level(vessel))

    def _held_level(self, name: str, flow_m3_s: float, *, clogged: bool) -> float:
        """Level [m] at which a gravity run's inlet, and its drain hole if not clogged, let in a flow."""
        drawn, control = self.drawn(name), self.control_height(name)
        if clogged or drawn.floor is None or drawn.floor.drain_hole is None:
            return control + self.inlet_head(name, flow_m3_s) + self._valve_rise(name, flow_m3_s)
        floor = self.site.vessels[self.run(name).start].floor_m
        return floor + held_depth(self.catalog, drawn, flow_m3_s, control - floor)

    def _valve_rise(self, name: str, flow_m3_s: float) -> float:
        """How much more a valve that sets a drain's share takes at a flow than at design [m]."""
        if not throttled(self.site, self.drawn(name)):
            return 0.0
        ratio = flow_m3_s / self.design_flow(name)
        return (self.control_height(name) - self.drilled_height(name)) * (ratio * ratio - 1.0)

    def receiving_level(self, path: Sequence[str], water_m: float) -> float:
        """What a path by gravity runs against at its end [m]: the water, or its crown if that is higher."""
        end = self.drawn(path[-1]).finish
        if not isinstance(end, AtVessel) or end.centre_m is None:
            return water_m
        return max(water_m, end.centre_m + self.pipe(path[-1]).outside_m / 2)

    def pump_curve(self, vessel: str) -> PumpCurve:
        """Curve of the drawn pump at its drawn speed, as far as the price list states it."""
        drawn = self.drawing.pumps[vessel]
        return PumpCurve(self.catalog.pumps[drawn.part].curve).at_speed(drawn.speed)

    def pump_flow(self, vessel: str) -> float:
        """Design flow that the pump in a vessel must deliver [m3/s]."""
        return sum(self.design_flow(run.name) for run in self.pressure_runs() if run.start == vessel)

    def overload_factor(self) -> float:
        """How many times the design flow the drains must survive."""
        if self.site.wishes.overload is Overload.FACTOR:
            return self.site.wishes.overload_factor
        return max(self._flat_out(vessel) for vessel in self.site.pumped_vessels())

    def _flat_out(self, vessel: str) -> float:
        """Flow of a pump that lifts to the lowest water it feeds and loses nothing, over its design flow."""
        ends = [path[-1] for path in self.pressure_paths if self.run(path[0]).start == vessel]
        lowest = min(self.site.vessels[self.run(end).finish].water_min_m for end in ends)
        lift = max(0.0, lowest - self.site.vessels[vessel].water_max_m)
        return max(1.0, self.pump_curve(vessel).carried_on().flow(lift) / self.pump_flow(vessel))

    def low_level(self, vessel: str) -> float:
        """Level of a pumped vessel with every bed that runs empty full at once [m]."""
        if vessel not in self._low:
            self._low[vessel] = self._with_beds_full(vessel)
        return self._low[vessel]

    def _with_beds_full(self, vessel: str) -> float:
        beds = [
            (bed.water_area_m2 * bed.bed.flood_m, floods_in_turn(bed.bed))
            for bed in self.site.vessels.values()
            if bed.bed is not None and bed.bed.by_turns and vessel in drained_to(self.site, bed.name)
        ]
        turning = sorted((held for held, turns in beds if turns), reverse=True)
        held = sum(held for held, turns in beds if not turns) + sum(turning[: self.site.wishes.beds_full])
        return self.level(vessel) - held / self.site.vessels[vessel].area_m2

    def inlet(self, name: str) -> AtVessel:
        """Where a pressure run meets the vessel that it feeds.

        Raises:
            ValueError: it ends elsewhere.
        """
        end = self.drawn(name).finish
        if not isinstance(end, AtVessel):
            raise ValueError(f"{name}: a pressure run needs a vessel to end in")
        return end

    def crest(self, name: str) -> float:
        """Top of the pipe where a pressure run enters its vessel, through the wall or over the rim [m]."""
        end = self.inlet(name)
        if end.centre_m is None:
            raise ValueError(f"{name}: a pressure run needs a finish height")
        return end.centre_m + self.pipe(name).outside_m / 2

    def discharge_height(self, name: str, water_m: float | None = None) -> float:
        """Height to which a pressure run must lift at its finish [m], at its vessel's level or another [m].

        Out of an air gap that is its crest. Over a rim and down under water the pipe runs full and the water
        counts (`over-rim-start`, `over-rim-fill`), through a wall under water too.
        """
        end, crest = self.inlet(name), self.crest(name)
        water = self.level(end.at) if water_m is None else water_m
        if end.guard is Guard.AIR_GAP:
            return crest
        return max(water, crest if self.drawn(name).rim is None else self.mouth_height(name))

    def draws_down_to(self, name: str) -> float:
        """Level to which a stopped pump lets the vessel behind it siphon back [m]; infinite for not at all.

        A hole lets air in once its lower edge is bare; an open mouth once it is bare itself.
        """
        rim = self.drawn(name).rim
        if self.inlet(name).guard is Guard.CHECK_VALVE:
            return math.inf
        if rim is not None and rim.air_hole_m is not None:
            return rim.air_hole_m - rim.air_hole_width_m / 2
        return self.mouth_height(name)

    def mouth_height(self, name: str) -> float:
        """Lowest water at which a pressure run's open end still draws [m]: where it could siphon back from.

        Over a rim the end of the piece that turns down, through a wall the bottom of the pipe.
        """
        rim, end = self.drawn(name).rim, self.inlet(name)
        if rim is not None and rim.mouth_m is not None:
            return rim.mouth_m
        if rim is not None or end.centre_m is None:
            raise ValueError(f"{name}: a pressure run needs the height of its mouth")
        return end.centre_m - self.pipe(name).outside_m / 2

    def drop(self, name: str) -> float:
        """How far a run turns down behind a rim that it crosses [m]; 0 where it crosses none."""
        rim = self.drawn(name).rim
        return 0.0 if rim is None else rim.drop_m

    def hangs(self, name: str) -> float:
        """How far the last turn and the piece below it reach down behind a rim as cut [m], 0 behind none.

        Of a line to come later nothing hangs yet.
        """
        drawn = self.drawn(name)
        if drawn.later or drawn.rim is None or drawn.rim.mouth_m is None:
            return 0.0
        turn, lengths = drawn.rim.corner, self._bench.lengths(self.pipe(name))
        if turn.bends:
            return self.drop(name)
        ends_in_pipe = self.assembled(name).items[-1].role == Role.PIPE
        return turn.takes_m(lengths) + sum(drawn.slots_m[-1]) if ends_in_pipe else turn.reach_m(lengths)

    def used_pipe(self) -> dict[str, list[float]]:
        """Pieces to cut of every pipe [m], stubs included.

        Rows of one pipe in other lengths count as one, under the row that is met first.
        """
        pieces: dict[str, list[float]] = {}
        named: dict[object, str] = {}
        for name, drawn in self.drawing.runs.items():
            cuts = [(drawn.pipe, piece) for piece in drawn.pieces_m]
            cuts += self.assembled(name).stubs()
            for pipe, piece in cuts:
                first = named.setdefault(self.catalog.pipes[pipe].family, pipe)
                pieces.setdefault(first, []).append(piece)
        for part in (part for spare in self.drawing.spares.values() for part in spare.chain):
            if part in self.catalog.pipes:
                first = named.setdefault(self.catalog.pipes[part].family, part)
                pieces.setdefault(first, []).append(stub_length(self.catalog, self.catalog.pipes[part]))
        return pieces
