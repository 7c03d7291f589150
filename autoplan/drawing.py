"""A finished design as a stranger could have drawn it: parts, pieces, holes and levels, and nothing computed.

The selection writes it, the rules and the verdict read it. No loss, velocity or cost stands here: whoever
needs one works it out again from the parts.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from autoplan.catalog.parts import TurnStyle, Way
from autoplan.problem.site import Guard


@dataclass(frozen=True, slots=True)
class DrawnTurn:
    """How one turn of a run is made.

    Attributes:
        angle: change of direction [degrees].
        style: tight, swept, paired 45s or bending.
        parts: part ids in order (two 45s for a pair, none where the pipe bends).
    """

    angle: int
    style: TurnStyle
    parts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DrawnSiphon:
    """What makes a bell siphon of a standpipe: part ids, None where the price list has no such part.

    Attributes:
        bell: stands over the standpipe.
        guard: keeps the gravel off the bell.
        snorkel: the air tube that ends at the bell's cut-outs.
        flare: adaptor on the standpipe's top that widens it, or None.
        cut_out_m: top of the bell's cut-outs above the bed's floor [m].
    """

    bell: str | None
    guard: str | None
    snorkel: str | None
    flare: str | None
    cut_out_m: float

    @property
    def parts(self) -> tuple[str, ...]:
        """Every part of it that there is."""
        return tuple(part for part in (self.flare, self.bell, self.guard, self.snorkel) if part is not None)


@dataclass(frozen=True, slots=True)
class DrawnDrainHole:
    """The hole in a standpipe's side by which a timed bed runs empty.

    Attributes:
        hole_m: its diameter [m].
        height_m: its centre above the bed's floor [m].
        guard: media guard round the standpipe, or None where the price list has none.
    """

    hole_m: float
    height_m: float
    guard: str | None


@dataclass(frozen=True, slots=True)
class DrawnEnd:
    """Where a run ends.

    Attributes:
        at: vessel or junction.
        way: how it meets the wall, or None at a junction or a pump.
        penetration: part id, or None (over the rim, junction, pump).
        centre_m: centre of the hole above the datum [m]; the floor for a floor hole, the rim over a rim.
        in_floor: whether the hole is in the floor and not in the wall.
        chain: adaptors from the penetration, tee or pump to the pipe, in that order.
        inner_chain: adaptors from the penetration's inside to the standpipe or tee behind it; the stop on the
            inner end of the piece that passes a seal.
        standpipe_top_m: top of the standpipe on a floor outlet above the datum [m], else None.
        standpipe: part id of the standpipe's pipe where that is not the run's own, else None.
        siphon: what makes a bell siphon of the standpipe, or None for a plain one.
        mouth_m: over a rim, where the piece that turns down ends above the datum [m].
        guard: what keeps the vessel from siphoning back through a pressure run's finish.
        air_hole_m: centre of a siphon-break hole in that piece above the datum [m], else None.
        air_hole_width_m: diameter of that hole [m]; 0 for none.
        drain_hole: the hole in the side of a timed bed's standpipe, else None.
    """

    at: str
    way: Way | None = None
    penetration: str | None = None
    centre_m: float | None = None
    in_floor: bool = False
    chain: tuple[str, ...] = ()
    inner_chain: tuple[str, ...] = ()
    standpipe_top_m: float | None = None
    standpipe: str | None = None
    siphon: DrawnSiphon | None = None
    mouth_m: float | None = None
    guard: Guard = Guard.AIR_GAP
    air_hole_m: float | None = None
    air_hole_width_m: float = 0.0
    drain_hole: DrawnDrainHole | None = None

    @property
    def upright_parts(self) -> tuple[str, ...]:
        """What stands on a floor outlet besides the standpipe: bell, guard and the like."""
        own = () if self.siphon is None else self.siphon.parts
        guard = None if self.drain_hole is None else self.drain_hole.guard
        return own if guard is None else (*own, guard)


@dataclass(frozen=True, slots=True)
class DrawnRun:
    """One run as built.

    Attributes:
        run: its name on the site.
        pipe: part id.
        slots_m: by slot, the pieces to cut [m]; a slot is the room between two parts, in the order of
            `autoplan.assembly.line.Line.needed_m`, and is of several pieces where no stick is that long.
        length_m: length the water travels in the run's own pipe [m], risers and standpipes of it included.
        turns: in order.
        open_tee: part id of the open tee of a solids-lifting outlet, or None.
        coupling: adaptors that join two pieces in one slot.
        valve: part id of the balancing valve, or None.
        valve_chain: adaptors on each side of the valve, each side from the valve to the pipe.
        start, finish: its two ends.
        screen: part id of the screen on a drain's inlet, or None.
        flush: tee and plug of its flushing point, or nothing.
        later: whether it is drawn for a bed to come later and not built now.
        cap: part id of the cap on the start of such a feed, which is built now.
        check: part id of the check valve behind the balancing valve, or None.
        check_chain: adaptors on each side of it, as for the valve.
    """

    run: str
    pipe: str
    slots_m: tuple[tuple[float, ...], ...]
    length_m: float
    turns: tuple[DrawnTurn, ...]
    open_tee: str | None
    coupling: tuple[str, ...]
    valve: str | None
    valve_chain: tuple[str, ...]
    start: DrawnEnd
    finish: DrawnEnd
    screen: str | None = None
    flush: tuple[str, ...] = ()
    later: bool = False
    cap: str | None = None
    check: str | None = None
    check_chain: tuple[str, ...] = ()

    @property
    def pieces_m(self) -> tuple[float, ...]:
        """Every piece to cut of the run's own pipe [m]."""
        return tuple(piece for slot in self.slots_m for piece in slot)

    @property
    def extras(self) -> tuple[str, ...]:
        """Further fittings: open tee, screen, check valve, flushing point, then the couplings."""
        single = (part for part in (self.open_tee, self.screen, self.check) if part is not None)
        return (*single, *self.check_chain, *self.flush, *self.couplings)

    @property
    def couplings(self) -> tuple[str, ...]:
        """Every adaptor that joins two pieces in one slot."""
        if not self.coupling:
            return ()
        return self.coupling * sum(max(0, len(slot) - 1) for slot in self.slots_m)


