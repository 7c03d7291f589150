"""What a drawing of a design needs beside runs and levels, as JSON: vessels, holes, parts, curves, traces."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from autoplan.catalog.parts import Part, Penetration, Pipe, SiphonPart, Sundry, Valve
from autoplan.fittings.cap import EndCap
from autoplan.fittings.floor import ThroughFloor
from autoplan.fittings.screen import InletScreen
from autoplan.outcome import Design, HeadFlow, LevelTrace, Outcome, PumpCurves, SiphonFacts
from autoplan.problem.site import Vessel
from autoplan.report.cutting import Asked, asked_pieces
from autoplan.report.drilling import Hole, holes_of
from autoplan.report.figures import pipe_size
from autoplan.report.json_values import Json, millimetres, number
from autoplan.report.siphons import least_tall
from autoplan.report.units import LITRE_M3, litres_per_hour


def drawn_json(outcome: Outcome, design: Design) -> dict[str, Json]:
    """The keys of one design: `vessels`, `holes`, `parts`, `saw_cut_mm`, `from_roll`, `traces`."""
    return {
        "vessels": [_vessel(vessel) for vessel in outcome.site.vessels.values()],
        "holes": [_hole(hole) for hole in holes_of(outcome, design)],
        "parts": {part.id: _part(part) for part in _parts(outcome, design)},
        "saw_cut_mm": millimetres(design.verdict.saw_cut_m, "saw_cut_mm"),
        "from_roll": [_asked(piece) for piece in asked_pieces(outcome, design).from_roll],
        "traces": [_trace(trace) for trace in design.verdict.traces],
    }


def cuts_for(outcome: Outcome, design: Design) -> list[Json]:
    """Of each stick, in the order of the drawing, what its pieces are for."""
    return [[_asked(piece) for piece in stick] for stick in asked_pieces(outcome, design).from_sticks]


def _asked(piece: Asked) -> Json:
    return {
        "pipe": piece.pipe,
        "length_mm": millimetres(piece.length_m, "length_mm"),
        "run": piece.run or None,
        "place": piece.place or None,
    }


def _vessel(vessel: Vessel) -> Json:
    """One vessel; `width_mm` is the diameter of a round one, else the side of a square of its area."""
    bed = vessel.bed
    width = math.sqrt(vessel.area_m2 * (4.0 / math.pi if vessel.curved else 1.0))
    return {
        "name": vessel.name,
        "kind": str(vessel.kind),
        "shape": "round" if vessel.curved else "flat",
        "width_mm": millimetres(width, "width_mm"),
        "area_m2": number(vessel.area_m2, "area_m2"),
        "volume_l": number(vessel.area_m2 * vessel.depth_m / LITRE_M3, "volume_l"),
        "depth_mm": millimetres(vessel.depth_m, "depth_mm"),
        "floor_mm": millimetres(vessel.floor_m, "floor_mm"),
        "rim_mm": millimetres(vessel.rim_m, "rim_mm"),
        "wall_mm": millimetres(vessel.wall_m, "wall_mm"),
        "base_mm": millimetres(vessel.base_m, "base_mm"),
        "part": vessel.part,
        "spare": vessel.spare,
        "bed": None
        if bed is None
        else {
            "drain": str(bed.drain),
            "flood_mm": millimetres(bed.flood_m, "flood_mm"),
            "void_fraction": number(bed.void_fraction, "void_fraction"),
        },
    }


def _hole(hole: Hole) -> Json:
    return {
        "vessel": hole.vessel,
        "run": hole.run,
        "place": hole.place,
        "hole_mm": millimetres(hole.hole_m, "hole_mm"),
        "off_mm": None if hole.off_m is None else millimetres(hole.off_m, "off_mm"),
        "centre_above_floor_mm": None
        if hole.centre_m is None
        else millimetres(hole.centre_m, "centre_above_floor_mm"),
        "part": hole.part,
        "saw": hole.saw,
        "saw_from": hole.saw_from,
        "stand": hole.stand,
    }


def _parts(outcome: Outcome, design: Design) -> list[Part]:
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
    for hole in holes_of(outcome, design):
        yield from (hole.saw, hole.stand)
    yield from (pump.part for pump in drawing.pumps.values())
    yield from (junction.tee for junction in drawing.junctions.values())
    yield from (cut.pipe for cut in drawing.cuts)
    yield from (line.part for line in drawing.purchases)
    yield from drawing.hand_pumps.values()
    for air in drawing.air:
        yield from (air.part, *air.manifolds)
        for way in air.lines:
            yield from (way.line, way.diffuser, way.tap, way.check)


def _part(part: Part) -> Json:
    """One part; the sizes that there are for its kind."""
    sizes: dict[str, Json] = {}
    if isinstance(part, Pipe):
        sizes = {
            "size": pipe_size(part),
            "outside_mm": millimetres(part.outside_m, "outside_mm"),
            "bore_mm": millimetres(part.bore_m, "bore_mm"),
        }
    elif isinstance(part, SiphonPart):
        sizes = {
            "outside_mm": millimetres(part.outside_m, "outside_mm"),
            "inside_mm": millimetres(part.inside_m, "inside_mm"),
            "tallest_mm": millimetres(part.tallest_m, "tallest_mm"),
        }
    elif isinstance(part, Penetration):
        sizes = {"hole_mm": millimetres(part.hole_m, "hole_mm"), "way": str(part.way)}
    elif isinstance(part, Valve):
        sizes = {"style": part.style}
    kind = str(part.kind) if isinstance(part, Sundry | SiphonPart) else type(part).__name__.lower()
    return {"description": part.description, "kind": kind, **sizes}


def siphon_sizes(design: Design, name: str, facts: SiphonFacts) -> dict[str, Json]:
    """What a picture of one bell siphon needs: its drain, and how tall bell and guard must be inside."""
    tall = {what: least_tall(design, facts.bed, what) for what in ("bell", "guard")}
    return {
        "drain": name,
        "standpipe_bore_mm": millimetres(facts.bore_m, "standpipe_bore_mm"),
        **{
            f"{what}_least_mm": None if high is None else millimetres(high, f"{what}_least_mm")
            for what, high in tall.items()
        },
    }


def curves_json(curves: PumpCurves | None) -> dict[str, Json]:
    """A pump's curve at its speed and at full speed, the system's, and where they meet; flow first."""
    if curves is None:
        return {"curve": None, "full_speed_curve": None, "system": None, "meets": None}
    return {
        "curve": _curve(curves.at_speed),
        "full_speed_curve": _curve(curves.at_full_speed),
        "system": _curve(curves.system),
        "meets": _point(curves.met),
    }


def _curve(points: Iterable[HeadFlow]) -> list[Json]:
    return [_point(point) for point in points]


def _point(point: HeadFlow) -> Json:
    return {
        "flow_l_h": number(litres_per_hour(point[0]), "flow_l_h"),
        "head_m": number(point[1], "head_m"),
    }


def _trace(trace: LevelTrace) -> Json:
    """One level through time; levels above the datum."""
    return {
        "what": str(trace.what),
        "vessel": trace.vessel,
        "off_s": None if trace.off_s is None else number(trace.off_s, "off_s"),
        "on_s": None if trace.on_s is None else number(trace.on_s, "on_s"),
        "points": [
            {"s": round(number(seconds, "s"), 1), "mm": round(millimetres(level, "mm"), 1)}
            for seconds, level in trace.points
        ],
    }
