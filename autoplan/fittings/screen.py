"""A screen on the inlet of a drain, pushed over its pipe or standpipe."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar, Self

from autoplan.catalog.kinds.fixture import SCREENS
from autoplan.catalog.naming import name_of
from autoplan.catalog.parts import Catalog, FixtureKind, Pipe
from autoplan.fittings.base import Fitting, Offering
from autoplan.fittings.floor import ThroughFloor
from autoplan.hydraulics.conduit import Resistance
from autoplan.hydraulics.fittings import SCREEN_K

SCREEN_CLEAR = 0.5
"""Share of a screen's openings that is clear between two cleanings; common practice, no source."""

MESH_CLEAR = 0.3
"""The same of a mesh, whose openings slime closes sooner; from memory."""

CARE = {
    FixtureKind.SCREEN: "to be brushed off whenever the level rises",
    FixtureKind.LONG_SCREEN: "long, so that it lets enough through half grown over; to be brushed off then",
    FixtureKind.MESH: "to be brushed off whenever the level rises, often, and lifted off once fry are grown",
}
"""What each kind asks for."""


@dataclass(frozen=True, slots=True)
class InletScreen(Fitting):
    """A screen: its part id.

    A screen fits the outside of one pipe and not of another: which one is the best hangs on the standpipe.
    """

    word: ClassVar[str] = "screen"
    listed: ClassVar[int] = 1
    part: str

    @classmethod
    def offered(cls, on: Offering) -> Iterator[Self]:
        """Screens that fit over the pipe; over a standpipe of other pipe too (`goes_with`)."""
        for row in on.of(on.catalog.fixtures):
            if row.kind in SCREENS and (on.upright or row.takes(on.pipe.outside_m)):
                yield cls(row.id)

    def goes_with(self, start: Fitting, catalog: Catalog, pipe: Pipe) -> bool:
        """Whether it can be pushed on the pipe, or on its standpipe, which then has no flare."""
        stood = pipe
        if isinstance(start, ThroughFloor):
            if start.siphon is not None and start.siphon.flare is not None:
                return False
            stood = start.stood(catalog, pipe)
        return catalog.fixtures[self.part].takes(stood.outside_m)

    def parts(self) -> tuple[str, ...]:
        """The screen."""
        return (self.part,)

    def resistance(self, catalog: Catalog) -> Resistance:
        """Its resistance, in one round hole of the area that is clear."""
        row = catalog.fixtures[self.part]
        area = row.open_m2 * (MESH_CLEAR if row.kind is FixtureKind.MESH else SCREEN_CLEAR)
        return Resistance(SCREEN_K, math.sqrt(4.0 * area / math.pi))

    def told(self, catalog: Catalog) -> Iterator[str]:
        """The screen, and what it asks for."""
        name, kind = name_of(catalog, self.part), catalog.fixtures[self.part].kind
        yield f"screen on its inlet: {name}, {CARE[kind]}"

    def resistances(self, catalog: Catalog, pipe: Pipe) -> Iterator[Resistance | None]:  # noqa: ARG002
        """Its resistance."""
        yield self.resistance(catalog)
