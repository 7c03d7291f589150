"""A finished site, validated and frozen: every choice made. SI floats throughout; no files, no units text.

Heights are metres above one datum for the whole site, so that two levels can be subtracted.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum

from autoplan.problem.brief import AirWish, Assumption, Brief, HandPumpWish, Mouth
from autoplan.problem.weep import WeepHole


class VesselKind(StrEnum):
    """What a vessel is for; decides which rules speak about it."""

    TANK = "tank"
    SETTLER = "settler"
    BIOFILTER = "biofilter"
    BED = "bed"
    SUMP = "sump"
    HEADER = "header"


class RunKind(StrEnum):
    """Whether gravity or a pump moves the water in a run."""

    GRAVITY = "gravity"
    PRESSURE = "pressure"


class Draw(StrEnum):
    """From where in its vessel a gravity run takes water."""

    WALL = "wall"
    SOLIDS_LIFTING = "solids-lifting"
    STANDPIPE = "standpipe"
    OUTSIDE = "outside siphon"


class BedDrain(StrEnum):
    """How a bed lets its water go."""

    SIPHON = "siphon"
    STANDPIPE = "standpipe"
    TIMER = "timer"
    WEEP = "weep hole"
    OUTSIDE = "outside siphon"


class BellOf(StrEnum):
    """What the bells of a bed's siphon may be made of."""

    PIPE = "pipe"
    BOTTLE = "bottle"
    ANY = "any"


class Entry(StrEnum):
    """How a pressure run may enter its vessel."""

    ANY = "any"
    OVER_RIM = "over the rim"
    WALL = "wall"


class Guard(StrEnum):
    """What keeps a vessel from siphoning back through a pressure inlet when its pump stops.

    Air gap: the inlet opens above the highest water. Hole: a siphon-break hole in the upright just under the
    running water. Check valve: on the leg, which may then open under water.
    """

    ANY = "any"
    AIR_GAP = "air gap"
    HOLE = "hole"
    CHECK_VALVE = "check valve"


class OverflowOffer(StrEnum):
    """When an emergency overflow is built that the builder leaves to the program."""

    IF_NEEDED = "if needed"
    ANY = "any"


class Arrangement(StrEnum):
    """How the short form's vessels stand to each other.

    Parallel: a pump in the sump feeds tank and beds side by side. Series: it feeds the tank, whose water
    falls through the filters to the beds and on to the sump. No sump: a pump in the tank feeds the beds,
    which fall back to it.
    """

    PARALLEL = "parallel"
    SERIES = "series"
    NO_SUMP = "no sump"


@dataclass(frozen=True, slots=True)
class BedTimer:
    """How a timer floods a bed: the feed is open for a part of each cycle, a hole drains it in the rest.

    Attributes:
        on_s: time that the valve is open in each cycle [s].
        hole_m: diameter of the drain hole in the standpipe's side [m].
        height_m: its centre above the bed's floor [m].
        inflow_m3_s: flow of the open feed: a flood in the time there is, and what leaks by the hole [m3/s].
    """

    on_s: float
    hole_m: float
    height_m: float
    inflow_m3_s: float


@dataclass(frozen=True, slots=True)
class BedWater:
    """The water side of a grow bed.

    Attributes:
        flood_m: depth of water above the bed's floor when full [m].
        void_fraction: share of the wet volume that is water [-].
        floods_per_s: wished floods [1/s].
        drain_peak: drain flow while emptying, as a multiple of the bed's inflow [-].
        drain: a siphon that floods and empties it in turn, under a bell or a pipe outside; a standpipe that
            keeps it full, or one with a hole at its foot: with a timer on the feed, or fed all the time.
        floods_range: least and most floods wished [1/s], where the program may choose between; `floods_per_s`
            is then a place in it.
        timer: set where a timer floods it.
        bell: what its siphon's bell may be made of; pipe is one bought ready-made too.
        weep: set where it stands full while it is fed and runs empty by a hole in its standpipe.
    """

    flood_m: float
    void_fraction: float
    floods_per_s: float
    drain_peak: float
    drain: BedDrain = BedDrain.STANDPIPE
    floods_range: tuple[float, float] | None = None
    timer: BedTimer | None = None
    bell: BellOf = BellOf.PIPE
    weep: WeepHole | None = None

    @property
    def siphon(self) -> bool:
        """Whether a siphon empties it, under a bell or outside."""
        return self.drain in (BedDrain.SIPHON, BedDrain.OUTSIDE)

    @property
    def by_turns(self) -> bool:
        """Whether it runs empty, in turn or with the pump off, and does not stand full for good."""
        return self.drain is not BedDrain.STANDPIPE

    @property
    def hole(self) -> BedTimer | WeepHole | None:
        """The hole in its standpipe by which it runs empty."""
        return self.timer or self.weep

    @property
    def cycle_s(self) -> float:
        """Time from one wished flood to the next [s]."""
        return 1.0 / self.floods_per_s

    def flood_volume_m3(self, area_m2: float) -> float:
        """Water moved per flood [m3]: void fraction x area x flood depth."""
        return self.void_fraction * area_m2 * self.flood_m


