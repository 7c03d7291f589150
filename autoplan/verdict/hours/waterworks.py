"""A finished drawing as basins and passages, ready to be walked through time.

What is taken on the safe side: drains that join run against each other as if all ran at once, down to each
place where air gets in as down to their end; a drain falls free only where its end stands over the water
below; water in pressure pipes runs back whole.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Container, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import accumulate

from autoplan.fittings.ends import AtVessel
from autoplan.fittings.floor import SideHole
from autoplan.hydraulics.basins import Basin, Channel, Waters
from autoplan.hydraulics.passage import (
    SHORTAGE_M,
    Drain,
    Fall,
    HeadTable,
    Pumped,
    SiphonFlow,
    hole_table,
    start_level,
    table_of,
)
from autoplan.line.water import foot_of, head_at_hole, inlet_bore, inlet_of
from autoplan.problem.flows import drained_to, pumped_from, running_drains
from autoplan.problem.site import Vessel, VesselKind
from autoplan.problem.standing import begins_at
from autoplan.rules.beds.crest_start import CrestStart
from autoplan.rules.beds.siphon_break import drain_fills
from autoplan.rules.beds.siphon_start import SiphonStart
from autoplan.rules.book import RuleBook, read_rules
from autoplan.rules.siphoned import breaking
from autoplan.rules.survey import Survey
from autoplan.rules.water.run_back import pipe_volume, runs_out

POINTS = 40
"""Points of a table of flow against head."""

FASTEST_M_S = 5.0
"""Velocity to which tables reach [m/s]; no garden drain runs faster."""

SLOWEST_SHARE = 0.002
"""The slowest point of a table over its fastest [-]."""


@dataclass(frozen=True, slots=True)
class PumpSupply:
    """What pumps deliver.

    Attributes:
        levels_m: by pumped vessel, rising levels of its water above the datum [m].
        flows_m3_s: by pumped vessel and the vessel that the water goes to (None for outside), the flow at
            each of those levels [m3/s].
    """

    levels_m: Mapping[str, tuple[float, ...]]
    flows_m3_s: Mapping[str, Mapping[str | None, tuple[float, ...]]]

    def passages(self, covers_m: Mapping[str, float]) -> list[Channel]:
        """A link per outlet, each fading as its pump loses cover [m above the datum]."""
        return [
            Channel(
                f"pump in {vessel} to {target or 'outside'}",
                vessel,
                target,
                Pumped(self.levels_m[vessel], flows, covers_m[vessel]),
            )
            for vessel, outlets in self.flows_m3_s.items()
            for target, flows in outlets.items()
            if max(flows) > 0.0
        ]


@dataclass(frozen=True, slots=True)
class BedSiphon:
    """A siphon on a bed's drain, under a bell or outside.

    Attributes:
        start_m3_s: flow over its lip from which it primes [m3/s]; infinite for one that never does.
        cut_out_m: the bell's cut-outs, or the mouth of the air tube, above the datum, where it breaks [m].
        stops: whether it ever breaks.
    """

    start_m3_s: float
    cut_out_m: float
    stops: bool = True


def bed_siphons(survey: Survey, book: RuleBook | None = None) -> dict[str, BedSiphon]:
    """The drawn siphons by the name of their drain.

    Args:
        survey: the drawing measured.
        book: the rules, whose `siphon-start` and `crest-start` say when one starts; by default the
            problem's.
    """
    settings = (book or read_rules(survey.site)).settings
    limit, crest = SiphonStart(settings[SiphonStart.id]), CrestStart(settings[CrestStart.id])
    flared = {name: siphon.flare is not None for name, _, siphon in survey.siphons()}
    found = {}
    for name, bed, depth in breaking(survey):
        bore = survey.standpipe(name).bore_m
        start = limit.starts_from(bore, flared=flared[name]) if name in flared else crest.starts_from(bore)
        found[name] = BedSiphon(start, survey.site.vessels[bed].floor_m + depth)
    return found


class Waterworks:
    """Basins and passages of a drawing.

    Args:
        survey: the drawing measured.
        siphons: bell siphons by the name of the drain that they stand on.
    """

    def __init__(self, survey: Survey, siphons: Mapping[str, BedSiphon]) -> None:
        self.survey = survey
        self.site = survey.site
        self.pumped = self.site.pumped_vessels()
        self.siphons = siphons
        self._passages: dict[tuple[object, ...], Drain | SiphonFlow] = {}
        self._holds: dict[tuple[str, float], HeadTable] = {}

    @cached_property
    def basins(self) -> tuple[Basin, ...]:
        """A basin per vessel; a bed's gravel takes its share of the volume up to the rim."""
        return tuple(_basin(vessel) for vessel in self.site.vessels.values())

    @cached_property
    def paths(self) -> dict[tuple[str, ...], Drain]:
        """Every way by gravity from vessel to vessel as a plain drain, by the names of its runs."""
        return {path: self._drain(path) for path in (*self.survey.gravity_paths, *self.overflows)}

    @cached_property
    def overflows(self) -> tuple[tuple[str, ...], ...]:
        """The emergency overflows, each a way of one run."""
        return tuple((run.name,) for run in self.survey.gravity_runs() if run.overflow)

    def drains(
        self,
        open_share: Mapping[str, float] | None = None,
        siphons: Mapping[str, BedSiphon] | None = None,
        clogged: Collection[str] = (),
        apart: Collection[str] = (),
    ) -> list[Channel]:
        """The drains as they are, or with a few things otherwise.

        Args:
            open_share: share of their flow that blocked runs still pass [-].
            siphons: siphons that behave otherwise, by drain.
            clogged: drains whose drain holes let nothing through.
            apart: runs that came apart outside, where they leave their vessel or junction: only the inlet
                throttles what then runs out. One that is shut at its other end runs out as well, and one that
                dips below the water at its end lets that out, down to its mouth or where it lies lowest.
        """
        shares, others = open_share or {}, {**self.siphons, **(siphons or {})}
        found = []
        for path in self.paths:
            share = min(shares.get(run, 1.0) for run in path)
            lost = any(run in apart for run in path)
            passage = self._passage(path, share, others.get(path[0]), clogged=path[0] in clogged, lost=lost)
            start, finish = self.survey.run(path[0]).start, self.survey.run(path[-1]).finish
            found.append(Channel(link_name(path), start, None if lost else finish, passage))
        shut = [run for run in apart if self.survey.run(run).waste]
        back = (self._back_out(run) for run in apart)
        return [*found, *(self._running_out(run) for run in shut), *(out for out in back if out is not None)]

    def _passage(
        self, path: tuple[str, ...], open_share: float, siphon: BedSiphon | None, *, clogged: bool, lost: bool
    ) -> Drain | SiphonFlow:
        """A way by gravity as it is in some fault, put together once for all nights that have it."""
        asked = path, open_share, siphon, clogged, lost
        if asked not in self._passages:
            drain = replace(self.paths[path], open_share=open_share)
            if clogged:
                drain = replace(drain, foot=None)
            if lost:
                drain = replace(drain, line=None, stretches=())
            if lost and self.survey.drawn(path[0]).outside is not None:
                drain, siphon = self._without_crest(path[0], drain), None
            self._passages[asked] = drain if siphon is None else self._siphon(path, drain, siphon)
        return self._passages[asked]

    def _without_crest(self, run: str, drain: Drain) -> Drain:
        """A siphon pipe outside that came apart at its bed's wall: nothing holds the water but its hole."""
        survey, drawn = self.survey, self.survey.drawn(run)
        start = inlet_of(drawn)
        assert start.centre_m is not None
        hole = table_of(lambda flow: head_at_hole(survey.catalog, drawn, flow), self._flows(run))
        return replace(drain, inlet=hole, control_m=start.centre_m - inlet_bore(survey.catalog, drawn) / 2)

    def _back_out(self, run: str) -> Channel | None:
        """What siphons out of the vessel that a drain hangs into, come apart where it lies lowest outside.

        None where it hangs free of the water, or lies higher all along; or where its legs were measured, of
        which nobody knows the heights.
        """
        drawn, asked = self.survey.drawn(run), self.survey.run(run)
        rim, start = drawn.rim, drawn.start
        begins = begins_at(self.site, asked)
        if begins is None and isinstance(start, AtVessel):
            begins = start.centre_m
        if rim is None or rim.mouth_m is None or asked.plan is None or begins is None:
            return None
        lowest = min(accumulate((leg.rise_m for leg in drawn.legs), initial=begins))
        bottom = max(rim.mouth_m, lowest)
        if bottom >= self.site.vessels[rim.at].water_max_m:
            return None
        out = Drain(hole_table(self.survey.pipe(run).bore_m), bottom, None, -math.inf)
        return Channel(f"back out of {run}", rim.at, None, out)

    def _running_out(self, run: str) -> Channel:
        """What runs out of a drain that carries nothing otherwise, with its start come apart."""
        opened = replace(self._drain((run,)), line=None, stretches=())
        return Channel(run, self.survey.run(run).start, None, opened)

    def running_back(self, failed: Container[str] = ()) -> list[Channel]:
        """Ways back to a pump that stands still, through outlets that end under water.

        Args:
            failed: inlets whose check valve is stuck open, or whose siphon-break hole is blocked.
        """
        found = []
        for path in self.survey.pressure_paths:
            end, bottom = self.survey.drawn(path[-1]).finish, self.survey.draws_down_to(path[-1])
            if path[-1] in failed:
                bottom = self.survey.mouth_height(path[-1])
            if bottom < self.survey.site.vessels[end.at].rim_m:
                flows = self._flows(path[-1])
                # Air gets in as the water comes down to the mouth.
                mouth = HeadTable((SHORTAGE_M / 2, SHORTAGE_M), (flows[-1] / 2, flows[-1]))
                back = Drain(mouth, bottom, table_of(self._loss_back(path), flows), -math.inf)
                pumped = self.survey.run(path[0]).start
                found.append(Channel(f"back through {link_name(path)}", end.at, pumped, back))
        return found

    @cached_property
    def covers_m(self) -> dict[str, float]:
        """Level under which each pump draws air [m]."""
        return {name: self.site.vessels[name].floor_m + self.needed_cover(name) for name in self.pumped}

    @cached_property
    def needed_m(self) -> dict[str, float]:
        """Level that each pumped vessel is to keep [m]: its pump's cover, the lowest water of a fish tank."""
        fish = {name: self.site.vessels[name].water_min_m for name in self.fish_tanks}
        return {name: max(cover, fish.get(name, cover)) for name, cover in self.covers_m.items()}

    @cached_property
    def fish_tanks(self) -> tuple[str, ...]:
        """The vessels that fish live in."""
        return tuple(v.name for v in self.site.vessels.values() if v.kind is VesselKind.TANK)

    def needed_cover(self, vessel: str) -> float:
        """Water over the floor that the pump in a vessel needs [m]; never less than its flow fades over."""
        return max(SHORTAGE_M, self.survey.catalog.pumps[self.survey.drawing.pumps[vessel].part].cover_m)

    def as_designed(self) -> PumpSupply:
        """Every outlet at its design flow."""
        flows: dict[str, dict[str | None, tuple[float, ...]]] = {vessel: {} for vessel in self.pumped}
        for path in self.survey.pressure_paths:
            outlets = flows[self.survey.run(path[0]).start]
            last = self.survey.run(path[-1])
            (before,) = outlets.get(last.finish, (0.0,))
            outlets[last.finish] = (before + self.survey.design_flow(last.name),)
        return PumpSupply(dict.fromkeys(self.pumped, (0.0,)), flows)

    def at_design(self, filled: Mapping[str, float] | None = None) -> Waters:
        """The water as drawn: every level at design, beds empty that ever are.

        Args:
            filled: share of its flood that each of some beds holds [-], taken from the pumped vessels.
        """
        shares = filled or {}
        volumes, in_beds = {}, 0.0
        for basin in self.basins:
            vessel = self.site.vessels[basin.name]
            volumes[basin.name] = basin.volume(self.survey.level(basin.name))
            if vessel.bed is not None and vessel.bed.by_turns:
                volumes[basin.name] = shares.get(basin.name, 0.0) * vessel.bed.flood_m * basin.wet_m2
                in_beds += volumes[basin.name]
        area = sum(self.site.vessels[name].area_m2 for name in self.pumped)
        for name in self.pumped:
            volumes[name] -= in_beds * self.site.vessels[name].area_m2 / area
        return Waters(volumes)

    @cached_property
    def in_pipes_m3(self) -> dict[str, float]:
        """Water in pipes that runs back to each pumped vessel when the power fails [m3].

        That is what the pressure pipes behind its pump hold, and its part of what runs out of drains.
        """
        held = dict.fromkeys(self.pumped, 0.0)
        for name, vessel in pumped_from(self.site).items():
            held[vessel] += pipe_volume(self.survey, name)
        for name in running_drains(self.site):
            below = drained_to(self.site, self.survey.run(name).finish)
            for vessel in below:
                held[vessel] += runs_out(self.survey, name) / len(below)
        return held

    def _loss_back(self, path: Sequence[str]) -> Callable[[float], float]:
        """Head [m] that a flow [m3/s] back through one outlet alone needs, its check valve open."""
        return lambda flow: self.survey.path_loss(path, dict.fromkeys(path, flow), held_open=True)

    def _drain(self, path: tuple[str, ...]) -> Drain:
        survey, first = self.survey, path[0]
        peaks = survey.drain_flows()
        # A drain that no water is meant for is measured with as much in every run.
        own = peaks[first] or 1.0
        flows = self._flows(first)

        def at(flow: float) -> dict[str, float]:
            return {name: (peak or 1.0) * flow / own for name, peak in peaks.items()}

        def loss(flow: float) -> float:
            return survey.path_loss(path, at(flow))

        def stretch(part: tuple[str, ...]) -> Fall:
            crown = survey.falls.against(part, dict.fromkeys(peaks, 0.0))

            def needed(flow: float) -> float:
                return survey.path_loss(part, at(flow)) + survey.falls.against(part, at(flow)) - crown

            return Fall(table_of(needed, flows), crown)

        end = survey.drawn(path[-1]).finish
        centre = end.centre_m if isinstance(end, AtVessel) else None
        against = -math.inf if centre is None else centre + survey.pipe(path[-1]).outside_m / 2
        foot = self._foot(first)
        return Drain(
            inlet=table_of(lambda flow: survey.inlet_head(first, flow), flows),
            control_m=survey.control_height(first),
            line=table_of(loss, flows),
            against_m=against,
            foot=None if foot is None else hole_table(foot.hole_m),
            foot_m=math.inf if foot is None else self._floor(first) + foot.height_m - foot.hole_m / 2,
            stretches=tuple(
                stretch(part) for part in survey.falls.paths if part != path and part == path[: len(part)]
            ),
        )

    def _foot(self, run: str) -> SideHole | None:
        """The drain hole in a drain's standpipe."""
        floor = self.survey.drawn(run).floor
        return None if floor is None else floor.drain_hole

    def _floor(self, run: str) -> float:
        """Floor of the vessel that a drain starts from [m]."""
        return self.site.vessels[self.survey.run(run).start].floor_m

    def _flows(self, run: str) -> list[float]:
        """Flows at which a run's table is worked out [m3/s]."""
        bore = self.survey.pipe(run).bore_m
        most = FASTEST_M_S * math.pi / 4 * bore * bore
        return [most * SLOWEST_SHARE ** (1 - step / (POINTS - 1)) for step in range(POINTS)]

    def _siphon(self, path: tuple[str, ...], drain: Drain, siphon: BedSiphon) -> SiphonFlow:
        """A drain that is a siphon: its whole fall drives it once it runs, down to where air comes in."""
        run = path[0]
        floor = self._floor(run)
        start = math.inf
        if drain.inlet is not None and math.isfinite(siphon.start_m3_s):
            start = start_level(drain.inlet, drain.control_m, siphon.start_m3_s)
        return SiphonFlow(
            trickle=drain,
            primed=replace(drain, inlet=self._hold(run, siphon.cut_out_m - floor), control_m=floor),
            start_m=start,
            stop_m=siphon.cut_out_m if siphon.stops else -math.inf,
        )

    def _hold(self, run: str, cut_out_m: float) -> HeadTable:
        """What a primed standpipe passes at most by the depth of water over the floor, worked out once.

        Where the drain below does not fill, only that depth drives it. Where it does, nothing limits it
        down to the cut-outs, under which it loses its hold.
        """
        asked = run, cut_out_m
        if asked not in self._holds:
            self._holds[asked] = self._held(run, cut_out_m)
        return self._holds[asked]

    def _held(self, run: str, cut_out_m: float) -> HeadTable:
        survey, flows = self.survey, self._flows(run)
        drawn = survey.drawn(run)
        if not drain_fills(survey, run):
            vessel = self.site.vessels[drawn.start.at]
            line = foot_of(survey.catalog, drawn, vessel)
            return table_of(lambda flow: line.loss(flow, survey.water), flows)
        return HeadTable((cut_out_m / 2, cut_out_m), (flows[-1] / 2, flows[-1]))


def link_name(path: Sequence[str]) -> str:
    """A way by gravity or under pressure, named by its runs."""
    return " + ".join(path)


def _basin(vessel: Vessel) -> Basin:
    return Basin(vessel.name, vessel.area_m2, vessel.floor_m, vessel.rim_m, vessel.water_share)
