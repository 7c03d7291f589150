"""What a page shows of a design, put together from its JSON: rows for the templates."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from autoplan.catalog.naming import times
from autoplan.drawing import CutStick
from autoplan.outcome import Fault, Finding, FishWater
from autoplan.report.blocks import Block
from autoplan.report.cutting import marks
from autoplan.report.judged import bad_together, by_rule, faults, rules
from autoplan.report.units import HOUR_S, LEAST_FLOW_M3_S, LITRE_M3, MM_M, Gauge, Units

Object = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Stick:
    """A stick as it is marked: pieces as (figure, run, place); pipe off the roll has no number."""

    pipe: str
    number: int | None
    length: str
    owned: bool
    pieces: tuple[tuple[str, str, str], ...]
    left: str


@dataclass(frozen=True, slots=True)
class Row:
    """One thing on a run: its part, what it does there, what to cut, how it is joined to the next.

    `own` pieces are of the run's own pipe.
    """

    part: str
    role: str
    place: str
    cut: str
    through: str
    joint: str
    own: bool


@dataclass(frozen=True, slots=True)
class Outlet:
    """Where a run ends under water or free, with seconds of the bucket [s] wide open and set."""

    run: str
    vessel: str
    valve: str
    flow_l_h: float
    open_flow_l_h: float
    seconds: str
    open_seconds: str


def sticks(design: Object, gauge: Gauge) -> list[Stick]:
    """Every stick marked as on the cutting list, then what is cut from the roll."""
    found = []
    for cut in design["cuts"]:
        pieces = tuple(piece * MM_M for piece in cut["pieces_mm"])
        stick = CutStick(cut["pipe"], cut["stick_mm"] * MM_M, pieces, cut["offcut_mm"] * MM_M)
        steps, left = marks(stick, gauge)
        told = tuple(
            (gauge.figure(step), piece["run"] or "", piece["place"] or "")
            for step, piece in zip(steps, cut["pieces"], strict=True)
        )
        length = gauge.text(stick.stick_m)
        found.append(Stick(cut["pipe"], cut["stick"], length, cut["owned"], told, gauge.figure(left)))
    for piece in design["from_roll"]:
        told = ((gauge.text(piece["length_mm"] * MM_M), piece["run"] or "", piece["place"] or ""),)
        found.append(Stick(piece["pipe"], None, "", False, told, ""))
    return found


def rows_of_runs(design: Object, gauge: Gauge) -> dict[str, list[Row]]:
    """The things on each run in the order of the water, its pieces as they are marked on the sticks."""
    marked: dict[tuple[str, str], list[str]] = {}
    for stick in sticks(design, gauge):
        for figure, run, place in stick.pieces:
            marked.setdefault((run, place), []).append(figure)
    return {run["name"]: list(_rows(run, marked, gauge)) for run in design["runs"]}


def _rows(run: Object, marked: Mapping[tuple[str, str], list[str]], gauge: Gauge) -> Iterator[Row]:
    """The joint to the next is the first not yet told that has both parts; what sits aside comes after."""
    line, joints = run["line"], list(run["joints"])
    for at, item in enumerate(line):
        after = line[at + 1]["part"] if at + 1 < len(line) else None
        yield _row(run, item, marked, gauge, _joint(joints, item["part"], after))
        for side in run["sides"]:
            if side["at"] == at:
                yield _row(run, side, marked, gauge, _joint(joints, item["part"], side["part"]))


def _joint(joints: list[Object], left: str, right: str | None) -> str:
    for place, joint in enumerate(joints):
        if right is not None and {joint["left"], joint["right"]} == {left, right}:
            del joints[place]
            return joint["kind"] or "does not fit"
    return ""


def _row(
    run: Object, item: Object, marked: Mapping[tuple[str, str], list[str]], gauge: Gauge, joint: str
) -> Row:
    cut = ""
    if item["length_mm"] is not None:
        listed = marked.get((run["name"], item["place"]))
        cut = listed.pop(0) if listed else gauge.text(item["length_mm"] * MM_M)
    own = item["role"] == "pipe" and item["part"] == run["pipe"]
    return Row(item["part"], item["role"], item["place"], cut, item["through"] or "", joint, own)


def joint_counts(run: Object) -> str:
    """How many joints of each kind a run has, in words."""
    kinds = Counter(joint["kind"] or "does not fit" for joint in run["joints"])
    return ", ".join(times(count, kind) for kind, count in kinds.items())


def outlets(design: Object, units: Units) -> list[Outlet]:
    """What to measure where, with the seconds that the bucket takes."""
    facts = design["commissioning"]

    def seconds(flow_l_h: float, told: float | None) -> str:
        flow = flow_l_h * LITRE_M3 / HOUR_S
        return "never" if told is None or flow <= LEAST_FLOW_M3_S else f"{units.bucket_seconds(flow)} s"

    return [
        Outlet(
            outlet["run"],
            outlet["vessel"],
            outlet["valve_run"] or "",
            outlet["flow_l_h"],
            outlet["open_flow_l_h"],
            seconds(outlet["flow_l_h"], outlet["bucket_s"]),
            seconds(outlet["open_flow_l_h"], outlet["open_bucket_s"]),
        )
        for outlet in (facts["outlets"] if facts else ())
    ]


def bucket_of(design: Object, name: str, units: Units) -> str:
    """In how many seconds the bucket fills by a run's valve, in words; "" where nothing is set there."""
    return next(
        (
            f"{units.bucket} in {found.seconds}"
            for found in outlets(design, units)
            if found.valve == name and found.seconds != "never"
        ),
        "",
    )


