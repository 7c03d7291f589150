"""One pipe line as built: a pipe and a row of fittings in the order of the water, and nothing computed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import TypeVar

from autoplan.fittings.base import Fitting
from autoplan.fittings.cap import EndCap
from autoplan.fittings.corner import Corner
from autoplan.fittings.ends import AtVessel, LineEnd
from autoplan.fittings.floor import ThroughFloor
from autoplan.fittings.outside import OutsideSiphon
from autoplan.fittings.rim import OverRim
from autoplan.fittings.riser import Riser
from autoplan.fittings.wall import Pierced
from autoplan.line.route import Leg
from autoplan.problem.site import Guard

F = TypeVar("F", bound=Fitting)

COUPLINGS = 4
"""Where couplings stand in a list of parts (`Fitting.listed`)."""


@dataclass(frozen=True, slots=True)
class Line:
    """One run as built.

    Attributes:
        run: its name on the site.
        pipe: part id.
        fittings: in the order of the water, its two ends among them.
        slots_m: by slot, the pieces to cut [m]; a slot is the room between two parts, in the order of
            `autoplan.line.laid.Laid.needed_m`, and is of several pieces where no stick is that long.
        length_m: length the water travels in the run's own pipe [m], risers and standpipes of it included.
        coupling: adaptors that join two pieces in one slot.
        later: whether it is drawn for a bed to come later and not built now.
        legs: from corner to corner, where heights decide them; empty where they are the run's own, measured.
        stands: place of the leg in which everything stands that stands in a straight.
        start, finish: its two ends.
    """

    run: str
    pipe: str
    fittings: tuple[Fitting, ...]
    slots_m: tuple[tuple[float, ...], ...] = ()
    length_m: float = 0.0
    coupling: tuple[str, ...] = ()
    later: bool = False
    legs: tuple[Leg, ...] = ()
    stands: int = 0
    start: LineEnd = field(init=False, repr=False, compare=False)
    finish: LineEnd = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Find the ends, which are asked for again and again."""
        start, finish = (one for one in self.fittings if isinstance(one, LineEnd))
        object.__setattr__(self, "start", start)
        object.__setattr__(self, "finish", finish)

    @property
    def ends(self) -> tuple[LineEnd, LineEnd]:
        """Where it starts and where it finishes."""
        return self.start, self.finish

    @property
    def floor(self) -> ThroughFloor | None:
        """Its start in a bed's floor, if it has one."""
        return self.start if isinstance(self.start, ThroughFloor) else None

    @property
    def outside(self) -> OutsideSiphon | None:
        """Its start as a siphon pipe outside a bed, if it is one."""
        return self.start if isinstance(self.start, OutsideSiphon) else None

    @property
    def lip_m(self) -> float | None:
        """Height that holds the bed's water above the datum [m]: lip of a standpipe, invert of a crest."""
        if self.outside is not None:
            return self.outside.lip_m
        return None if self.floor is None else self.floor.standpipe_top_m

    @property
    def rim(self) -> OverRim | None:
        """Its finish over a rim, if it has one."""
        return self.finish if isinstance(self.finish, OverRim) else None

    @property
    def guard(self) -> Guard:
        """What keeps the vessel at its finish from siphoning back."""
        return self.finish.guard if isinstance(self.finish, AtVessel) else Guard.AIR_GAP

    def holes(self) -> Iterator[Pierced]:
        """Its ends in drilled holes."""
        return (end for end in self.ends if isinstance(end, Pierced))

    def all(self, kind: type[F]) -> tuple[F, ...]:
        """Every fitting of a kind."""
        return tuple(one for one in self.fittings if isinstance(one, kind))

    def one(self, kind: type[F]) -> F | None:
        """The first fitting of just this kind, if there is one."""
        return next((one for one in self.fittings if type(one) is kind), None)

    @property
    def turns(self) -> tuple[Corner, ...]:
        """Every turn: under a riser, along its way, down over a rim."""
        return tuple(turn for one in self.fittings for turn in one.corners() if isinstance(turn, Corner))

    @property
    def corners(self) -> tuple[Corner, ...]:
        """The turns between its legs: all but the one under a riser."""
        return self.turns[1:] if self.one(Riser) is not None else self.turns

    @property
    def pieces_m(self) -> tuple[float, ...]:
        """Every piece to cut of its own pipe [m]."""
        return tuple(piece for slot in self.slots_m for piece in slot)

    @property
    def joins(self) -> int:
        """How many couplings join two pieces in one slot."""
        return sum(map(len, self.slots_m)) - len(self.slots_m)

    @property
    def couplings(self) -> tuple[str, ...]:
        """Every adaptor that joins two pieces in one slot."""
        return self.coupling * self.joins

    def parts(self) -> tuple[str, ...]:
        """Everything that is bought for it now but its own pipe, stubs of other pipe among them.

        Of one to come later that is its capped start, or nothing.
        """
        if self.later:
            caps = tuple(part for cap in self.all(EndCap) for part in cap.parts())
            return (*self.start.chain, *caps) if caps else ()
        found = [(-1, turn.pieces) for turn in self.turns]
        found += [(one.listed, one.parts()) for one in self.fittings if not isinstance(one, EndCap)]
        found.append((COUPLINGS, self.couplings))
        found.sort(key=lambda listed: listed[0])
        return tuple(part for _, parts in found for part in parts)

    def with_ends(self, start: LineEnd, finish: LineEnd) -> Line:
        """The same between other ends."""
        other = {id(self.start): start, id(self.finish): finish}
        return replace(self, fittings=tuple(other.get(id(one), one) for one in self.fittings))
