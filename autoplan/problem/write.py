"""A site as the text of a long-form problem file, every assumption marked."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping

from autoplan.problem.problem import Layout, Problem, VesselChoice, problem_of
from autoplan.problem.site import AirWish, Assumption, Overload, Run, RunKind, Site, Vessel
from autoplan.units import Dimension, write

HEAD = (
    "# Long form: every vessel, junction and run by itself. Heights are above one datum for the whole site;",
    "# water_min and water_max are above the vessel's own floor.",
)


def expand_to_toml(asked: Problem | Site, layout: Layout | None = None) -> str:
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
    site = problem.site_of(layout)
    lines = [*HEAD, *_open(problem, layout)]
    if site.assumptions:
        lines += ["#", "# Assumed, because the problem did not say:"]
        lines += [f"#   {assumed.place} = {_said(assumed)}" for assumed in site.assumptions]
    assumed = {assumption.place: assumption for assumption in site.assumptions}
    lines += ["", f"name = {_text(site.name)}", f"catalog = {_text(site.catalog)}{_mark(assumed, 'catalog')}"]
    lines.append(f"print_units = {_text(site.print_units)}")
    if site.unavailable:
        lines.append(f"unavailable = [{', '.join(_text(part) for part in sorted(site.unavailable))}]")
    lines += _wishes(site, assumed)
    for vessel in site.vessels.values():
        lines += _vessel(vessel, layout.choices.get(vessel.name), assumed)
    for junction in site.junctions.values():
        lines += ["", "[[junction]]", f"name = {_text(junction.name)}"]
        if junction.open_m is not None:
            lines.append(f"open = {_text(write(junction.open_m, Dimension.LENGTH))}")
    for run in site.runs.values():
        lines += _run(run, site, assumed)
    if site.air is not None:
        lines += _air(site.air)
    for wish in site.hand_pumps:
        lines += ["", f"[hand_pumps.{_text(wish.vessel)}]"]
        lines += [f"lift = {_text(write(wish.lift_m, Dimension.LENGTH))}"]
        lines += [f"reach = {_text(write(wish.reach_m, Dimension.LENGTH))}"]
    if site.owned:
        lines += ["", "[owned]", *(f"{_text(part)} = {count}" for part, count in site.owned.items())]
    if site.offcuts:
        lines += ["", "[offcuts]"]
        for part, lengths in site.offcuts.items():
            written = ", ".join(_text(write(length, Dimension.LENGTH)) for length in lengths)
            lines.append(f"{_text(part)} = [{written}]")
    for rule, settings in site.rule_settings.items():
        lines += [
            "",
            f"[rules.{_text(rule)}]",
            *(f"{_text(key)} = {_plain(value)}" for key, value in settings.items()),
        ]
    return "\n".join(lines) + "\n"


def _open(problem: Problem, layout: Layout) -> Iterator[str]:
    """That this is one of several arrangements; a long form has one."""
    if layout.arrangement is not None:
        yield "#"
        yield f"# The problem leaves the arrangement open; this is: {layout.arrangement}."
    for other in problem.layouts:
        if other is not layout:
            yield f'# For another: autoplan expand --arrangement "{other.arrangement}".'


def _said(assumed: Assumption) -> str:
    return f"{assumed.text} ({assumed.mark}): {assumed.why}"


def _mark(assumed: Mapping[str, Assumption], *places: str) -> str:
    """A comment behind a value if one of these places was assumed."""
    for place in places:
        if place in assumed:
            return f"  # assumed ({assumed[place].mark}): {assumed[place].why}"
    return ""


def _wishes(site: Site, assumed: Mapping[str, Assumption]) -> Iterator[str]:
    wishes = site.wishes
    yield from ("", "[wishes]")
    by_pump = wishes.overload is Overload.PUMP
    values = {
        "overload": '"pump"' if by_pump else write(wishes.overload_factor, Dimension.NUMBER),
        "water": _text(write(wishes.water_celsius, Dimension.TEMPERATURE)),
        "power_price": _text(write(wishes.power_price_per_kwh, Dimension.ENERGY_PRICE)),
        "years": _text(write(wishes.ownership_years, Dimension.YEARS)),
        "drain_joints": _text(wishes.drain_joints),
        "beds_full": _text("most" if wishes.most_full else "all")
        if wishes.beds_full is None
        else str(wishes.beds_full),
        "flushing_points": _plain(wishes.flushing_points),
    }
    if wishes.budget is not None:
        values["budget"] = write(wishes.budget, Dimension.NUMBER)
    for key, value in values.items():
        yield f"{key} = {value}{_mark(assumed, f'wishes.{key}')}"


def _vessel(vessel: Vessel, choice: VesselChoice | None, assumed: Mapping[str, Assumption]) -> Iterator[str]:
    yield from ("", "[[vessel]]", f"name = {_text(vessel.name)}", f"kind = {_text(vessel.kind)}")
    section = "beds" if vessel.bed is not None else vessel.name
    if choice is not None:
        yield from _choice(vessel, choice, assumed)
        return
    values: dict[str, str] = {}
    if vessel.turnover_per_s:
        values["volume"] = write(vessel.turnover_volume_m3, Dimension.VOLUME)
        values["turnover"] = write(vessel.turnover_per_s, Dimension.RATE)
    values["area"] = write(vessel.area_m2, Dimension.AREA)
    values["depth"] = write(vessel.depth_m, Dimension.LENGTH)
    values["wall"] = write(vessel.wall_m, Dimension.LENGTH)
    values["base"] = write(vessel.base_m, Dimension.LENGTH)
    values["shape"] = "round" if vessel.curved else "square"
    if vessel.uncertain_m:
        values["uncertain"] = write(vessel.uncertain_m, Dimension.LENGTH)
    values["floor"] = write(vessel.floor_m, Dimension.LENGTH)
    values["ground"] = "0 m"
    if vessel.bed is None:
        values["water_min"] = write(round(vessel.water_min_m - vessel.floor_m, 9) + 0.0, Dimension.LENGTH)
        values["water_max"] = write(round(vessel.water_max_m - vessel.floor_m, 9) + 0.0, Dimension.LENGTH)
    else:
        values["flood"] = write(vessel.bed.flood_m, Dimension.LENGTH)
        values["void"] = write(vessel.bed.void_fraction, Dimension.NUMBER)
        values["floods"] = write(vessel.bed.floods_per_s, Dimension.RATE)
        values["drain"] = str(vessel.bed.drain)
        values["drain_peak"] = write(vessel.bed.drain_peak, Dimension.NUMBER)
        if vessel.bed.timer is not None:
            values["on_time"] = write(vessel.bed.timer.on_s, Dimension.TIME)
            values["hole"] = write(vessel.bed.timer.hole_m, Dimension.LENGTH)
            values["hole_height"] = write(vessel.bed.timer.height_m, Dimension.LENGTH)
    within = vessel.bed.floods_range if vessel.bed is not None else None
    if vessel.spare:
        yield "spare = true"
    for key, value in values.items():
        if key == "floods" and within is not None:
            yield f"floods = [{', '.join(_text(write(end, Dimension.RATE)) for end in within)}]"
            continue
        places = [f"{section}.{key}", f"vessel.{vessel.name}.{key}"]
        also = {
            "turnover": ["wishes.turnover"],
            "water_max": [f"{section}.freeboard", f"vessel.{vessel.name}.freeboard"],
        }
        places += also.get(key, [])
        yield f"{key} = {_text(value)}{_mark(assumed, *places)}"


def _choice(vessel: Vessel, choice: VesselChoice, assumed: Mapping[str, Assumption]) -> Iterator[str]:
    """The keys of a vessel that is still to be chosen."""
    among = f"[{', '.join(map(_text, choice.among))}]" if choice.among else '"any"'
    yield f"choose = {among}"
    values = {"floor": vessel.floor_m, "ground": 0.0, "water_min": choice.water_min_m}
    if vessel.uncertain_m:
        values["uncertain"] = vessel.uncertain_m
    if choice.water_max_m is None:
        values["freeboard"] = choice.freeboard_m
    else:
        values["water_max"] = choice.water_max_m
    for key, value in values.items():
        places = (f"{vessel.name}.{key}", f"vessel.{vessel.name}.{key}")
        yield f"{key} = {_text(write(value, Dimension.LENGTH))}{_mark(assumed, *places)}"


def _run(run: Run, site: Site, assumed: Mapping[str, Assumption]) -> Iterator[str]:
    yield from ("", "[[run]]", f"name = {_text(run.name)}", f"kind = {_text(run.kind)}")
    yield from (f"from = {_text(run.start)}", f"to = {_text(run.finish)}")
    place = f"run.{run.name}"
    legs = ", ".join(_text(write(leg, Dimension.LENGTH)) for leg in run.legs_m)
    yield f"legs = [{legs}]{_mark(assumed, f'{place}.legs')}"
    yield f"turns = {list(run.turns)}{_mark(assumed, f'{place}.turns')}"
    yield f"class = {_text(run.run_class)}"
    yield f"valve = {'true' if run.valve else 'false'}{_mark(assumed, f'{place}.valve')}"
    if run.kind is RunKind.GRAVITY and run.start in site.vessels:
        yield f"draw = {_text(run.draw)}{_mark(assumed, f'{place}.draw', f'{run.start}.draw')}"
    if run.kind is RunKind.PRESSURE and run.finish in site.vessels:
        yield f"entry = {_text(run.entry)}{_mark(assumed, f'{place}.entry')}"
        if site.vessels[run.finish].bed is None:
            guard = _mark(assumed, f"{place}.siphon_back", f"{run.finish}.siphon_back")
            yield f"siphon_back = {_text(run.siphon_back)}{guard}"
    if run.share is not None:
        yield f"share = {write(run.share, Dimension.NUMBER)}"
    if run.overflow:
        yield "overflow = true"
    if run.screen:
        yield "screen = true"
    if run.waste:
        yield "waste = true"


def _air(air: AirWish) -> Iterator[str]:
    yield from ("", "[air]", f"vessels = [{', '.join(_text(point.vessel) for point in air.points)}]")
    yield f"above_water = {_plain(air.above_water)}"
    yield f"reserve = {write(air.reserve, Dimension.NUMBER)}" if air.reserve else "battery = false"
    for key, dimension in (("flow", Dimension.FLOW), ("depth", Dimension.LENGTH), ("line", Dimension.LENGTH)):
        values = [getattr(point, f"{key}_m3_s" if key == "flow" else f"{key}_m") for point in air.points]
        yield from ("", f"[air.{key}]")
        for point, value in zip(air.points, values, strict=True):
            yield f"{_text(point.vessel)} = {_text(write(value, dimension))}"


def _text(value: str) -> str:
    """A TOML basic string; its escapes are those of JSON, and DEL must be one of them."""
    return json.dumps(str(value), ensure_ascii=False).replace("\x7f", "\\u007f")


def _plain(value: object) -> str:
    """A rule's setting: text, a number, or true or false."""
    if isinstance(value, bool):
        return "true" if value else "false"
    return _text(value) if isinstance(value, str) else f"{value}"
