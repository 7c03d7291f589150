"""Answers as a problem file in the short form, each key with what it is and where it comes from."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from itertools import pairwise

from autoplan.begin.usual import (
    RAIN_M,
    Tape,
    asked_as,
    flood_of,
    metres,
    open_area,
    vessels,
    volume,
)
from autoplan.problem.tables.defaults import LINES

Said = Mapping[str, str]

RULE_FREEBOARD_M = 0.02
"""Dry wall that the rule sump-high keeps with the power off if nothing is said [m]."""

UNASKED = ("sump_to_split", "trunk_to_bed", "tank_overflow")
"""Lines whose distance is always taken as usual."""

TITLES = {
    "tank": "Fish tank",
    "settler": "Settler, where solids sink",
    "biofilter": "Biofilter",
    "beds": "Plant beds, all alike, each with a bell siphon",
    "sump": "Sump, in which the pump stands",
}


def problem_text(said: Said, given: Said, turnover: tuple[float, str], stopped: str = "") -> str:
    """The problem file.

    Args:
        said: every answer, as `usual.filled` gives them.
        given: those that were typed; the others are marked as usual.
        turnover: of the tank's water [1/h], and why it is that.
        stopped: a sentence on why not all was asked; empty where it was.

    Returns:
        TOML text of the short form.
    """
    lines = [
        "# Written by `autoplan start`. Change what you like: `autoplan keys` explains every key. What",
        "# does not stand here is assumed and told with each design. (usual): taken as usual, not answered.",
        *([f"# {stopped}"] if stopped else []),
        "",
        f"catalog = {_text(said['catalog'])}{_note('price list to buy from', 'catalog', given)}",
        f"print_units = {_text('us' if said['units'] == 'us' else 'si')}  # units of the plan",
    ]
    if "sump" not in vessels(said):
        lines.append('arrangement = "no sump"  # the pump stands in the fish tank')
    for name in vessels(said):
        lines += ["", f"# {TITLES[name]}.", f"[{name}]", *_vessel(name, said, given)]
    lines += ["", *_distances(said, given)]
    rate, why = turnover
    lines += ["", "[wishes]", f'turnover = "{rate:g}/hour"  # of the tank\'s water: {why}', *_outdoors(said)]
    return "\n".join(lines) + "\n"


def _vessel(name: str, said: Said, given: Said) -> Iterator[str]:
    asked = asked_as(name)
    if name == "beds":
        yield f"count = {said['beds.count']}{_note('how many', 'beds.count', given)}"
        yield f"area = {_text(said['beds.area'])}{_note('of one bed', 'beds.area', given)}"
    else:
        yield f"volume = {_text(said[f'{asked}.volume'])}{_note('to the rim', f'{asked}.volume', given)}"
    yield f"depth = {_text(said[f'{asked}.depth'])}{_note('inside, floor to rim', f'{asked}.depth', given)}"
    if name == "beds":
        yield f"flood = {_text(flood_of(said))}  # water when full, from the depth"
    yield f"shape = {_text(said[f'{asked}.shape'])}{_note('of the walls', f'{asked}.shape', given)}"
    wall = said[f"{asked}.wall"]
    yield f"wall = {_text(wall)}{_note('thickness: measure it at a cut edge', f'{asked}.wall', given)}"
    yield f"base = {_text(wall)}  # thickness of the floor, taken to be as thick as the wall"
    yield f"floor = {_text(said[f'{name}.floor'])}{_note('inside, over the ground', f'{name}.floor', given)}"
    if name == "sump":
        yield "# cover = true  # once a lid lies on it that a child can neither lift nor fall through"


def _distances(said: Said, given: Said) -> Iterator[str]:
    tape = Tape(said["units"] == "us")
    answered = [key for key in ("ways.next", "ways.back", "ways.bed", "ways.beds") if key in given]
    yield "# Level distance of each line, from wall to wall; ups and downs follow from the heights above."
    yield "# Measure on site before you buy."
    yield "[distances]"
    for key, length in lines_of(said).items():
        mark = "" if answered and key not in UNASKED else " (usual)"
        yield f"{key} = {_text(tape.up(length))}  # {LINES[key].why}{mark}"


def lines_of(said: Said) -> dict[str, float]:
    """Level distance of each line of the system [m].

    The split stands as far from the sump as is usual, but of a short way at half of it. What the tank's
    overflow may have to be led is the way that the pump's water comes.
    """
    aside, along = metres(said["ways.bed"]), metres(said["ways.beds"])
    between = {"between_beds": along} if int(said["beds.count"]) > 1 else {}
    between["trunk_to_bed"] = metres(LINES["trunk_to_bed"].length)
    if "sump" not in vessels(said):
        return {"tank_to_first_bed": aside, "bed_to_tank": aside, **between}
    onward, back = metres(said["ways.next"]), metres(said["ways.back"])
    chain = [name for name in vessels(said) if name != "beds"]
    return {
        **{f"{above}_to_{below}": onward for above, below in pairwise(chain)},
        "sump_to_split": min(metres(LINES["sump_to_split"].length), back / 2, aside / 2),
        "sump_to_tank": back,
        "tank_overflow": back,
        "sump_to_first_bed": aside,
        "bed_to_sump": aside,
        **between,
    }


def _outdoors(said: Said) -> Iterator[str]:
    """Room for rain in the vessel that everything runs back to."""
    if said["place"] != "outdoors":
        yield 'rain = "0 mm"  # indoors: no rain falls on it'
        return
    yield f'rain = "{1000 * RAIN_M:g} mm"  # outdoors: a heavy shower'
    pumped = vessels(said)[-1] if "sump" in vessels(said) else "tank"
    own = volume(said[f"{pumped}.volume"]) / metres(said[f"{pumped}.depth"])
    fallen = RAIN_M * (open_area(said) + (own if pumped == "sump" else 0.0))
    dry = Tape(said["units"] == "us").up(fallen / own + RULE_FREEBOARD_M)
    litres = f"{fallen / 3.785411784e-3:.0f} gal" if said["units"] == "us" else f"{fallen * 1000:.0f} L"
    yield ""
    yield f"# Outdoors: a shower of 30 mm on all vessels is {litres}, which must find room in the {pumped}"
    yield "# with the power off. Keep sun off hose and poly line, and empty or lag what frost can reach."
    yield "[rules.sump-high]"
    yield f"freeboard = {_text(dry)}  # dry wall left with the power off"


def _note(meaning: str, key: str, given: Said) -> str:
    return f"  # {meaning}" + ("" if key in given else " (usual)")


def _text(value: str) -> str:
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
