"""What the verdict worked out beside runs and rules, as JSON: water, siphons, hours, first run."""

from __future__ import annotations

import math

from autoplan.outcome import Commissioning, Filling, FishWater, Running, SiphonFacts, TimerFacts
from autoplan.problem.site import Site
from autoplan.report.json_values import Json, millimetres, number, or_none
from autoplan.report.units import HOUR_S, LEAST_FLOW_M3_S, LITRE_M3, SI, litres_per_hour


def filling_json(found: Filling, site: Site) -> Json:
    """See the fields of its first argument; beside each level the water that stands under it."""

    def litres(vessel: str, level_m: float, what: str) -> float:
        return number(site.vessels[vessel].held_m3(level_m) / LITRE_M3, what)

    return {
        "total_l": number(found.total_m3 / LITRE_M3, "total_l"),
        "left_in_beds_l": number(found.left_m3 / LITRE_M3, "left_in_beds_l"),
        "levels": [
            {
                "vessel": moving.vessel,
                "low_mm": millimetres(moving.low_m, "low_mm"),
                "running_mm": millimetres(moving.running_m, "running_mm"),
                "high_mm": millimetres(moving.high_m, "high_mm"),
                "lower_once_flooded_mm": millimetres(moving.left_m, "lower_once_flooded_mm"),
                "low_l": litres(moving.vessel, moving.low_m, "low_l"),
                "running_l": litres(moving.vessel, moving.running_m, "running_l"),
                "high_l": litres(moving.vessel, moving.high_m, "high_l"),
                "rim_l": litres(moving.vessel, site.vessels[moving.vessel].rim_m, "rim_l"),
            }
            for moving in found.moving
        ],
    }


def siphon_json(facts: SiphonFacts) -> dict[str, Json]:
    """See the fields of its argument."""
    flows = {
        "inflow_l_h": facts.inflow_m3_s,
        "starts_from_l_h": facts.starts_m3_s,
        "fastest_l_h": facts.fastest_m3_s,
        "slowest_l_h": facts.slowest_m3_s,
    }
    return {
        "bed": facts.bed,
        **{key: number(litres_per_hour(flow), key) for key, flow in flows.items()},
        "filling_min": number(facts.filling_s / 60, "filling_min"),
        "emptying_min": None
        if math.isinf(facts.emptying_s)
        else number(facts.emptying_s / 60, "emptying_min"),
        "floods_per_h": number(facts.floods_per_s * HOUR_S, "floods_per_h"),
    }


def timer_json(facts: TimerFacts) -> Json:
    """See the fields of its argument."""
    flows = {"inflow_l_h": facts.inflow_m3_s, "leak_l_h": facts.leak_m3_s}
    times = {"open_min": facts.on_s, "cycle_min": facts.cycle_s}
    found = {"filling_min": facts.filling_s, "emptying_min": facts.emptying_s}
    return {
        "bed": facts.bed,
        "feed": facts.feed,
        "valve": facts.valve,
        **{key: number(time / 60, key) for key, time in times.items()},
        **{key: number(litres_per_hour(flow), key) for key, flow in flows.items()},
        **{key: None if math.isinf(time) else number(time / 60, key) for key, time in found.items()},
        "watts": number(facts.watts, "watts"),
    }


def fish_json(left: FishWater) -> Json:
    """See the fields of its argument."""
    return {
        "vessel": left.vessel,
        "depth_mm": millimetres(left.depth_m, "depth_mm"),
        "volume_l": number(left.volume_m3 / LITRE_M3, "volume_l"),
        "needed_mm": millimetres(left.needed_m, "needed_mm"),
        "spilled_l": None if left.spilled_l is None else number(left.spilled_l, "spilled_l"),
    }


def running_json(running: Running) -> Json:
    """See the fields of its argument."""
    return {
        "phase": running.phase,
        "sumps": [
            {
                "vessel": sump.vessel,
                "lowest_mm": millimetres(sump.lowest_m, "lowest_mm"),
                "highest_mm": millimetres(sump.highest_m, "highest_mm"),
                "cover_mm": millimetres(sump.cover_m, "cover_mm"),
                "reserve_l": number(sump.reserve_m3 / LITRE_M3, "reserve_l"),
            }
            for sump in running.sumps
        ],
        "beds": [
            {
                "bed": bed.bed,
                "floods_per_hour": number(bed.floods_per_hour, "floods_per_hour"),
                "filling_s": or_none(bed.filling_s),
                "emptying_s": or_none(bed.emptying_s),
            }
            for bed in running.beds
        ],
    }


def commissioning_json(found: Commissioning) -> Json:
    """See the fields of its argument."""
    return {
        "bucket_l": number(SI.bucket_m3 / LITRE_M3, "bucket_l"),
        "outlets": [
            {
                "run": outlet.run,
                "vessel": outlet.vessel,
                "design_flow_l_h": number(litres_per_hour(outlet.design_m3_s), "design_flow_l_h"),
                "flow_l_h": number(litres_per_hour(outlet.flow_m3_s), "flow_l_h"),
                "bucket_s": _bucket_seconds(outlet.flow_m3_s),
                "open_flow_l_h": number(litres_per_hour(outlet.open_m3_s), "open_flow_l_h"),
                "open_bucket_s": _bucket_seconds(outlet.open_m3_s),
                "valve_run": outlet.valve_run,
                "valve_loss_mm": millimetres(outlet.valve_loss_m, "valve_loss_mm"),
                "low_flow_l_h": number(litres_per_hour(outlet.low_m3_s), "low_flow_l_h"),
            }
            for outlet in found.outlets
        ],
        "levels": [
            {
                "vessel": level.vessel,
                "water_mm": millimetres(level.water_m, "water_mm"),
                "low_mm": None if level.low_m is None else millimetres(level.low_m, "low_mm"),
            }
            for level in found.levels
        ],
    }


def _bucket_seconds(flow_m3_s: float) -> float | None:
    """Seconds in which a flow fills the bucket; None where next to nothing flows."""
    return number(SI.bucket_m3 / flow_m3_s, "bucket_s") if flow_m3_s > LEAST_FLOW_M3_S else None
