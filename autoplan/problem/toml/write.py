"""A site as the text of a long-form problem file, every assumption marked."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import partial
from typing import TypeAlias

from autoplan.problem.brief import AirWish, Assumption, Flushing, Overload, Wishes
from autoplan.problem.problem import Arranged, Problem, VesselChoice, problem_of
from autoplan.problem.site import BedDrain, BedWater, Run, RunKind, Site, Spot, Vessel
from autoplan.problem.tables.values import A_BED, FRY
from autoplan.units import Dimension, write

Assumed: TypeAlias = Mapping[str, Assumption]
"""By key path."""

NOTHING: Assumed = {}

FLUSHING: Mapping[Flushing, object] = {Flushing.NOWHERE: False, Flushing.ALL: True}
"""Those that are no words in a file."""

HEAD = (
    "# Long form: every vessel, junction and run by itself. Heights are above one datum for the whole site;",
    "# a floor is above the ground beside it, water_min and water_max are above the vessel's own floor.",
)


def expand_to_toml(asked: Problem | Site, layout: Arranged | None = None) -> str:
    """The long form of a problem.

    Args:
        asked: a loaded problem of either form, or a site.
        layout: the one to write of its layouts, or None for the first.

    Returns:
        TOML text that loads again into an equal problem, but for its file name and its assumptions, which are
        now written out: behind the key where the file has that key, and in full at the head.
    """
    problem = problem_of(asked)
    layout = layout or problem.layouts[0]
    assumed = {assumption.place: assumption for assumption in layout.assumptions}
    lines = [*HEAD, *_open(problem, layout)]
    if assumed:
        lines += ["#", "# Assumed, because the problem did not say:"]
        lines += [f"#   {one.place} = {one.text} ({one.mark}): {one.why}" for one in layout.assumptions]
    top: dict[str, object] = {key: getattr(problem, key) for key in ("name", "catalog", "print_units")}
    if problem.unavailable:
        top["unavailable"] = sorted(problem.unavailable)
    lines += ["", *_keys(top, assumed, [""])]
    lines += _wishes(problem.wishes, assumed)
    for vessel in layout.vessels.values():
        lines += _vessel(vessel, layout.choices.get(vessel.name), assumed)
    for junction in layout.junctions.values():
        heights = {"open": junction.open_m, "height": junction.height_m}
        known: dict[str, object] = {
            key: write(at, Dimension.LENGTH) for key, at in heights.items() if at is not None
        }
        known |= _spot(junction.spot)
        known |= {} if junction.at_once is None else {"at_once": junction.at_once}
        lines += _table("[junction]", {"name": junction.name} | known)
    for run in layout.runs.values():
        lines += _run(run, layout.vessels, assumed)
    lines += _air(layout.air) if layout.air is not None else ()
    for wish in layout.hand_pumps:
        lift, reach = _lengths((wish.lift_m, wish.reach_m))
        lines += _table(f"hand_pumps.{_plain(wish.vessel)}", {"lift": lift, "reach": reach})
    if problem.owned:
        lines += _table("owned", {_plain(part): count for part, count in problem.owned.items()})
    if problem.offcuts:
        offcuts = problem.offcuts.items()
        lines += _table("offcuts", {_plain(part): _lengths(lengths) for part, lengths in offcuts})
    for rule, settings in problem.rule_settings.items():
        lines += _table(f"rules.{_plain(rule)}", {_plain(key): value for key, value in settings.items()})
    return "\n".join(lines) + "\n"


def _open(problem: Problem, layout: Arranged) -> Iterator[str]:
    """That this is one of several arrangements; a long form has one."""
    if layout.arrangement is not None:
        yield "#"
        yield f"# The problem leaves the arrangement open; this is: {layout.arrangement}."
    for other in problem.layouts:
        if other is not layout:
            yield f'# For another: autoplan expand --arrangement "{other.arrangement}".'


class _Number(str):
    """A number as it is written, without quotes."""

    __slots__ = ()


def _plain(value: object) -> str:
    """A value as TOML: text, a number, true or false, or a list.

    A basic string has the escapes of JSON, and DEL must be one of them.
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(_plain, value))}]"
    if isinstance(value, str) and not isinstance(value, _Number):
        return json.dumps(str(value), ensure_ascii=False).replace("\x7f", "\\u007f")
    return f"{value}"


