"""The parts that a drawing names, as rows of the JSON."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import SimpleNamespace

from autoplan.catalog.parts import Part, Penetration, Pipe, SiphonPart, Sundry, Valve
from autoplan.fittings.cap import EndCap
from autoplan.fittings.floor import ThroughFloor
from autoplan.fittings.screen import InletScreen
from autoplan.fittings.wall import ThroughWall
from autoplan.outcome import Design, Outcome
from autoplan.report.contract.built import PartRow
from autoplan.report.figures import pipe_size
from autoplan.report.sections.drilling import holes_of
from autoplan.report.sections.rims import rims_of


def parts_of(outcome: Outcome, design: Design) -> list[Part]:
    """Every part that a drawing could name, once, in the order in which it is met."""
    named = dict.fromkeys(_named(outcome, design))
    known = {part: row for group in outcome.catalog.groups() for part, row in group.items()}
    return [known[part] for part in named if part in known]


def _named(outcome: Outcome, design: Design) -> Iterator[str | None]:
    drawing = design.drawing
    for line in design.verdict.lines.values():
        for item in (*line.items, *(side.item for side in line.sides)):
            yield from (item.part, item.through)
    for run in drawing.runs.values():
        yield run.pipe
        for kind in (InletScreen, EndCap):
            yield from (part for one in run.all(kind) for part in one.parts())
        for end in run.holes():
            yield end.penetration
            if isinstance(end, ThroughFloor):
                yield from (end.standpipe, *end.upright_parts)
            if isinstance(end, ThroughWall):
                yield end.well
        yield run.outside.air_tube if run.outside else None
    for hole in holes_of(outcome, design):
        yield from (hole.saw, hole.stand)
    yield from (rim.bracket for rim in rims_of(outcome, design))
    yield from (pump.part for pump in drawing.pumps.values())
    yield from (junction.tee for junction in drawing.junctions.values())
    yield from (cut.pipe for cut in drawing.cuts)
    yield from (line.part for line in drawing.purchases)
    yield from drawing.hand_pumps.values()
    yield from (part for spare in drawing.spares.values() for part in spare.chain)
    for air in drawing.air:
        yield from (air.part, *air.manifolds)
        for way in air.lines:
            yield from (way.line, way.diffuser, way.tap, way.check)


SIZES: Mapping[type[Part], tuple[str, ...]] = {
    Pipe: ("outside_m", "bore_m"),
    SiphonPart: ("outside_m", "inside_m", "tallest_m"),
    Penetration: ("hole_m", "way"),
    Valve: ("style",),
}
"""What is told of a part of each kind."""


def part_row(part: Part) -> PartRow:
    """One part; the sizes that there are for its kind."""
    told = {key: getattr(part, key) for key in ("description", *SIZES.get(type(part), ()))}
    if isinstance(part, Pipe):
        told["size"] = pipe_size(part)
    kind = part.kind if isinstance(part, Sundry | SiphonPart) else type(part).__name__.lower()
    return PartRow.of(SimpleNamespace(**told), kind=kind)
