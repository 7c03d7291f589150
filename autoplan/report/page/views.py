"""What a page shows of a design, put together from its JSON: rows for the templates."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from autoplan.catalog.naming import times
from autoplan.outcome import Fault, Finding, FishWater
from autoplan.places import OfAll
from autoplan.report.blocks import Block
from autoplan.report.contract.built import HoleRow, ItemRow, JointRow, RunRow
from autoplan.report.contract.rows import DesignRow, OrderRow, PurchaseRow
from autoplan.report.sections.judged import bad_together, by_rule, faults, rules
from autoplan.report.sections.measuring import Timing
from autoplan.report.units import HOUR_S, LITRE_M3, MM_M, Gauge, Units


@dataclass(frozen=True, slots=True)
class MarkedStick:
    """A stick as it is marked: pieces as (figure, run, place); pipe off the roll has no number."""

    pipe: str
    number: int | None
    length: str
    owned: bool
    pieces: tuple[tuple[str, str, str], ...]
    left: str


@dataclass(frozen=True, slots=True)
class Thing:
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
class Measured:
    """Where a run ends, what is timed there, and the seconds [s] that it takes wide open and set."""

    run: str
    vessel: str
    valve: str
    flow_l_h: float
    open_flow_l_h: float
    timed: str
    seconds: str
    open_seconds: str


def sticks(design: DesignRow, gauge: Gauge) -> list[MarkedStick]:
    """Every stick marked as on the cutting list, then what is cut from the roll."""
    found = []
    for cut in design.cuts:
        steps, left = cut.marks(gauge)
        told = tuple(
            (gauge.figure(step), piece.run or "", piece.place or "")
            for step, piece in zip(steps, cut.pieces, strict=True)
        )
        length = gauge.text(cut.stick_mm * MM_M)
        found.append(MarkedStick(cut.pipe, cut.stick, length, cut.owned, told, gauge.figure(left)))
    for piece in design.from_roll:
        told = ((gauge.text(piece.length_mm * MM_M), piece.run or "", piece.place or ""),)
        found.append(MarkedStick(piece.pipe, None, "", False, told, ""))
    return found


def rows_of_runs(design: DesignRow, gauge: Gauge) -> dict[str, list[Thing]]:
    """The things on each run in the order of the water, its pieces as they are marked on the sticks."""
    marked: dict[tuple[str, str], list[str]] = {}
    for stick in sticks(design, gauge):
        for figure, run, place in stick.pieces:
            marked.setdefault((run, place), []).append(figure)
    return {run.name: list(_rows(run, marked, gauge)) for run in design.runs}


def _rows(run: RunRow, marked: Mapping[tuple[str, str], list[str]], gauge: Gauge) -> Iterator[Thing]:
    """The joint to the next is the first not yet told that has both parts; what sits aside comes after."""
    line, joints = run.line, list(run.joints)
    for at, item in enumerate(line):
        after = line[at + 1].part if at + 1 < len(line) else None
        yield _row(run, item, marked, gauge, _joint(joints, item.part, after))
        for side in run.sides:
            if side.at == at:
                yield _row(run, side, marked, gauge, _joint(joints, item.part, side.part))


def _joint(joints: list[JointRow], left: str, right: str | None) -> str:
    for place, joint in enumerate(joints):
        if right is not None and {joint.left, joint.right} == {left, right}:
            del joints[place]
            return joint.kind or "does not fit"
    return ""


def _row(
    run: RunRow, item: ItemRow, marked: Mapping[tuple[str, str], list[str]], gauge: Gauge, joint: str
) -> Thing:
    cut = ""
    if item.length_mm is not None:
        listed = marked.get((run.name, item.place))
        cut = listed.pop(0) if listed else gauge.text(item.length_mm * MM_M)
    own = item.role == "pipe" and item.part == run.pipe
    return Thing(item.part, item.role, item.place, cut, item.through or "", joint, own)


def joint_counts(run: RunRow) -> str:
    """How many joints of each kind a run has, in words."""
    kinds = Counter(joint.kind or "does not fit" for joint in run.joints)
    return ", ".join(times(count, kind) for kind, count in kinds.items())


def outlets(design: DesignRow, units: Units) -> list[Measured]:
    """What to measure where, with the seconds that it takes."""
    return [
        Measured(
            outlet.run,
            outlet.vessel,
            outlet.valve_run or "",
            outlet.flow_l_h,
            outlet.open_flow_l_h,
            measure.words(units),
            measure.in_words(outlet.flow_l_h * LITRE_M3 / HOUR_S, units),
            measure.in_words(outlet.open_flow_l_h * LITRE_M3 / HOUR_S, units),
        )
        for outlet in (design.commissioning.outlets if design.commissioning else ())
        for measure in (outlet.measure.into(Timing),)
    ]


def set_to(design: DesignRow, name: str, units: Units) -> str:
    """What is timed by a run's valve, and how long it takes; "" where nothing is set there."""
    return next(
        (
            f"{found.timed} in {found.seconds}"
            for found in outlets(design, units)
            if found.valve == name and found.seconds != "never"
        ),
        "",
    )


def findings(design: DesignRow) -> list[Finding]:
    """The rules' findings as they were judged."""
    return [
        found.into(Finding, place=OfAll(told.place), source=told.source)
        for found in design.rules
        for told in (found.told or found,)
    ]


def read_faults(design: DesignRow) -> list[Fault]:
    """The faults as they were walked through."""
    return [
        fault.into(Fault, fish=fault.fish and fault.fish.into(FishWater), cure="") for fault in design.faults
    ]


def worst(design: DesignRow, count: int = 3) -> list[Fault]:
    """The worst of the faults that end badly, one of those that are alike."""
    return [alike[0] for alike in bad_together(read_faults(design))[:count]]


def fault_blocks(design: DesignRow, units: Units) -> list[Block]:
    """What goes wrong and what would save it, as on the screen."""
    return list(faults(read_faults(design), units))


def rule_blocks(design: DesignRow, units: Units) -> list[Block]:
    """The rules at their tightest places, as on the screen."""
    return list(rules(findings(design), design.cost.currency, units))


def spare_by(design: DesignRow, rule: str) -> float | None:
    """The least margin of a rule in its unit; None where nothing was judged by it."""
    for places in by_rule([found for found in findings(design) if found.rule == rule]).values():
        return places[0].margin
    return None


def holes_by_vessel(design: DesignRow) -> list[tuple[str, list[HoleRow]]]:
    """The holes by vessel in the order of the site, of vessels with pipes over their rims none perhaps."""
    grouped: dict[str, list[HoleRow]] = {vessel.name: [] for vessel in design.vessels}
    for hole in design.holes:
        grouped[hole.vessel].append(hole)
    rimmed = {rim.vessel for rim in design.rims}
    return [(name, holes) for name, holes in grouped.items() if holes or name in rimmed]


def orders(design: DesignRow) -> list[tuple[OrderRow, list[PurchaseRow]]]:
    """Each shop's order with its lines."""
    bought = [line for line in design.purchase if line.packs]
    return [(order, [line for line in bought if line.shop == order.shop]) for order in design.orders]


def sources(design: DesignRow) -> list[str]:
    """Each source of a rule's limit once, with the rules that rest on it."""
    resting: dict[str, list[str]] = {}
    for found in design.rules:
        resting.setdefault(found.source, []).append(found.id)
    return [f"{source}: {', '.join(dict.fromkeys(ids))}." for source, ids in resting.items()]
