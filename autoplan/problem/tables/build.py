"""From checked tables to the site's own dataclasses; every gap is filled and written down."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any, TypeVar

from autoplan.hydraulics.drain_hole import hole_flow, least_hole
from autoplan.problem.brief import (
    Assumption,
    DrainGrade,
    DrainJoints,
    Flushing,
    Mouth,
    Overload,
    SettlerInletBy,
    Survives,
    Wishes,
)
from autoplan.problem.problem import VesselChoice
from autoplan.problem.site import (
    BedDrain,
    BedTimer,
    BedWater,
    BellOf,
    Draw,
    Entry,
    Guard,
    OnPlan,
    OverflowOffer,
    Run,
    RunKind,
    Spot,
    Vessel,
    VesselKind,
)
from autoplan.problem.tables.defaults import (
    GEOMETRY,
    GUARD,
    MEMORY,
    PRACTICE,
    PUMPED_TANK_RANGE,
    TIMER,
    TURNOVER,
    VESSEL,
    WEEP,
    WISHES,
    Default,
)
from autoplan.problem.tables.schema import BedTable, ChosenTable, LongRun, OpenTable, VesselTable, WishesTable
from autoplan.problem.tables.values import A_BED, FRY, Shape
from autoplan.problem.weep import WeepHole
from autoplan.units import Dimension, read, write

Given = TypeVar("Given")

ATOM_M = 9
"""Lengths and heights are kept to so many decimals of a metre, so that adding them leaves no noise."""


@dataclass(slots=True)
class Ledger:
    """Assumptions in the order in which they were made, one per place."""

    kept: dict[str, Assumption] = field(default_factory=dict)

    def note(self, place: str, text: str, mark: str, why: str) -> None:
        """Write one down, unless that place already has one."""
        self.kept.setdefault(place, Assumption(place, text, mark, why))

    def said(self, given: Given | None, place: str, default: Default) -> Given | str:
        """What the builder gave, or the default as it is written, written down."""
        if given is None:
            self.note(place, default.text, default.mark, default.why)
        return default.text if given is None else given

    def value(self, given: float | None, place: str, default: Default, dimension: Dimension) -> float:
        """What the builder gave, or the default (SI), written down."""
        said = self.said(given, place, default)
        return read(said, dimension) if isinstance(said, str) else said


def tidy(value: float) -> float:
    """A derived number to the twelve digits that every number read from a file has."""
    return float(f"{value:.12g}")


def metres(value: float) -> float:
    """A derived length or height [m] to `ATOM_M` decimals."""
    return round(value, ATOM_M) + 0.0


def vessel_from(
    table: VesselTable,
    name: str,
    kind: VesselKind,
    place: str,
    ledger: Ledger,
    turnover_per_s: float = 0.0,
    *,
    pumped: bool = False,
) -> Vessel:
    """One vessel.

    Args:
        table: what the builder said.
        name, kind: of the vessel.
        place: key path of the table, for assumptions.
        ledger: where assumptions go.
        turnover_per_s: least inflow as a share of the volume [1/s].
        pumped: whether a pump stands in it.
    """
    if isinstance(table, ChosenTable) and table.choose is not None:
        # Of a size that stands in until the price list says it; what is taken for it is no assumption.
        table = table.model_copy(update={"choose": None, "water_min": None, "water_max": None})
        ledger = Ledger()
    gap = dict(VESSEL[kind])
    if pumped and kind is VesselKind.TANK:
        gap["range"] = PUMPED_TANK_RANGE

    def length(key: str) -> float:
        return ledger.value(getattr(table, key), f"{place}.{key}", gap[key], Dimension.LENGTH)

    depth = metres(length("depth"))
    volume, area = _size(table, kind, place, depth, ledger)
    shape = ledger.said(table.shape, f"{place}.shape", gap["shape"])
    wall, base = length("wall"), length("base")
    ground = length("ground")
    floor = metres(ground + length("floor"))
    bed = _bed(table, place, area, ledger) if isinstance(table, BedTable) and kind is VesselKind.BED else None
    low = high = 0.0 if bed is None else bed.flood_m
    if isinstance(table, OpenTable) and bed is None:
        low, high = _water(table, gap, place, depth, ledger)
    return Vessel(
        name=name,
        kind=kind,
        floor_m=floor,
        depth_m=depth,
        area_m2=area,
        wall_m=wall,
        base_m=base,
        curved=shape == Shape.ROUND,
        water_min_m=metres(floor + low),
        water_max_m=metres(floor + high),
        turnover_volume_m3=volume if turnover_per_s else 0.0,
        turnover_per_s=turnover_per_s,
        bed=bed,
        spot=spot_from(table),
        ground_m=ground,
        **_as_said(table),
    )


def _as_said(table: VesselTable) -> dict[str, Any]:
    """What of a vessel is as the builder said, and nothing where nothing is said."""
    return {
        "uncertain_m": metres(table.uncertain or 0.0),
        "spare": bool(getattr(table, "spare", None)),
        "cone_m": metres(getattr(table, "cone", None) or 0.0),
        "cover": bool(getattr(table, "cover", None)),
        "top_up_m3_s": getattr(table, "top_up", None) or 0.0,
    }


def choice_from(table: VesselTable, kind: VesselKind, place: str, ledger: Ledger) -> VesselChoice | None:
    """What is to be chosen of a vessel whose size the price list will say; else None."""
    if not isinstance(table, ChosenTable) or table.choose is None:
        return None
    gap, dry = VESSEL[kind], 0.0
    for key in ("ground", "floor"):
        ledger.value(getattr(table, key), f"{place}.{key}", gap[key], Dimension.LENGTH)
    if table.water_max is None:
        dry = ledger.value(table.freeboard, f"{place}.freeboard", gap["freeboard"], Dimension.LENGTH)
    if table.water_min is None:
        ledger.note(f"{place}.water_min", "0 mm", gap["range"].mark, gap["range"].why)
    return VesselChoice(f"{place}.choose", table.choose, table.water_min or 0.0, table.water_max, dry)


def _size(
    table: VesselTable, kind: VesselKind, place: str, depth: float, ledger: Ledger
) -> tuple[float, float]:
    """Volume [m3] and water surface [m2]; with upright walls one follows from the other."""
    volume = table.volume if isinstance(table, OpenTable) else None
    area = table.area
    if area is None and kind is VesselKind.BED:
        area = ledger.value(None, f"{place}.area", VESSEL[kind]["area"], Dimension.AREA)
    if area is not None:
        return (tidy(area * depth) if volume is None else volume), area
    if volume is None:
        volume = ledger.value(None, f"{place}.volume", VESSEL[kind]["volume"], Dimension.VOLUME)
    return volume, tidy(volume / depth)


def _bed(table: BedTable, place: str, area: float, ledger: Ledger) -> BedWater:
    gap = dict(VESSEL[VesselKind.BED])
    if table.drain in (BedDrain.TIMER, BedDrain.WEEP):
        gap["drain_peak"] = (TIMER if table.drain is BedDrain.TIMER else WEEP)["drain_peak"]

    def value(key: str, dimension: Dimension) -> float:
        return ledger.value(getattr(table, key), f"{place}.{key}", gap[key], dimension)

    drain = BedDrain(ledger.said(table.drain, f"{place}.drain", gap["drain"]))
    within = table.floods if isinstance(table.floods, tuple) else None
    said = ledger.said(table.bell, f"{place}.bell", gap["bell"]) if drain is BedDrain.SIPHON else BellOf.PIPE
    bed = BedWater(
        flood_m=metres(value("flood", Dimension.LENGTH)),
        void_fraction=value("void", Dimension.NUMBER),
        floods_per_s=within[0] if within else value("floods", Dimension.RATE),
        drain_peak=value("drain_peak", Dimension.NUMBER),
        drain=drain,
        floods_range=within,
        bell=BellOf(said),
    )
    if drain is BedDrain.WEEP:
        return replace(bed, weep=_weep(table, bed, place, area, ledger))
    return replace(bed, timer=_timer(table, bed, place, area, ledger)) if drain is BedDrain.TIMER else bed


def _timer(table: BedTable, bed: BedWater, place: str, area: float, ledger: Ledger) -> BedTimer:
    """When the feed of a timed bed is open, the hole that drains the bed, and the flow that fills it.

    The hole is the smallest that empties the bed in time: a larger one would only ask for more inflow. The
    inflow brings a whole flood in the time there is, and what leaks by the hole with the bed full all along.
    """
    share, least, fill, drain = (
        read(TIMER[key].text, Dimension.NUMBER if key != "least" else Dimension.LENGTH)
        for key in ("on_time", "least", "fill", "drain")
    )
    on = table.on_time
    if on is None:
        on = float(math.floor(bed.cycle_s * share + 1e-6))
        ledger.note(f"{place}.on_time", write(on, Dimension.TIME), MEMORY, TIMER["on_time"].why)
    height = ledger.value(table.hole_height, f"{place}.hole_height", TIMER["hole_height"], Dimension.LENGTH)
    head, off = max(bed.flood_m - height, 1e-3), max(bed.cycle_s - on, 1.0)
    hole = table.hole
    if hole is None:
        hole = metres(max(least, least_hole(area * bed.void_fraction, head, (1 - drain) * off)))
        why = (
            f"drain hole: the smallest in whole millimetres, from {TIMER['least'].text}, that empties the "
            f"bed and leaves {TIMER['drain'].text} of the time its valve is shut"
        )
        ledger.note(f"{place}.hole", write(hole, Dimension.LENGTH), GEOMETRY, why)
    inflow = bed.flood_volume_m3(area) / ((1 - fill) * on) + hole_flow(hole, head)
    return BedTimer(on, hole, height, tidy(inflow))


def _weep(table: BedTable, bed: BedWater, place: str, area: float, ledger: Ledger) -> WeepHole:
    """The hole by which a bed runs empty once its water stops, the smallest that does so in time."""
    least, within = read(WEEP["least"].text, Dimension.LENGTH), read(WEEP["within"].text, Dimension.TIME)
    height = ledger.value(table.hole_height, f"{place}.hole_height", WEEP["hole_height"], Dimension.LENGTH)
    head, hole = max(bed.flood_m - height, 1e-3), table.hole
    if hole is None:
        hole = metres(max(least, least_hole(area * bed.void_fraction, head, within)))
        why = (
            f"weep hole: the smallest in whole millimetres, from {WEEP['least'].text}, by which the bed runs "
            f"empty within {WEEP['within'].text}"
        )
        ledger.note(f"{place}.hole", write(hole, Dimension.LENGTH), GEOMETRY, why)
    return WeepHole(hole, height, tidy(hole_flow(hole, head)))


def _water(
    table: OpenTable, gap: Mapping[str, Default], place: str, depth: float, ledger: Ledger
) -> tuple[float, float]:
    """Range of the design water above the floor [m]."""
    high, low = table.water_max, table.water_min
    if high is None:
        dry = ledger.value(table.freeboard, f"{place}.freeboard", gap["freeboard"], Dimension.LENGTH)
        high = metres(depth - dry)
    if low is None:
        low = min(high, metres(depth * read(gap["range"].text, Dimension.NUMBER)))
        why = f"lowest design water above the floor: {gap['range'].text} of the depth"
        ledger.note(f"{place}.water_min", write(low, Dimension.LENGTH), gap["range"].mark, why)
    return low, high


def turnover_of(given: float | None, place: str, ledger: Ledger) -> float:
    """Wished turnover [1/s]."""
    return ledger.value(given, place, TURNOVER, Dimension.RATE)


def wishes_from(table: WishesTable, ledger: Ledger) -> Wishes:
    """What the builder asks of the whole design."""

    def value(key: str, dimension: Dimension) -> float:
        return ledger.value(getattr(table, key), f"wishes.{key}", WISHES[key], dimension)

    def said(key: str) -> object:
        return ledger.said(getattr(table, key), f"wishes.{key}", WISHES[key])

    by_pump, spare = table.overload == "pump", said("spare")
    factor = float(WISHES["overload"].text) if by_pump else value("overload", Dimension.NUMBER)
    return Wishes(
        overload=Overload.PUMP if by_pump else Overload.FACTOR,
        overload_factor=factor,
        water_celsius=value("water", Dimension.TEMPERATURE),
        budget=table.budget,
        power_price_per_kwh=value("power_price", Dimension.ENERGY_PRICE),
        frost=said("frost") in (True, "true"),
        fish_kg_m3=value("fish", Dimension.STOCKING),
        ownership_years=value("years", Dimension.YEARS),
        drain_joints=DrainJoints(str(said("drain_joints"))),
        beds_full=table.beds_full if isinstance(table.beds_full, int) else None,
        most_full=said("beds_full") == "most",
        flushing_points=Flushing(str(said("flushing_points"))),
        vents=said("vents") in (True, "true"),
        survives=Survives(str(said("survives"))),
        drain_grade=DrainGrade(str(said("drain_grade"))),
        mouth=Mouth(str(said("mouth"))),
        rain_m=value("rain", Dimension.LENGTH),
        spare=0.0 if spare in (A_BED, "none") else value("spare", Dimension.NUMBER),
        spare_bed=spare == A_BED,
        settler_inlet=SettlerInletBy(str(said("settler_inlet"))),
        second_half=said("second_half") in (True, "true"),
    )


DRAWS = {VesselKind.TANK: Draw.SOLIDS_LIFTING, VesselKind.BED: Draw.STANDPIPE}
"""From where a drain takes its water unless the builder says; elsewhere the wall. Common practice."""


def run_from(
    table: LongRun,
    place: str,
    kinds: dict[str, VesselKind],
    ledger: Ledger,
    outside: frozenset[str] = frozenset(),
) -> Run:
    """One run of the long form.

    Args:
        table: what the builder said; legs or level distance is given.
        place: key path of the table, for assumptions.
        kinds: kind of every vessel by name.
        ledger, outside: where assumptions go; beds with a siphon pipe outside.
    """

    def said(key: str, usual: str, why: str) -> Any:
        return ledger.said(getattr(table, key), f"{place}.{key}", Default(str(usual), PRACTICE, why))

    plan = _plan(table, place, ledger)
    turns = () if plan is not None else table.turns
    if turns is None:
        turns = (90,) * (len(table.legs) - 1) if table.legs is not None else ()
        ledger.note(f"{place}.turns", f"[{', '.join(map(str, turns))}]", MEMORY, "turns between the legs")
    legs = table.legs or ()
    draw, entry, guard = table.draw, table.entry, table.siphon_back
    valve = bool(table.waste) if table.valve is None else table.valve
    if table.kind is RunKind.GRAVITY and table.start in kinds:
        draw = Draw(said("draw", _usual_draw(table, kinds, outside), "from where the drain takes its water"))
    if plan is not None and table.finish in kinds:
        entry = Entry(said("entry", Entry.ANY, "how the run may enter its vessel"))
    if table.kind is RunKind.PRESSURE:
        if table.finish in kinds and plan is None:
            entry = Entry(said("entry", Entry.ANY, "how the inlet may enter its vessel"))
        if kinds.get(table.finish, VesselKind.BED) is not VesselKind.BED:
            guard = Guard(ledger.said(guard, f"{place}.siphon_back", GUARD))
        ends = "true" if table.finish in kinds else "false"
        valve = said("valve", ends, "a balancing valve on each leg") in (True, "true")
    return Run(
        name=table.name,
        start=table.start,
        finish=table.finish,
        kind=table.kind,
        legs_m=tuple(metres(leg) for leg in legs),
        turns=turns,
        run_class=table.run_class or table.name,
        valve=valve,
        draw=draw or Draw.WALL,
        entry=entry or Entry.ANY,
        share=table.share,
        overflow=table.overflow not in (None, False),
        offered=table.overflow if isinstance(table.overflow, OverflowOffer) else None,
        screen=bool(table.screen),
        fry=table.screen == FRY,
        waste=bool(table.waste),
        siphon_back=guard or Guard.AIR_GAP,
        vent_m=None if table.vent is None else metres(table.vent),
        plan=plan,
        mouth=table.mouth,
    )


def _usual_draw(table: LongRun, kinds: Mapping[str, VesselKind], outside: frozenset[str]) -> Draw:
    """From where a drain of a vessel takes its water where nobody says."""
    if table.overflow or table.waste:
        return Draw.WALL
    if table.start in outside:
        return Draw.OUTSIDE
    return DRAWS.get(kinds[table.start], Draw.WALL)


def _plan(table: LongRun, place: str, ledger: Ledger) -> OnPlan | None:
    """How a run goes on the plan, if that is what the builder said."""
    if table.level is None:
        return None
    corners, level = table.corners, table.level
    if corners is None:
        corners = (90,) * (len(level) - 1)
        ledger.note(f"{place}.corners", str(list(corners)), MEMORY, "corners on the plan")
    return OnPlan(in_pieces(level, corners), corners, table.height)


def in_pieces(
    level_m: tuple[float, ...], corners: tuple[int, ...], further_m: float = 0.0
) -> tuple[float, ...]:
    """Level pieces of a line [m] that is longer by so much than what was said of it.

    Of a whole distance they are equal; of pieces the first is the longer.
    """
    if len(level_m) == 1:
        return (metres((level_m[0] + further_m) / (len(corners) + 1)),) * (len(corners) + 1)
    return metres(level_m[0] + further_m), *level_m[1:]


def spot_from(table: VesselTable, number: int = 1) -> Spot | None:
    """Where a vessel stands, or a bed of that number in a row."""
    if table.at is None:
        return None
    along, across = getattr(table, "step", None) or (0.0, 0.0)
    x, y = (metres(at + (number - 1) * step) for at, step in zip(table.at, (along, across), strict=True))
    return Spot(x, y, table.facing or 0.0, table.side)
