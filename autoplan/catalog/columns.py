"""What stands in a price list: every file, every column with its meaning, and what an empty cell says.

The unit of a column is the end of its name, as in `bore_mm`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a price list, or a key of its `catalog.toml`.

    Attributes:
        meaning: half a sentence on what it holds.
        empty: what an empty cell says; None where it must be filled in.
    """

    meaning: str
    empty: str | None = None


BY_KIND = "its kind has none"
"""Where the kind of a row decides whether a cell is filled in or stays empty."""

_END = "form, system and size of an end, three words"
_BORE = Column("narrowest place that the water passes")
_RATING = Column("pressure that it holds; 0 for drain parts")
_BODY = Column("length between the ends of the two pipes on it", "estimated")
_ENDS = {"end_a": Column(f"{_END}: the one side"), "end_b": Column(f"{_END}: the other side")}
_WORD_KIND = "which of the kinds in this file it is"

TITLE: Mapping[str, Column] = {
    "name": Column("what the price list is called"),
    "currency": Column("currency of all its prices"),
    "note": Column("anything worth knowing about the list", "nothing to say"),
}
"""Keys of `catalog.toml`."""

SHOPS: Mapping[str, Column] = {
    "shop": Column("short name of the shop, by which other files refer to it"),
    "name": Column("the shop's name in full"),
    "freight": Column("freight for one order from this shop; 0 for none"),
    "free_from": Column("order value from which freight is free", "never"),
}
OFFERS: Mapping[str, Column] = {
    "part": Column("id of a part that another shop sells too"),
    "shop": Column("that other shop"),
    "price": Column("its price of one pack, one stick, or one metre for pipe by the metre"),
    "pack": Column("pieces in a pack", "1"),
    "stock": Column("packs left", "no limit"),
}
SYSTEMS: Mapping[str, Column] = {
    "system": Column("family of sizes that fit each other, one word"),
    "size": Column("name of a size in it, without a blank"),
    "outside_mm": Column("outside of a pipe of this size", "its parts have no such end"),
    "bore_mm": Column("bore of a hose or pipe of this size", "its parts have no such end"),
    "thread_major_mm": Column("largest diameter of a thread of this size", "its parts have no such end"),
    "socket_mm": Column("depth of a socket of this size", "estimated"),
    "source": Column("standard or catalogue that the figures come from"),
}
LIMITS: Mapping[str, Column] = {
    "outside_min_mm": Column("least outside of a pipe within its tolerance", "outside_mm"),
    "outside_max_mm": Column("greatest outside of a pipe within its tolerance", "outside_mm"),
    "mouth_min_mm": Column("least inside of a socket at its mouth", "not looked at"),
    "mouth_max_mm": Column("greatest inside of a socket at its mouth", "not looked at"),
}
"""Columns of `systems.csv` that may be absent."""

COMMON: Mapping[str, Column] = {
    "id": Column("one plain word for the part, like no other in the folder"),
    "description": Column("what to ask for in the shop"),
    "shop": Column("which shop sells it"),
    "price": Column("price of one pack, one stick, or one metre for pipe by the metre"),
    "pack": Column("pieces in a pack", "1"),
    "stock": Column("packs left", "no limit"),
    "source": Column("where the dimensions come from"),
}
"""Columns of every file of parts."""

