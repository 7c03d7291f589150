"""From an answer to a drawing: parts, pieces, holes, levels, orders and cuts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from autoplan.drawing import (
    CutStick,
    Drawing,
    DrawnEnd,
    DrawnJunction,
    DrawnLevel,
    DrawnPump,
    DrawnRun,
    Purchase,
)
from autoplan.errors import InternalError
from autoplan.hydraulics.gravity import standpipe_head
from autoplan.problem.site import Draw, RunKind
from autoplan.rules.base import Candidate, PumpChoice
from autoplan.rules.circuit import inlet_bore
from autoplan.rules.linear import Linear, Var
from autoplan.selection.cutting import Stick, cheapest, lay
from autoplan.selection.draft import Draft
from autoplan.selection.joints import JointDrawn
from autoplan.selection.purchase import OUT_OF_REACH, stick_of, sticks_from
from autoplan.units import tenth_mm_down, tenth_mm_up

TENTH_MM = 1e-4

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Chosen:
    """An answer in the words of the draft.

    Attributes:
        variables: every choice that was made.
        candidates: by class.
        pumps: by pumped vessel.
        joints: by pumped vessel or junction.
    """

    variables: tuple[Var, ...]
    candidates: Mapping[str, Candidate]
    pumps: Mapping[str, PumpChoice]
    joints: Mapping[str, JointDrawn]


@dataclass(frozen=True, slots=True)
class ShortOfSticks:
    """A pipe whose pieces do not fit on what was counted for it.

    Attributes:
        pipe: first row of its family.
        cents: what the pieces cost at least [cents].
        alike: for each piece-cutting choice of the answer, all choices of its group that cut the same pieces.
        elsewhere: orders from shops that the answer does not order from; with one of them it may cost less.
    """

    pipe: str
    cents: int
    alike: tuple[tuple[Var, ...], ...]
    elsewhere: tuple[Var, ...]


@dataclass(frozen=True, slots=True)
class CuttingPlan:
    """The sticks that pieces are cut from, and the pipes for which too few were counted."""

    cuts: tuple[CutStick, ...]
    short: tuple[ShortOfSticks, ...]


def read_choices(draft: Draft, values: Sequence[int]) -> Chosen:
    """What an answer's values choose."""
    candidates = {name: _picked(draft.candidates(name), values) for name in draft.site.classes()}
    pumps = {name: _picked(draft.pumps(name), values) for name in draft.site.pumped_vessels()}
    joints = {name: joint.drawn(values) for name, joint in draft.all_joints().items()}
    made = tuple(var for group in draft.model.groups for var in group if values[var])
    return Chosen(made, candidates, pumps, joints)


def _picked(options: Sequence[tuple[Var, T]], values: Sequence[int]) -> T:
    (chosen,) = [option for var, option in options if values[var]]
    return chosen


def cutting_plan(draft: Draft, values: Sequence[int]) -> CuttingPlan:
    """Lay every pipe's pieces on the sticks that an answer counts."""
    kerf = tenth_mm_up(draft.book.settings["purchase-list"]["kerf"])
    counts = _row_counts(draft, values)
    cuts: list[CutStick] = []
    short: list[ShortOfSticks] = []
    for pipe_id, choices in draft.cuts_by_group().items():
        pieces = [tenth_mm_up(p) for group in choices for var, list_ in group if values[var] for p in list_]
        rows = draft.shelf.rows_of(draft.catalog.pipes[pipe_id])
        if not pieces or not any(row.stick_m for row in rows):
            continue
        sticks = [stick_of(row) for row in rows]
        have = [counts.get(row.id, 0) for row in rows]
        laid = lay(pieces, sticks, have, kerf)
        if laid is not None:
            cuts += _sticks(sticks, have, laid, kerf)
            continue
        spent = evaluate(draft.orders.pipe_spending[pipe_id], values)
        ordered = draft.orders.ordered
        shops = [shop for shop, var in ordered.items() if values[var]]
        elsewhere = tuple(var for var in ordered.values() if not values[var])
        offered = sticks_from(draft.shelf, rows, shops)
        short.append(_shortage(pipe_id, choices, values, offered, kerf, spent, elsewhere))
    return CuttingPlan(tuple(cuts), tuple(short))