@dataclass(frozen=True, slots=True)
class Spot:
    """Where something is on the plan.

    Attributes:
        x_m, y_m: its middle, from a point that the builder chose [m].
        facing_deg: from the direction of x to that of its length [degrees].
        length_m: inside length of a square vessel [m]; None for one that is as long as wide.
    """

    x_m: float
    y_m: float
    facing_deg: float = 0.0
    length_m: float | None = None


@dataclass(frozen=True, slots=True)
class Vessel:
    """A container of water standing on the site.

    Attributes:
        name: unique on the site, also against junctions.
        kind: see `VesselKind`.
        floor_m: inside floor above the datum [m].
        depth_m: inside depth, floor to rim [m].
        area_m2: water surface [m2]; the walls are taken as upright.
        wall_m: thickness of the wall [m].
        base_m: thickness of the floor [m].
        curved: whether the wall curves (a round tank) or is flat.
        water_min_m, water_max_m: range in which the design water level may lie, above the datum [m].
        turnover_volume_m3: volume that `turnover_per_s` multiplies [m3].
        turnover_per_s: least inflow as a share of the volume [1/s]; 0 for no demand of its own.
        bed: set for a bed, else None.
        uncertain_m: by how much its height may turn out otherwise [m]: stands settle, levels are guessed.
        part: id of the row of the price list that it is bought as; None if it is there already.
        spare: whether it is a bed to come later, which all else is sized for.
        spot: where it stands on the plan, if that is known.
        ground_m: the ground beside it above the datum [m].
        cover: whether a lid lies on it that a child can neither lift nor fall through.
        cone_m: how far a cone reaches down below its floor, from whose tip its waste leaves [m]; 0 for none.
        top_up_m3_s: what a float valve lets into it at most to make up for what is lost [m3/s]; 0 for none.
    """

    name: str
    kind: VesselKind
    floor_m: float
    depth_m: float
    area_m2: float
    wall_m: float
    base_m: float
    curved: bool
    water_min_m: float
    water_max_m: float
    turnover_volume_m3: float = 0.0
    turnover_per_s: float = 0.0
    bed: BedWater | None = None
    uncertain_m: float = 0.0
    part: str | None = None
    spare: bool = False
    spot: Spot | None = None
    ground_m: float = 0.0
    cover: bool = False
    cone_m: float = 0.0
    top_up_m3_s: float = 0.0

    @property
    def rim_m(self) -> float:
        """Rim above the datum [m]."""
        return self.floor_m + self.depth_m

    @property
    def lowest_m(self) -> float:
        """Where its sludge comes to above the datum [m]: its floor, or the tip of its cone."""
        return self.floor_m - self.cone_m

    @property
    def radius_m(self) -> float:
        """From its middle to the wall [m], as of a round one."""
        return math.sqrt(self.area_m2 / math.pi)

    @property
    def half_outside_m(self) -> tuple[float, float]:
        """Half its length and half its width with the walls [m]; of a round one twice its radius."""
        if self.curved:
            return (self.radius_m + self.wall_m,) * 2
        length = self.spot.length_m if self.spot is not None else None
        if length is None:
            length = math.sqrt(self.area_m2)
        return length / 2 + self.wall_m, self.area_m2 / length / 2 + self.wall_m

    @property
    def water_depth_m(self) -> float:
        """Highest design water over its floor [m]."""
        return self.water_max_m - self.floor_m

    @property
    def least_depth_m(self) -> float:
        """Lowest design water over its floor [m]."""
        return self.water_min_m - self.floor_m

    @property
    def water_share(self) -> float:
        """Share of its room that is water [-]: of a bed only the voids."""
        return 1.0 if self.bed is None else self.bed.void_fraction

    @property
    def water_area_m2(self) -> float:
        """Area that the water has as it rises and falls [m2]."""
        return self.area_m2 * self.water_share

    @property
    def flood_m3(self) -> float:
        """Water moved per flood of a bed [m3]; nothing else floods."""
        return 0.0 if self.bed is None else self.bed.flood_volume_m3(self.area_m2)

    def held_m3(self, level_m: float) -> float:
        """Room under a level above the datum [m3], in a bed the gravel's too."""
        return (level_m - self.floor_m) * self.area_m2

    @property
    def demand_m3_s(self) -> float:
        """Inflow that the vessel itself asks for [m3/s]."""
        if self.bed is not None and self.bed.timer is not None:
            return self.bed.timer.inflow_m3_s
        if self.bed is not None:
            leak = 0.0 if self.bed.weep is None else self.bed.weep.leak_m3_s
            return self.flood_m3 * self.bed.floods_per_s + leak
        return self.turnover_volume_m3 * self.turnover_per_s


