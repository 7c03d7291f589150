"""A line put together: the row of things that water passes, from one opening to the next.

Whoever wants to know which ends meet, which pieces are cut or how a joint is made asks here. The order is
that of the water; a part may be turned either way round, and is turned the way it mates.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from autoplan.catalog.joining import Joining, adaptor_like
from autoplan.catalog.parts import Catalog, End, Pipe
from autoplan.fittings.base import AS_SHORT, OTHER_PIPE, Fitting, Item, Opening, Role, Side, turned
from autoplan.fittings.cap import EndCap
from autoplan.fittings.corner import Corner
from autoplan.fittings.ends import AtVessel
from autoplan.fittings.lengths import Lengths
from autoplan.fittings.riser import VENT_STUB_M, Riser
from autoplan.fittings.wall import Pierced
from autoplan.line.route import Leg, along_m, measured, upright
from autoplan.line.row import Line
from autoplan.problem.site import Run, Site


@dataclass(frozen=True, slots=True)
class Laid:
    """One line from opening to opening.

    Attributes:
        run: its name.
        items: in the order of the water.
        sides: what sits on a third opening of one of them.
        needed_m: least length of each slot of the line's own pipe [m], in the order of `Line.slots_m`.
        valve_at: place of the balancing valve among the items, or None.
    """

    run: str
    items: tuple[Item, ...]
    sides: tuple[Side, ...]
    needed_m: tuple[float, ...]

    @property
    def valve_at(self) -> int | None:
        """Place of the balancing valve among the items, or None."""
        return next((place for place, item in enumerate(self.items) if item.role == Role.VALVE), None)

    def stubs(self) -> Iterator[tuple[str, float]]:
        """Pieces of other pipe than the line's own, for chains or a standpipe: part id, length [m]."""
        for item in self.items:
            if item.role in OTHER_PIPE and item.length_m is not None:
                yield item.part, item.length_m


class Bench:
    """What lines are put together with: a price list, what mates in it, and lengths worked out once a pipe.

    Args:
        catalog, joining: the price list, and what mates in it.
    """

    def __init__(self, catalog: Catalog, joining: Joining) -> None:
        self.catalog = catalog
        self.joining = joining
        self._lengths: dict[str, Lengths] = {}

    def lengths(self, pipe: Pipe) -> Lengths:
        """Lengths that go with a pipe."""
        if pipe.id not in self._lengths:
            self._lengths[pipe.id] = Lengths(self.catalog, pipe)
        return self._lengths[pipe.id]


def assemble(
    bench: Bench,
    site: Site,
    line: Line,
    start: Opening | None = None,
    finish: Opening | None = None,
    *,
    whole: bool = False,
) -> Laid:
    """Put a line together: of one to come later its capped start, or nothing, unless `whole`.

    Args:
        bench: the price list, and what mates in it.
        site: says what the run is asked to be, and where its vessels' walls and floors are.
        line: the line as built; slots that it does not give a length for get what they need.
        start, finish: the tee or pump at either end, where there is one and it is known.
        whole: whether to put together all of a line that is to come later.
    """
    return _Assembly(bench, site, line, (start, finish)).laid(whole=whole)


def slots_needed(bench: Bench, site: Site, line: Line) -> tuple[float, ...]:
    """Least length of each slot of a line [m], as `assemble` finds it, without its parts."""
    return _Measure(bench, site, line, (None, None)).laid().needed_m


def slots_and_room(bench: Bench, site: Site, line: Line) -> tuple[tuple[float, ...], float]:
    """As `slots_needed`, and how much longer than a stub the tightest straight is [m].

    Where that is negative the parts do not fit between the corners.
    """
    measure = _Measure(bench, site, line, (None, None))
    return measure.laid().needed_m, measure.room


