"""The shape of an answer's JSON, stated once: it is written, checked and read back by these rows.

A key is filled from the attribute of its name, or from the quantity in SI that its ending stands for
(`base.ENDINGS`). `Unread` keys are for other programs: no page and no drawing asks for them.
"""

from __future__ import annotations

from typing import Annotated, ClassVar

from pydantic import Field

from autoplan.report import cutting
from autoplan.report.contract.base import (
    From,
    JsonRow,
    Known,
    Name,
    Number,
    Size,
    Tenths,
    Text,
    Unread,
    Whole,
    Worded,
    Yes,
)
from autoplan.report.units import MM_M, Gauge

Texts = tuple[Text, ...]

GRAVITY, PRESSURE = "gravity", "pressure"
"""Kinds of run."""


class AssumptionRow(JsonRow):
    """What the problem does not say."""

    place: Text
    text: Text
    mark: Text
    why: Text


class CostRow(JsonRow):
    """Money."""

    purchase: Unread[Number] = None
    freight: Number
    running_per_year: Number
    ownership: Number
    currency: Text
    to_pay: Number


class RuleRow(JsonRow):
    """A rule judged at one place."""

    id: Annotated[Text, From("rule")]
    sentence: Text
    place: Text
    value: Number
    limit: Number
    unit: Text
    margin: Number
    ok: Yes
    hard: Yes
    source: Text


class GainRow(JsonRow):
    """What a rank is better or worse in than rank 1."""

    what: Text
    unit: Text
    first: Number
    this: Number
    better: Yes
    text: Text


class PointRow(JsonRow):
    """A point of a pump's curve."""

    flow_l_h: Number
    head_m: Number


class PumpRow(JsonRow):
    """A pump, its duty and its curves."""

    vessel: Text
    part: Text
    mode: Text
    speed: Number
    duty_flow_l_h: Number
    duty_head_m: Number
    required_head_m: Number
    watts: Number
    curve: Annotated[tuple[PointRow, ...] | None, From("at_speed")]
    full_speed_curve: Annotated[tuple[PointRow, ...] | None, From("at_full_speed")]
    system: tuple[PointRow, ...] | None
    meets: Annotated[PointRow | None, From("met")]


class AirLineRow(JsonRow):
    """A line from an air pump."""

    vessel: Text
    depth_mm: Number
    line: Text
    length_m: Number
    diffuser: Text
    tap: Text | None
    check: Text | None
    flow_l_h: Number


class AirRow(JsonRow):
    """An air pump."""

    part: Text
    battery: Yes
    manifolds: Unread[Texts] = None
    lines: tuple[AirLineRow, ...]


class TurnRow(JsonRow):
    """Turns made alike."""

    kind: Text
    style: Text
    part: Text | None
    count: Whole
    parts: Texts


class BellRow(JsonRow):
    """What makes a bell siphon of a standpipe."""

    bell: Text | None
    guard: Text | None
    snorkel: Text | None
    flare: Text | None
    cut_out_mm: Number


class DrainHoleRow(JsonRow):
    """The hole by which a timed bed runs empty."""

    hole_mm: Number
    centre_above_floor_mm: Annotated[Number, From("height_m")]
    guard: Text | None


class EndRow(JsonRow):
    """An end of a run."""

    vessel: Annotated[Text, From("at")]
    way: Text | None
    penetration: Text | None
    hole_mm: Number | None
    centre_above_floor_mm: Number | None
    in_floor: Yes
    standpipe_top_above_floor_mm: Number | None
    standpipe: Text | None
    siphon: BellRow | None
    drain_hole: DrainHoleRow | None
    chain: Unread[Texts] = None
    siphon_back: Unread[Text] = None
    mouth_above_floor_mm: Number | None
    air_hole_above_floor_mm: Unread[Number] = None
    air_hole_mm: Unread[Number] = None


class ItemRow(JsonRow):
    """A thing on a run."""

    part: Text
    role: Text
    ends: Unread[tuple[Worded, ...]] = None
    length_mm: Number | None
    place: Text
    through: Text | None
    ring: Unread[Worded] = None


