"""How a pressure run ends in its vessel: over the rim with an air gap, or guarded and under water."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from autoplan.catalog.parts import Pipe, Way
from autoplan.fittings.ends import AtVessel
from autoplan.fittings.lengths import Lengths
from autoplan.fittings.rim import OverRim
from autoplan.hydraulics.drain_hole import DRILL_M
from autoplan.hydraulics.fittings import entrance_k
from autoplan.hydraulics.gravity import part_full_inlet_head
from autoplan.optimiser.options.making import Making
from autoplan.problem.flows import drained_to, pumped_from
from autoplan.problem.site import Guard, RunKind, Site, Vessel
from autoplan.problem.standing import RIM_CLEARANCE_M
from autoplan.rules.asked import Guarded
from autoplan.rules.balance import flood_drawdown
from autoplan.rules.base import Given
from autoplan.rules.book import RuleBook
from autoplan.rules.candidate import Place
from autoplan.units import TENTH_MM, tenth_mm_down, tenth_mm_up

WHOLE_M = 1e-3

OFF_FLOOR_M = 0.05
"""From the floor to a mouth that opens down under water, at least; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Inlets:
    """Heights at inlets [m], by the rules' settings.

    Attributes:
        freeboard_m: dry wall at overload.
        air_gap_m: from the water then up to an inlet's mouth.
        free_m: the same to the mouth of a drain.
        depth_m: from the running water down to the centre of a siphon-break hole.
        least_m, share: least width of that hole, and that as a share of the bore [-].
        cover_m: from its lower edge down to the mouth.
        drowned_m: from the lowest water down to a drain's mouth that hangs under it.
        off_floor_m: from the floor up to that mouth, at least.
    """

    freeboard_m: float
    air_gap_m: float
    free_m: float
    depth_m: float
    least_m: float
    share: float
    cover_m: float
    drowned_m: float
    off_floor_m: float

    @classmethod
    def by(cls, book: RuleBook) -> Inlets:
        """By the settings of a rule book."""
        return cls(
            book.given(Given.FREEBOARD),
            book.given(Given.AIR_GAP),
            book.given(Given.FREE_OUTLET),
            book.given(Given.AIR_HOLE_DEPTH),
            book.given(Given.AIR_HOLE),
            book.given(Given.AIR_HOLE_SHARE),
            book.given(Given.AIR_HOLE_COVER),
            book.given(Given.MOUTH_DEPTH),
            book.given(Given.MOUTH_OFF_FLOOR),
        )

    def over_rim(
        self, vessel: Vessel, end: OverRim, lengths: Lengths, at_m: float | None = None, *, drain: bool
    ) -> OverRim | None:
        """An inlet over a rim; None where there is no room for its mouth under water.

        With an air gap by a bare turn, its mouth a gap over the most that the wall may hold. Where the turn
        reaches further down than that, the crest goes higher: a builder would sooner lift the water those few
        millimetres than let the mouth hang in it. A guarded one is drawn for the lowest water, where it hangs
        longest. A line that runs higher than the crest asks for goes over at its own height (`at_m`).
        """
        pipe, reach = lengths.pipe, end.corner.reach_m(lengths)
        lowest = over_rim_m(vessel, pipe)
        if at_m is not None and at_m >= lowest:
            lowest = at_m
        if end.guard is Guard.AIR_GAP:
            gap = self.free_m if drain else self.air_gap_m
            mouth = tenth_mm_up(vessel.rim_m - self.freeboard_m + gap) * TENTH_MM
            crest = max(lowest, mouth + reach)
            hangs = end.corner.bends or crest - reach - mouth > lengths.stub
            return replace(end, centre_m=crest, mouth_m=mouth if hangs else crest - reach)
        drawn = self.under_water(end, pipe, vessel, vessel.water_min_m)
        assert drawn.mouth_m is not None
        if drawn.mouth_m < vessel.floor_m + OFF_FLOOR_M:
            return None
        # The piece below the turn is no shorter than a stub even with the water at its highest.
        highest = drawn.mouth_m + vessel.water_max_m - vessel.water_min_m
        return replace(drawn, centre_m=max(lowest, highest + end.corner.takes_m(lengths) + lengths.stub))

    def drowned(
        self, site: Site, end: OverRim, lengths: Lengths, at_m: float | None = None
    ) -> OverRim | None:
        """A drain over a rim whose mouth hangs under the lowest water that its vessel runs with.

        It is drawn for the least water that the rule lets the vessel have, where it hangs longest. None where
        there is no room for it over the floor.
        """
        vessel = site.vessels[end.at]
        falls = flood_drawdown(site, end.at) if end.at in site.pumped_vessels() else 0.0
        over = replace(end, under_m=falls + self.drowned_m)
        longest = marked_up(vessel, vessel.floor_m + self.off_floor_m)
        longest = max(longest, hung(over, vessel, vessel.water_min_m - WHOLE_M))
        shortest = hung(over, vessel, vessel.water_max_m)
        if shortest < longest:
            return None
        lowest = over_rim_m(vessel, lengths.pipe)
        if at_m is not None and at_m >= lowest:
            lowest = at_m
        # Below the turn there is a stub of pipe at least.
        crest = max(lowest, shortest + end.corner.takes_m(lengths) + lengths.stub)
        return replace(over, centre_m=crest, mouth_m=longest)

    def width(self, pipe: Pipe) -> float:
        """Width of the siphon-break hole in a pipe, as drills are sold [m]."""
        return math.ceil(max(self.least_m, self.share * pipe.bore_m) / DRILL_M - 1e-9) * DRILL_M

    def under_water(self, end: OverRim, pipe: Pipe, vessel: Vessel, water_m: float) -> OverRim:
        """A guarded end over a rim with its hole and mouth at their depths under the running water.

        The hole is at a whole millimetre over the vessel's floor.
        Behind a check valve the mouth is as deep as if there were a hole.
        """
        width = self.width(pipe)
        hole = marked_down(vessel, water_m - self.depth_m)
        mouth = tenth_mm_down(hole - width / 2 - self.cover_m) * TENTH_MM
        if end.guard is not Guard.HOLE:
            return replace(end, mouth_m=mouth)
        return replace(end, mouth_m=mouth, air_hole_m=hole, air_hole_width_m=width)

    def costs_no_room(self, making: Making, pipe: Pipe) -> bool:
        """Whether a vessel falls further through its drains, whatever they are made of, than to its hole.

        Then the hole takes no room in the sump, and over a rim a check valve loses to it everywhere.
        """
        site, widest = making.site, max(row.bore_m for row in making.catalog.pipes.values())
        for run in making.members:
            root = pumped_from(site)[run.name]
            drains = [
                part_full_inlet_head(site.flows[other.name].design_m3_s, widest, entrance_k("flush"))
                for other in site.runs.values()
                if other.kind is RunKind.GRAVITY and other.start == run.finish and not other.idle
            ]
            if root not in drained_to(site, run.finish) or max(drains) < self.depth_m + self.width(pipe) / 2:
                return False
        return True

    def through_wall(self, end: AtVessel, outside_m: float, hole_m: float, bore_m: float) -> Place:
        """Where the hole of an inlet through a wall sits: an air gap over the water, or drowned."""
        half = outside_m / 2
        if end.guard is Guard.CHECK_VALVE:
            return Place(-half, hole_m, bore_m)
        return Place(self.air_gap_m + half, hole_m, bore_m, over=True)


