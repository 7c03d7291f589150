"""Every standpipe and bell siphon that may stand on a bed's floor outlet, read straight from the price list.

The limits are written out here a second time, with the numbers that the rules have by default.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

from autoplan.catalog.joining import Joining
from autoplan.catalog.parts import Adaptor, Catalog, Penetration, Pipe, SiphonKind, SiphonPart
from autoplan.fittings.floor import BellSiphon, SideHole
from autoplan.problem.site import BedTimer, Run, Site
from autoplan.problem.weep import WeepHole

FROUDE, MARGIN, FLARED, LEAST_BORE_M = 0.3, 0.25, 0.8, 0.015
RING, HEADROOM_M, GUARD_GAP_M, CUT_OUT_M = 2.0, 0.025, 0.010, 0.025
WIDER, SOCKET_WALL = 1.5, 1.15
LEAST_TUBE_M, MOST_TUBE_M, CUT, FLANGE_M = 0.006, 0.008, 0.5, 0.004
G = 9.80665


@dataclass(frozen=True)
class Standing:
    """A standpipe: its pipe, that pipe's id where it is not the drain's own, its siphon or drain hole."""

    pipe: Pipe
    own: str | None = None
    siphon: BellSiphon | None = None
    drain_hole: SideHole | None = None


class Bells:
    """Standpipes and siphons of one price list.

    Args:
        site, catalog: the site and the price list.
        pipes: one row of each pipe, whatever lengths it is sold in.
    """

    def __init__(self, site: Site, catalog: Catalog, pipes: list[Pipe]) -> None:
        self.site, self.catalog, self.pipes = site, catalog, pipes
        self.joining = Joining(catalog)

    def standings(self, run: Run, pipe: Pipe) -> Iterator[Standing]:
        """Everything that may stand on a drain of this pipe: plain, drilled, or a siphon that goes in."""
        water = self.site.vessels[run.start].bed
        if water is not None and water.hole is not None:
            yield from self.drilled(run, pipe, water.hole)
            return
        if water is None or not water.siphon:
            yield Standing(pipe)
            return
        narrower = [p for p in self.pipes if p.bore_m < pipe.bore_m and not p.bend_radius_m]
        for stood in [pipe, *narrower]:
            for flare in (None, *self.flares(stood)):
                if not self.starts(run, stood, flare):
                    continue
                for siphon in self.round(run, stood, flare):
                    yield Standing(stood, None if stood is pipe else stood.id, siphon)

    def drilled(self, run: Run, pipe: Pipe, asked: BedTimer | WeepHole) -> Iterator[Standing]:
        """The drain's own pipe, twice as wide as its hole, in every guard that goes round it and over it."""
        vessel = self.site.vessels[run.start]
        tall = vessel.water_max_m - vessel.floor_m + HEADROOM_M
        guards = [part for part in self.catalog.siphons.values() if part.kind is SiphonKind.GUARD]
        if pipe.bore_m < 2 * asked.hole_m:
            return
        for guard in guards or [None]:
            if guard is None or (
                guard.inside_m >= pipe.outside_m + 2 * GUARD_GAP_M
                and guard.tallest_m >= max(tall, vessel.rim_m - vessel.floor_m)
            ):
                hole = SideHole(asked.hole_m, asked.height_m, None if guard is None else guard.id)
                yield Standing(pipe, drain_hole=hole)

    def starts(self, run: Run, stood: Pipe, flare: Adaptor | None) -> bool:
        """A quarter over V = 0.3 sqrt(g D) in the bore, four fifths of it flared; no bore under 15 mm."""
        speed = FROUDE * math.sqrt(G * stood.bore_m) * (FLARED if flare else 1.0)
        least = (1 + MARGIN) * speed * math.pi / 4 * stood.bore_m**2
        return stood.bore_m >= LEAST_BORE_M and self.site.flows[run.name].design_m3_s >= least

    def flares(self, stood: Pipe) -> Iterator[Adaptor]:
        """Reducing couplings of which one socket takes the pipe and the other is half as wide again."""
        for part in self.catalog.adaptors.values():
            for near, far in (part.ends, part.ends[::-1]):
                open_cup = near.form == far.form == "socket" and self.joining.mates(near, stood.end)
                if open_cup and self.bore((far.system, far.size)) >= WIDER * stood.bore_m:
                    yield part

    def bore(self, size: tuple[str, str]) -> float:
        """The widest pipe of a system and size, 0 where there is none."""
        return max((p.bore_m for p in self.pipes if (p.end.system, p.end.size) == size), default=0.0)

    def outside(self, stood: Pipe, flare: Adaptor | None) -> float:
        """What the bell goes over."""
        if flare is None:
            return stood.outside_m
        sizes = (self.catalog.systems[end.system][end.size] for end in flare.ends)
        return max(SOCKET_WALL * (size.outside_m or 0.0) for size in sizes)

    def round(self, run: Run, stood: Pipe, flare: Adaptor | None) -> Iterator[BellSiphon]:
        """Every bell, guard and air tube that goes round a standpipe; of what the list has none, none."""
        parts = self.catalog.siphons.values()
        kinds: list[list[SiphonPart | None]] = [
            [part for part in parts if part.kind is kind] or [None]
            for kind in (SiphonKind.BELL, SiphonKind.GUARD, SiphonKind.SNORKEL)
        ]
        vessel = self.site.vessels[run.start]
        tall = vessel.water_max_m - vessel.floor_m + max(HEADROOM_M, stood.bore_m)
        inside = math.hypot(self.outside(stood, flare), math.sqrt(RING) * stood.bore_m)
        for bell, guard, snorkel in product(*kinds):
            if snorkel is not None and not LEAST_TUBE_M <= snorkel.inside_m <= MOST_TUBE_M:
                continue
            if guard is not None and guard.tallest_m < vessel.rim_m - vessel.floor_m:
                continue
            if bell is not None:
                if bell.inside_m < inside or bell.tallest_m < tall:
                    continue
                if CUT * math.pi * bell.inside_m * CUT_OUT_M < RING * math.pi / 4 * stood.bore_m**2:
                    continue
                if guard is not None and (
                    guard.inside_m < bell.outside_m + 2 * GUARD_GAP_M or guard.tallest_m < tall
                ):
                    continue
            named = (part.id if part is not None else None for part in (bell, guard, snorkel))
            yield BellSiphon(*named, flare.id if flare else None, CUT_OUT_M)

    def over(self, standing: Standing, part: Penetration) -> bool:
        """Whether bell and guard, if any, go over a wall part's flange."""
        siphon, hole = standing.siphon, standing.drain_hole
        guard = siphon.guard if siphon is not None else None if hole is None else hole.guard
        round_it = [self.catalog.siphons[name] for name in (siphon and siphon.bell, guard) if name]
        return all(row.inside_m >= (part.flange_m or 0.0) + FLANGE_M - 1e-9 for row in round_it)