def _lengths(values: Iterable[float]) -> list[str]:
    return [write(value, Dimension.LENGTH) for value in values]


def _keys(values: Mapping[str, object], assumed: Assumed, sections: Sequence[str]) -> Iterator[str]:
    """Keys of a table, a comment behind each that one of these sections assumed, or what it follows from."""
    for key, value in values.items():
        places = [f"{section}{key}" for section in sections]
        if key == "turnover":
            places.append("wishes.turnover")
        if key == "water_max":
            places += [f"{section}freeboard" for section in sections]
        marks = [f"  # assumed ({each.mark}): {each.why}" for each in map(assumed.get, places) if each]
        yield f"{key} = {_plain(value)}{next(iter(marks), '')}"


def _table(
    head: str, values: Mapping[str, object], assumed: Assumed = NOTHING, *sections: str
) -> Iterator[str]:
    """A table and its keys."""
    yield from ("", f"[{head}]", *_keys(values, assumed, sections))


def _wishes(wishes: Wishes, assumed: Assumed) -> Iterator[str]:
    by_pump = wishes.overload is Overload.PUMP
    full = "most" if wishes.most_full else "all"
    spare = write(wishes.spare, Dimension.NUMBER) if wishes.spare else "none"
    values: dict[str, object] = {
        "overload": "pump" if by_pump else _Number(write(wishes.overload_factor, Dimension.NUMBER)),
        "water": write(wishes.water_celsius, Dimension.TEMPERATURE),
        "power_price": write(wishes.power_price_per_kwh, Dimension.ENERGY_PRICE),
        "frost": wishes.frost,
        "fish": write(wishes.fish_kg_m3, Dimension.STOCKING),
        "years": write(wishes.ownership_years, Dimension.YEARS),
        "drain_joints": wishes.drain_joints,
        "beds_full": full if wishes.beds_full is None else wishes.beds_full,
        "flushing_points": FLUSHING.get(wishes.flushing_points, wishes.flushing_points),
        "vents": wishes.vents,
        "settler_inlet": wishes.settler_inlet,
        "second_half": wishes.second_half,
        "survives": wishes.survives,
        "drain_grade": wishes.drain_grade,
        "mouth": wishes.mouth,
        "rain": write(wishes.rain_m, Dimension.LENGTH),
        "spare": A_BED if wishes.spare_bed else spare,
    }
    if wishes.budget is not None:
        values["budget"] = _Number(write(wishes.budget, Dimension.NUMBER))
    yield from _table("wishes", values, assumed, "wishes.")


def _vessel(vessel: Vessel, choice: VesselChoice | None, assumed: Assumed) -> Iterator[str]:
    length = partial(write, dimension=Dimension.LENGTH)
    values: dict[str, object] = {"name": vessel.name, "kind": vessel.kind}
    uncertain = {"uncertain": length(vessel.uncertain_m)} if vessel.uncertain_m else {}
    over_ground = round(vessel.floor_m - vessel.ground_m, 9) + 0.0
    stands = {"floor": length(over_ground), "ground": length(vessel.ground_m)} | _spot(vessel.spot)
    if vessel.top_up_m3_s:
        stands["top_up"] = write(vessel.top_up_m3_s, Dimension.FLOW)
    if vessel.cone_m:
        stands["cone"] = length(vessel.cone_m)
    if vessel.cover:
        stands["cover"] = True
    if choice is not None:
        values["choose"] = choice.among or "any"
        values |= stands | {"water_min": length(choice.water_min_m)} | uncertain
        if choice.water_max_m is None:
            values["freeboard"] = length(choice.freeboard_m)
        else:
            values["water_max"] = length(choice.water_max_m)
    else:
        values |= _size(vessel) | uncertain | stands
        if vessel.bed is not None:
            values |= _bed(vessel.bed)
        else:
            values["water_min"] = length(round(vessel.water_min_m - vessel.floor_m, 9) + 0.0)
            values["water_max"] = length(round(vessel.water_max_m - vessel.floor_m, 9) + 0.0)
    section = "beds" if vessel.bed is not None else vessel.name
    yield from _table("[vessel]", values, assumed, f"{section}.", f"vessel.{vessel.name}.")