def findings(design: Object) -> list[Finding]:
    """The rules' findings as they were judged."""
    return [
        Finding(
            rule=found["id"],
            **{key: found[key] for key in ("sentence", "place", "value", "limit", "margin", "unit")},
            **{key: found[key] for key in ("ok", "hard", "source")},
        )
        for found in design["rules"]
    ]


def read_faults(design: Object) -> list[Fault]:
    """The faults as they were walked through."""
    return [
        Fault(
            name=fault["name"],
            spilled_l=fault["spilled_l"],
            margin_m=fault["margin_mm"] * MM_M,
            minutes=fault["minutes"],
            saved_by=fault["saved_by"],
            lowest_cover_m=None if fault["lowest_cover_mm"] is None else fault["lowest_cover_mm"] * MM_M,
            where=fault["where"],
            dry_minutes=fault["dry_minutes"],
            fish=None if fault["fish"] is None else _fish(fault["fish"]),
        )
        for fault in design["faults"]
    ]


def _fish(left: Object) -> FishWater:
    return FishWater(
        left["vessel"],
        left["depth_mm"] * MM_M,
        left["volume_l"] * LITRE_M3,
        left["needed_mm"] * MM_M,
        left["spilled_l"],
    )


def worst(design: Object, count: int = 3) -> list[Fault]:
    """The worst of the faults that end badly, one of those that are alike."""
    return [alike[0] for alike in bad_together(read_faults(design))[:count]]


def fault_blocks(design: Object, units: Units) -> list[Block]:
    """What goes wrong and what would save it, as on the screen."""
    return list(faults(read_faults(design), units))


def rule_blocks(design: Object, units: Units) -> list[Block]:
    """The rules at their tightest places, as on the screen."""
    return list(rules(findings(design), design["cost"]["currency"], units))


def spare_by(design: Object, rule: str) -> float | None:
    """The least margin of a rule in its unit; None where nothing was judged by it."""
    for places in by_rule([found for found in findings(design) if found.rule == rule]).values():
        return places[0].margin
    return None


def by_vessel(design: Object, key: str) -> list[tuple[str, Sequence[Object]]]:
    """The objects of a list that have a vessel, by vessel in the order of the site."""
    names = [vessel["name"] for vessel in design["vessels"]]
    grouped: dict[str, list[Object]] = {name: [] for name in names}
    for found in design[key]:
        grouped.setdefault(found["vessel"], []).append(found)
    return [(name, found) for name, found in grouped.items() if found]


def orders(design: Object) -> list[dict[str, Any]]:
    """Each shop's order with its lines."""
    return [
        {
            **order,
            "lines": [line for line in design["purchase"] if _bought(line) and line["shop"] == order["shop"]],
        }
        for order in design["orders"]
    ]


def owned_lines(design: Object) -> list[Object]:
    """What is used and not bought."""
    return [line for line in design["purchase"] if not _bought(line)]


def _bought(line: Object) -> bool:
    return bool(line["packs"])


def sources(design: Object) -> list[str]:
    """Each source of a rule's limit once, with the rules that rest on it."""
    resting: dict[str, list[str]] = {}
    for found in findings(design):
        resting.setdefault(found.source, []).append(found.rule)
    return [f"{source}: {', '.join(dict.fromkeys(ids))}." for source, ids in resting.items()]
