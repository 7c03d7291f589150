"""From an answer to a drawing: parts, pieces, holes, levels, orders and cuts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from autoplan.catalog.joining import stub_length
from autoplan.catalog.parts import SundryKind
from autoplan.drawing import Drawing, DrawnJunction, DrawnLevel, DrawnPump, DrawnSpare, Purchase
from autoplan.fittings.base import OTHER_PIPE, Role
from autoplan.fittings.ends import AtVessel, LineEnd
from autoplan.fittings.floor import ThroughFloor
from autoplan.fittings.lengths import Lengths
from autoplan.fittings.rim import OverRim
from autoplan.line.route import Course, along_m
from autoplan.line.row import Line
from autoplan.optimiser.cutting.sticks import CuttingPlan
from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.model.joints import JointDrawn
from autoplan.optimiser.options.consumables import GRAIN
from autoplan.optimiser.options.inlets import Inlets, hung
from autoplan.optimiser.options.lip import lip_under_water
from autoplan.problem.site import Draw, Guard, Site, Vessel
from autoplan.problem.standing import begins_at
from autoplan.rules.base import Given, PumpChoice
from autoplan.rules.candidate import Candidate
from autoplan.rules.heights import WHOLE_MM, in_whole_mm
from autoplan.rules.linear import Var, evaluate
from autoplan.rules.survey import Survey
from autoplan.units import TENTH_MM, tenth_mm_down, tenth_mm_up

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


def draw(
    draft: Draft, values: Sequence[int], levels: Mapping[str, tuple[int, int]], plan: CuttingPlan
) -> Drawing:
    """The drawing of an answer.

    Args:
        draft: the model that was answered.
        values: of every variable.
        levels: (design, overload) level of every vessel [0.1 mm].
        plan: the sticks that the pieces lie on.
    """
    chosen = read_choices(draft, values)
    levels = _as_drilled(draft, chosen, levels)
    drawing = Drawing(
        runs=_runs(draft, chosen, levels, _bought_rows(draft, values)),
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
        purchases=(),
        cuts=(),
        screwed_drains=drains_screwed(draft, values),
        glued=tuple(sorted({*draft.counting.glued, *_glued(chosen)})),
        hand_pumps={vessel: _picked(group, values) for vessel, group in draft.hand_pumps().items()},
        spares={vessel: one for vessel, one in _spares(draft, values) if one is not None},
        air=tuple(pump for group in draft.air() for pump in _picked(group, values).pumps),
    )
    runs, shorter = _to_length(draft, drawing)
    exact = plan.trimmed(shorter)
    return replace(drawing, runs=runs, purchases=_purchases(draft, values, exact), cuts=exact.cuts)


def _glued(chosen: Chosen) -> Iterator[str]:
    """Drains whose joints are welded by choice, whatever those of others are."""
    return (run for one in chosen.candidates.values() if one.glued for run in one.drawn)


def _spares(draft: Draft, values: Sequence[int]) -> Iterator[tuple[str, DrawnSpare | None]]:
    """By pumped vessel what an answer has lie ready for another pump."""
    return ((vessel, spare.drawn(values)) for vessel, spare in draft.spares().items())


def _as_drilled(
    draft: Draft, chosen: Chosen, levels: Mapping[str, tuple[int, int]]
) -> dict[str, tuple[int, int]]:
    """Levels with the water of each vessel as its outlet holds it, drilled at a whole millimetre."""
    found = dict(levels)
    for name, vessel in draft.site.vessels.items():
        offsets = {
            run.name: tenth_mm_down(place.offset_m)
            for run in draft.site.runs.values()
            for place in (chosen.candidates[run.run_class].places.get((run.name, "start")),)
            if run.start == name and place is not None and not place.over
        }
        if offsets and in_whole_mm(vessel):
            # Where there are several the widest stream's is the one that holds it.
            first = max(offsets, key=lambda run: draft.site.flows[run].design_m3_s)
            design, overload = levels[name]
            hole = design + offsets[first]
            found[name] = (design - hole + _marked(vessel, hole, up=False), overload)
    return found


def _marked(vessel: Vessel, height: int, *, up: bool) -> int:
    """A height at the next whole millimetre over a vessel's floor [0.1 mm]."""
    over = height - tenth_mm_down(vessel.floor_m)
    return height + -over % WHOLE_MM if up else height - over % WHOLE_MM