class SideRow(ItemRow):
    """A thing on the third opening of another; `at` is that one's place in the row."""

    on: Unread[Text] = None
    at: Whole


class JointRow(JsonRow):
    """A joint of two parts."""

    kind: Text | None
    left: Text
    right: Text
    left_end: Unread[Worded] = None
    right_end: Unread[Worded] = None


class RunRow(JsonRow):
    """A run from start to end."""

    name: Name
    start: Name = Field(alias="from")
    finish: Name = Field(alias="to")
    kind: Text
    run_class: Text = Field(alias="class")
    pipe: Text
    bore_mm: Number
    length_m: Number
    flow_l_h: Number
    velocity_m_s: Number
    loss_mm: Number
    overload_loss_mm: Unread[Number] = None
    pieces_mm: Unread[tuple[Number, ...]] = None
    turns: Unread[tuple[TurnRow, ...]] = None
    ends: tuple[EndRow, ...]
    screen: Unread[Text] = None
    flush: Unread[Texts] = None
    later: Yes
    cap: Unread[Text] = None
    valves: Unread[Texts] = None
    check_valve: Unread[Text] = None
    line: tuple[ItemRow, ...]
    sides: tuple[SideRow, ...]
    joints: tuple[JointRow, ...]
    told: Text


class JunctionRow(JsonRow):
    """A tee and the runs on its ends."""

    junction: Text
    tee: Text | None
    ports: Texts


class LevelRow(JsonRow):
    """Water of a vessel above the datum; at rest hours after the power failed."""

    vessel: Text
    floor_mm: Number
    water_mm: Annotated[Number, From("design_m")]
    rim_mm: Number
    overload_mm: Number
    rest_mm: Number | None


class PurchaseRow(JsonRow):
    """A line of the order."""

    part: Text
    description: Text
    quantity: Number
    unit: Text
    packs: Whole
    sold_as: Text
    unit_price: Number
    shop: Text | None
    line_cost: Number


class GrowthPartRow(JsonRow):
    """What a bed more takes of a part."""

    part: Text
    quantity: Unread[Number] = None
    packs: Whole
    cost: Number


class GrowthRow(JsonRow):
    """Beds to come later, and what the first of them takes."""

    spare_beds: Unread[Texts] = None
    next: Unread[Text] = None
    cost: Unread[Number] = None
    parts: tuple[GrowthPartRow, ...]


class PieceRow(JsonRow):
    """A piece of pipe and what it is for."""

    pipe: Text
    length_mm: Number
    run: Text | None
    place: Text | None


class CutRow(JsonRow):
    """A stick, numbered within its pipe, and what is cut from it."""

    pipe: Text
    stick: Whole
    stick_mm: Size
    pieces_mm: tuple[Number, ...]
    pieces: tuple[PieceRow, ...]
    offcut_mm: Number
    owned: Yes

    def marks(self, gauge: Gauge) -> tuple[tuple[int, ...], int]:
        """Where to mark it: its pieces and what is left over, in steps of the gauge."""
        return cutting.marks([piece * MM_M for piece in self.pieces_mm], self.offcut_mm * MM_M, gauge)


class FillingLevelRow(JsonRow):
    """How a pumped vessel's water moves, and what stands under each level."""

    vessel: Text
    low_mm: Number
    running_mm: Number
    high_mm: Number
    lower_once_flooded_mm: Annotated[Unread[Number], From("left_m")] = None
    low_l: Number
    running_l: Number
    high_l: Number
    rim_l: Number


class FillingRow(JsonRow):
    """How much water there is."""

    total_l: Number
    left_in_beds_l: Annotated[Unread[Number], From("left_m3")] = None
    levels: tuple[FillingLevelRow, ...]


