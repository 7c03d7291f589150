"""Parts as a shop sells them, frozen. SI floats, money in integer cents.

An `End` is what one opening of a part offers to its neighbour. It is written in the price lists as three
words, "form system size": "socket metric 50", "male G 1", "barb poly 25", "sleeve range 48-61". Which mates
with which is said in `autoplan.catalog.mating`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import NamedTuple

from autoplan.catalog.materials import Material

LONGEST_RIGID_M = 6.0
"""Longest piece that a shop cuts of rigid pipe by the metre where its list does not say; sticks of 6 m are
what it is delivered in, common practice, no source [m]."""


class TurnStyle(StrEnum):
    """How a change of direction is made."""

    TIGHT = "tight"
    SWEPT = "swept"
    PAIRED = "paired 45s"
    BEND = "bending"


class Way(StrEnum):
    """How the end of a run meets a wall, a floor or a rim."""

    SEAL = "push-in seal"
    BULKHEAD = "bulkhead fitting"
    THREADED = "threaded pair"
    OVER_RIM = "over the rim"


class SundryKind(StrEnum):
    """Things no water flows through, counted by joint, by hole or by wall."""

    CEMENT = "solvent cement"
    TAPE = "thread tape"
    SCREW = "screw"
    WASHER = "washer"
    CLAMP = "hose clamp"
    STAND = "support stand"
    SAW = "hole saw"


class SiphonKind(StrEnum):
    """What stands round the standpipe of a bell siphon."""

    BELL = "bell"
    GUARD = "media guard"
    SNORKEL = "snorkel"


class AirKind(StrEnum):
    """Parts that bring air into the water."""

    PUMP = "air pump"
    BATTERY = "battery air pump"
    LINE = "air line"
    DIFFUSER = "diffuser"
    TAP = "air tap"
    MANIFOLD = "manifold"
    CHECK = "air check valve"


class FixtureKind(StrEnum):
    """Parts that hang on the plumbing and pass no water on."""

    SCREEN = "screen"
    PLUG = "access plug"
    CAP = "end cap"
    HAND_PUMP = "hand pump"


class End(NamedTuple):
    """One opening of a part: form, system and size.

    Form is "spigot" (a pipe's outside, to be welded), "plain" (an outside that can only be gripped),
    "socket", "compression", "sleeve" (the mouth of a rubber coupling, its size a range of outsides in mm),
    "seal" (the ring that takes a pipe), "male", "female", "barb" or "bore".
    """

    form: str
    system: str
    size: str

    def __str__(self) -> str:
        return f"{self.form} {self.system} {self.size}"


@dataclass(frozen=True, slots=True)
class Offer:
    """One shop's price for a part.

    Attributes:
        shop: id of the shop.
        price_cents: price of one pack (of one stick for pipe in sticks, of one metre for pipe by the metre).
        pack: pieces in a pack.
        stock: most packs the shop has, or None for no limit.
    """

    shop: str
    price_cents: int
    pack: int = 1
    stock: int | None = None


@dataclass(frozen=True, slots=True)
class Part:
    """What every row has.

    Attributes:
        id: unique in the catalogue.
        description: what the counter hand reads.
        offers: at least one.
        source: where the dimensions come from.
        place: file and line of the row.
        material: what touches the water.
    """

    id: str
    description: str
    offers: tuple[Offer, ...]
    source: str
    place: str
    material: Material = field(default=Material.PLASTIC, kw_only=True)


@dataclass(frozen=True, slots=True)
class Pipe(Part):
    """Pipe, tube or hose.

    Attributes:
        end: what its cut end offers ("spigot metric 50", "bore poly 25").
        outside_m, bore_m: diameters [m].
        rating_m: pressure it holds [m of water]; 0 for drain pipe.
        roughness_m: absolute roughness of the bore [m].
        stick_m: length of a stick [m], or 0 if sold by the metre.
        bend_radius_m: least radius to which it bends by itself [m], or 0 for rigid pipe.
        longest_piece_m: longest piece that a shop cuts of its metres [m], or None if it does not say.
    """

    end: End
    outside_m: float
    bore_m: float
    rating_m: float
    roughness_m: float
    stick_m: float
    bend_radius_m: float
    longest_piece_m: float | None = None

    @property
    def longest_m(self) -> float:
        """The longest piece that can be bought [m]: a stick, or what the shop cuts of its metres."""
        if self.stick_m:
            return self.stick_m
        if self.longest_piece_m is not None:
            return self.longest_piece_m
        return math.inf if self.bend_radius_m else LONGEST_RIGID_M

    @property
    def family(self) -> tuple[End, float, float, float, float, float]:
        """What makes two rows the same pipe, sold in another length or by another shop."""
        return (
            self.end,
            self.outside_m,
            self.bore_m,
            self.rating_m,
            self.roughness_m,
            self.bend_radius_m,
        )


@dataclass(frozen=True, slots=True)
class Turn(Part):
    """A bend; angle [degrees], style tight or swept, centreline radius over bore [-], smallest bore [m]."""

    ends: tuple[End, End]
    angle: int
    style: TurnStyle
    radius_over_bore: float
    bore_m: float
    rating_m: float


@dataclass(frozen=True, slots=True)
class Tee(Part):
    """A tee or wye: ends are (run, run, branch); branch angle [degrees]; smallest bore [m]."""

    ends: tuple[End, End, End]
    angle: int
    bore_m: float
    rating_m: float


@dataclass(frozen=True, slots=True)
class Adaptor(Part):
    """Anything with two ends that only joins: coupling, bush, valve adaptor, union.

    Attributes:
        ends: both ends.
        bore_m: smallest bore [m].
        rating_m: pressure it holds [m of water]; 0 where gravity alone may move the water.
        apart: whether it comes apart again (barrel union, nut-and-tail, compression or rubber coupling).
        body_m: length between the ends of what it joins [m], or None if the row does not say.
    """

    ends: tuple[End, End]
    bore_m: float
    rating_m: float
    apart: bool
    body_m: float | None = None

    @property
    def flexible(self) -> bool:
        """Whether it is a rubber coupling, which takes up a little height and angle."""
        return all(end.form == "sleeve" for end in self.ends)


@dataclass(frozen=True, slots=True)
class Valve(Part):
    """A valve.

    Attributes:
        ends: both ends.
        style: "ball", "check", or "timed": opened by a clock to a stop set by hand, shut without power.
        bore_m: bore of the seat [m].
        kv_m3_h: measured flow at 1 bar fully open [m3/h], or None to compute K from the bore.
        rating_m: pressure it holds [m of water].
        apart: whether it has unions.
        body_m: length between the ends of what it joins [m], or None if the row does not say.
        handle_off: whether its handle comes off, so that no child can turn it.
        watts: electric power of a timed valve while it is open [W]; else 0.
    """

    ends: tuple[End, End]
    style: str
    bore_m: float
    kv_m3_h: float | None
    rating_m: float
    apart: bool = False
    body_m: float | None = None
    handle_off: bool = False
    watts: float = 0.0


@dataclass(frozen=True, slots=True)
class Penetration(Part):
    """A part that takes a pipe through a wall or a floor.

    Attributes:
        way: seal, bulkhead or threaded pair.
        ends: (inside the vessel, outside the vessel). A seal carries the pipe itself, so both its ends are
            ("seal", system, size) and take that pipe's outside.
        hole_m: hole to drill [m].
        wall_min_m, wall_max_m: wall thickness it closes on [m].
        curved_ok: whether it closes on a curved wall.
        thin_flexing_ok: whether it holds in a wall under 3 mm without a stand.
        bore_m: smallest bore [m] (of the pipe for a seal: 0).
        head_max_m: most water above it [m].
    """

    way: Way
    ends: tuple[End, End]
    hole_m: float
    wall_min_m: float
    wall_max_m: float
    curved_ok: bool
    thin_flexing_ok: bool
    bore_m: float
    head_max_m: float


@dataclass(frozen=True, slots=True)
class Pump(Part):
    """A pump with its curve at full speed.

    Attributes:
        outlet: its outlet thread or spigot.
        curve: (flow [m3/s], head [m]) points from shut-off to run-out, flow rising, head falling.
        watts: electric power at full speed [W].
        slowable: whether it can be slowed (variable speed).
        cover_m: least water above the floor it stands on [m].
        outlet_bore_m: bore of the outlet [m].
    """

    outlet: End
    outlet_bore_m: float
    curve: tuple[tuple[float, float], ...]
    watts: float
    slowable: bool
    cover_m: float


@dataclass(frozen=True, slots=True)
class Sundry(Part):
    """Cement, tape, screws, washers, clamps, stands and hole saws.

    Attributes:
        kind: see `SundryKind`.
        content: what one piece holds: cement [m3], tape [m], else 1 piece.
        least_m, most_m: diameters that it fits [m]: outside of the hose (clamp) or the pipe (stand), of the
            hole (saw); 0 and infinite where the size does not matter.
        thread: (system, size) of the thread that a washer seals, else None.
    """

    kind: SundryKind
    content: float
    least_m: float
    most_m: float
    thread: tuple[str, str] | None


@dataclass(frozen=True, slots=True)
class SiphonPart(Part):
    """A bell, the guard round it or its air tube, bought ready-made or to be made from pipe and a cap.

    Attributes:
        kind: see `SiphonKind`.
        inside_m, outside_m: diameters [m].
        tallest_m: most height that it can be cut to [m].
    """

    kind: SiphonKind
    inside_m: float
    outside_m: float
    tallest_m: float


@dataclass(frozen=True, slots=True)
class AirPart(Part):
    """An air pump, or what leads its air to the water.

    Attributes:
        kind: see `AirKind`.
        curve: of a pump, (flow of free air [m3/s], pressure [m of water]) from closed to open; else empty.
        watts: electric power of a pump [W]; else 0.
        outlets: tails for air line: of a pump, of a manifold; else 1.
        bore_m: bore of a line [m]; else 0.
        flow_m3_s: most air through it [m3/s]; of a line and a pump infinite.
        head_m: pressure that it takes at that flow [m of water].
    """

    kind: AirKind
    curve: tuple[tuple[float, float], ...]
    watts: float
    outlets: int
    bore_m: float
    flow_m3_s: float
    head_m: float


@dataclass(frozen=True, slots=True)
class Tub(Part):
    """A tub that can be bought to stand as a vessel; volume to the rim [m3], surface [m2], the rest [m]."""

    volume_m3: float
    depth_m: float
    area_m2: float
    wall_m: float
    base_m: float
    curved: bool


@dataclass(frozen=True, slots=True)
class Fixture(Part):
    """A screen, an access plug, an end cap or a hand pump.

    Attributes:
        kind: see `FixtureKind`.
        end: of a plug or a cap, what it closes with; else None.
        least_m, most_m: of a screen, outsides of the pipe that it is pushed on [m]; else 0 and infinite.
        open_m2: of a screen, area of its openings [m2]; else 0.
        slot_m: of a screen, width of each opening [m]; else 0.
        lift_m: of a hand pump, how high it lifts [m]; else 0.
        reach_m: of a hand pump, length of the hose that comes with it [m]; else 0.
    """

    kind: FixtureKind
    end: End | None
    least_m: float
    most_m: float
    open_m2: float
    slot_m: float
    lift_m: float
    reach_m: float


@dataclass(frozen=True, slots=True)
class Shop:
    """A shop: freight per order [cents], and the order value from which freight is free [cents] or None."""

    id: str
    name: str
    freight_cents: int
    free_from_cents: int | None

    def charge_cents(self, goods_cents: int) -> int:
        """What an order of goods costs on top [cents]: freight, or topping it up to the free value.

        An order that lacks less than the freight to the value from which freight is free is topped up with
        spares instead, as anyone would.
        """
        if self.free_from_cents is None:
            return self.freight_cents
        return min(self.freight_cents, max(0, self.free_from_cents - goods_cents))


@dataclass(frozen=True, slots=True)
class Size:
    """One size of one system: what its name means in dimensions.

    Attributes:
        outside_m: outside diameter of the pipe [m], or None where the system is not named by it.
        outside_min_m, outside_max_m: limits of that outside [m]; itself where the row gives none.
        mouth_min_m, mouth_max_m: limits of a solvent socket's inside at its mouth [m], or None.
        bore_m: bore that gives the size its name [m], or None.
        thread_major_m: major diameter of the thread [m], or None.
        socket_m: depth to which pipe goes into a socket [m], or None.
        source: where the dimensions come from.
    """

    outside_m: float | None
    bore_m: float | None
    thread_major_m: float | None
    socket_m: float | None
    source: str
    outside_min_m: float | None = None
    outside_max_m: float | None = None
    mouth_min_m: float | None = None
    mouth_max_m: float | None = None


@dataclass(frozen=True, slots=True)
class Catalog:
    """A whole price list; parts by id in the order of the files; sizes by system, then size."""

    name: str
    folder: str
    currency: str
    shops: Mapping[str, Shop]
    pipes: Mapping[str, Pipe]
    turns: Mapping[str, Turn]
    tees: Mapping[str, Tee]
    adaptors: Mapping[str, Adaptor]
    valves: Mapping[str, Valve]
    penetrations: Mapping[str, Penetration]
    pumps: Mapping[str, Pump]
    sundries: Mapping[str, Sundry] = field(default_factory=dict)
    siphons: Mapping[str, SiphonPart] = field(default_factory=dict)
    systems: Mapping[str, Mapping[str, Size]] = field(default_factory=dict)
    air: Mapping[str, AirPart] = field(default_factory=dict)
    vessels: Mapping[str, Tub] = field(default_factory=dict)
    fixtures: Mapping[str, Fixture] = field(default_factory=dict)

    def part(self, part_id: str) -> Part:
        """The part of that id.

        Raises:
            KeyError: no such part.
        """
        for group in self.groups():
            if part_id in group:
                return group[part_id]
        raise KeyError(part_id)

    def groups(self) -> tuple[Mapping[str, Part], ...]:
        """The parts by kind, each by id."""
        return (
            self.pipes,
            self.turns,
            self.tees,
            self.adaptors,
            self.valves,
            self.penetrations,
            self.pumps,
            self.sundries,
            self.siphons,
            self.air,
            self.vessels,
            self.fixtures,
        )
