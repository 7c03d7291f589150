"""A change of direction: a tight or swept bend, two 45s in place of a 90, or pipe that bends by itself."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import ClassVar

from autoplan.catalog.naming import row_of
from autoplan.catalog.parts import Catalog, Pipe, TurnStyle
from autoplan.fittings.base import AS_SHORT, Fitting, Layout, Offering, Role
from autoplan.fittings.lengths import Lengths, tangent_of
from autoplan.hydraulics.conduit import Resistance
from autoplan.hydraulics.fittings import turn_k

_turn_k = lru_cache(maxsize=None)(turn_k)


@dataclass(frozen=True, slots=True)
class Corner(Fitting):
    """How one turn of a run is made.

    Attributes:
        angle: change of direction [degrees].
        style: tight, swept, paired 45s or bending.
        pieces: part ids in order (two 45s for a pair, none where the pipe bends).
    """

    word: ClassVar[str] = "turn"
    angle: int
    style: TurnStyle
    pieces: tuple[str, ...]

    @classmethod
    def ways(cls, on: Offering, angle: int) -> Iterator[Corner]:
        """Every way to turn by an angle [degrees]: the pipe itself, bends that take it as it is, two 45s."""
        if on.pipe.bend_radius_m > 0:
            yield cls(angle, TurnStyle.BEND, ())
        for turn in on.of(on.catalog.turns):
            if not all(on.mates(own, on.pipe.end) for own in turn.ends):
                continue
            if turn.angle == angle:
                yield cls(angle, turn.style, (turn.id,))
            if angle == 90 and turn.angle == 45 and turn.style is TurnStyle.TIGHT:
                yield cls(angle, TurnStyle.PAIRED, (turn.id, turn.id))

    @property
    def bends(self) -> bool:
        """Whether the pipe bends by itself."""
        return self.style is TurnStyle.BEND

    def words(self, catalog: Catalog) -> str:
        """In words: "90 degrees swept (drain bend 50 mm)", "90 degrees by bending the pipe"."""
        how = "by bending the pipe" if self.bends else self.style
        parts = row_of(catalog, self.pieces)
        return f"{self.angle} degrees {how}" + (f" ({parts})" if parts else "")

    def corners(self) -> tuple[Corner, ...]:
        """Itself."""
        return (self,)

    def lay(self, on: Layout) -> None:
        """Bend after bend, with a stub between two 45s."""
        for index, part in enumerate(self.pieces):
            if index:
                on.slot(AS_SHORT, "between two 45s")
            on.part(part, Role.TURN, on.catalog.turns[part].ends)

    def takes_m(self, lengths: Lengths) -> float:
        """From the corner to the stop of the turn [m], or to where pipe that bends is straight again.

        For one bend the tangent of its arc, radius x tan(angle / 2). For two 45s in place of a 90 the corner
        is cut: the centres of the two stand c apart and each stands c / sqrt(2) before the corner.
        """
        if self.bends:
            return lengths.pipe.bend_radius_m * math.tan(math.radians(self.angle) / 2)
        tangent = tangent_of(lengths.catalog.turns[self.pieces[0]])
        if self.style is not TurnStyle.PAIRED:
            return tangent
        between = 2 * tangent + lengths.stub
        return between / math.sqrt(2) + tangent

    def reach_m(self, lengths: Lengths) -> float:
        """From the corner to the open face of the turn, the depth of its socket past the stop [m].

        Pipe that bends by itself may be cut where its bend ends.
        """
        return self.takes_m(lengths) + (0.0 if self.bends else lengths.depth)

    def resistance(self, catalog: Catalog, pipe: Pipe) -> Resistance:
        """Its resistance, in its own bore where that is less than the pipe's."""
        if self.bends:
            radius = pipe.bend_radius_m / pipe.bore_m
            k = _turn_k(self.angle, self.style, pipe.bore_m, radius, pipe.roughness_m)
            return Resistance(k, pipe.bore_m)
        part = catalog.turns[self.pieces[0]]
        bore = min(pipe.bore_m, part.bore_m)
        sharp = self.style is TurnStyle.TIGHT and part.ends[0].form == "barb"
        style = "mitred" if sharp else self.style
        return Resistance(_turn_k(self.angle, style, bore, part.radius_over_bore, pipe.roughness_m), bore)