class SiphonRow(JsonRow):
    """A bell siphon at work."""

    bed: Text
    inflow_l_h: Number
    starts_from_l_h: Annotated[Number, From("starts_m3_s")]
    fastest_l_h: Number
    slowest_l_h: Number
    filling_min: Number
    emptying_min: Known
    floods_per_h: Number
    drain: Text
    standpipe_bore_mm: Annotated[Number, From("bore_m")]
    bell_least_mm: Number | None
    guard_least_mm: Number | None


class TimerRow(JsonRow):
    """A timed bed at work."""

    bed: Text
    feed: Unread[Text] = None
    valve: Text | None
    open_min: Annotated[Number, From("on_s")]
    cycle_min: Number
    inflow_l_h: Number
    leak_l_h: Number
    filling_min: Known
    emptying_min: Known
    watts: Number


class FishRow(JsonRow):
    """What a fault leaves the fish."""

    vessel: Text
    depth_mm: Number
    volume_l: Number
    needed_mm: Number
    spilled_l: Number | None


class FaultRow(JsonRow):
    """Something going wrong."""

    name: Text
    spilled_l: Number
    margin_mm: Number
    minutes: Known
    saved_by: Text
    cure: Unread[Text] = None
    lowest_cover_mm: Number | None
    where: Text
    dry_minutes: Known
    fish: FishRow | None


class SumpRow(JsonRow):
    """How far a pumped vessel's water moves."""

    vessel: Text
    lowest_mm: Number
    highest_mm: Number
    cover_mm: Number
    reserve_l: Unread[Number] = None


class CycleRow(JsonRow):
    """How often a bed floods."""

    bed: Text
    floods_per_hour: Number
    filling_s: Known
    emptying_s: Known


class RunningRow(JsonRow):
    """Hours of the beds in one phase."""

    phase: Text
    sumps: tuple[SumpRow, ...]
    beds: Unread[tuple[CycleRow, ...]] = None


class OutletRow(JsonRow):
    """What comes out of a run at the first run."""

    run: Text
    vessel: Text
    design_flow_l_h: Annotated[Unread[Number], From("design_m3_s")] = None
    flow_l_h: Number
    bucket_s: Number | None
    open_flow_l_h: Annotated[Number, From("open_m3_s")]
    open_bucket_s: Number | None
    valve_run: Text | None
    valve_loss_mm: Unread[Number] = None
    low_flow_l_h: Annotated[Unread[Number], From("low_m3_s")] = None


class WaterRow(JsonRow):
    """Water to expect at the first run."""

    vessel: Text
    water_mm: Number
    low_mm: Number | None


class CommissioningRow(JsonRow):
    """What to measure at the first run."""

    bucket_l: Unread[Number] = None
    outlets: tuple[OutletRow, ...]
    levels: tuple[WaterRow, ...]


class BedRow(JsonRow):
    """What makes a bed of a vessel."""

    drain: Unread[Text] = None
    flood_mm: Unread[Number] = None
    void_fraction: Unread[Number] = None


class VesselRow(JsonRow):
    """A vessel; the width of one that is not round is the side of a square of its area."""

    name: Name
    kind: Text
    shape: Text
    width_mm: Size
    area_m2: Unread[Number] = None
    volume_l: Number
    depth_mm: Size
    floor_mm: Number
    rim_mm: Number
    wall_mm: Number
    base_mm: Number
    part: Unread[Text] = None
    spare: Yes
    bed: BedRow | None


class HoleRow(JsonRow):
    """A hole to drill."""

    vessel: Text
    run: Text
    place: Text
    hole_mm: Number
    off_mm: Number | None
    centre_above_floor_mm: Annotated[Number | None, From("centre_m")]
    part: Text
    saw: Text | None
    saw_from: Text
    stand: Text | None


class PartRow(JsonRow):
    """A part, with the sizes that there are for its kind."""

    description: Text
    kind: Text
    size: Text | None = None
    outside_mm: Number | None = None
    inside_mm: Number | None = None
    bore_mm: Number | None = None
    tallest_mm: Number | None = None
    hole_mm: Number | None = None
    way: Unread[Text] = None
    style: Text | None = None


