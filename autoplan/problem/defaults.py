"""Every value that stands in for one the builder did not give: the one place for them, each with its mark."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from autoplan.problem.site import VesselKind

PRACTICE = "common practice, no source"
MEMORY = "from memory"
GEOMETRY = "follows from the other values"


@dataclass(frozen=True, slots=True)
class Default:
    """A value as the builder would write it, where it comes from, and half a sentence on what it is."""

    text: str
    mark: str
    why: str


GUARD = Default(
    "any",
    PRACTICE,
    "what keeps a vessel from siphoning back through its inlet: air gap, hole or check valve, the cheapest",
)


@dataclass(frozen=True, slots=True)
class Line:
    """One pipe line of the short form.

    Attributes:
        length: length of pipe, uprights included.
        turns: changes of direction [degrees].
        why: half a sentence on what the length is.
    """

    length: str
    turns: tuple[int, ...]
    why: str


_WALL = {
    "wall": Default("6 mm", MEMORY, "thickness of the wall"),
    "base": Default("6 mm", MEMORY, "thickness of the floor"),
    "ground": Default("0 m", PRACTICE, "ground there above the height that the problem counts from (0)"),
}
_OPEN = {
    "freeboard": Default("80 mm", MEMORY, "dry wall above the highest design water"),
    "range": Default("60 %", MEMORY, "lowest design water as a share of the depth"),
}

VESSEL: Mapping[VesselKind, Mapping[str, Default]] = {
    VesselKind.TANK: _WALL
    | _OPEN
    | {
        "range": Default("85 %", MEMORY, "lowest design water as a share of the depth"),
        "volume": Default("1000 L", MEMORY, "volume to the rim"),
        "depth": Default("900 mm", MEMORY, "inside depth, floor to rim"),
        "shape": Default("round", PRACTICE, "round walls curve, square walls are flat"),
        "floor": Default("400 mm", MEMORY, "inside floor above the ground"),
    },
    VesselKind.SETTLER: _WALL
    | _OPEN
    | {
        "volume": Default("200 L", MEMORY, "volume to the rim"),
        "depth": Default("800 mm", MEMORY, "inside depth, floor to rim"),
        "shape": Default("round", PRACTICE, "round walls curve, square walls are flat"),
        "floor": Default("350 mm", MEMORY, "inside floor above the ground"),
    },
    VesselKind.BIOFILTER: _WALL
    | _OPEN
    | {
        "volume": Default("200 L", MEMORY, "volume to the rim"),
        "depth": Default("800 mm", MEMORY, "inside depth, floor to rim"),
        "shape": Default("round", PRACTICE, "round walls curve, square walls are flat"),
        "floor": Default("250 mm", MEMORY, "inside floor above the ground"),
    },
    VesselKind.BED: _WALL
    | {
        "area": Default("1.2 m2", MEMORY, "area of one bed"),
        "depth": Default("320 mm", MEMORY, "inside depth, floor to rim"),
        "shape": Default("square", PRACTICE, "round walls curve, square walls are flat"),
        "floor": Default("600 mm", MEMORY, "inside floor above the ground"),
        "flood": Default("250 mm", MEMORY, "depth of water when the bed is full"),
        "void": Default("0.4", MEMORY, "share of the wet gravel or clay that is water (0.35 to 0.5)"),
        "floods": Default(
            "2/hour",
            PRACTICE,
            "floods of each bed by which its inflow is reckoned (1 to 4 an hour are usual)",
        ),
        "drain": Default("siphon", PRACTICE, "a bell siphon floods and empties it in turn"),
        "drain_peak": Default(
            "3",
            MEMORY,
            "least flow while emptying that a bed's drain is laid for, as a multiple of its inflow",
        ),
    },
    VesselKind.SUMP: _WALL
    | {
        "volume": Default("800 L", MEMORY, "volume to the rim"),
        "depth": Default("600 mm", MEMORY, "inside depth, floor to rim"),
        "shape": Default("square", PRACTICE, "round walls curve, square walls are flat"),
        "floor": Default("-500 mm", MEMORY, "inside floor above the ground, so buried"),
        "freeboard": Default("80 mm", MEMORY, "dry wall above the highest design water"),
        "range": Default("0 %", PRACTICE, "the sump's level moves over its whole depth"),
    },
    VesselKind.HEADER: _WALL
    | _OPEN
    | {
        "volume": Default("200 L", MEMORY, "volume to the rim"),
        "depth": Default("800 mm", MEMORY, "inside depth, floor to rim"),
        "shape": Default("round", PRACTICE, "round walls curve, square walls are flat"),
        "floor": Default("1 m", MEMORY, "inside floor above the ground"),
    },
}
"""By kind of vessel. `range` is no key of a file: it is how `water_min` follows from the depth."""

TIMER: Mapping[str, Default] = {
    "on_time": Default("40 %", MEMORY, "time that the feed's valve is open in each cycle: 40 % of it"),
    "hole_height": Default("40 mm", MEMORY, "drain hole's centre over the floor, clear of the wall part"),
    "least": Default("6 mm", MEMORY, "least drain hole, so that roots and grit do not clog it"),
    "fill": Default("10 %", MEMORY, "time that the valve stays open after the bed is full"),
    "drain": Default("20 %", MEMORY, "time that the valve stays shut after the bed is empty"),
    "drain_peak": Default("1", GEOMETRY, "a timed bed drains no faster than it fills"),
}
"""Of a timed bed: what its keys stand for, and what its drain hole and inflow follow from."""

PUMPED_TANK_RANGE = Default("60 %", MEMORY, "lowest water, with every bed full, as a share of the depth")
"""In place of `range` for a fish tank that a pump stands in: its level moves with the beds."""

TURNOVER = Default("1.5/hour", PRACTICE, "how often the fish tank's volume passes (1 to 2 an hour are usual)")

WISHES: Mapping[str, Default] = {
    "overload": Default("1.5", PRACTICE, "multiple of the design flow at which nothing may run over"),
    "water": Default("20 degC", MEMORY, "water temperature, for viscosity"),
    "power_price": Default("0.3", MEMORY, "price of a kWh in the price list's currency"),
    "years": Default("3", MEMORY, "years over which running cost counts in cost of ownership"),
    "beds_full": Default("all", PRACTICE, "how many beds the sump must be able to fill at once"),
    "drain_joints": Default(
        "any", PRACTICE, "socket joints of drains: welded, or tape and a screw; the cheaper"
    ),
    "flushing_points": Default(
        "false", PRACTICE, "whether drains too slow to stay clean get a tee with a plug to flush them by"
    ),
}

AIR: Mapping[str, Default] = {
    "vessels": Default("every tank", PRACTICE, "vessels that get air"),
    "rate": Default("0.5/hour", MEMORY, "air an hour as a share of the water: 8 L/min for each 1000 L"),
    "depth": Default("to the floor", GEOMETRY, "water above the diffusers"),
    "line": Default("3 m", MEMORY, "air line from the pump to each diffuser"),
    "above_water": Default("true", PRACTICE, "air pumps stand above the highest water"),
    "battery": Default("false", PRACTICE, "whether a battery air pump is bought for power cuts"),
    "reserve": Default("50 %", MEMORY, "share of a tank's air that it gives in a power cut"),
}

WASTE: Mapping[str, Default] = {
    "height": Default(
        "0 mm",
        MEMORY,
        "open end of the waste drain above the height that the problem counts from (0): on the ground there",
    ),
    "fall": Default("200 mm", MEMORY, "least fall for a waste drain by gravity"),
}

SCREEN = Default("false", PRACTICE, "a media guard on its outlet; fixed media need none")

CATALOG = Default("metric", PRACTICE, "price list to buy from")

LINES: Mapping[str, Line] = {
    "tank_to_settler": Line("2 m", (90,), "pipe from the tank's wall to the settler"),
    "tank_to_biofilter": Line("2 m", (90,), "pipe from the tank's wall to the biofilter"),
    "tank_to_sump": Line("3 m", (90, 90), "pipe from the tank's wall to the sump"),
    "settler_waste": Line("4 m", (90,), "way from the settler to where its waste goes"),
    "biofilter_waste": Line("4 m", (90,), "way from the biofilter to where its waste goes"),
    "tank_overflow": Line("3 m", (90, 90), "pipe of the tank's emergency overflow to the sump"),
    "settler_to_biofilter": Line("1 m", (90,), "pipe from the settler to the biofilter"),
    "settler_to_sump": Line("2.5 m", (90, 90), "pipe from the settler to the sump"),
    "biofilter_to_sump": Line("2.5 m", (90, 90), "pipe from the biofilter to the sump"),
    "sump_to_split": Line(
        "1.6 m", (90,), "pipe from the pump out of the sump to where the beds' line leaves"
    ),
    "sump_to_tank": Line("5 m", (90, 90, 90), "pipe from the pump to the tank"),
    "sump_to_first_bed": Line("4 m", (90,), "pipe from the pump to where the first bed's feed leaves"),
    "between_beds": Line("1.5 m", (), "trunk between the feeds of neighbouring beds"),
    "trunk_to_bed": Line("1.2 m", (90, 90), "pipe from the trunk up and into a bed"),
    "bed_to_sump": Line("2.5 m", (90, 90), "pipe from the first bed's floor to the sump"),
    "tank_to_bed": Line("2.5 m", (90, 90), "pipe from the tank's wall to the first bed"),
    "settler_to_bed": Line("2.5 m", (90, 90), "pipe from the settler to the first bed"),
    "biofilter_to_bed": Line("2.5 m", (90, 90), "pipe from the biofilter to the first bed"),
    "tank_to_first_bed": Line(
        "3 m", (90,), "pipe from the pump out of the tank to where the first bed's feed leaves"
    ),
    "bed_to_tank": Line("2.5 m", (90, 90), "pipe from the first bed's floor to the tank"),
}
"""Pipe lines of the short form; all lengths and turns are from memory."""
