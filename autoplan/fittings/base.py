"""What every fitting on a line has in common, and the bench on which a line is put together.

A fitting stands at one place on a line, with whatever adaptors join it to the pipe. It is all that anyone
needs to know of that place: which parts are bought, what joins what, how much of a straight it takes, what
it puts in the water's way, how much pressure it holds, what a builder is told of it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import ClassVar, Protocol, TypeVar

from autoplan.catalog.joining import Chain, Joining
from autoplan.catalog.parts import Catalog, End, Part, Pipe
from autoplan.fittings.lengths import Lengths
from autoplan.hydraulics.conduit import Resistance
from autoplan.problem.site import Run, Site

P = TypeVar("P", bound=Part)


class Role(StrEnum):
    """What a thing on a line is there for, as far as anyone asks; others are named by their fitting."""

    PUMP = "pump"
    TEE = "tee"
    OPEN_TEE = "open tee"
    FLUSH_TEE = "flushing tee"
    PLUG = "access plug"
    CAP = "end cap"
    WALL = "wall part"
    STOP = "stop inside the wall"
    ADAPTOR = "adaptor"
    TURN = "turn"
    VALVE = "valve"
    CHECK = "check valve"
    PIPE = "pipe"
    STUB = "stub"
    STANDPIPE = "standpipe"
    FLARE = "flare"


AS_SHORT = -math.inf
"""What a slot needs that is to be as short as what it goes into lets it be [m]."""

OTHER_PIPE = (Role.STUB, Role.STANDPIPE)
"""What is cut of another pipe than the run's own."""


@dataclass(frozen=True, slots=True)
class Item:
    """One thing that water passes.

    Attributes:
        part: its id.
        role: what it is there for.
        ends: where water comes in and where it goes out.
        length_m: of a piece of pipe [m], else None.
        place: in words, for the cutting list: "leg 2", "riser", "through the wall of tank".
        through: id of the push-in seal that a piece of pipe passes, else None.
        ring: the end of that seal.
    """

    part: str
    role: str
    ends: tuple[End, End]
    length_m: float | None = None
    place: str = ""
    through: str | None = None
    ring: End | None = None


@dataclass(frozen=True, slots=True)
class Side:
    """What sits on a third opening, which no water passes: an open tee's vent, a flushing tee's plug."""

    at: int
    end: End
    item: Item


@dataclass(frozen=True, slots=True)
class Opening:
    """What a run starts or finishes at, where that is no wall or rim: a tee or a pump, and its end."""

    part: str
    role: Role
    end: End
    far: End


class Layout(Protocol):
    """A line that is being put together, as a fitting sees it: it adds itself at the end."""

    @property
    def catalog(self) -> Catalog:
        """The price list."""

    @property
    def joining(self) -> Joining:
        """What mates in it."""

    @property
    def site(self) -> Site:
        """Says where vessels' walls, floors and rims are."""

    @property
    def run(self) -> Run:
        """What the line is asked to be."""

    @property
    def pipe(self) -> Pipe:
        """The line's own pipe."""

    @property
    def lengths(self) -> Lengths:
        """Lengths that go with it."""

    @property
    def openings(self) -> tuple[Opening | None, Opening | None]:
        """The tee or pump at either end, where there is one and it is known."""

    @property
    def items(self) -> Sequence[Item]:
        """What stands there so far, in the order of the water."""

    def slot(self, needed: float, place: str, *, exact: bool = False, through: str | None = None) -> None:
        """Add a length of the line's own pipe [m]: no shorter than a stub unless `exact`."""

    def part(self, part: str, role: str, ends: tuple[End, End]) -> None:
        """Add a part, turned so that it mates with what came before, if it can be."""

    def item(self, item: Item) -> None:
        """Add a thing as it is."""

    def chain(self, parts: Sequence[str], role: Role) -> None:
        """Add adaptors and stubs, in the order of the water."""

    def plug(self, at: int, end: End, item: Item) -> None:
        """Close the third opening of an item."""

    def vent(self, at: int, end: End, needed: float, place: str) -> None:
        """Set an open length of the line's own pipe [m] on the third opening of an item."""


class Offering(Protocol):
    """What may stand on a line of a pipe, as a kind of fitting asks for it."""

    @property
    def catalog(self) -> Catalog:
        """The price list."""

    @property
    def pipe(self) -> Pipe:
        """The line's own pipe."""

    @property
    def upright(self) -> bool:
        """Whether the line starts at a standpipe, which may be of other pipe."""

    def of(self, rows: Mapping[str, P]) -> Sequence[P]:
        """Rows of the price list that are to be had."""

    def mates(self, one: End, other: End) -> bool:
        """Whether two ends join."""

    def chains(self, one: End, other: End) -> Sequence[Chain]:
        """Adaptors between two ends, few and worth considering."""


@dataclass(frozen=True, slots=True)
class Fitting:
    """One thing on a line with what joins it to the pipe.

    A kind that stands on a line where a rule asks for it (`kinds.OPTIONAL`) gives its ways by `offered`.

    Attributes:
        word: what it is called in words.
        on_straight: whether it stands in a straight, with pipe on both sides.
        at_head: whether it does so before the first turn, wherever else stands.
        by_rows: whether rules ask for it by rows of the model: what it suits is offered with and without.
        listed: its place among what else is on a line where parts are listed; couplings are 4.
    """

    word: ClassVar[str] = ""
    on_straight: ClassVar[bool] = False
    at_head: ClassVar[bool] = False
    by_rows: ClassVar[bool] = False
    listed: ClassVar[int] = 0

    @classmethod
    def suits(cls, site: Site, run: Run) -> bool:  # noqa: ARG003
        """Whether it may stand on a run of its own."""
        return True

    @classmethod
    def offered(cls, on: Offering) -> Iterator[Fitting]:  # noqa: ARG003
        """Every one that the price list has for a line of this pipe, with what joins it."""
        return iter(())

    def goes_with(self, start: Fitting, catalog: Catalog, pipe: Pipe) -> bool:  # noqa: ARG002
        """Whether it can stand on a line of this pipe that starts so."""
        return True

    def watts(self, catalog: Catalog) -> float:  # noqa: ARG002
        """Electric power that it takes while it is on [W]."""
        return 0.0

    def corners(self) -> tuple[Fitting, ...]:
        """Its turns, each a fitting of its own."""
        return ()

    def parts(self) -> tuple[str, ...]:
        """All that is bought for it but its turns and the line's own pipe, stubs of other pipe among it."""
        return ()

    def lay(self, on: Layout) -> None:
        """Put it on a line, in the order of the water."""

    def takes_m(self, lengths: Lengths) -> float:  # noqa: ARG002
        """How much it takes of the straight that it stands in or ends [m]."""
        return 0.0

    def resistances(self, catalog: Catalog, pipe: Pipe) -> Iterator[Resistance | None]:  # noqa: ARG002
        """What it puts in the way of water that comes along in this pipe."""
        return iter(())

    def ratings_m(self, catalog: Catalog) -> Iterator[float]:  # noqa: ARG002
        """What each of its parts that a pump's head can reach holds [m of water]."""
        return iter(())

    def told(self, catalog: Catalog) -> Iterator[str]:  # noqa: ARG002
        """What a builder is told of it where the line is told from start to end, without figures."""
        return iter(())


def turned(joining: Joining, here: End, ends: tuple[End, End]) -> tuple[End, End]:
    """A part's ends in the order in which it mates with what comes before, if it can be turned so."""
    near, far = ends
    return (far, near) if not joining.mates(here, near) and joining.mates(here, far) else ends
