"""A drain through a bed's wall that goes up to a crest outside, over and down: a siphon without a bell.

The bed fills to the crest. Water that runs over it fast enough takes the air along, the pipe fills, and its
whole fall pulls until the bed is down at the mouth of the air tube, by which air comes to the crest.
"""

from __future__ import annotations

from dataclasses import dataclass

from autoplan.catalog.parts import Pipe
from autoplan.fittings.wall import ThroughWall

TUBE_ROOM_M = 0.05
"""More of an air tube than from its mouth straight up, over the rim and down to the crest: two bends, and
what goes into the pipe; common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OutsideSiphon(ThroughWall):
    """The start of such a drain, in the bed's wall.

    Attributes:
        lip_m: invert of the pipe at its crest above the datum [m], None while it is open.
        air_tube: part id of the tube that lets air in at the crest, None where the price list has none.
        air_m: mouth of that tube above the bed's floor, where the siphon breaks [m].
    """

    lip_m: float | None = None
    air_tube: str | None = None
    air_m: float = 0.0

    def parts(self) -> tuple[str, ...]:
        """Wall part, adaptors, the air tube."""
        return (*ThroughWall.parts(self), *(() if self.air_tube is None else (self.air_tube,)))

    def crest_m(self, pipe: Pipe) -> float | None:
        """Middle of the pipe at its crest above the datum [m], once its lip is known."""
        return None if self.lip_m is None else self.lip_m + pipe.bore_m / 2
