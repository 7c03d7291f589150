"""An inlet over a vessel's rim: up, over, and down to a mouth over or under the water."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from autoplan.catalog.parts import Catalog, Pipe, TurnStyle, Way
from autoplan.fittings.base import Layout, Role
from autoplan.fittings.corner import Corner
from autoplan.fittings.ends import AtVessel
from autoplan.fittings.lengths import Lengths
from autoplan.fittings.wall import way_out
from autoplan.hydraulics.conduit import Resistance

OPEN_TURN = Corner(90, TurnStyle.TIGHT, ())
"""How an end turns down before that is chosen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OverRim(AtVessel):
    """An end that turns down behind a rim.

    Attributes:
        corner: how it turns down.
        mouth_m: where the piece that turns down ends above the datum [m].
        air_hole_m: centre of a siphon-break hole in that piece above the datum [m], else None.
        air_hole_width_m: diameter of that hole [m]; 0 for none.
        under_m: how far under the running water a drain's mouth hangs that is to be in it [m]; 0 for one that
            hangs free.
    """

    way: Way = Way.OVER_RIM
    corner: Corner
    mouth_m: float | None = None
    air_hole_m: float | None = None
    air_hole_width_m: float = 0.0
    under_m: float = 0.0

    @property
    def drop_m(self) -> float:
        """How far it turns down from its crest to its mouth [m]; 0 while either is open."""
        return 0.0 if self.mouth_m is None or self.centre_m is None else self.centre_m - self.mouth_m

    @property
    def hole_top_m(self) -> float | None:
        """Upper edge of its siphon-break hole above the datum [m], None without one."""
        return None if self.air_hole_m is None else self.air_hole_m + self.air_hole_width_m / 2

    def has_drop(self, lengths: Lengths) -> bool:
        """Whether it has pipe below its turn, which does not reach to the mouth alone."""
        if self.mouth_m is None or self.centre_m is None:
            return False
        return self.corner.bends or self.drop_m > self.corner.reach_m(lengths) + 1e-6

    def corners(self) -> tuple[Corner, ...]:
        """How it turns down."""
        return (self.corner,)

    def end(self, on: Layout) -> None:
        """Its adaptors; the turn was laid between the legs."""
        on.chain(self.chain[::-1], Role.ADAPTOR)

    def outlet(self, catalog: Catalog, pipe: Pipe) -> Iterator[Resistance | None]:
        """The jet at its mouth."""
        return way_out(pipe, self.bore_m(catalog))
