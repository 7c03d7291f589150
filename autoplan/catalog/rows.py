"""Rows -> parts, one function per kind, with the checks that need no other row.

Lengths are in millimetres in the files and in metres in the parts; pressures are in bar and become metres of
water; pump flows are in litres an hour.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import TypedDict

from autoplan.catalog.columns import MATERIAL
from autoplan.catalog.materials import Material
from autoplan.catalog.mating import RANGE, sleeve_range
from autoplan.catalog.parts import (
    Adaptor,
    End,
    Offer,
    Part,
    Penetration,
    Pipe,
    Pump,
    Size,
    Sundry,
    SundryKind,
    Tee,
    Turn,
    TurnStyle,
    Valve,
    Way,
)
from autoplan.catalog.sheet import NO_END, Row, suggest

BAR_M = 1e5 / 9806.65
"""Metres of water in a bar, by the conventional metre of water of 9806.65 Pa."""

WEIGHT = 9806.65
"""Weight of water [N/m3], to compare a pump's curve with its power."""

WALL_SLACK_MM = 0.1
"""How far a wall may be from half the difference of outside and bore, for figures rounded to 0.1 [mm]."""

OUTSIDE_SLACK_MM = 0.5
"""How far a pipe's outside may be from its system's: mean outsides vary by up to 0.5 (BS 3505) [mm]."""

BORE_SLACK = 0.1
"""Share by which a bore-named pipe may be off its name; common practice, no source [-]."""

FORMS = {
    "spigot": "outside_m",
    "plain": "outside_m",
    "socket": "outside_m",
    "compression": "outside_m",
    "seal": "outside_m",
    "male": "thread_major_m",
    "female": "thread_major_m",
    "barb": "bore_m",
    "bore": "bore_m",
    "sleeve": "outside_m",
}
"""Each form of an end, and which dimension of its size must be known (a sleeve states its own range)."""


@dataclass(frozen=True, slots=True)
class Known:
    """What rows may refer to: sizes by system, and shops."""

    systems: Mapping[str, Mapping[str, Size]]
    shops: tuple[str, ...]

    def size(self, end: End) -> Size | None:
        """The dimensions of an end's size; None for an end that could not be read."""
        return self.systems.get(end.system, {}).get(end.size)


class Common(TypedDict):
    """The attributes of a `Part`."""

    id: str
    description: str
    offers: tuple[Offer, ...]
    source: str
    place: str
    material: Material


def offer_of(row: Row, shop: str) -> Offer:
    """Price, pack (empty: 1) and stock (empty: no limit) of a row."""
    pack = 1 if row.blank("pack") else row.whole("pack", 1)
    stock = None if row.blank("stock") else row.whole("stock", 0)
    return Offer(shop, row.cents("price"), pack, stock)


def common(row: Row, known: Known) -> Common:
    """What every row has."""
    offer = offer_of(row, row.choice("shop", known.shops))
    return {
        "id": row.cells.get("id", ""),
        "description": row.text("description"),
        "offers": (offer,),
        "source": row.text("source"),
        "place": row.place,
        "material": _material(row),
    }


def _material(row: Row) -> Material:
    """What a row says that it is made of; plastic sold for drinking water if it says nothing."""
    word = "" if row.blank(MATERIAL) else row.choice(MATERIAL, tuple(Material))
    return Material(word) if word else Material.PLASTIC


def end_of(row: Row, known: Known, column: str, forms: Iterable[str] = FORMS) -> End:
    """An end whose form is one of `forms` and whose size the systems know; else a mistake and `NO_END`."""
    end = row.end(column)
    if end == NO_END:
        return end
    allowed = tuple(forms)
    if end.form not in allowed:
        row.wrong(f'{column} "{end}" has an unknown form', suggest(end.form, allowed))
        return NO_END
    if end.form == "sleeve":
        return _sleeve(row, column, end)
    if not known.systems:
        return NO_END
    if end.system not in known.systems:
        row.wrong(f'{column} "{end}" has an unknown system', suggest(end.system, known.systems))
        return NO_END
    size = known.size(end)
    if size is None:
        row.wrong(f'{column} "{end}" has an unknown size', suggest(end.size, known.systems[end.system]))
        return NO_END
    if getattr(size, FORMS[end.form]) is None:
        fitting = [form for form, needs in FORMS.items() if getattr(size, needs) is not None]
        row.wrong(f'{column} "{end}": {end.system} has no {end.form}', f"it has {', '.join(fitting)}")
        return NO_END
    return end


