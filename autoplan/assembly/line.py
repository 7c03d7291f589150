"""A drawn run as the row of things that water passes, from one opening to the next.

Whoever wants to know which ends meet, which pieces are cut or how a joint is made asks here. The order is
that of the water; a part may be turned either way round, and is turned the way it mates.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

from autoplan.assembly.lengths import Lengths
from autoplan.catalog.joining import Joining, adaptor_like
from autoplan.catalog.parts import Catalog, End, Pipe, TurnStyle, Way
from autoplan.drawing import DrawnEnd, DrawnRun, DrawnTurn
from autoplan.problem.site import Run, Site

VENT_STUB_M = 0.15
"""Open pipe above the tee of a solids-lifting outlet; common practice, no source."""


class Role(StrEnum):
    """What a thing on a line is there for."""

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
    role: Role
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
class Line:
    """One run from opening to opening.

    Attributes:
        run: its name.
        items: in the order of the water.
        sides: what sits on a third opening of one of them.
        needed_m: least length of each slot of the run's own pipe [m], in the order of `DrawnRun.slots_m`.
        valve_at: place of the balancing valve among the items, or None.
    """

    run: str
    items: tuple[Item, ...]
    sides: tuple[Side, ...]
    needed_m: tuple[float, ...]
    valve_at: int | None

    def stubs(self) -> Iterator[tuple[str, float]]:
        """Pieces of other pipe than the run's own, for adaptor chains or a standpipe: part id, length [m]."""
        for item in self.items:
            if item.role in OTHER_PIPE and item.length_m is not None:
                yield item.part, item.length_m


@dataclass(frozen=True, slots=True)
class Opening:
    """What a run starts or finishes at, where that is no wall or rim: a tee or a pump, and its end."""

    part: str
    role: Role
    end: End
    far: End