def _spot(spot: Spot | None) -> dict[str, object]:
    """Where something is on the plan, if that is known."""
    if spot is None:
        return {}
    values: dict[str, object] = {"at": _lengths((spot.x_m, spot.y_m))}
    if spot.facing_deg:
        values["facing"] = spot.facing_deg
    return values if spot.length_m is None else values | {"side": _lengths([spot.length_m])[0]}


def _size(vessel: Vessel) -> dict[str, object]:
    turns = {}
    if vessel.turnover_per_s:
        turns["volume"] = write(vessel.turnover_volume_m3, Dimension.VOLUME)
        turns["turnover"] = write(vessel.turnover_per_s, Dimension.RATE)
    return {
        **({"spare": True} if vessel.spare else {}),
        **turns,
        "area": write(vessel.area_m2, Dimension.AREA),
        "depth": write(vessel.depth_m, Dimension.LENGTH),
        "wall": write(vessel.wall_m, Dimension.LENGTH),
        "base": write(vessel.base_m, Dimension.LENGTH),
        "shape": "round" if vessel.curved else "square",
    }


def _bed(bed: BedWater) -> dict[str, object]:
    values: dict[str, object] = {
        "flood": write(bed.flood_m, Dimension.LENGTH),
        "void": write(bed.void_fraction, Dimension.NUMBER),
        "floods": write(bed.floods_per_s, Dimension.RATE),
        "drain": bed.drain,
        "drain_peak": write(bed.drain_peak, Dimension.NUMBER),
    }
    if bed.drain is BedDrain.SIPHON:
        values["bell"] = bed.bell
    if bed.floods_range is not None:
        values["floods"] = [write(end, Dimension.RATE) for end in bed.floods_range]
    if bed.timer is not None:
        values["on_time"] = write(bed.timer.on_s, Dimension.TIME)
    if bed.hole is not None:
        values["hole"] = write(bed.hole.hole_m, Dimension.LENGTH)
        values["hole_height"] = write(bed.hole.height_m, Dimension.LENGTH)
    return values


def _run(run: Run, vessels: Mapping[str, Vessel], assumed: Assumed) -> Iterator[str]:
    values: dict[str, object] = {
        "name": run.name,
        "kind": run.kind,
        "from": run.start,
        "to": run.finish,
        **_way(run),
        "class": run.run_class,
        "valve": run.valve,
    }
    if run.kind is RunKind.GRAVITY and run.start in vessels:
        values["draw"] = run.draw
    if run.finish in vessels and (run.kind is RunKind.PRESSURE or run.plan is not None):
        values["entry"] = run.entry
    if run.kind is RunKind.PRESSURE and run.finish in vessels and vessels[run.finish].bed is None:
        values["siphon_back"] = run.siphon_back
    if run.share is not None:
        values["share"] = _Number(write(run.share, Dimension.NUMBER))
    values |= {word: True for word in ("overflow", "screen", "waste") if getattr(run, word)}
    if run.offered is not None:
        values["overflow"] = run.offered
    values |= {"screen": FRY} if run.fry else {}
    if run.mouth is not None:
        values["mouth"] = run.mouth
    if run.vent_m is not None:
        values["vent"] = write(run.vent_m, Dimension.LENGTH)
    end = run.start if run.kind is RunKind.GRAVITY else run.finish
    yield from _table("[run]", values, assumed, f"run.{run.name}.", f"{end}.")


def _way(run: Run) -> dict[str, object]:
    """How a run goes: on the plan, or by its legs."""
    if run.plan is None:
        return {"legs": _lengths(run.legs_m), "turns": run.turns}
    height = run.plan.height_m
    way: dict[str, object] = {"level": _lengths(run.plan.level_m), "corners": run.plan.corners}
    return way if height is None else way | {"height": write(height, Dimension.LENGTH)}


def _air(air: AirWish) -> Iterator[str]:
    reserve = (
        {"reserve": _Number(write(air.reserve, Dimension.NUMBER))} if air.reserve else {"battery": False}
    )
    names = [point.vessel for point in air.points]
    yield from _table("air", {"vessels": names, "above_water": air.above_water} | reserve)
    for key, field, dimension in (
        ("flow", "flow_m3_s", Dimension.FLOW),
        ("depth", "depth_m", Dimension.LENGTH),
        ("line", "line_m", Dimension.LENGTH),
    ):
        yield from _table(
            f"air.{key}",
            {_plain(point.vessel): write(getattr(point, field), dimension) for point in air.points},
        )