def _sleeve(row: Row, column: str, end: End) -> End:
    """The mouth of a rubber coupling, whose size is a range."""
    least, most = sleeve_range(end)
    if end.system != RANGE or not 0 < least < most:
        row.wrong(f'{column} "{end}" is no range', 'write the outsides it takes in mm: "sleeve range 48-61"')
        return NO_END
    return end


def _rating(row: Row) -> float:
    return row.number("rating_bar", 0.0, 1000.0, above=False) * BAR_M


def _bore(row: Row, known: Known, ends: Iterable[End]) -> float:
    """Smallest bore [m], less than the outside of every pipe, tail and thread that it leads to."""
    bore = row.number("bore_mm", most=5000) / 1000
    for end in dict.fromkeys(ends):
        size = known.size(end)
        if size is None and end.form != "sleeve":
            continue
        limit = sleeve_range(end)[1] if size is None else getattr(size, FORMS[end.form])
        if bore > limit + 1e-9 if end.form in ("barb", "bore") else bore >= limit:
            row.wrong(
                f"bore_mm {row.cells['bore_mm']} is too large for {end}",
                f"the bore must be under {limit * 1000:g}",
            )
    return bore


def pipe(row: Row, known: Known) -> Pipe:
    """A row of `pipes.csv`; empty stick_m: by the metre; empty bend_radius_mm: rigid."""
    end = end_of(row, known, "end", ("spigot", "plain", "bore"))
    outside, bore = row.number("outside_mm", most=5000), row.number("bore_mm", most=5000)
    radius = row.optional("bend_radius_mm", most=1e5)
    wall = row.optional("wall_mm", most=5000)
    if bore >= outside:
        row.wrong(
            f"bore_mm {bore:g} is not smaller than outside_mm {outside:g}", f"it must be under {outside:g}"
        )
    elif wall is not None and abs(outside - 2 * wall - bore) / 2 > WALL_SLACK_MM + 1e-9:
        remedy = f"by outside and bore it is {(outside - bore) / 2:g}"
        row.wrong(f"wall_mm {wall:g} does not agree with outside_mm {outside:g} and bore_mm {bore:g}", remedy)
    _check_name(row, known, end, outside, bore)
    longest = row.optional("longest_piece_m", most=1000)
    if longest is not None and not row.blank("stick_m"):
        remedy = "leave it empty for sticks and coils; it is for pipe by the metre"
        row.wrong(f"longest_piece_m is {longest:g} where stick_m is given", remedy)
    if end.form == "bore" and row.blank("bend_radius_mm"):
        row.wrong(f"bend_radius_mm is empty for {end}", "give the least radius to which it bends")
    elif radius is not None and radius <= outside / 2:
        row.wrong(f"bend_radius_mm is {radius:g}", f"it must be more than half the outside, {outside / 2:g}")
    return Pipe(
        **common(row, known),
        end=end,
        outside_m=outside / 1000,
        bore_m=bore / 1000,
        rating_m=_rating(row),
        roughness_m=row.number("roughness_mm", 0.0, 10.0, above=False) / 1000,
        stick_m=row.optional("stick_m", most=1000) or 0.0,
        bend_radius_m=(radius or 0.0) / 1000,
        longest_piece_m=longest,
    )


def _check_name(row: Row, known: Known, end: End, outside_mm: float, bore_mm: float) -> None:
    """Note a pipe that is not of the size that its end names."""
    size = known.size(end)
    if size is None:
        return
    if end.form != "bore" and size.outside_min_m is not None and size.outside_max_m is not None:
        least, most = size.outside_min_m * 1000, size.outside_max_m * 1000
        if least == most:
            least, most = least - OUTSIDE_SLACK_MM, most + OUTSIDE_SLACK_MM
        if outside_mm < least - 1e-6 or outside_mm > most + 1e-6:
            remedy = f"systems.csv has {_range(size.outside_min_m, size.outside_max_m)}"
            row.wrong(f"outside_mm {outside_mm:g} is not that of {end.system} {end.size}", remedy)
    elif size.bore_m is not None and abs(bore_mm / (size.bore_m * 1000) - 1) > BORE_SLACK:
        remedy = f"systems.csv has {size.bore_m * 1000:g}"
        row.wrong(f"bore_mm {bore_mm:g} is not that of {end.system} {end.size}", remedy)


def _range(least_m: float, most_m: float) -> str:
    """Limits in mm, or the one number where they are equal."""
    least, most = least_m * 1000, most_m * 1000
    return f"{least:g}" if least == most else f"{least:g} to {most:g}"