def _runs(
    draft: Draft, chosen: Chosen, levels: Mapping[str, tuple[int, int]], rows: Mapping[str, str]
) -> dict[str, Line]:
    """Every run with its heights and its adaptors at either end, pieces as long as they were laid."""
    runs: dict[str, Line] = {}
    for name, run in draft.site.runs.items():
        candidate = chosen.candidates[run.run_class]
        template = candidate.drawn[name]
        start = _placed(draft, candidate, template, "start", levels)
        finish = _placed(draft, candidate, template, "finish", levels)
        if run.start in chosen.joints and not isinstance(start, AtVessel):
            start = replace(start, chain=chosen.joints[run.start].chains.get(name, ()))
        if run.finish in chosen.joints and run.finish in draft.site.junctions:
            finish = replace(finish, chain=chosen.joints[run.finish].chains[name])
        pipe = rows.get(template.pipe, template.pipe)
        if isinstance(start, ThroughFloor) and start.standpipe is not None:
            start = replace(start, standpipe=rows.get(start.standpipe, start.standpipe))
        drawn = replace(template, pipe=pipe).with_ends(start, finish)
        if drawn.rim is not None and template.rim is not None:
            # What hangs in the water was laid for its lowest, where it is longest.
            shorter = template.rim.drop_m - drawn.rim.drop_m
            drawn = replace(drawn, length_m=drawn.length_m - shorter)
        course = candidate.courses.get(name)
        if course is not None:
            course = beside_adaptors(draft.shelf.bench.lengths(draft.catalog.pipes[pipe]), drawn, course)
        runs[name] = _to_height(draft.site, drawn, course)
    return runs


def beside_adaptors(lengths: Lengths, line: Line, course: Course) -> Course:
    """A course whose uprights stand so much further from its tees as the adaptors chosen there take."""
    start, finish = (
        replace(side, beside_m=side.beside_m + (0.0 if isinstance(end, AtVessel) else end.takes_m(lengths)))
        for side, end in ((course.start, line.start), (course.finish, line.finish))
    )
    return replace(course, start=course.start if course.start.upright else start, finish=finish)


def _to_height(site: Site, line: Line, course: Course | None) -> Line:
    """A line on the plan with its legs as long as the heights of its ends make them."""
    if course is None:
        return line
    begin, end = begins_at(site, site.runs[line.run]), line.finish
    if begin is None and isinstance(line.start, AtVessel):
        begin = line.start.centre_m
    at = end.centre_m if isinstance(end, AtVessel) else site.junctions[end.at].at_m
    assert begin is not None
    assert at is not None
    legs = course.legs(begin, at)
    change = along_m(legs) - along_m(line.legs)
    return replace(line, legs=legs, length_m=line.length_m + change)


def _to_length(draft: Draft, drawing: Drawing) -> tuple[dict[str, Line], dict[str, list[tuple[int, int]]]]:
    """Every run with its pieces cut to the length that the parts and heights chosen leave for them.

    A run is bought before it is known what it meets at a tee or a pump and how high its riser ends: as long
    as that could ask for. Also by the first row of each pipe's family the (laid, cut) length of every piece,
    stubs among them [0.1 mm].
    """
    survey = Survey(draft.site, draft.catalog, drawing)
    first_row = {pipe.family: pipe.id for pipe in draft.shelf.pipe_families()}
    runs: dict[str, Line] = {}
    pairs: dict[str, list[tuple[int, int]]] = {}
    for name, drawn in drawing.runs.items():
        line = survey.assembled(name)
        slots = []
        own = pairs.setdefault(first_row[draft.catalog.pipes[drawn.pipe].family], [])
        least = tenth_mm_up(stub_length(draft.catalog, draft.catalog.pipes[drawn.pipe]))
        for laid, needed in zip(drawn.slots_m, line.needed_m, strict=True):
            spare = max(0, sum(map(tenth_mm_up, laid)) - tenth_mm_up(needed))
            cut = [tenth_mm_up(piece) for piece in laid]
            # What goes into a coupling and the part beyond it must stay on the rest.
            rest = min(spare, max(0, cut[-1] - (least if len(cut) > 1 else 1)))
            cut[-1] -= rest
            cut[0] -= spare - rest
            own += zip(map(tenth_mm_up, laid), cut, strict=True)
            slots.append(tuple(piece * TENTH_MM for piece in cut))
        runs[name] = replace(drawn, slots_m=tuple(slots))
        for item in line.items:
            if item.role in OTHER_PIPE and item.length_m is not None:
                longest = item.length_m
                if item.role == Role.STANDPIPE:
                    longest = draft.site.vessels[drawn.start.at].water_depth_m
                family = draft.catalog.pipes[item.part].family
                kept = tenth_mm_up(longest * (1 + draft.book.given(Given.WASTE)))
                pairs.setdefault(first_row[family], []).append((kept, tenth_mm_up(item.length_m)))
    for part in (part for spare in drawing.spares.values() for part in spare.chain):
        if part in draft.catalog.pipes:
            pipe = draft.catalog.pipes[part]
            length = stub_length(draft.catalog, pipe)
            kept = tenth_mm_up(length * (1 + draft.book.given(Given.WASTE)))
            pairs.setdefault(first_row[pipe.family], []).append((kept, tenth_mm_up(length)))
    return runs, pairs


