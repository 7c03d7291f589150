"""Where a line starts or finishes: at a tee, another line or a pump; or at a vessel."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar

from autoplan.catalog.parts import Catalog, Pipe, Way
from autoplan.fittings.base import Fitting, Item, Layout, Role
from autoplan.fittings.lengths import Lengths
from autoplan.fittings.passage import least_rating, smallest_bore
from autoplan.hydraulics.conduit import Resistance
from autoplan.problem.site import Guard


@dataclass(frozen=True, slots=True)
class LineEnd(Fitting):
    """Where a line ends; by itself at a junction or a pump.

    Attributes:
        at: vessel or junction.
        chain: adaptors from the penetration, tee or pump to the pipe, in that order.
    """

    listed: ClassVar[int] = 6
    at: str
    chain: tuple[str, ...] = ()

    def parts(self) -> tuple[str, ...]:
        """Its adaptors."""
        return self.chain

    def begin(self, on: Layout) -> None:
        """Put it at the start of a line: the tee or pump, where it is known, and its adaptors."""
        opening = on.openings[0]
        if opening is not None:
            on.item(Item(opening.part, opening.role, (opening.far, opening.end)))
        on.chain(self.chain, Role.ADAPTOR)

    def end(self, on: Layout) -> None:
        """Put it at the finish of a line."""
        on.chain(self.chain[::-1], Role.ADAPTOR)
        opening = on.openings[1]
        if opening is not None:
            on.item(Item(opening.part, opening.role, (opening.end, opening.far)))

    def takes_m(self, lengths: Lengths) -> float:
        """Its adaptors [m]; what a tee takes is not its own."""
        return lengths.taken(self.chain)

    def bore_m(self, catalog: Catalog) -> float:
        """Smallest passage [m]: its adaptors; infinite without."""
        return smallest_bore(catalog, self.chain)

    def entry(self, catalog: Catalog, pipe: Pipe) -> Iterator[Resistance | None]:  # noqa: ARG002
        """What stands in the way of water that enters a drain here."""
        return iter(())

    def outlet(self, catalog: Catalog, pipe: Pipe) -> Iterator[Resistance | None]:  # noqa: ARG002
        """What stands in the way of water that leaves a line here."""
        return iter(())

    def ratings_m(self, catalog: Catalog) -> Iterator[float]:
        """Of its adaptors [m of water]."""
        yield least_rating(catalog, self.chain)


@dataclass(frozen=True, slots=True, kw_only=True)
class AtVessel(LineEnd):
    """Where a line meets a vessel.

    Attributes:
        way: how it does.
        centre_m: centre of the pipe there above the datum [m]; the floor for a floor hole, over a rim the
            crest.
        guard: what keeps the vessel from siphoning back through a pressure run's finish.
    """

    way: Way
    centre_m: float | None = None
    guard: Guard = Guard.AIR_GAP
