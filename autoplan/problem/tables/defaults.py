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
class LineDefault:
    """One pipe line of the short form.

    Attributes:
        length: level distance on the plan, from wall to wall.
        corners: changes of direction on the plan [degrees].
        why: half a sentence on what the distance is.
    """

    length: str
    corners: tuple[int, ...]
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


def _sizes(shape: str, depth: str, floor: str, volume: str = "", buried: str = "") -> dict[str, Default]:
    """What a vessel of any kind has; a bed has no volume."""
    sizes = {
        "depth": Default(depth, MEMORY, "inside depth, floor to rim"),
        "shape": Default(shape, PRACTICE, "round walls curve, square walls are flat"),
        "floor": Default(floor, MEMORY, f"inside floor above the ground{buried}"),
    }
    if volume:
        sizes["volume"] = Default(volume, MEMORY, "volume to the rim")
    return _WALL | sizes


VESSEL: Mapping[VesselKind, Mapping[str, Default]] = {
    VesselKind.TANK: _OPEN
    | _sizes("round", "900 mm", "400 mm", "1000 L")
    | {"range": Default("85 %", MEMORY, "lowest design water as a share of the depth")},
    VesselKind.SETTLER: _OPEN | _sizes("round", "800 mm", "350 mm", "200 L"),
    VesselKind.BIOFILTER: _OPEN | _sizes("round", "800 mm", "250 mm", "200 L"),
    VesselKind.BED: _sizes("square", "320 mm", "600 mm")
    | {
        "area": Default("1.2 m2", MEMORY, "area of one bed"),
        "flood": Default("250 mm", MEMORY, "depth of water when the bed is full"),
        "void": Default("0.4", MEMORY, "share of the wet gravel or clay that is water (0.35 to 0.5)"),
        "floods": Default(
            "2/hour",
            PRACTICE,
            "floods of each bed by which its inflow is reckoned (1 to 4 an hour are usual)",
        ),
        "drain": Default("siphon", PRACTICE, "a bell siphon floods and empties it in turn"),
        "bell": Default("pipe", PRACTICE, "siphons' bells are bought or made of pipe, not of bottles"),
        "drain_peak": Default(
            "3",
            MEMORY,
            "least flow while emptying that a bed's drain is laid for, as a multiple of its inflow",
        ),
    },
    VesselKind.SUMP: _OPEN
    | _sizes("square", "600 mm", "-500 mm", "800 L", ", so buried")
    | {"range": Default("0 %", PRACTICE, "the sump's level moves over its whole depth")},
    VesselKind.HEADER: _OPEN | _sizes("round", "800 mm", "1 m", "200 L"),
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

WEEP: Mapping[str, Default] = {
    "hole_height": TIMER["hole_height"],
    "least": TIMER["least"],
    "within": Default("3 hours", MEMORY, "time in which the bed runs empty once its pump stops"),
    "spare": Default("20 %", MEMORY, "share of the bed's inflow that goes over the lip and not by the hole"),
    "drain_peak": Default("1", GEOMETRY, "a bed with a weep hole drains no faster than it fills"),
}
"""Of a bed with a weep hole: likewise."""

PUMPED_TANK_RANGE = Default("60 %", MEMORY, "lowest water, with every bed full, as a share of the depth")
"""In place of `range` for a fish tank that a pump stands in: its level moves with the beds."""

TURNOVER = Default("1.5/hour", PRACTICE, "how often the fish tank's volume passes (1 to 2 an hour are usual)")

WISHES: Mapping[str, Default] = {
    "overload": Default("1.5", PRACTICE, "multiple of the design flow at which nothing may run over"),
    "water": Default("20 degC", MEMORY, "water temperature, for viscosity"),
    "power_price": Default("0.3", MEMORY, "price of a kWh in the price list's currency"),
    "frost": Default(
        "false", PRACTICE, "whether it freezes there: lines that hold water get a drain cock at their lowest"
    ),
    "fish": Default(
        "20 kg/m3",
        "FAO 589, table of stocking, from memory",
        "most fish in a tank, by which its air in a power cut is told",
    ),
    "years": Default("3", MEMORY, "years over which running cost counts in cost of ownership"),
    "beds_full": Default("all", PRACTICE, "how many beds the sump must be able to fill at once"),
    "drain_joints": Default(
        "any", PRACTICE, "socket joints of drains: welded, or tape and a screw; the cheaper"
    ),
    "spare": Default("15 %", PRACTICE, "how much more than its design flow the pump can give"),
    "second_half": Default(
        "false",
        PRACTICE,
        "whether what joins a spare pump with another outlet is bought too, as far as it is not owned",
    ),
    "settler_inlet": Default(
        "any",
        PRACTICE,
        "how water that enters a settler is slowed: turned down (or over the rim), a stilling well round its "
        "inlet, or the cheaper",
    ),
    "flushing_points": Default(
        "ahead of a settler",
        PRACTICE,
        "which drains from a fish tank get a tee with a plug to flush them by, where they are too slow to "
        "stay clean: true for all, or those ahead of a settler",
    ),
    "vents": Default(
        "true", PRACTICE, "whether drains that would gulp air get a tee with an open pipe at their head"
    ),
    "survives": Default(
        "half-blocked drain", MEMORY, "what may befall a drain without anything running over, or nothing"
    ),
    "drain_grade": Default(
        "drinking water", PRACTICE, "what parts of drains are sold for at least: drinking water, or drain"
    ),
    "mouth": Default(
        "free",
        PRACTICE,
        "how drains that end over a rim hang there: free of the water, or below it at its lowest",
    ),
    "rain": Default(
        "30 mm", MEMORY, "a shower on all vessels that is to find room with the power off; 0 mm under a roof"
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

SHARED: Mapping[str, Default] = {
    "bed_drains": Default(
        "each", PRACTICE, "a drain of its own from each bed, one collector that all share, or the cheaper"
    ),
    "collector_fall": Default("10 mm/m", PRACTICE, "fall of the collector that beds' drains share"),
    "empty_at_once": Default("all", PRACTICE, "how many beds may run empty at once into their collector"),
}
"""How beds drain."""

COLLECTOR = Default(
    "under the beds",
    PRACTICE,
    "the collector's head lies under the beds; where a height is given its lowest tee lies there",
)
"""At what height beds' drains are collected."""

VENT_OVER_RIM_M = 0.02
"""Top of a collector's vent over the rims of its beds, over which water runs first [m]; from memory."""

SCREEN = Default("false", PRACTICE, "a media guard on its outlet; fixed media need none")

OFFERED = '"if needed" where there is no design without it, "any" where it costs less than doing without'
"""What the words say by which an overflow is left to the program."""

OVERFLOW = Default("any", PRACTICE, f"whether it gets an emergency overflow to the sump; {OFFERED}")

CATALOG = Default("metric", PRACTICE, "price list to buy from")

LINES: Mapping[str, LineDefault] = {
    "tank_to_settler": LineDefault("1.2 m", (), "from the tank to the settler"),
    "tank_to_biofilter": LineDefault("1.2 m", (), "from the tank to the biofilter"),
    "tank_to_sump": LineDefault("2.5 m", (90,), "from the tank to the sump"),
    "settler_waste": LineDefault("4 m", (90,), "from the settler to where its waste goes"),
    "biofilter_waste": LineDefault("4 m", (90,), "from the biofilter to where its waste goes"),
    "tank_overflow": LineDefault("3 m", (90,), "from the tank's emergency overflow to the sump"),
    "settler_to_biofilter": LineDefault("800 mm", (), "from the settler to the biofilter"),
    "settler_to_sump": LineDefault("2 m", (90,), "from the settler to the sump"),
    "biofilter_to_sump": LineDefault("2 m", (90,), "from the biofilter to the sump"),
    "sump_to_split": LineDefault(
        "600 mm", (), "from the sump to where the beds' line leaves, on the way to the tank"
    ),
    "sump_to_tank": LineDefault("4 m", (90,), "from the sump to the tank, past the split"),
    "sump_to_first_bed": LineDefault(
        "3 m", (), "from the sump to where the first bed's feed leaves, past the split"
    ),
    "between_beds": LineDefault("1.5 m", (), "along the trunk from one bed's feed to the next"),
    "trunk_to_bed": LineDefault("500 mm", (), "from the trunk to a bed"),
    "bed_to_sump": LineDefault("2 m", (90,), "from the first bed to the sump"),
    "bed_to_collector": LineDefault("200 mm", (), "from a bed to the collector that beds' drains share"),
    "tank_to_bed": LineDefault("2 m", (90,), "from the tank to the first bed"),
    "settler_to_bed": LineDefault("2 m", (90,), "from the settler to the first bed"),
    "biofilter_to_bed": LineDefault("2 m", (90,), "from the biofilter to the first bed"),
    "tank_to_first_bed": LineDefault("2 m", (), "from the tank to where the first bed's feed leaves"),
    "bed_to_tank": LineDefault("2 m", (90,), "from the first bed to the tank"),
}
"""Pipe lines of the short form; all distances and corners are from memory."""

FEEDS = "feeds"
"""Key of the height at which the pump's lines run."""

FEEDS_OVER_RIM_M = 0.1
"""Axis of the pump's lines over the rim that they leave by, where they run on at that height [m]."""

DOWN_AGAIN_M = 0.3
"""How far a line comes down behind the rim that it leaves by, at least [m]; from memory."""

ON_GROUND_M = 0.05
"""Axis of a pipe over the ground that it lies on [m]."""

UNDER_BED_M = 0.15
"""Axis of a pipe below the underside of the beds that it runs under [m]."""

HEIGHTS: Mapping[str, Default] = {
    FEEDS: Default(
        "over the rim", PRACTICE, "the pump's lines run on at the height at which they cross the rim"
    ),
}
"""Heights at which lines run; a drain runs at the height of its end unless the file says otherwise."""