class Bench:
    """What runs are put together with: a price list, what mates in it, and lengths worked out once a pipe.

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
    drawn: DrawnRun,
    start: Opening | None = None,
    finish: Opening | None = None,
    *,
    whole: bool = False,
) -> Line:
    """Put a drawn run together: of one to come later its capped start, or nothing, unless `whole`.

    Args:
        bench: the price list, and what mates in it.
        site: says what the run is asked to be, and where its vessels' walls and floors are.
        drawn: the run as drawn; slots that it does not give a length for get what they need.
        start, finish: the tee or pump at either end, where there is one and it is known.
        whole: whether to put together all of a run that is to come later.
    """
    assembly = _Assembly(bench, site, drawn, (start, finish))
    return assembly.capped() if drawn.later and not whole else assembly.line()


def has_drop(lengths: Lengths, end: DrawnEnd, turn: DrawnTurn) -> bool:
    """Whether an end over a rim has pipe below its last turn, which does not reach to the mouth alone."""
    if end.way is not Way.OVER_RIM or end.centre_m is None or end.mouth_m is None:
        return False
    bends = turn.style is TurnStyle.BEND
    return bends or end.centre_m - end.mouth_m > lengths.reach(turn) + 1e-6


def slots_needed(bench: Bench, site: Site, drawn: DrawnRun) -> tuple[float, ...]:
    """Least length of each slot of a drawn run [m], as `assemble` finds it, without its parts."""
    measure = _Measure(bench, site, drawn, (None, None))
    return (measure.capped() if drawn.later else measure.line()).needed_m


class _Assembly:
    def __init__(
        self,
        bench: Bench,
        site: Site,
        drawn: DrawnRun,
        openings: tuple[Opening | None, Opening | None],
    ) -> None:
        self.bench = bench
        self.catalog = bench.catalog
        self.joining = bench.joining
        self.site = site
        self.run: Run = site.runs[drawn.run]
        self.drawn = drawn
        self.pipe: Pipe = self.catalog.pipes[drawn.pipe]
        self.lengths = bench.lengths(self.pipe)
        self.openings = openings
        self.items: list[Item] = []
        self.sides: list[Side] = []
        self.needed: list[float] = []
        self.valve_at: int | None = None
        turns = drawn.turns[1:] if drawn.open_tee is not None else drawn.turns
        self.groups = _straights([*self.run.legs_m, *self._drop(turns)], turns)

    def line(self) -> Line:
        taken = self._start()
        turns = [group.turn for group in self.groups]
        for number, group in enumerate(self.groups):
            left = self.lengths.turn(turns[number - 1]) if number else taken
            right = self._finish_takes() if group.turn is None else self.lengths.turn(group.turn)
            self._straight(group, left + right, with_valve=number == 0)
            if group.turn is not None:
                self._turn(group.turn)
        self._finish()
        return Line(
            self.run.name,
            tuple(self.items),
            tuple(self.sides),
            tuple(self.needed),
            self.valve_at,
        )

    def _drop(self, turns: Sequence[DrawnTurn]) -> list[float]:
        """The leg that turns down over a rim [m], if any: a turn that alone reaches so low has none."""
        end = self.drawn.finish
        if end.centre_m is None or end.mouth_m is None or not turns:
            return []
        return [end.centre_m - end.mouth_m] if has_drop(self.lengths, end, turns[-1]) else []

    def capped(self) -> Line:
        """The start of a feed to come later: adaptors at the tee, a stub and its cap; of a drain nothing."""
        if self.drawn.cap is not None:
            self._start()
            self._slot(self.lengths.stub, "spare connection")
            cap = self.catalog.fixtures[self.drawn.cap]
            if cap.end is not None:
                self.items.append(Item(cap.id, Role.CAP, (cap.end, cap.end)))
        return Line(self.run.name, tuple(self.items), (), tuple(self.needed), None)

    # --- the straights ----------------------------------------------------------------------------------

    def _straight(self, group: _Straight, taken: float, *, with_valve: bool) -> None:
        """Pipe between two corners, with the valve in the first of them."""
        if with_valve and self.drawn.valve is not None:
            taken += self._valve(group, self.drawn.valve, self.drawn.valve_chain, Role.VALVE)
        if with_valve and self.drawn.check is not None:
            taken += self._valve(group, self.drawn.check, self.drawn.check_chain, Role.CHECK)
        if with_valve and self.drawn.flush:
            taken += self._flushing_point(group)
        self._slot(group.length_m - taken, group.name)

    def _valve(self, group: _Straight, part: str, chain: Sequence[str], role: Role) -> float:
        """A valve with the stub before it and its adaptors; returns how much of the straight it takes [m]."""
        before, after = chain[: len(chain) // 2], chain[len(chain) // 2 :]
        self._slot(self.lengths.stub, f"{group.name}, before the {role}")
        self._chain(before[::-1], Role.ADAPTOR)
        if role is Role.VALVE:
            self.valve_at = len(self.items)
        self._part(part, role, self.catalog.valves[part].ends)
        self._chain(after, Role.ADAPTOR)
        return self.lengths.stub + self.lengths.taken((*before, part, *after))

    def _flushing_point(self, group: _Straight) -> float:
        """A tee with a plug on its third end; returns how much of the straight it takes [m]."""
        tee, plug = self.catalog.tees[self.drawn.flush[0]], self.catalog.fixtures[self.drawn.flush[1]]
        self._slot(self.lengths.stub, f"{group.name}, before the flushing point")
        self._part(tee.id, Role.FLUSH_TEE, (tee.ends[0], tee.ends[1]))
        if plug.end is not None:
            item = Item(plug.id, Role.PLUG, (plug.end, plug.end), None, "plug on the flushing point")
            self.sides.append(Side(len(self.items) - 1, tee.ends[2], item))
        return self.lengths.stub + 2 * self.lengths.tee_half

    def _slot(self, needed: float, place: str, *, exact: bool = False, through: str | None = None) -> None:
        """A length of the run's own pipe, in one piece or in several with couplings between them."""
        needed = needed if exact else max(needed, self.lengths.stub)
        number = len(self.needed)
        self.needed.append(needed)
        given = self.drawn.slots_m[number] if number < len(self.drawn.slots_m) else (needed,)
        for index, length in enumerate(given):
            if index:
                self._chain(self.drawn.coupling, Role.ADAPTOR)
            ends = (self.pipe.end, self.pipe.end)
            ring = None if through is None else self.catalog.penetrations[through].ends[1]
            self.items.append(Item(self.drawn.pipe, Role.PIPE, ends, length, place, through, ring))

    def _turn(self, turn: DrawnTurn) -> None:
        for index, part in enumerate(turn.parts):
            if index:
                self._slot(self.lengths.stub, "between two 45s")
            self._part(part, Role.TURN, self.catalog.turns[part].ends)

    # --- the ends ---------------------------------------------------------------------------------------

    def _start(self) -> float:
        """Everything up to the first straight; returns how much of that it takes [m]."""
        end = self.drawn.start
        if end.penetration is None:
            opening = self.openings[0]
            if opening is not None:
                self.items.append(Item(opening.part, opening.role, (opening.far, opening.end)))
            self._chain(end.chain, Role.ADAPTOR)
            known = self.lengths.taken(end.chain)
            return (
                known + self.lengths.tee_half if opening is not None and opening.role is Role.TEE else known
            )
        seal = end.way is Way.SEAL
        self._behind(end)
        if seal:
            self._through(end)
        else:
            self._wall_part(end, inwards=False)
        self._chain(end.chain, Role.ADAPTOR)
        return self.lengths.taken(end.chain) + (self.lengths.nipple_outside if seal else 0.0)

    def _behind(self, end: DrawnEnd) -> None:
        """What a drain draws through inside its vessel: riser and open tee, standpipe, or a stop."""
        before = end.inner_chain[::-1]
        if self.drawn.open_tee is not None:
            across = self.site.vessels[end.at].radius_m
            self._slot(across, "across the floor", exact=True)
            self._turn(self.drawn.turns[0])
            self._slot(self._upright(end), "riser", exact=True)
            tee = self.catalog.tees[self.drawn.open_tee]
            self._part(tee.id, Role.OPEN_TEE, (tee.ends[0], tee.ends[2]))
            at = len(self.items) - 1
            self._chain(before, Role.ADAPTOR)
            self._vent(at, tee.ends[1])
        elif end.in_floor:
            self._standpipe(end)
            self._chain(before, Role.ADAPTOR)
        else:
            self._chain(before, Role.STOP)

    def _standpipe(self, end: DrawnEnd) -> None:
        """The upright pipe on a floor outlet, of the run's own pipe or another, and the flare on its top."""
        pipe = self.pipe if end.standpipe is None else self.catalog.pipes[end.standpipe]
        if end.siphon is not None and end.siphon.flare is not None:
            wide, narrow = self.catalog.adaptors[end.siphon.flare].ends
            if not self.joining.mates(narrow, pipe.end):
                wide, narrow = narrow, wide
            self.items.append(Item(end.siphon.flare, Role.FLARE, (wide, narrow)))
        if end.standpipe is None:
            self._slot(self._upright(end), "standpipe", exact=True)
            return
        length = self._upright(end)
        self.items.append(Item(pipe.id, Role.STANDPIPE, (pipe.end, pipe.end), length, "standpipe"))

    def _upright(self, end: DrawnEnd) -> float:
        """A riser or standpipe from the floor to where it ends, or could end at most [m]."""
        vessel = self.site.vessels[end.at]
        top = end.standpipe_top_m if end.in_floor else end.centre_m
        return (vessel.water_max_m if top is None else top) - vessel.floor_m

    def _vent(self, at: int, opening: End) -> None:
        """The open pipe on a tee's third end: cut like the rest, passed by no water."""
        number = len(self.needed)
        self.needed.append(VENT_STUB_M)
        given = self.drawn.slots_m[number] if number < len(self.drawn.slots_m) else (VENT_STUB_M,)
        item = Item(
            self.drawn.pipe, Role.PIPE, (self.pipe.end, self.pipe.end), sum(given), "vent on the open tee"
        )
        self.sides.append(Side(at, opening, item))

    def _through(self, end: DrawnEnd) -> None:
        length = self.lengths.nipple(self.site.vessels[end.at].wall_m)
        self._slot(length, f"through the wall of {end.at}", exact=True, through=end.penetration)

    def _wall_part(self, end: DrawnEnd, *, inwards: bool) -> None:
        part = self.catalog.penetrations[end.penetration or ""]
        ends = part.ends[::-1] if inwards else part.ends
        self.items.append(Item(part.id, Role.WALL, ends))

    def _finish_takes(self) -> float:
        """How much of the last straight its end takes [m]."""
        end = self.drawn.finish
        known = self.lengths.taken(end.chain)
        if end.way is not None:
            return known + self.lengths.nipple_outside if end.way is Way.SEAL else known
        met = sum(end.at in (run.start, run.finish) for run in self.site.runs.values())
        # Where only two runs meet they are in line, without a tee.
        return known + self.lengths.tee_half if met > 2 else known

    def _finish(self) -> None:
        end = self.drawn.finish
        self._chain(end.chain[::-1], Role.ADAPTOR)
        if end.way is Way.SEAL:
            self._through(end)
            self._chain(end.inner_chain, Role.STOP)
        elif end.penetration is not None:
            self._wall_part(end, inwards=True)
        elif self.openings[1] is not None:
            opening = self.openings[1]
            self.items.append(Item(opening.part, opening.role, (opening.end, opening.far)))

    # --- pieces -----------------------------------------------------------------------------------------

    def _chain(self, parts: Sequence[str], role: Role) -> None:
        for part in parts:
            row = adaptor_like(self.catalog, part)
            if isinstance(row, Pipe):
                length = self.bench.lengths(row).stub
                self.items.append(Item(part, Role.STUB, (row.end, row.end), length, "stub"))
            else:
                self._part(part, role, row.ends)

    def _part(self, part: str, role: Role, ends: tuple[End, End]) -> None:
        """Add a part, turned so that it mates with what came before, if it can be."""
        if self.items:
            ends = turned(self.joining, self.items[-1].ends[1], ends)
        elif role in (Role.STOP, Role.ADAPTOR) and not self.joining.mates(ends[1], self.pipe.end):
            ends = (ends[1], ends[0])
        self.items.append(Item(part, role, ends))