def _shortage(
    pipe_id: str,
    groups: Sequence[Sequence[tuple[Var, list[float]]]],
    values: Sequence[int],
    sticks: Sequence[Stick],
    kerf: int,
    spent: int,
    elsewhere: tuple[Var, ...],
) -> ShortOfSticks:
    """What the pieces cost at least; of one group alone if that is already more than was spent."""
    used: list[tuple[tuple[Var, ...], list[int]]] = []
    for group in groups:
        for var, list_ in group:
            if values[var] and list_:
                alike = tuple(other for other, cut in group if sorted(cut) == sorted(list_))
                used.append((alike, [tenth_mm_up(piece) for piece in list_]))
    used.sort(key=lambda item: -sum(item[1]))
    for count in range(1, len(used) + 1):
        pieces = [piece for _, list_ in used[:count] for piece in list_]
        best = cheapest(pieces, sticks, kerf, 0)
        if best is None or best[0] > spent or count == len(used):
            cents = best[0] if best is not None else OUT_OF_REACH
            return ShortOfSticks(pipe_id, cents, tuple(alike for alike, _ in used[:count]), elsewhere)
    raise InternalError(f"{pipe_id}: short of sticks with nothing to cut")


def _row_counts(draft: Draft, values: Sequence[int]) -> dict[str, int]:
    counts = Counter({row: n for row, n in draft.site.owned.items() if row in draft.catalog.pipes})
    for line in draft.orders.bought:
        if line.part in draft.catalog.pipes:
            counts[line.part] += evaluate(line.packs, values) * line.offer.pack
    return dict(counts)


def _sticks(sticks: Sequence[Stick], have: Sequence[int], laid: list[list[int]], kerf: int) -> list[CutStick]:
    """The sticks that pieces lie on; metres of one row come as one length."""
    found = []
    at = 0
    for kind, count in zip(sticks, have, strict=True):
        number = 1 if kind.by_metre else count
        length = kind.length * count if kind.by_metre else kind.length
        for pieces in laid[at : at + number]:
            left = length - sum(pieces) - kerf * max(0, len(pieces) - 1)
            if pieces:
                made = tuple(piece * TENTH_MM for piece in pieces)
                found.append(CutStick(kind.pipe, length * TENTH_MM, made, max(0, left) * TENTH_MM))
        at += number
    return found


def draw(
    draft: Draft, values: Sequence[int], levels: Mapping[str, tuple[int, int]], cuts: Sequence[CutStick]
) -> Drawing:
    """The drawing of an answer.

    Args:
        draft: the model that was answered.
        values: of every variable.
        levels: (design, overload) level of every vessel [0.1 mm].
        cuts: the sticks that the pieces lie on.
    """
    chosen = read_choices(draft, values)
    rows = _bought_rows(draft, values)
    runs: dict[str, DrawnRun] = {}
    for name, run in draft.site.runs.items():
        candidate = chosen.candidates[run.run_class]
        template = candidate.drawn[name]
        start = _placed(draft, candidate, template, "start", levels)
        finish = _placed(draft, candidate, template, "finish", levels)
        if run.start in chosen.joints and start.way is None:
            start = replace(start, chain=chosen.joints[run.start].chains.get(name, ()))
        if run.finish in chosen.joints and run.finish in draft.site.junctions:
            finish = replace(finish, chain=chosen.joints[run.finish].chains[name])
        pipe = rows.get(template.pipe, template.pipe)
        pieces = tuple(tenth_mm_up(piece) * TENTH_MM for piece in template.pieces_m)
        runs[name] = replace(template, pipe=pipe, pieces_m=pieces, start=start, finish=finish)
    return Drawing(
        runs=runs,
        junctions={
            name: DrawnJunction(name, joint.tee, joint.ports)
            for name, joint in chosen.joints.items()
            if name in draft.site.junctions
        },
        pumps={
            vessel: DrawnPump(vessel, choice.pump.id, choice.mode, choice.speed)
            for vessel, choice in chosen.pumps.items()
        },
        levels={
            name: DrawnLevel(name, design * TENTH_MM, overload * TENTH_MM)
            for name, (design, overload) in levels.items()
        },
        purchases=_purchases(draft, values, cuts),
        cuts=tuple(cuts),
    )