class _Assembly:
    """The bench on which fittings lay themselves (`autoplan.fittings.base.Layout`)."""

    def __init__(
        self, bench: Bench, site: Site, line: Line, openings: tuple[Opening | None, Opening | None]
    ) -> None:
        self.bench = bench
        self.catalog: Catalog = bench.catalog
        self.joining: Joining = bench.joining
        self.site = site
        self.run: Run = site.runs[line.run]
        self.line = line
        self.pipe: Pipe = self.catalog.pipes[line.pipe]
        self.lengths: Lengths = bench.lengths(self.pipe)
        self.openings = openings
        self.items: list[Item] = []
        self.sides: list[Side] = []
        self.needed: list[float] = []
        self.behind: str | None = None
        """The part that the next piece goes into; not a tee's or pump's, which is chosen after the pieces."""
        self.open: float | None = None
        """What the last slot needs by its straight alone [m], while nothing stands at its far end."""
        self.least = 0.0
        """Least length of the last slot, by the part at its near end [m]."""

    def laid(self, *, whole: bool = False) -> Laid:
        """Everything from one opening to the other; of a line to come later what is built now."""
        cap = self.line.one(EndCap)
        if whole or not self.line.later:
            self._start()
            self._straights()
            if not isinstance(self.line.finish, AtVessel):
                self.open = None
            self.line.finish.end(self)
        elif cap is not None:
            self._start()
            cap.lay(self)
        return Laid(self.run.name, tuple(self.items), tuple(self.sides), tuple(self.needed))

    def _start(self) -> None:
        """Everything up to the first straight."""
        start, riser = self.line.start, self.line.one(Riser)
        if riser is not None and isinstance(start, Pierced):
            tee_at = riser.rise(self, self.site.vessels[start.at], start)
            start.inside(self)
            self.vent(tee_at, self.catalog.tees[riser.tee].ends[1], VENT_STUB_M, "vent on the open tee")
            start.outside(self)
        else:
            for inside in self.line.fittings[: self.line.fittings.index(start)]:
                inside.lay(self)
            start.begin(self)
        if not isinstance(start, AtVessel):
            self.behind = None

    def _straights(self) -> None:
        """Pipe from corner to corner, and whatever stands in it."""
        left = self._start_takes()
        for straight in straights(self.line, self._legs()):
            for fitting in straight.fittings:
                number = len(self.needed)
                self.slot(AS_SHORT, f"{straight.name}, before the {fitting.word}")
                fitting.lay(self)
                left += self.needed[number] + fitting.takes_m(self.lengths)
            corner = straight.corner
            right = self._finish_takes() if corner is None else corner.takes_m(self.lengths)
            self.slot(straight.length_m - (left + right), straight.name)
            if corner is not None:
                corner.lay(self)
                left = right

    def _legs(self) -> list[Leg]:
        """The legs with the one that turns down over a rim, which a turn that reaches so low lacks."""
        rim, legs = self.line.rim, self.line.legs or measured(self.run.legs_m)
        drops = rim is not None and rim.has_drop(self.lengths)
        return [*legs, upright(-rim.drop_m)] if rim is not None and drops else [*legs]

    def _start_takes(self) -> float:
        """How much of the first straight the start takes [m]."""
        opening = self.openings[0] if not isinstance(self.line.start, AtVessel) else None
        tee = self.lengths.tee_half if opening is not None and opening.role is Role.TEE else 0.0
        return self.line.start.takes_m(self.lengths) + tee

    def _finish_takes(self) -> float:
        """How much of the last straight its end takes [m]."""
        end = self.line.finish
        known = end.takes_m(self.lengths)
        if isinstance(end, AtVessel):
            return known
        met = sum(end.at in (run.start, run.finish) for run in self.site.runs.values())
        # Where only two runs meet they are in line, without a tee.
        return known + self.lengths.tee_half if met > 2 else known

    # --- what a fitting may do ---------------------------------------------------------------------------

    def slot(self, needed: float, place: str, *, exact: bool = False, through: str | None = None) -> None:
        """A length of the line's own pipe, in one piece or in several with couplings between them."""
        needed = self.begun(needed, exact=exact)
        ring = None if through is None else self.catalog.penetrations[through].ends[1]
        for index, length in enumerate(self._given(needed)):
            if index:
                self._chain(self.line.coupling, Role.ADAPTOR)
            ends = (self.pipe.end, self.pipe.end)
            self.items.append(Item(self.line.pipe, Role.PIPE, ends, length, place, through, ring))

    def _given(self, needed: float) -> tuple[float, ...]:
        """The pieces of the next slot [m]: as laid, or one of what it needs."""
        number = len(self.needed)
        self.needed.append(needed)
        return self.line.slots_m[number] if number < len(self.line.slots_m) else (needed,)

    def begun(self, needed: float, *, exact: bool) -> float:
        """What a slot behind the last part needs [m], before it is known what stands at its far end."""
        self.least = self.lengths.stub + (0.0 if self.behind is None else self.lengths.deeper(self.behind))
        self.behind, self.open = None, None if exact else needed
        return needed if exact else max(needed, self.least)

    def meets(self, first: str, last: str) -> None:
        """The slot before some parts goes into the first of them, and the next comes out of the last."""
        if self.open is not None:
            self.least += self.lengths.deeper(first)
            self.grown(max(self.open, self.least))
        self.behind, self.open = last, None

    def grown(self, needed: float) -> None:
        """The last slot as long as what stands at its far end asks for [m]."""
        number, item = len(self.needed) - 1, self.items[-1]
        if number >= len(self.line.slots_m):
            self.items[-1] = replace(item, length_m=needed)
        self.needed[number] = needed

    def part(self, part: str, role: str, ends: tuple[End, End]) -> None:
        """Add a part, turned so that it mates with what came before, if it can be."""
        self.meets(part, part)
        self._part(part, role, ends)

    def _part(self, part: str, role: str, ends: tuple[End, End]) -> None:
        if self.items:
            ends = turned(self.joining, self.items[-1].ends[1], ends)
        elif role in (Role.STOP, Role.ADAPTOR) and not self.joining.mates(ends[1], self.pipe.end):
            ends = (ends[1], ends[0])
        self.items.append(Item(part, role, ends))

    def item(self, item: Item) -> None:
        """Add a thing as it is."""
        self.behind = self.open = None
        self.items.append(item)

    def chain(self, parts: Sequence[str], role: Role) -> None:
        """Add adaptors and stubs, in the order of the water."""
        if parts:
            self.meets(parts[0], parts[-1])
        self._chain(parts, role)

    def _chain(self, parts: Sequence[str], role: Role) -> None:
        for part in parts:
            row = adaptor_like(self.catalog, part)
            if isinstance(row, Pipe):
                length = self.bench.lengths(row).stub
                self.items.append(Item(part, Role.STUB, (row.end, row.end), length, "stub"))
            else:
                self._part(part, role, row.ends)

    def plug(self, at: int, end: End, item: Item) -> None:
        """Close the third opening of an item."""
        self.sides.append(Side(at, end, item))

    def vent(self, at: int, end: End, needed: float, place: str) -> None:
        """An open length of the line's own pipe on a third end: cut like the rest, passed by no water."""
        length = sum(self._given(needed))
        ends = (self.pipe.end, self.pipe.end)
        self.sides.append(Side(at, end, Item(self.line.pipe, Role.PIPE, ends, length, place)))