def drains_screwed(draft: Draft, values: Sequence[int]) -> bool:
    """Whether an answer joins its drains with tape and a screw."""
    choice = draft.stores.screwed
    return draft.counting.screwed if choice is None else bool(values[choice])


def _placed(
    draft: Draft, candidate: Candidate, template: Line, side: str, levels: Mapping[str, tuple[int, int]]
) -> LineEnd:
    """An end with its height filled in from the levels."""
    run = draft.site.runs[template.run]
    end: LineEnd = getattr(template, side)
    if not isinstance(end, AtVessel):
        return end
    place = candidate.places.get((run.name, side))
    if place is not None:
        design, overload = levels[end.at]
        base, rounded = (overload, tenth_mm_up) if place.over else (design, tenth_mm_down)
        centre, vessel = base + rounded(place.offset_m), draft.site.vessels[end.at]
        if in_whole_mm(vessel):
            centre = _marked(vessel, centre, up=place.over)
        return replace(end, centre_m=centre * TENTH_MM)
    if isinstance(end, OverRim) and end.under_m:
        mouth = hung(end, draft.site.vessels[end.at], levels[end.at][0] * TENTH_MM)
        return replace(end, mouth_m=mouth)
    if isinstance(end, OverRim) and end.mouth_m is not None and end.guard is not Guard.AIR_GAP:
        vessel, water = draft.site.vessels[end.at], levels[end.at][0] * TENTH_MM
        return Inlets.by(draft.book).under_water(end, candidate.pipe, vessel, water)
    if side == "start" and run.draw is Draw.STANDPIPE and isinstance(end, ThroughFloor):
        flow, floor = draft.site.flows[run.name].design_m3_s, draft.site.vessels[end.at].floor_m
        water = levels[end.at][0] * TENTH_MM
        # Where no rule holds the level, the head on the lip may be more than all of the water.
        top = max(floor, water - lip_under_water(draft.catalog, template, flow, water - floor))
        if end.standpipe is not None:
            # A piece of its own, and pieces are cut in tenths of a millimetre.
            top = floor + tenth_mm_down(top - floor) * TENTH_MM
        return replace(end, standpipe_top_m=top)
    return end


def _bought_rows(draft: Draft, values: Sequence[int]) -> dict[str, str]:
    """For each pipe's first row, the row of which there is most length."""
    rows = {}
    for pipe, supplies in draft.orders.supplies.items():
        length: Counter[str] = Counter()
        for supply in supplies:
            kind = supply.stick
            length[kind.pipe] += evaluate(supply.packs, values) * kind.pack * kind.length
        if any(length.values()):
            rows[pipe] = max(length, key=lambda row: (length[row], row))
    return rows


def _purchases(draft: Draft, values: Sequence[int], plan: CuttingPlan) -> tuple[Purchase, ...]:
    """Order lines, in the order of the price list.

    The quantity is what is used: of pipe and tape the length [m], of cement the volume [m3], else pieces.
    """
    lines = []
    sundries = _sundries_used(draft, values)
    for line in draft.orders.bought:
        packs = evaluate(line.packs, values)
        if not packs:
            continue
        if line.part in draft.catalog.pipes:
            used = plan.used_m.get((line.part, line.offer.shop), 0.0)
        elif line.part in draft.catalog.sundries:
            content = draft.catalog.sundries[line.part].content * line.offer.pack * packs
            used = min(sundries.get(line.part, 0.0), content)
            sundries[line.part] = sundries.get(line.part, 0.0) - used
        else:
            used = float(min(evaluate(draft.uses()[line.part], values), packs * line.offer.pack))
        lines.append(Purchase(line.part, line.offer.shop, round(used, 9), packs))
    order = {part: i for i, part in enumerate(part for group in draft.catalog.groups() for part in group)}
    return tuple(sorted(lines, key=lambda line: (order[line.part], line.shop)))


def _sundries_used(draft: Draft, values: Sequence[int]) -> dict[str, float]:
    """By row, how much of its content an answer's joints, seals and holes take."""
    screwed = drains_screwed(draft, values)
    used: dict[str, float] = {}
    for want, needs in draft.stores.wants.items():
        once = want.kind is SundryKind.SAW
        left = 1 if once else evaluate(needs[screwed], values)
        for part, covered in draft.stores.rows[want]:
            taken = min(left, evaluate(covered, values))
            left -= taken
            used[part] = used.get(part, 0.0) + taken * GRAIN.get(want.kind, 1.0)
    return used