class TracePointRow(JsonRow):
    """A level at a time."""

    s: Tenths
    mm: Tenths


class TraceRow(JsonRow):
    """A level through time, above the datum."""

    what: Text
    vessel: Text
    off_s: Number | None
    on_s: Number | None
    points: tuple[TracePointRow, ...]


class ToldRow(JsonRow):
    """The sentences of each section."""

    rank: Texts
    warnings: Texts
    levels: Texts
    junctions: Texts
    holes: Texts
    siphons: Texts
    timers: Texts
    air: Texts
    cut: Texts
    joints: Texts
    fill: Texts
    first_run: Texts = Field(alias="first-run")
    growth: Texts
    hours: Texts


class OrderRow(JsonRow):
    """A shop's order."""

    shop: Text
    name: Text
    goods: Number
    charge: Number
    charge_for: Text
    total: Number
    told: Text


class StageRow(JsonRow):
    """A stage of the work."""

    title: Text
    steps: Texts


class DesignRow(JsonRow):
    """A ranked design."""

    rank: Whole
    proven: Yes
    bound: Unread[Known] = None
    objective: Unread[Number] = None
    cost: CostRow
    margin: Unread[RuleRow] = None
    kept_margin_mm: Annotated[Unread[Whole], From("kept_mm")] = None
    differs: Unread[Texts] = None
    traits: dict[Text, Text]
    kind: Unread[Text] = None
    gets: Unread[tuple[GainRow, ...]] = None
    pump: Unread[PumpRow] = None
    pumps: tuple[PumpRow, ...]
    air: tuple[AirRow, ...]
    hand_pumps: Unread[dict[Text, Text]] = None
    runs: tuple[RunRow, ...]
    junctions: Unread[tuple[JunctionRow, ...]] = None
    levels: tuple[LevelRow, ...]
    purchase: tuple[PurchaseRow, ...]
    growth: GrowthRow | None
    cuts: tuple[CutRow, ...]
    rules: tuple[RuleRow, ...]
    filling: FillingRow | None
    siphons: tuple[SiphonRow, ...]
    timers: tuple[TimerRow, ...]
    faults: tuple[FaultRow, ...]
    running: tuple[RunningRow, ...]
    commissioning: CommissioningRow | None
    vessels: tuple[VesselRow, ...]
    holes: tuple[HoleRow, ...]
    parts: dict[Text, PartRow]
    saw_cut_mm: Number
    from_roll: tuple[PieceRow, ...]
    traces: tuple[TraceRow, ...]
    told: ToldRow
    orders: tuple[OrderRow, ...]
    build_order: tuple[StageRow, ...]
    variant: Text | None = None
    assumptions: tuple[AssumptionRow, ...] | None = None


class SolverRow(JsonRow):
    """How the answer was found."""

    bound: Unread[Known] = None
    wall_s: Unread[Number] = None
    seed: Unread[Whole] = None
    workers: Unread[Whole] = None
    versions: dict[Text, Text]
    rejected: Unread[Whole] = None
    solves: Unread[Whole] = None
    interrupted: Unread[Yes] = None


class ClashRow(JsonRow):
    """Why there is no design."""

    rules: Texts
    sentences: Texts


class AnswerRow(JsonRow):
    """The whole answer."""

    FORMAT: ClassVar = "autoplan-outcome"
    VERSION: ClassVar = 1

    format: Unread[Text] = None
    version: Unread[Whole] = None
    status: Unread[Text] = None
    problem: Text
    problem_file: Text
    catalog: Text
    units: Text
    rank_by: Unread[Text] = None
    differ: Unread[Texts] = None
    solver: SolverRow
    assumptions: tuple[AssumptionRow, ...]
    designs: tuple[DesignRow, ...]
    clash: Unread[ClashRow] = None
    notes: Texts
    cautions: Texts
    answer: Texts
    ownership_years: Number
    shops: Unread[dict[Text, Text]] = None
