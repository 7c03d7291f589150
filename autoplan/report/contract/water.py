"""Rows of how the water runs: pumps, levels, siphons, timers, weep holes, hours, faults, the first run."""

from __future__ import annotations

from typing import Annotated

from autoplan.report.contract.base import From, JsonRow, Known, Number, Tenths, Text, Unread


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


class LevelRow(JsonRow):
    """Water of a vessel above the datum; at rest hours after the power failed."""

    vessel: Text
    floor_mm: Number
    water_mm: Annotated[Number, From("design_m")]
    rim_mm: Number
    overload_mm: Number
    rest_mm: Number | None


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
    guard_least_mm: Number | None = None


class WeepRow(JsonRow):
    """A bed with a weep hole at work."""

    bed: Text
    inflow_l_h: Number
    leak_l_h: Number
    filling_min: Known
    emptying_min: Known
    guard_least_mm: Number | None = None


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


class MeasureRow(JsonRow):
    """By what the flow out of a run is measured at the first run, and how much water comes in meanwhile."""

    by: Text
    area_m2: Number
    volume_l: Unread[Number] = None
    seconds: Unread[Number] = None
    open_seconds: Unread[Number] = None


class OutletRow(JsonRow):
    """What comes out of a run at the first run."""

    run: Text
    vessel: Text
    design_flow_l_h: Annotated[Unread[Number], From("design_m3_s")] = None
    flow_l_h: Number
    bucket_s: Unread[Number] = None
    open_flow_l_h: Annotated[Number, From("open_m3_s")]
    open_bucket_s: Unread[Number] = None
    valve_run: Text | None
    valve_loss_mm: Unread[Number] = None
    low_flow_l_h: Annotated[Unread[Number], From("low_m3_s")] = None
    measure: MeasureRow


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
