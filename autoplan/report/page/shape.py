"""What an answer's JSON must have for a sheet: every key that the page reads, and its kind.

An answer comes from a file that anyone may have changed, or that an older version wrote: all that is
missing is told.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any

from autoplan.report.blocks import clean

MOST = 1e12
"""No number of an answer is larger, in whatever unit it is."""

KINDS: Mapping[str, tuple[type, ...]] = {
    "text": (str,),
    "name": (str,),
    "number": (int, float),
    "size": (int, float),
    "whole": (int,),
    "yes": (bool,),
    "list": (list,),
    "table": (dict,),
}
WORDS = {
    "text": "a text",
    "name": "a name",
    "number": "a number",
    "size": "a number above 0",
    "whole": "a whole number",
    "yes": "true or false",
    "list": "a list",
    "table": "a table of keys",
}

SHAPE: Mapping[str, Mapping[str, str]] = {
    "": {
        "text": "problem problem_file catalog units",
        "number": "ownership_years",
        "list": "answer[text] assumptions notes[text] cautions[text] designs",
        "table": "solver",
    },
    "solver": {"table": "versions{text}"},
    "assumptions[]": {"text": "place text mark why"},
    "designs[]": {
        "whole": "rank",
        "yes": "proven",
        "text": "variant~",
        "number": "saw_cut_mm",
        "table": "cost told parts traits{text} filling? commissioning? growth?",
        "list": "pumps runs levels vessels purchase orders holes cuts from_roll rules faults running siphons "
        "timers air build_order traces assumptions~",
    },
    "designs[].cost": {"text": "currency", "number": "to_pay freight running_per_year ownership"},
    "designs[].told": {
        "list": "rank[text] warnings[text] levels[text] junctions[text] holes[text] siphons[text] "
        "timers[text] air[text] cut[text] joints[text] fill[text] first-run[text] growth[text] hours[text]"
    },
    "designs[].parts{}": {
        "text": "description kind size~ style~",
        "number": "outside_mm~ inside_mm~ bore_mm~ tallest_mm~ hole_mm~",
    },
    "designs[].pumps[]": {
        "text": "vessel part mode",
        "number": "speed duty_flow_l_h duty_head_m required_head_m watts",
        "list": "curve? full_speed_curve? system?",
        "table": "meets?",
    },
    **{
        f"designs[].pumps[].{curve}": {"number": "flow_l_h head_m"}
        for curve in ("curve[]", "full_speed_curve[]", "system[]", "meets")
    },
    "designs[].runs[]": {
        "name": "name from to",
        "text": "class kind pipe told",
        "number": "bore_mm length_m flow_l_h velocity_m_s loss_mm",
        "yes": "later",
        "list": "line sides joints ends",
    },
    "designs[].runs[].ends[]": {
        "text": "vessel way? penetration? standpipe?",
        "yes": "in_floor",
        "number": "hole_mm? centre_above_floor_mm? standpipe_top_above_floor_mm? mouth_above_floor_mm?",
        "table": "siphon? drain_hole?",
    },
    "designs[].runs[].ends[].siphon": {"text": "bell? guard? snorkel? flare?", "number": "cut_out_mm"},
    "designs[].runs[].ends[].drain_hole": {"text": "guard?", "number": "hole_mm centre_above_floor_mm"},
    "designs[].runs[].line[]": {"text": "part role place through?", "number": "length_mm?"},
    "designs[].runs[].sides[]": {"text": "part role place through?", "number": "length_mm?", "whole": "at"},
    "designs[].runs[].joints[]": {"text": "kind? left right"},
    "designs[].levels[]": {"text": "vessel", "number": "floor_mm water_mm rim_mm overload_mm rest_mm?"},
    "designs[].vessels[]": {
        "name": "name",
        "text": "kind shape",
        "size": "width_mm depth_mm",
        "number": "volume_l floor_mm rim_mm wall_mm base_mm",
        "yes": "spare",
        "table": "bed?",
    },
    "designs[].purchase[]": {
        "text": "part description unit sold_as shop?",
        "number": "quantity unit_price line_cost",
        "whole": "packs",
    },
    "designs[].orders[]": {"text": "shop name charge_for told", "number": "goods charge total"},
    "designs[].holes[]": {
        "text": "vessel run place part saw? saw_from stand?",
        "number": "hole_mm centre_above_floor_mm? off_mm?",
    },
    "designs[].cuts[]": {
        "text": "pipe",
        "whole": "stick",
        "yes": "owned",
        "size": "stick_mm",
        "number": "offcut_mm",
        "list": "pieces_mm[number] pieces",
    },
    "designs[].cuts[].pieces[]": {"text": "run? place?"},
    "designs[].from_roll[]": {"text": "pipe run? place?", "number": "length_mm"},
    "designs[].rules[]": {
        "text": "id sentence place unit source",
        "number": "value limit margin",
        "yes": "ok hard",
        "table": "told~",
    },
    "designs[].rules[].told": {"text": "place source"},
    "designs[].faults[]": {
        "text": "name saved_by where",
        "number": "spilled_l margin_mm minutes? lowest_cover_mm? dry_minutes?",
        "table": "fish?",
    },
    "designs[].faults[].fish": {"text": "vessel", "number": "depth_mm volume_l needed_mm spilled_l?"},
    "designs[].running[]": {"text": "phase", "list": "sumps"},
    "designs[].running[].sumps[]": {"text": "vessel", "number": "lowest_mm highest_mm cover_mm"},
    "designs[].traces[]": {"text": "what vessel", "number": "off_s? on_s?", "list": "points"},
    "designs[].traces[].points[]": {"number": "s mm"},
    "designs[].siphons[]": {
        "text": "bed drain",
        "number": "standpipe_bore_mm starts_from_l_h inflow_l_h fastest_l_h slowest_l_h filling_min "
        "emptying_min? floods_per_h bell_least_mm? guard_least_mm?",
    },
    "designs[].timers[]": {
        "text": "bed valve?",
        "number": "open_min cycle_min inflow_l_h leak_l_h filling_min? emptying_min? watts",
    },
    "designs[].air[]": {"text": "part", "yes": "battery", "list": "lines"},
    "designs[].air[].lines[]": {
        "text": "vessel line diffuser tap? check?",
        "number": "flow_l_h depth_mm length_m",
    },
    "designs[].build_order[]": {"text": "title", "list": "steps[text]"},
    "designs[].filling": {"number": "total_l", "list": "levels"},
    "designs[].filling.levels[]": {
        "text": "vessel",
        "number": "low_mm running_mm high_mm low_l running_l high_l rim_l",
    },
    "designs[].commissioning": {"list": "outlets levels"},
    "designs[].commissioning.outlets[]": {
        "text": "run vessel valve_run?",
        "number": "flow_l_h open_flow_l_h bucket_s? open_bucket_s?",
    },
    "designs[].commissioning.levels[]": {"text": "vessel", "number": "water_mm low_mm?"},
    "designs[].growth": {"list": "parts"},
    "designs[].growth.parts[]": {"text": "part", "number": "packs cost"},
}
"""By place, the keys of each kind. "key?" may be null, "key~" may be missing; "key[text]" is a list of texts,
"key{text}" a table of them. A place ends in "[]" for each item of a list, in "{}" for each of a table."""


def wrong_in(answer: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """What keeps an answer from being shown: a place, as in "designs[0].cost", and what is wrong there.

    What is of a wrong kind is told first, and alone: only then can be asked what fits together.
    """
    found = list(_wrong_kinds(answer))
    yield from found or _not_together(answer)


def _wrong_kinds(answer: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    for place, kinds in SHAPE.items():
        for where, found in _at(answer, place):
            if not isinstance(found, dict):
                yield where, "is not a table of keys"
                continue
            for kind, keys in kinds.items():
                for key in keys.split():
                    yield from _wrong_key(found, where, key, kind)


def _at(answer: Any, place: str) -> list[tuple[str, Any]]:
    """Every thing at a place that is there, with its path; what is no list or table has nothing in it."""
    found = [("", answer)]
    for step in filter(None, place.split(".")):
        key = step.rstrip("[]{}")
        inner = [
            (f"{where}.{key}".lstrip("."), thing[key])
            for where, thing in found
            if isinstance(thing, dict) and thing.get(key) is not None
        ]
        if step.endswith("[]"):
            inner = [
                (f"{where}[{at}]", item)
                for where, thing in inner
                if isinstance(thing, list)
                for at, item in enumerate(thing)
            ]
        elif step.endswith("{}"):
            inner = [
                (f"{where}.{name}", item)
                for where, thing in inner
                if isinstance(thing, dict)
                for name, item in thing.items()
            ]
        found = inner
    return found


def _wrong_key(found: Mapping[str, Any], where: str, key: str, kind: str) -> Iterator[tuple[str, str]]:
    """What is wrong with one key of a table."""
    name, _, inner = key.rstrip("]}").replace("{", "[").partition("[")
    missing, null = name.endswith("~"), name.endswith("?")
    name = name.rstrip("~?")
    place = f"{where}.{name}".lstrip(".")
    if name not in found:
        if not missing:
            yield place, "is missing"
        return
    value = found[name]
    if value is None and null:
        return
    if not _is(value, kind):
        yield place, f"is not {WORDS[kind]}"
        return
    if inner:
        items = value.values() if isinstance(value, dict) else value
        yield from (
            (place, f"has an item that is not {WORDS[inner]}") for item in items if not _is(item, inner)
        )


def _is(value: object, kind: str) -> bool:
    """Whether a value is of a kind; a number is finite and within bounds, a name has a letter to show."""
    if isinstance(value, bool):
        return kind == "yes"
    if not isinstance(value, KINDS[kind]):
        return False
    if isinstance(value, str):
        return kind == "text" or clean(value).strip() != ""
    if not isinstance(value, int | float):
        return True
    return math.isfinite(value) and abs(value) <= MOST and (kind != "size" or value > 0)


NAMED = {
    "levels[].vessel": "vessels[].name",
    "holes[].vessel": "vessels[].name",
    "holes[].run": "runs[].name",
    "traces[].vessel": "vessels[].name",
    "siphons[].bed": "vessels[].name",
    "siphons[].drain": "runs[].name",
    "vessels[].name": "levels[].vessel",
    "filling.levels[].vessel": "levels[].vessel",
    "commissioning.levels[].vessel": "levels[].vessel",
    "running[].sumps[].vessel": "levels[].vessel",
}
"""What is named in one place of a design must be there in another."""


def _not_together(answer: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """What does not fit together in an answer whose keys are of the right kinds."""
    if answer.get("units") not in ("si", "us"):
        yield "units", 'is neither "si" nor "us"'
    for where, design in _at(answer, "designs[]"):
        yield from ((f"{where}.{place}", problem) for place, problem in _loose_ends(design))


def _loose_ends(design: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Names of nothing, lists of unlike length, and what is there by half."""
    for asked, there in NAMED.items():
        known = {name for _, name in _at(design, there)}
        for place, name in _at(design, asked):
            if name not in known:
                yield place, f"is not among {there}"
    for place, run in _at(design, "runs[]"):
        if len(run["ends"]) != 2:
            yield f"{place}.ends", "are not two"
    for place, cut in _at(design, "cuts[]"):
        if len(cut["pieces"]) != len(cut["pieces_mm"]):
            yield f"{place}.pieces", "is not as long as pieces_mm"
    for place, trace in _at(design, "traces[]"):
        if not trace["points"]:
            yield f"{place}.points", "has no points"
    for place, hole in _at(design, "holes[]"):
        if hole["place"] != "floor" and hole["centre_above_floor_mm"] is None:
            yield f"{place}.centre_above_floor_mm", "is missing"
    for place, pump in _at(design, "pumps[]"):
        if pump["part"] not in design["parts"]:
            yield f"{place}.part", "is not among parts"
        curves = [pump[key] for key in ("curve", "full_speed_curve", "system", "meets")]
        if any(curves) and not all(curves):
            yield f"{place}.curve", "is there without full_speed_curve, system or meets"
