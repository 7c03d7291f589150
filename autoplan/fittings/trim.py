"""What gives a drain its share where a vessel's drains part its water by their heights, set by hand.

On the inner end of the pipe, in place of what keeps it from sliding out of its seal: an elbow that turns, or
a slotted sleeve that slides. Where something else stands there, a valve in the line.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import product
from typing import ClassVar, Self

from autoplan.catalog.kinds.trim import TrimKind
from autoplan.catalog.naming import name_of, row_of
from autoplan.catalog.parts import Catalog, Pipe
from autoplan.fittings.base import Fitting, Layout, Offering, Role
from autoplan.fittings.lengths import Lengths
from autoplan.fittings.passage import passage, smallest_bore
from autoplan.fittings.valve import valve_resistance
from autoplan.fittings.wall import ThroughWall
from autoplan.hydraulics.conduit import Resistance
from autoplan.hydraulics.fittings import SCREEN_K, turn_k
from autoplan.problem.flows import shared_outlets
from autoplan.problem.site import Run, Site

_turn_k = lru_cache(maxsize=None)(turn_k)


@dataclass(frozen=True, slots=True)
class Trim(Fitting):
    """An elbow or a sleeve on the inner end of a drain: its part id."""

    word: ClassVar[str] = "trim of its share"
    listed: ClassVar[int] = 1
    by_rows: ClassVar[bool] = True
    part: str

    @classmethod
    def suits(cls, site: Site, run: Run) -> bool:
        """A drain that shares a vessel's water and is not the widest stream, which holds the level."""
        return any(run.name in outlets[1:] for outlets in shared_outlets(site).values())

    @classmethod
    def offered(cls, on: Offering) -> Iterator[Trim]:
        """Parts that go over the pipe; valves with adaptors, as many on the one side as on the other."""
        for row in on.of(on.catalog.trims):
            if on.mates(row.end, on.pipe.end):
                yield Trim(row.id)
        for valve in on.of(on.catalog.valves):
            if valve.style == "ball":
                for before, after in product(*(on.chains(end, on.pipe.end) for end in valve.ends)):
                    if len(before.parts) == len(after.parts):
                        yield TrimValve(valve.id, (*before.parts, *after.parts))

    def goes_with(self, start: Fitting, catalog: Catalog, pipe: Pipe) -> bool:  # noqa: ARG002
        """Only on a bare end of pipe that passes the wall, which a stop would keep from sliding out."""
        return isinstance(start, ThroughWall) and start.sealed and bool(start.inner_chain)

    def parts(self) -> tuple[str, ...]:
        """The part."""
        return (self.part,)

    def lay(self, on: Layout) -> None:
        """Over the end of the piece that passes the wall; its other side is open."""
        end = on.catalog.trims[self.part].end
        on.part(self.part, self.word, (end, end))

    def resistance(self, catalog: Catalog, pipe: Pipe) -> Resistance:
        """Of an elbow one tight turn; of a sleeve its slots as one sharp-edged hole of their area."""
        row = catalog.trims[self.part]
        bore = min(pipe.bore_m, row.bore_m)
        if row.kind is TrimKind.ELBOW:
            return Resistance(_turn_k(90, "tight", bore, 1.0, pipe.roughness_m), bore)
        return Resistance(SCREEN_K, math.sqrt(4.0 * row.open_m2 / math.pi))

    def resistances(self, catalog: Catalog, pipe: Pipe) -> Iterator[Resistance | None]:
        """Its resistance."""
        yield self.resistance(catalog, pipe)

    def told(self, catalog: Catalog) -> Iterator[str]:
        """The part, and how it is set."""
        row = catalog.trims[self.part]
        moves = "turn" if row.kind is TrimKind.ELBOW else "slide"
        yield (
            f"{self.word}: {name_of(catalog, self.part)} over the inner end of the pipe, not welded and not "
            f"screwed; at the first run {moves} it until this drain gives its flow, then mark it"
        )

    def range_m(self, catalog: Catalog) -> float:
        """By how much it raises the edge that the water runs over, at most [m]; a valve by all there is."""
        return catalog.trims[self.part].range_m


@dataclass(frozen=True, slots=True)
class TrimValve(Trim):
    """A ball valve in a drain.

    Attributes:
        part: part id.
        chain: adaptors on each side of the valve, each side from the valve to the pipe.
    """

    on_straight: ClassVar[bool] = True
    listed: ClassVar[int] = 5
    chain: tuple[str, ...] = ()

    @classmethod
    def offered(cls, on: Offering) -> Iterator[Self]:  # noqa: ARG003
        """None by itself: `Trim` offers it with the others."""
        return iter(())

    def goes_with(self, start: Fitting, catalog: Catalog, pipe: Pipe) -> bool:  # noqa: ARG002
        """Whatever stands inside."""
        return True

    def parts(self) -> tuple[str, ...]:
        """The valve, then its adaptors."""
        return (self.part, *self.chain)

    def lay(self, on: Layout) -> None:
        """Adaptors, valve, adaptors."""
        half = len(self.chain) // 2
        on.chain(self.chain[:half][::-1], Role.ADAPTOR)
        on.part(self.part, self.word, on.catalog.valves[self.part].ends)
        on.chain(self.chain[half:], Role.ADAPTOR)

    def takes_m(self, lengths: Lengths) -> float:
        """The valve with its adaptors [m]."""
        half = len(self.chain) // 2
        return lengths.taken((*self.chain[:half], self.part, *self.chain[half:]))

    def resistances(self, catalog: Catalog, pipe: Pipe) -> Iterator[Resistance | None]:
        """The valve fully open, and its narrowest adaptor."""
        yield valve_resistance(catalog, pipe, self.part)
        yield passage(pipe.bore_m, smallest_bore(catalog, self.chain), pipe.bore_m)

    def told(self, catalog: Catalog) -> Iterator[str]:
        """The valve with its adaptors, and how it is set."""
        named = row_of(catalog, self.parts())
        yield (
            f"{self.word}: {named}; at the first run close it until this drain gives its flow, then take "
            "off its handle or mark it"
        )

    def range_m(self, catalog: Catalog) -> float:  # noqa: ARG002
        """Whatever is asked."""
        return math.inf