def hung(end: OverRim, vessel: Vessel, water_m: float) -> float:
    """Height of the mouth of a drain that hangs in water, at its depth under that [m], at a whole mark."""
    return marked_down(vessel, water_m - end.under_m)


def marked_down(vessel: Vessel, height_m: float) -> float:
    """A height above the datum, down to the next whole millimetre over a vessel's floor [m]."""
    return vessel.floor_m + math.floor((height_m - vessel.floor_m) * 1000 + 1e-6) / 1000


def marked_up(vessel: Vessel, height_m: float) -> float:
    """A height above the datum, up to the next whole millimetre over a vessel's floor [m]."""
    return vessel.floor_m + math.ceil((height_m - vessel.floor_m) * 1000 - 1e-6) / 1000


def over_rim_m(vessel: Vessel, pipe: Pipe) -> float:
    """Least height of the axis of a pipe that crosses a vessel's rim [m]."""
    return vessel.rim_m + RIM_CLEARANCE_M + pipe.outside_m / 2


def guards_for(making: Making, pipe: Pipe, way: Way) -> list[Guard]:
    """Guards that an inlet of this pipe and way may have, as asked for and as the rules allow.

    A pipe through a wall has no upright for a hole.
    """
    asked = [making.site.guards(run) for run in making.members]
    found = []
    for guard in (guard for guard in Guard if all(guard in guards for guards in asked)):
        admitted = [Guarded(making.site, run, pipe, guard, way) for run in making.members]
        if making.allows("inlet", admitted) and (guard is not Guard.HOLE or way is Way.OVER_RIM):
            found.append(guard)
    if making.ranked or way is not Way.OVER_RIM or Guard.HOLE not in found:
        return found
    if Inlets.by(making.book).costs_no_room(making, pipe):
        found = [guard for guard in found if guard is not Guard.CHECK_VALVE]
    return found