@dataclass(frozen=True, slots=True)
class OnPlan:
    """How a line goes on the plan; its uprights follow from the heights of its ends.

    Attributes:
        level_m: level distances from corner to corner [m], from the outside of one wall to that of the next;
            one more than there are corners.
        corners: change of direction between neighbouring level legs [degrees].
        height_m: centre of the pipe where it runs above the datum [m]; None for the height of its finish.
        along: vessel that it keeps its height to, where the vessel is moved; "" for none.
    """

    level_m: tuple[float, ...]
    corners: tuple[int, ...] = ()
    height_m: float | None = None
    along: str = field(default="", compare=False)

    @property
    def distance_m(self) -> float:
        """All of its level distance [m]."""
        return sum(self.level_m)


@dataclass(frozen=True, slots=True)
class Run:
    """One pipe line between two vessels or junctions.

    Attributes:
        name: unique on the site.
        start, finish: names of vessels or junctions, in the direction of flow.
        kind: gravity or pressure.
        legs_m: straight pieces in order [m], as measured; one more than there are turns. None where the line
            is known on the plan.
        turns: change of direction between neighbouring legs [degrees], 45 or 90.
        run_class: runs of one class share pipe, size, turn style, valve and penetrations.
        valve: whether the run carries a balancing valve.
        draw: where a gravity run takes its water (start is a vessel).
        entry: how a pressure run may enter its vessel (finish is a vessel).
        share: share of the start vessel's outflow that this gravity run takes, or None to split evenly
            what is left.
        overflow: whether it is an emergency overflow, which carries nothing unless every other drain of its
            vessel is blocked.
        offered: whether that overflow is only built where there is no design without it, or where it comes
            to less than doing without; None for one that is built. No `Site` has one that is not built.
        screen: whether a screen on its inlet keeps fish or media out of it.
        fry: whether that is to hold back fry.
        waste: whether it is a waste drain, from the foot of a vessel's wall to an open end, its valve shut
            but to flush.
        spare: whether it belongs to a bed to come later: of its feed only the capped start is built.
        siphon_back: how a pressure run's vessel is kept from siphoning back through it.
        vent_m: top above the datum [m] of the open pipe that stands on the start of a drain and lets air into
            it; None for no such pipe.
        plan: how it goes on the plan; None where its legs were measured.
        mouth: how it hangs where it ends over a rim; None for as wished of the whole site (`mouth_of`).
    """

    name: str
    start: str
    finish: str
    kind: RunKind
    legs_m: tuple[float, ...]
    turns: tuple[int, ...]
    run_class: str
    valve: bool = False
    draw: Draw = Draw.WALL
    entry: Entry = Entry.ANY
    share: float | None = None
    overflow: bool = False
    screen: bool = False
    fry: bool = False
    waste: bool = False
    spare: bool = False
    siphon_back: Guard = Guard.AIR_GAP
    vent_m: float | None = None
    plan: OnPlan | None = None
    offered: OverflowOffer | None = None
    mouth: Mouth | None = None

    @property
    def idle(self) -> bool:
        """Whether it carries no water at design."""
        return self.overflow or self.waste

    @property
    def length_m(self) -> float:
        """Length of all measured legs, or the level distance on the plan [m]."""
        return sum(self.legs_m) if self.plan is None else self.plan.distance_m