COLUMNS: Mapping[str, Mapping[str, Column]] = {
    "pipes": {
        "end": Column(f"{_END}, as spigot, plain or bore"),
        "outside_mm": Column("outside diameter"),
        "bore_mm": Column("inside diameter"),
        "rating_bar": Column("pressure that it holds; 0 for drain pipe"),
        "roughness_mm": Column("roughness of its inside, as new"),
        "stick_m": Column("length of a stick or coil", "sold by the metre"),
        "bend_radius_mm": Column("least radius to which it bends by itself", "rigid"),
    },
    "turns": {
        **_ENDS,
        "angle_deg": Column("by how much it turns, 45 or 90"),
        "style": Column("tight or swept"),
        "radius_over_bore": Column("radius of its bend as a multiple of its bore"),
        "bore_mm": _BORE,
        "rating_bar": _RATING,
    },
    "tees": {
        "end_a": Column(f"{_END}: where the run comes in"),
        "end_b": Column(f"{_END}: where the run goes on"),
        "end_c": Column(f"{_END}: the branch"),
        "angle_deg": Column("between run and branch, 45 or 90"),
        "bore_mm": _BORE,
        "rating_bar": _RATING,
    },
    "adaptors": {
        **_ENDS,
        "bore_mm": _BORE,
        "rating_bar": _RATING,
        "apart": Column("yes where it comes apart again by hand, else no"),
    },
    "valves": {
        **_ENDS,
        "style": Column("ball, check or timed"),
        "bore_mm": _BORE,
        "rating_bar": _RATING,
        "kv_m3_h": Column("water through it, wide open, at a loss of 1 bar", "reckoned from its bore"),
    },
    "penetrations": {
        "way": Column("push-in seal, bulkhead fitting or threaded pair"),
        "end_inside": Column(f"{_END}: inside the vessel"),
        "end_outside": Column(f"{_END}: outside the vessel"),
        "hole_mm": Column("hole to drill"),
        "wall_min_mm": Column("thinnest wall that it holds in"),
        "wall_max_mm": Column("thickest wall that it holds in"),
        "curved_ok": Column("yes where it seals in a round wall, else no"),
        "thin_flexing_ok": Column("yes where it seals in a thin wall that gives, else no"),
        "bore_mm": Column("narrowest place that the water passes", "a seal, where the pipe itself passes"),
        "head_max_m": Column("most water over it"),
    },
    "pumps": {
        "outlet": Column(f"{_END}: its outlet"),
        "outlet_bore_mm": Column("bore of the outlet"),
        "curve_l_h_m": Column('points flow:head from shut-off to run-out, as in "0:2.0 800:1.4 1600:0"'),
        "watts": Column("electric power"),
        "slowable": Column("yes where its speed can be set, else no"),
        "cover_mm": Column("least water over the floor that it stands on"),
    },
    "sundries": {
        "kind": Column(_WORD_KIND),
        "content": Column("what a pack holds: mL of cement, m of tape", BY_KIND),
        "from_mm": Column("least diameter that it is for; of a saw its own", BY_KIND),
        "to_mm": Column("greatest diameter that it is for; of a saw its own", BY_KIND),
        "thread": Column("system and size of the thread that a washer is for", BY_KIND),
    },
    "siphons": {
        "kind": Column("bell, media guard or snorkel (the bell's air tube)"),
        "inside_mm": Column("inside of its wall where it is narrowest"),
        "outside_mm": Column("outside of its wall where it is widest"),
        "tallest_mm": Column("greatest height that it can be cut to"),
    },
    "air": {
        "kind": Column(_WORD_KIND),
        "curve_l_h_m": Column("points flow:pressure of an air pump, free air and m of water", BY_KIND),
        "watts": Column("electric power of an air pump", BY_KIND),
        "outlets": Column("tails for air line on a pump or manifold", BY_KIND),
        "bore_mm": Column("inside of an air line", BY_KIND),
        "flow_l_h": Column("most air through a diffuser, tap, valve or manifold", BY_KIND),
        "head_m": Column("pressure that this air takes, in m of water", BY_KIND),
    },
    "vessels": {
        "volume_l": Column("volume to the rim"),
        "depth_mm": Column("inside depth, floor to rim"),
        "area_m2": Column("water surface, the mean of a tub that tapers", "volume over depth"),
        "wall_mm": Column("thickness of the wall"),
        "base_mm": Column("thickness of the floor"),
        "shape": Column("round or square"),
    },
    "fixtures": {
        "kind": Column("screen, access plug, end cap or hand pump"),
        "end": Column(f"{_END}: of a plug or cap", BY_KIND),
        "from_mm": Column("least outside of a pipe that a screen is pushed on", BY_KIND),
        "to_mm": Column("greatest outside of a pipe that a screen is pushed on", BY_KIND),
        "open_area_cm2": Column("all openings of a screen together", BY_KIND),
        "slot_mm": Column("width of each opening of a screen", BY_KIND),
        "lift_m": Column("height that a hand pump lifts water", BY_KIND),
        "reach_m": Column("length of the hose that comes with a hand pump", BY_KIND),
    },
}
"""Columns of each kind of part beside `COMMON`."""

MATERIAL = "material"
_MATERIAL = {MATERIAL: Column("what touches the water", "plastic sold for drinking water")}
OPTIONAL: Mapping[str, Mapping[str, Column]] = {
    **dict.fromkeys(COLUMNS, _MATERIAL),
    "pipes": {
        "wall_mm": Column("thickness of the wall", "follows from outside and bore"),
        "longest_piece_m": Column(
            "longest piece of pipe by the metre that the shop cuts", "6 m of rigid pipe, else no limit"
        ),
        **_MATERIAL,
    },
    "adaptors": {"body_mm": _BODY, **_MATERIAL},
    "valves": {
        "body_mm": _BODY,
        "apart": Column("yes where it has unions, else no", "no"),
        "handle_off": Column("yes where the handle comes off, else no", "no"),
        "watts": Column("electric power of a timed valve while it is open", "no timer"),
        **_MATERIAL,
    },
}
"""Columns of each kind of part that may be absent."""

FILES = {kind: "joints.csv" if kind == "adaptors" else f"{kind}.csv" for kind in COLUMNS}
"""The file of each kind of part."""


def all_columns() -> Mapping[str, Mapping[str, Column]]:
    """Every file of a price list, and its columns in their order; those of parts without `COMMON`."""
    files: dict[str, Mapping[str, Column]] = {
        "catalog.toml": TITLE,
        "shops.csv": SHOPS,
        "systems.csv": {**SYSTEMS, **LIMITS},
    }
    for kind, columns in COLUMNS.items():
        files[FILES[kind]] = {**columns, **OPTIONAL[kind]}
    files["offers.csv"] = OFFERS
    return MappingProxyType(files)