def turn(row: Row, known: Known) -> Turn:
    """A row of `turns.csv`."""
    ends = (end_of(row, known, "end_a"), end_of(row, known, "end_b"))
    return Turn(
        **common(row, known),
        ends=ends,
        angle=int(row.choice("angle_deg", ("45", "90")) or 0),
        style=TurnStyle(row.choice("style", (TurnStyle.TIGHT, TurnStyle.SWEPT)) or "tight"),
        radius_over_bore=row.number("radius_over_bore", 0.0, 50.0),
        bore_m=_bore(row, known, ends),
        rating_m=_rating(row),
    )


def tee(row: Row, known: Known) -> Tee:
    """A row of `tees.csv`: run, run, branch."""
    ends = (end_of(row, known, "end_a"), end_of(row, known, "end_b"), end_of(row, known, "end_c"))
    return Tee(
        **common(row, known),
        ends=ends,
        angle=int(row.choice("angle_deg", ("45", "90")) or 0),
        bore_m=_bore(row, known, ends),
        rating_m=_rating(row),
    )


def adaptor(row: Row, known: Known) -> Adaptor:
    """A row of `joints.csv`."""
    ends = (end_of(row, known, "end_a"), end_of(row, known, "end_b"))
    return Adaptor(
        **common(row, known),
        ends=ends,
        bore_m=_bore(row, known, ends),
        rating_m=_rating(row),
        apart=row.yes("apart"),
        body_m=_body(row),
    )


def valve(row: Row, known: Known) -> Valve:
    """A row of `valves.csv`; empty kv_m3_h: to be worked out from the bore; handle_off: no if empty."""
    ends = (end_of(row, known, "end_a"), end_of(row, known, "end_b"))
    style = row.choice("style", ("ball", "check", "timed"))
    if style in ("ball", "check") and not row.blank("watts"):
        row.wrong(f"watts is given for a {style} valve", "leave it empty")
    return Valve(
        **common(row, known),
        ends=ends,
        style=style,
        bore_m=_bore(row, known, ends),
        kv_m3_h=row.optional("kv_m3_h", most=1e5),
        rating_m=_rating(row),
        apart=not row.blank("apart") and row.yes("apart"),
        body_m=_body(row),
        handle_off=not row.blank("handle_off") and row.yes("handle_off"),
        watts=row.number("watts", most=1e3) if style == "timed" else 0.0,
    )


def _body(row: Row) -> float | None:
    """Length between the ends of what a part joins [m], None if the row does not say."""
    length = None if row.blank("body_mm") else row.number("body_mm", 0.0, 5000, above=False)
    return None if length is None else length / 1000


def penetration(row: Row, known: Known) -> Penetration:
    """A row of `penetrations.csv`; a seal has no bore of its own."""
    way = row.choice("way", (Way.SEAL, Way.BULKHEAD, Way.THREADED))
    forms = ("seal",) if way == Way.SEAL else tuple(form for form in FORMS if form != "seal" or not way)
    ends = (end_of(row, known, "end_inside", forms), end_of(row, known, "end_outside", forms))
    low, high = row.number("wall_min_mm", 0.0, 1000, above=False), row.number("wall_max_mm", 0.0, 1000)
    if low > high:
        row.wrong(f"wall_min_mm {low:g} is more than wall_max_mm {high:g}", "swap or correct them")
    hole = row.number("hole_mm", most=5000) / 1000
    bore = 0.0 if way == Way.SEAL and row.blank("bore_mm") else _bore(row, known, ends)
    if way == Way.SEAL and bore:
        row.wrong("bore_mm is given for a seal", "leave it empty: the pipe itself passes")
    _check_hole(row, known, ends, hole, bore)
    return Penetration(
        **common(row, known),
        way=Way(way or Way.SEAL),
        ends=ends,
        hole_m=hole,
        wall_min_m=low / 1000,
        wall_max_m=high / 1000,
        curved_ok=row.yes("curved_ok"),
        thin_flexing_ok=row.yes("thin_flexing_ok"),
        bore_m=bore,
        head_max_m=row.number("head_max_m", 0.0, 1000),
    )


def _check_hole(row: Row, known: Known, ends: tuple[End, End], hole: float, bore: float) -> None:
    """The hole lets through what passes it: the pipe of a seal, a male thread, the bore of anything."""
    passing = [bore]
    for end in ends:
        size = known.size(end)
        if size is not None and end.form in ("seal", "male"):
            passing.append(getattr(size, FORMS[end.form]))
    if hole <= max(passing):
        problem = f"hole_mm {hole * 1000:g} is not larger than the {max(passing) * 1000:g} that passes it"
        row.wrong(problem, "give the diameter to drill")