class _Measure(_Assembly):
    """Takes the lengths alone: what it gives of its parts is of no use."""

    room = math.inf
    """How much longer than a stub the tightest straight is [m]."""

    def slot(self, needed: float, place: str, *, exact: bool = False, through: str | None = None) -> None:  # noqa: ARG002
        """Its length."""
        self.needed.append(self.begun(needed, exact=exact))
        self._roomy(AS_SHORT if exact else needed)

    def grown(self, needed: float) -> None:
        """Its length, and the room that is left."""
        self.needed[-1] = needed
        self._roomy(AS_SHORT if self.open is None else self.open)

    def _roomy(self, needed: float) -> None:
        """What a slot has over the least that it must be, if it is not to be as short as it may."""
        if needed > AS_SHORT:
            self.room = min(self.room, needed - self.least)

    def vent(self, at: int, end: End, needed: float, place: str) -> None:  # noqa: ARG002
        """Its length."""
        self.needed.append(needed)

    def _chain(self, parts: Sequence[str], role: Role) -> None:
        """Nothing."""

    def _part(self, part: str, role: str, ends: tuple[End, End]) -> None:
        """Nothing."""


@dataclass(frozen=True, slots=True)
class Straight:
    """Legs between two corners (bends of the pipe itself are none).

    Attributes:
        legs: those between them.
        corner: the turn at its end, or None where the line ends.
        first: its first leg, by number from 1.
        fittings: what stands in it, in order.
    """

    legs: tuple[Leg, ...]
    corner: Corner | None
    first: int
    fittings: tuple[Fitting, ...]

    @property
    def length_m(self) -> float:
        """From corner to corner [m]."""
        return along_m(self.legs)

    @property
    def name(self) -> str:
        """In words."""
        (first, *more) = self.legs
        if more:
            return f"legs {self.first} to {self.first + len(more)}"
        return f"leg {self.first}" if first.toward is None else f"leg {self.first}, {first.toward}"


def straights(line: Line, legs: Sequence[Leg]) -> Iterator[Straight]:
    """The straights of a line, and what stands in each: in that of one leg (`Line.stands`), or of the first.

    Args:
        line: the line.
        legs: its legs, one that turns down over a rim among them.
    """
    standing = [(0 if one.at_head else line.stands, one) for one in line.fittings if one.on_straight]
    turns, first = line.corners, 0
    for place in range(len(legs)):
        corner = turns[place] if place < len(turns) else None
        if corner is not None and corner.bends:
            continue
        own = tuple(one for leg, one in standing if first <= leg <= place)
        yield Straight(tuple(legs[first : place + 1]), corner, first + 1, own)
        first = place + 1