def _placed(
    draft: Draft, candidate: Candidate, template: DrawnRun, side: str, levels: Mapping[str, tuple[int, int]]
) -> DrawnEnd:
    """An end with its height filled in from the levels."""
    run = draft.site.runs[template.run]
    end: DrawnEnd = getattr(template, side)
    place = candidate.places.get((run.name, side))
    if place is not None:
        design, overload = levels[end.at]
        base = overload if run.kind is RunKind.PRESSURE else design
        rounded = tenth_mm_up if run.kind is RunKind.PRESSURE else tenth_mm_down
        return replace(end, centre_m=(base + rounded(place.offset_m)) * TENTH_MM)
    if side == "start" and run.draw is Draw.STANDPIPE and end.in_floor:
        flow = draft.site.flows[run.name].design_m3_s
        head = standpipe_head(flow, inlet_bore(draft.catalog, template))
        return replace(end, standpipe_top_m=levels[end.at][0] * TENTH_MM - head)
    return end


def _bought_rows(draft: Draft, values: Sequence[int]) -> dict[str, str]:
    """For each pipe's first row, the row of which most length is bought."""
    length: dict[str, float] = {}
    for row, count in _row_counts(draft, values).items():
        length[row] = count * (draft.catalog.pipes[row].stick_m or 1.0)
    rows = {}
    for pipe in draft.shelf.pipe_families():
        bought = [row.id for row in draft.shelf.rows_of(pipe) if length.get(row.id)]
        if bought:
            rows[pipe.id] = max(bought, key=lambda row: (length[row], row))
    return rows


def _purchases(draft: Draft, values: Sequence[int], cuts: Sequence[CutStick]) -> tuple[Purchase, ...]:
    """Order lines, in the order of the price list; for pipe the quantity is the length used [m]."""
    from_sticks: dict[str, float] = {}
    for cut in cuts:
        from_sticks[cut.pipe] = from_sticks.get(cut.pipe, 0.0) + sum(cut.pieces_m)
    pieces = {
        pipe_id: sum(sum(list_) for var, list_ in choices if values[var])
        for pipe_id, choices in draft.pipe_pieces().items()
    }
    lines = []
    for line in draft.orders.bought:
        packs = evaluate(line.packs, values)
        if not packs:
            continue
        pipe = draft.catalog.pipes.get(line.part)
        if pipe is None:
            used = float(min(evaluate(draft.uses()[line.part], values), packs * line.offer.pack))
        elif any(row.stick_m for row in draft.shelf.rows_of(pipe)):
            used = from_sticks.get(pipe.id, 0.0)
        else:
            used = min(pieces[draft.shelf.rows_of(pipe)[0].id], float(packs * line.offer.pack))
        lines.append(Purchase(line.part, line.offer.shop, round(used, 4), packs))
    order = {part: i for i, part in enumerate(part for group in draft.catalog.groups() for part in group)}
    return tuple(sorted(lines, key=lambda line: (order[line.part], line.shop)))


def evaluate(expression: Linear, values: Sequence[int]) -> int:
    """Value of an expression under an answer."""
    return expression.constant + sum(coef * values[var] for var, coef in expression.terms.items())