def pump(row: Row, known: Known) -> Pump:
    """A row of `pumps.csv`; curve_l_h_m is "flow:head" in L/h and m, as in "0:2.0 800:1.4 1600:0"."""
    outlet = end_of(row, known, "outlet", ("male", "female", "spigot", "socket", "barb"))
    curve = curve_of(row)
    watts = row.number("watts", most=1e5)
    useful = max((flow * head * WEIGHT for flow, head in curve), default=0.0)
    if useful >= watts:
        problem = f"watts {watts:g} is less than the {useful:.1f} W that the curve gives the water"
        row.wrong(problem, "check the power and the curve")
    size = known.size(outlet)
    bore = row.number("outlet_bore_mm", most=5000) / 1000
    if size is not None and outlet.form != "barb" and bore >= getattr(size, FORMS[outlet.form]):
        row.wrong(f"outlet_bore_mm {bore * 1000:g} is too large for {outlet}", "check the outlet")
    return Pump(
        **common(row, known),
        outlet=outlet,
        outlet_bore_m=bore,
        curve=curve,
        watts=watts,
        slowable=row.yes("slowable"),
        cover_m=row.number("cover_mm", 0.0, 1e4, above=False) / 1000,
    )


def curve_of(row: Row) -> tuple[tuple[float, float], ...]:
    """Points of a pump's curve (flow [m3/s], head [m]); empty if it is wrong."""
    column = "curve_l_h_m"
    points: list[tuple[float, float]] = []
    for word in row.text(column).split():
        flow, colon, head = word.partition(":")
        if not colon:
            row.wrong(f'{column}: "{word}" is not a point', 'write "flow:head", as in "0:2.0 800:1.4 1600:0"')
            return ()
        points.append(
            (row.value(column, flow, 0.0, 1e7, above=False), row.value(column, head, 0.0, 1e4, above=False))
        )
    if any(math.isnan(value) for point in points for value in point) or not points:
        return ()
    if len(points) < 3 or points[0][0] != 0:
        row.wrong(
            f"{column} has {len(points)} points from flow {points[0][0]:g}",
            "give three or more, the first at 0",
        )
    for (before, high), (after, low) in pairwise(points):
        if after <= before:
            row.wrong(f"{column}: flow {after:g} follows {before:g}", "put the points in order of flow")
        if low >= high:
            row.wrong(f"{column}: head {low:g} m follows {high:g} m", "along the curve the head must fall")
    return tuple((litres / 3.6e6, metres) for litres, metres in points)


def sundry(row: Row, known: Known) -> Sundry:
    """A row of `sundries.csv`; which of its own columns must be filled in depends on its kind."""
    word = row.choice("kind", tuple(SundryKind))
    kind = SundryKind(word or SundryKind.SCREW)
    needed = {
        SundryKind.CEMENT: ("content",),
        SundryKind.TAPE: ("content",),
        SundryKind.WASHER: ("thread",),
        SundryKind.CLAMP: ("from_mm", "to_mm"),
        SundryKind.STAND: ("from_mm", "to_mm"),
        SundryKind.SAW: ("from_mm", "to_mm"),
    }.get(kind, ())
    for column in ("content", "from_mm", "to_mm", "thread") if word else ():
        if column in needed and row.blank(column):
            row.wrong(f"{column} is empty for a {kind}", "fill it in")
        elif column not in needed and not row.blank(column):
            row.wrong(f"{column} is given for a {kind}", "leave it empty")
    least, most = row.optional("from_mm", most=5000), row.optional("to_mm", most=5000)
    if least is not None and most is not None and least > most:
        row.wrong(f"from_mm {least:g} is more than to_mm {most:g}", "swap or correct them")
    elif kind is SundryKind.SAW and least != most:
        row.wrong("from_mm and to_mm of a hole saw differ", "give the diameter of the hole in both")
    content = row.optional("content", most=1e6)
    per = 1e-6 if kind is SundryKind.CEMENT else 1.0
    return Sundry(
        **common(row, known),
        kind=kind,
        content=1.0 if content is None else content * per,
        least_m=0.0 if least is None else least / 1000,
        most_m=math.inf if most is None else most / 1000,
        thread=None if row.blank("thread") else _thread(row, known),
    )


def _thread(row: Row, known: Known) -> tuple[str, str]:
    """System and size of a thread."""
    system, _, size = row.cells["thread"].partition(" ")
    found = known.systems.get(system, {}).get(size)
    if known.systems and (found is None or found.thread_major_m is None):
        row.wrong(f'thread "{system} {size}" is not in systems.csv', 'write system and size, as in "G 3/4"')
    return system, size


READERS: Mapping[str, Callable[[Row, Known], Part]] = {
    "pipes": pipe,
    "turns": turn,
    "tees": tee,
    "adaptors": adaptor,
    "valves": valve,
    "penetrations": penetration,
    "pumps": pump,
    "sundries": sundry,
}