@dataclass(frozen=True, slots=True)
class DrawnJunction:
    """One junction as built: the tee, and which run sits on which of its ends (run, run, branch)."""

    junction: str
    tee: str | None
    ports: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DrawnPump:
    """The pump in one vessel: part id, "throttled" or "slowed", and its speed as a share of full speed."""

    vessel: str
    part: str
    mode: str
    speed: float


@dataclass(frozen=True, slots=True)
class DrawnLevel:
    """Water in one vessel above the datum [m].

    `design_m` is the level with the system running and, for the sump, every bed empty; `overload_m` the level
    allowed for at overload.
    """

    vessel: str
    design_m: float
    overload_m: float


@dataclass(frozen=True, slots=True)
class Purchase:
    """One line of an order: `packs` packs of a part from a shop; `quantity` is what the design uses.

    Quantity is in pieces; of pipe and thread tape it is the length [m], of solvent cement the volume [m3].
    """

    part: str
    shop: str
    quantity: float
    packs: int


@dataclass(frozen=True, slots=True)
class CutStick:
    """One stick of a pipe and the pieces cut from it [m].

    `offcut_m` is what is left of it, `owned` whether it is the builder's own and not bought.
    """

    pipe: str
    stick_m: float
    pieces_m: tuple[float, ...]
    offcut_m: float
    owned: bool = False


@dataclass(frozen=True, slots=True)
class DrawnAirLine:
    """One air line: vessel, part ids of line, diffuser, tap and check valve (or None), and length [m]."""

    vessel: str
    line: str
    length_m: float
    diffuser: str
    tap: str | None = None
    check: str | None = None


@dataclass(frozen=True, slots=True)
class DrawnAirPump:
    """One air pump with the manifolds on its outlets and its lines; `battery`: for power cuts."""

    part: str
    manifolds: tuple[str, ...]
    lines: tuple[DrawnAirLine, ...]
    battery: bool = False


@dataclass(frozen=True, slots=True)
class Drawing:
    """A whole design.

    `screwed_drains` says whether gravity joints are made with tape and a screw instead of cement;
    `hand_pumps` gives by vessel the pump for its waste.
    """

    runs: Mapping[str, DrawnRun]
    junctions: Mapping[str, DrawnJunction]
    pumps: Mapping[str, DrawnPump]
    levels: Mapping[str, DrawnLevel]
    purchases: tuple[Purchase, ...]
    cuts: tuple[CutStick, ...]
    screwed_drains: bool = False
    air: tuple[DrawnAirPump, ...] = ()
    hand_pumps: Mapping[str, str] = field(default_factory=dict)
