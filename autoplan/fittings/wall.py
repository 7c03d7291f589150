"""A line that passes a wall or a floor: the part in the hole, and what is joined to it on either side."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from autoplan.catalog.parts import Catalog, Pipe, Way
from autoplan.fittings.base import Layout, Role
from autoplan.fittings.corner import Corner
from autoplan.fittings.ends import AtVessel
from autoplan.fittings.lengths import Lengths
from autoplan.fittings.passage import passage, smallest_bore
from autoplan.hydraulics.conduit import Resistance
from autoplan.hydraulics.fittings import EXIT_K, entrance_k
from autoplan.problem.site import Vessel

DOWN_INLET = "turned down inside"
"""What the turn on the inner end of a settler's inlet is there for."""

_entrance_k = lru_cache(maxsize=None)(entrance_k)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pierced(AtVessel):
    """An end in a drilled hole.

    Attributes:
        penetration: part id, "" while it is not chosen.
        inner_chain: adaptors from the penetration's inside to the standpipe or tee behind it; the stop on the
            inner end of the piece that passes a seal.
    """

    penetration: str
    inner_chain: tuple[str, ...] = ()

    @property
    def sealed(self) -> bool:
        """Whether a piece of the pipe itself passes, in a push-in seal."""
        return self.way is Way.SEAL

    def parts(self) -> tuple[str, ...]:
        """Wall part, adaptors outside, adaptors inside."""
        return (self.penetration, *self.chain, *self.inner_chain)

    def begin(self, on: Layout) -> None:
        """What stands inside the vessel, then the hole and the adaptors behind it."""
        self.inside(on)
        self.outside(on)

    def outside(self, on: Layout) -> None:
        """The hole and the adaptors behind it."""
        if self.sealed:
            self._through(on)
        else:
            on.part(self.penetration, Role.WALL, on.catalog.penetrations[self.penetration].ends)
        on.chain(self.chain, Role.ADAPTOR)

    def inside(self, on: Layout) -> None:
        """What stops the piece in a seal; or adaptors to what stands before the hole already."""
        on.chain(self.inner_chain[::-1], Role.ADAPTOR if on.items else Role.STOP)

    def end(self, on: Layout) -> None:
        """The adaptors, then the hole and what stops the piece in it."""
        on.chain(self.chain[::-1], Role.ADAPTOR)
        if self.sealed:
            self._through(on)
            on.chain(self.inner_chain, Role.STOP)
        else:
            on.part(self.penetration, Role.WALL, on.catalog.penetrations[self.penetration].ends[::-1])
            on.chain(self.inner_chain, Role.ADAPTOR)

    def _through(self, on: Layout) -> None:
        length = on.lengths.nipple(on.site.vessels[self.at].wall_m, self.chain, self.inner_chain)
        on.slot(length, f"through the wall of {self.at}", exact=True, through=self.penetration)

    def takes_m(self, lengths: Lengths) -> float:
        """Its adaptors, and what of the piece in a seal stands out of the wall [m]."""
        return lengths.taken(self.chain) + (lengths.nipple_outside(self.chain) if self.sealed else 0.0)

    def bore_m(self, catalog: Catalog) -> float:
        """Smallest passage [m]: the wall part (a seal leaves the pipe's own) and the adaptors outside."""
        own = catalog.penetrations[self.penetration].bore_m if self.penetration else None
        return min(smallest_bore(catalog, self.chain), own or float("inf"))

    def start_bore_m(self, catalog: Catalog) -> float:
        """Smallest passage [m] between what stands in a vessel and the drain outside: wall part and adaptors.

        What only keeps a piece from sliding out of its seal narrows nothing.
        """
        bore = self.bore_m(catalog)
        return bore if self.sealed else min(bore, smallest_bore(catalog, self.inner_chain))

    def inlet_bore_m(self, catalog: Catalog, pipe: Pipe) -> float:
        """Bore [m] through which a drain takes its water, at the wall, the floor or a standpipe's lip."""
        return min(pipe.bore_m, self.bore_m(catalog))

    @property
    def inlet_k(self) -> float:
        """Entrance K: a pipe that stands out from the wall is re-entrant, a fitting is flush.

        So is a coupling on the pipe: it has more than a twentieth of the bore round it.
        """
        return _entrance_k("re-entrant" if self.sealed and not self.inner_chain else "flush")

    def entry(self, catalog: Catalog, pipe: Pipe) -> Iterator[Resistance | None]:
        """Entrance, and what is narrower than the pipe."""
        entry = self.inlet_bore_m(catalog, pipe)
        yield Resistance(self.inlet_k, entry)
        yield passage(pipe.bore_m, min(entry, self.start_bore_m(catalog)), pipe.bore_m)

    def outlet(self, catalog: Catalog, pipe: Pipe) -> Iterator[Resistance | None]:
        """What is narrower than the pipe, and the jet."""
        return way_out(pipe, self.bore_m(catalog))


def well_needed_m(vessel: Vessel, outside_m: float, under_m: float) -> float:
    """How far a stilling well reaches down from the rim, whatever the water's level within its range [m].

    Args:
        vessel: where it hangs.
        outside_m: outside of the pipe, which enters with its top at the water [m].
        under_m: from the lowest underside of the pipe to the foot of the well [m].
    """
    return math.ceil(1000 * (vessel.rim_m - vessel.water_min_m + outside_m + under_m) - 1e-6) / 1000


def way_out(pipe: Pipe, bore_m: float) -> Iterator[Resistance | None]:
    """The resistance of an open end of a smallest passage [m]: what narrows, and the jet."""
    narrow = min(pipe.bore_m, bore_m)
    yield passage(pipe.bore_m, narrow, narrow)
    yield Resistance(EXIT_K, narrow)


@dataclass(frozen=True, slots=True, kw_only=True)
class ThroughWall(Pierced):
    """An end in a vessel's wall.

    Attributes:
        down: the turn on its inner end, whose mouth looks down, where water enters a settler so; it keeps a
            piece in a seal from sliding out.
        well: the stilling well round its inner end, hung from the rim, in place of that turn; "" for none.
        well_m: how long that is cut, from the rim to its foot [m].
    """

    down: Corner | None = None
    well: str = ""
    well_m: float = 0.0

    def parts(self) -> tuple[str, ...]:
        """Wall part, adaptors outside, adaptors inside, the turn or the stilling well inside."""
        turn = self.down.pieces if self.down is not None else ()
        return (*Pierced.parts(self), *turn, *((self.well,) if self.well else ()))

    def end(self, on: Layout) -> None:
        """Adaptors, the hole, and the turn inside."""
        Pierced.end(self, on)
        if self.down is not None:
            (part,) = self.down.pieces
            on.part(part, DOWN_INLET, on.catalog.turns[part].ends)

    def bore_m(self, catalog: Catalog) -> float:
        """Smallest passage [m], that of the turn inside and what joins it to the wall part among it."""
        bore = Pierced.bore_m(self, catalog)
        if self.down is None:
            return bore
        turns = (catalog.turns[part].bore_m for part in self.down.pieces)
        return min(bore, *turns, math.inf if self.sealed else smallest_bore(catalog, self.inner_chain))

    def outlet(self, catalog: Catalog, pipe: Pipe) -> Iterator[Resistance | None]:
        """What is narrower than the pipe, the turn inside, and the jet."""
        yield from way_out(pipe, self.bore_m(catalog))
        if self.down is not None:
            yield self.down.resistance(catalog, pipe)
