"""A drain through a bed's floor with what stands on it: a standpipe, with a drain hole or under a bell."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from autoplan.catalog.parts import Catalog, Pipe
from autoplan.fittings.base import Item, Layout, Role
from autoplan.fittings.passage import passage
from autoplan.fittings.wall import Pierced, way_out
from autoplan.hydraulics.conduit import Conduit, Resistance, Stretch
from autoplan.hydraulics.fittings import entrance_k
from autoplan.hydraulics.siphon import bell_resistance
from autoplan.problem.site import Vessel

FLARE_WALL = 1.15
"""Outside of a socket over that of the pipe that it takes; common practice, no source."""

_entrance_k = lru_cache(maxsize=None)(entrance_k)


@dataclass(frozen=True, slots=True)
class BellSiphon:
    """What makes a bell siphon of a standpipe: part ids, None where the price list has no such part.

    Attributes:
        bell: stands over the standpipe.
        guard: keeps the gravel off the bell.
        snorkel: the air tube that ends at the bell's cut-outs.
        flare: adaptor on the standpipe's top that widens it, or None.
        cut_out_m: top of the bell's cut-outs above the bed's floor [m].
    """

    bell: str | None
    guard: str | None
    snorkel: str | None
    flare: str | None
    cut_out_m: float

    @property
    def parts(self) -> tuple[str, ...]:
        """Every part of it that there is."""
        return tuple(part for part in (self.flare, self.bell, self.guard, self.snorkel) if part is not None)


@dataclass(frozen=True, slots=True)
class SideHole:
    """The hole in a standpipe's side by which a bed with a timer or a weep hole runs empty.

    Attributes:
        hole_m: its diameter [m].
        height_m: its centre above the bed's floor [m].
        guard: media guard round the standpipe, or None where the price list has none.
    """

    hole_m: float
    height_m: float
    guard: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ThroughFloor(Pierced):
    """A floor outlet.

    Attributes:
        standpipe_top_m: top of the standpipe above the datum [m], None while it is open.
        standpipe: part id of the standpipe's pipe where that is not the run's own, else None.
        siphon: what makes a bell siphon of the standpipe, or None for a plain one.
        drain_hole: the hole in the standpipe's side by which the bed runs empty, else None.
    """

    standpipe_top_m: float | None = None
    standpipe: str | None = None
    siphon: BellSiphon | None = None
    drain_hole: SideHole | None = None

    @property
    def bell(self) -> str | None:
        """Part id of the bell over it, if there is one."""
        return None if self.siphon is None else self.siphon.bell

    @property
    def guard_part(self) -> str | None:
        """Part id of the media guard round it, if there is one."""
        if self.siphon is not None:
            return self.siphon.guard
        return None if self.drain_hole is None else self.drain_hole.guard

    @property
    def upright_parts(self) -> tuple[str, ...]:
        """What stands on it besides the standpipe: bell, guard and the like."""
        own = () if self.siphon is None else self.siphon.parts
        guard = None if self.drain_hole is None else self.drain_hole.guard
        return own if guard is None else (*own, guard)

    def parts(self) -> tuple[str, ...]:
        """Wall part, adaptors, and what stands on it."""
        return (*Pierced.parts(self), *self.upright_parts)

    def top_m(self, vessel: Vessel) -> float:
        """From the floor to the top of the standpipe, or to where it could be at most [m]."""
        top = vessel.water_max_m if self.standpipe_top_m is None else self.standpipe_top_m
        return top - vessel.floor_m

    def stood(self, catalog: Catalog, pipe: Pipe) -> Pipe:
        """The pipe of the standpipe."""
        return pipe if self.standpipe is None else catalog.pipes[self.standpipe]

    def inside(self, on: Layout) -> None:
        """The upright pipe, of the run's own pipe or another, the flare on its top, the adaptors below."""
        pipe = self.stood(on.catalog, on.pipe)
        if self.siphon is not None and self.siphon.flare is not None:
            wide, narrow = on.catalog.adaptors[self.siphon.flare].ends
            if not on.joining.mates(narrow, pipe.end):
                wide, narrow = narrow, wide
            on.item(Item(self.siphon.flare, Role.FLARE, (wide, narrow)))
        length = self.top_m(on.site.vessels[self.at])
        if self.standpipe is None:
            on.slot(length, "standpipe", exact=True)
        else:
            on.item(Item(pipe.id, Role.STANDPIPE, (pipe.end, pipe.end), length, "standpipe"))
        on.chain(self.inner_chain[::-1], Role.ADAPTOR)

    def inlet_bore_m(self, catalog: Catalog, pipe: Pipe) -> float:
        """Bore [m] through which it takes its water, at the lip of its standpipe."""
        if self.standpipe is not None:
            return catalog.pipes[self.standpipe].bore_m
        return min(pipe.bore_m, self.bore_m(catalog))

    @property
    def inlet_k(self) -> float:
        """Entrance K at the lip: a pipe that stands free is re-entrant."""
        return _entrance_k("re-entrant")

    def entry(self, catalog: Catalog, pipe: Pipe) -> Iterator[Resistance | None]:
        """Entrance at the lip, the bell over it, and what is narrower below."""
        entry = self.inlet_bore_m(catalog, pipe)
        yield Resistance(self.inlet_k, entry)
        yield self._bell(catalog, pipe)
        before = pipe.bore_m if self.standpipe is None else entry
        yield passage(before, min(entry, self.start_bore_m(catalog)), pipe.bore_m)

    def _bell(self, catalog: Catalog, pipe: Pipe) -> Resistance | None:
        if self.siphon is None or self.siphon.bell is None:
            return None
        return bell_resistance(catalog.siphons[self.siphon.bell].inside_m, self.outside_m(catalog, pipe))

    def outside_m(self, catalog: Catalog, pipe: Pipe) -> float:
        """Widest outside [m] of the standpipe: its pipe's, or its flare's."""
        widest = self.stood(catalog, pipe).outside_m
        if self.siphon is not None and self.siphon.flare is not None:
            sizes = (
                catalog.systems[mouth.system][mouth.size]
                for mouth in catalog.adaptors[self.siphon.flare].ends
            )
            widest = max(widest, *(FLARE_WALL * (size.outside_m or 0.0) for size in sizes))
        return widest

    def down_to_foot(
        self, catalog: Catalog, pipe: Pipe, vessel: Vessel, screen: Resistance | None = None
    ) -> Conduit:
        """Down to its foot: bell, screen, lip, standpipe and wall part, and the jet below it."""
        stood = self.stood(catalog, pipe)
        narrow = min(stood.bore_m, self.start_bore_m(catalog))
        found = [Resistance(self.inlet_k, stood.bore_m), passage(stood.bore_m, narrow, narrow)]
        found += [self._bell(catalog, pipe), screen]
        *_, jet = way_out(stood, narrow)
        resistances = tuple(one for one in (*found, jet) if one is not None)
        return Conduit(stood.bore_m, stood.roughness_m, self.top_m(vessel), resistances)

    def stretch(self, catalog: Catalog) -> tuple[Stretch, ...]:
        """A standpipe of other pipe than the run's own as a length of its own."""
        if self.standpipe is None or self.standpipe_top_m is None or self.centre_m is None:
            return ()
        pipe = catalog.pipes[self.standpipe]
        return (Stretch(pipe.bore_m, pipe.roughness_m, self.standpipe_top_m - self.centre_m),)