@dataclass(frozen=True, slots=True)
class Junction:
    """A point where three runs meet (or two, where only the size may change), or the open end of one.

    Attributes:
        name: unique on the site.
        open_m: height of an open end above the datum [m]; None where runs meet.
        height_m: height of the tee where runs meet above the datum [m], where it is known.
        spot: where it is on the plan, if that is known.
        at_once, along: how many beds that drain by it may run empty at once, None for all; as of `OnPlan`.
    """

    name: str
    open_m: float | None = None
    height_m: float | None = None
    spot: Spot | None = None
    at_once: int | None = None
    along: str = field(default="", compare=False)

    @property
    def at_m(self) -> float | None:
        """Its height above the datum [m], where it is known."""
        return self.height_m if self.open_m is None else self.open_m


@dataclass(frozen=True, slots=True)
class Flow:
    """Flow in one run [m3/s]: at design, and the most it must carry as a gravity drain (peak >= design).

    An overflow carries 0 at design and at its peak all that its vessel gets at design.
    """

    design_m3_s: float
    peak_m3_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Site(Brief):
    """A problem with every choice made: what stands where, how large it is, and what must flow.

    Attributes:
        vessels, junctions, runs: in the order of the file; never iterate over a set of them.
        flows: design and peak flow by run name.
        air: what is wished of air, or None.
        hand_pumps: vessels whose waste is pumped out by hand.
        assumptions: every value the builder did not give.
    """

    vessels: Mapping[str, Vessel]
    junctions: Mapping[str, Junction]
    runs: Mapping[str, Run]
    flows: Mapping[str, Flow]
    air: AirWish | None = None
    hand_pumps: tuple[HandPumpWish, ...] = ()
    assumptions: tuple[Assumption, ...] = ()

    def assuming(self, *more: Assumption) -> Site:
        """The site with more that was assumed."""
        return replace(self, assumptions=(*self.assumptions, *more))

    def drilled_beds(self) -> dict[str, BedTimer | WeepHole]:
        """The beds with a hole in their standpipes, in the order of the file."""
        beds = {name: vessel.bed for name, vessel in self.vessels.items() if vessel.bed is not None}
        return {name: bed.hole for name, bed in beds.items() if bed.hole is not None}

    def timed_beds(self) -> dict[str, BedTimer]:
        """Those of them that a timer floods."""
        return {name: hole for name, hole in self.drilled_beds().items() if isinstance(hole, BedTimer)}

    def weep_beds(self) -> dict[str, WeepHole]:
        """Those of them that are fed all the time."""
        return {name: hole for name, hole in self.drilled_beds().items() if isinstance(hole, WeepHole)}

    def tanks(self) -> tuple[str, ...]:
        """Every fish tank, in the order of the file."""
        return tuple(name for name, vessel in self.vessels.items() if vessel.kind is VesselKind.TANK)

    def classes(self) -> dict[str, tuple[Run, ...]]:
        """Runs by class, both in the order of the file."""
        grouped: dict[str, list[Run]] = {}
        for run in self.runs.values():
            grouped.setdefault(run.run_class, []).append(run)
        return {name: tuple(members) for name, members in grouped.items()}

    def guards(self, run: Run) -> tuple[Guard, ...]:
        """What may keep a pressure run's vessel from siphoning back through it.

        Only an air gap where the water goes up and down: in a bed, or where a pump draws.
        """
        vessel = self.vessels.get(run.finish)
        if vessel is None or vessel.bed is not None or run.finish in self.pumped_vessels():
            return (Guard.AIR_GAP,)
        every = (Guard.AIR_GAP, Guard.HOLE, Guard.CHECK_VALVE)
        return every if run.siphon_back is Guard.ANY else (run.siphon_back,)

    def mouth_of(self, run: Run) -> Mouth:
        """How a run hangs where it ends over a rim: free, unless it is a drain that may hang under water.

        That is one on the plan to a vessel that holds water all the time, which a bed does not.
        """
        vessel = self.vessels.get(run.finish)
        if run.kind is not RunKind.GRAVITY or run.plan is None or vessel is None or vessel.bed is not None:
            return Mouth.FREE
        return run.mouth or self.wishes.mouth

    def pumped_vessels(self) -> tuple[str, ...]:
        """Vessels from which a pressure run starts: one pump each, in the order of the file."""
        starts = {run.start for run in self.runs.values() if run.kind is RunKind.PRESSURE}
        return tuple(name for name in self.vessels if name in starts)