class _Measure(_Assembly):
    """Takes the lengths alone: what it gives of its parts is of no use."""

    def _slot(self, needed: float, place: str, *, exact: bool = False, through: str | None = None) -> None:  # noqa: ARG002
        self.needed.append(needed if exact else max(needed, self.lengths.stub))

    def _vent(self, at: int, opening: End) -> None:  # noqa: ARG002
        self.needed.append(VENT_STUB_M)

    def _chain(self, parts: Sequence[str], role: Role) -> None:
        pass

    def _part(self, part: str, role: Role, ends: tuple[End, End]) -> None:
        pass


def turned(joining: Joining, here: End, ends: tuple[End, End]) -> tuple[End, End]:
    """A part's ends in the order in which it mates with what comes before, if it can be turned so."""
    near, far = ends
    return (far, near) if not joining.mates(here, near) and joining.mates(here, far) else ends


@dataclass(frozen=True, slots=True)
class _Straight:
    """Legs between two corners (bends of the pipe itself are none), and the turn at its end."""

    length_m: float
    turn: DrawnTurn | None
    first: int
    last: int

    @property
    def name(self) -> str:
        """In words."""
        if self.first == self.last:
            return f"leg {self.first}"
        return f"legs {self.first} to {self.last}"


def _straights(legs: Sequence[float], turns: Sequence[DrawnTurn]) -> list[_Straight]:
    found: list[_Straight] = []
    length, first = 0.0, 1
    for number, leg in enumerate(legs, start=1):
        length += leg
        turn = turns[number - 1] if number <= len(turns) else None
        if turn is not None and turn.style is TurnStyle.BEND:
            continue
        found.append(_Straight(length, turn, first, number))
        length, first = 0.0, number + 1
    return found
