"""The outcome as JSON, version 1: what other programs read. Additions may come; a rename is a new version."""

from __future__ import annotations

import json
import math
import os
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import TypeAlias

from autoplan.assembly.joints import Joint
from autoplan.assembly.line import Item
from autoplan.drawing import (
    CutStick,
    Drawing,
    DrawnAirPump,
    DrawnEnd,
    DrawnLevel,
    DrawnRun,
    DrawnSiphon,
    DrawnTurn,
)
from autoplan.errors import InternalError
from autoplan.outcome import (
    Commissioning,
    Design,
    Fault,
    Filling,
    Finding,
    Outcome,
    PumpFacts,
    Running,
    SiphonFacts,
    SolverReport,
)
from autoplan.problem.site import Site
from autoplan.report.cautions import CAUTIONS
from autoplan.report.figures import OrderLine, order_lines, used_gauge
from autoplan.report.files import replace_files
from autoplan.report.growth import next_bed, spare_beds
from autoplan.report.units import HOUR_S, LEAST_FLOW_M3_S, LITRE_M3, SI, litres_per_hour, mm

FORMAT = "autoplan-outcome"
VERSION = 1

Json: TypeAlias = "bool | int | float | str | list[Json] | dict[str, Json] | None"


def outcome_json(outcome: Outcome) -> dict[str, Json]:
    """The outcome as plain data. Two equal answers differ in `solver.wall_s` only.

    Raises:
        InternalError: a number that must be finite is not.
    """
    clash = outcome.clash
    return {
        "format": FORMAT,
        "version": VERSION,
        "status": str(outcome.status),
        "problem": outcome.site.name,
        "problem_file": outcome.site.file,
        "catalog": outcome.catalog.name,
        "rank_by": outcome.rank_by,
        "solver": _solver(outcome.solver),
        "assumptions": _assumptions(outcome.site),
        "designs": [_design(outcome, design) for design in outcome.designs],
        "clash": None
        if clash is None
        else {"rules": _texts(clash.rules), "sentences": _texts(clash.sentences)},
        "notes": _texts(outcome.notes),
        "cautions": _texts(CAUTIONS),
    }


def json_text(outcome: Outcome) -> str:
    """The outcome as strict JSON, ending in a newline; ASCII only, so every terminal and file takes it."""
    return json.dumps(outcome_json(outcome), indent=2, allow_nan=False) + "\n"


def write_json(outcome: Outcome, target: str) -> None:
    """Write the outcome to a file, all of it or nothing; "-" is standard output.

    Raises:
        InternalError: a number that must be finite is not.
        OSError: the target cannot be written.
    """
    text = json_text(outcome)
    if target == "-":
        sys.stdout.write(text)
        sys.stdout.flush()
        return
    path = Path(os.path.realpath(target))
    if path.exists() and not path.is_file():
        path.write_text(text, encoding="utf-8")  # a pipe or a device is written to, never replaced
        return
    replace_files({path: text})


def _design(outcome: Outcome, design: Design) -> Json:
    outcome = outcome.about(design)
    drawing, verdict, site = design.drawing, design.verdict, outcome.site
    cost = verdict.cost
    pumps = [_pump(pump) for pump in verdict.pumps.values()]
    return {
        "rank": design.rank,
        "proven": design.proven,
        "bound": _or_none(design.bound),
        "objective": _number(design.objective, "objective"),
        "cost": {
            "purchase": _number(cost.purchase, "cost.purchase"),
            "freight": _number(cost.freight, "cost.freight"),
            "running_per_year": _number(cost.running_per_year, "cost.running_per_year"),
            "ownership": _number(cost.ownership, "cost.ownership"),
            "currency": cost.currency,
        },
        "differs": _texts(design.differs),
        "traits": dict(design.traits),
        "pump": pumps[0] if pumps else None,
        "pumps": list(pumps),
        "air": [_air_pump(outcome.site, pump) for pump in drawing.air],
        "hand_pumps": dict(design.drawing.hand_pumps),
        "runs": [_run(outcome, design, drawn) for drawn in drawing.runs.values()],
        "junctions": _junctions(drawing),
        "levels": [_level(site, level) for level in drawing.levels.values()],
        "purchase": [_line(line) for line in order_lines(outcome.catalog, drawing.purchases)],
        "growth": _growth(outcome, design),
        "cuts": _cuts(drawing.cuts),
        "rules": [_rule(found) for found in verdict.findings],
        "filling": None if verdict.filling is None else _filling(verdict.filling),
        "siphons": [_siphon_facts(facts) for facts in verdict.siphons.values()],
        "faults": [_fault(fault) for fault in verdict.faults],
        "running": [_running(running) for running in verdict.running],
        "commissioning": None if verdict.commissioning is None else _commissioning(verdict.commissioning),
        **_variant(design),
    }


def _variant(design: Design) -> dict[str, Json]:
    """Which of several sites a design is for, and what was assumed of that one."""
    if design.site is None:
        return {}
    return {"variant": design.variant, "assumptions": _assumptions(design.site)}


def _assumptions(site: Site) -> list[Json]:
    return [{"place": a.place, "text": a.text, "mark": a.mark, "why": a.why} for a in site.assumptions]


def _solver(solver: SolverReport) -> Json:
    return {
        "bound": _or_none(solver.bound),
        "wall_s": _number(solver.wall_s, "solver.wall_s"),
        "seed": solver.seed,
        "workers": solver.workers,
        "versions": {name: solver.versions[name] for name in sorted(solver.versions)},
        "rejected": solver.rejected,
        "solves": solver.solves,
        "interrupted": solver.interrupted,
    }


def _pump(pump: PumpFacts) -> Json:
    return {
        "vessel": pump.vessel,
        "part": pump.part,
        "mode": pump.mode,
        "speed": _number(pump.speed, "pump.speed"),
        "duty_flow_l_h": _number(litres_per_hour(pump.duty_flow_m3_s), "pump.duty_flow_l_h"),
        "duty_head_m": _number(pump.duty_head_m, "pump.duty_head_m"),
        "required_head_m": _number(pump.required_head_m, "pump.required_head_m"),
        "watts": _number(pump.watts, "pump.watts"),
    }


def _growth(outcome: Outcome, design: Design) -> Json:
    """Beds to come later, and what the first of them takes; None where there are none."""
    beds = spare_beds(outcome)
    if not beds:
        return None
    lines = next_bed(outcome, design)
    return {
        "spare_beds": _texts(beds),
        "next": beds[0],
        "cost": _number(sum(line.cents for line in lines) / 100, "growth.cost"),
        "parts": [
            {
                "part": line.part,
                "quantity": _number(line.quantity, "quantity"),
                "packs": line.packs,
                "cost": _number(line.cents / 100, "cost"),
            }
            for line in lines
        ],
    }


def _air_pump(site: Site, pump: DrawnAirPump) -> Json:
    points = {} if site.air is None else {point.vessel: point for point in site.air.points}
    return {
        "part": pump.part,
        "battery": pump.battery,
        "manifolds": _texts(pump.manifolds),
        "lines": [
            {
                "vessel": line.vessel,
                "depth_mm": _mm(points[line.vessel].depth_m, "depth_mm"),
                "line": line.line,
                "length_m": _number(line.length_m, "length_m"),
                "diffuser": line.diffuser,
                "tap": line.tap,
                "check": line.check,
            }
            for line in pump.lines
        ],
    }


def _run(outcome: Outcome, design: Design, drawn: DrawnRun) -> Json:
    run, verdict = outcome.site.runs[drawn.run], design.verdict
    facts, line = verdict.runs[run.name], verdict.lines.get(run.name)
    return {
        "name": run.name,
        "from": run.start,
        "to": run.finish,
        "kind": str(run.kind),
        "class": run.run_class,
        "pipe": drawn.pipe,
        "bore_mm": _mm(facts.bore_m, "bore_mm"),
        "length_m": _number(facts.length_m, "length_m"),
        "flow_l_h": _number(litres_per_hour(facts.flow_m3_s), "flow_l_h"),
        "velocity_m_s": _number(facts.velocity_m_s, "velocity_m_s"),
        "loss_mm": _mm(facts.loss_m, "loss_mm"),
        "overload_loss_mm": _mm(facts.overload_loss_m, "overload_loss_mm"),
        "pieces_mm": [_mm(piece, "pieces_mm") for piece in drawn.pieces_m],
        "turns": _turns(drawn.turns),
        "ends": [_end(outcome, drawn.start), _end(outcome, drawn.finish)],
        "screen": drawn.screen,
        "flush": _texts(drawn.flush),
        "later": drawn.later,
        "cap": drawn.cap,
        "valves": [drawn.valve] if drawn.valve is not None and not drawn.later else [],
        "line": [_item(item) for item in line.items] if line else [],
        "sides": [{**_item(side.item), "on": line.items[side.at].part, "at": side.at} for side in line.sides]
        if line
        else [],
        "joints": [_joint(joint) for joint in verdict.joints if joint.run == run.name],
    }


def _item(item: Item) -> dict[str, Json]:
    return {
        "part": item.part,
        "role": str(item.role),
        "ends": _texts(map(str, item.ends)),
        "length_mm": None if item.length_m is None else _mm(item.length_m, "length_mm"),
        "place": item.place,
        "through": item.through,
        "ring": None if item.ring is None else str(item.ring),
    }


def _joint(joint: Joint) -> Json:
    return {
        "kind": None if joint.kind is None else str(joint.kind),
        "left": joint.left,
        "right": joint.right,
        "left_end": str(joint.left_end),
        "right_end": str(joint.right_end),
    }


def _turns(turns: Iterable[DrawnTurn]) -> list[Json]:
    """Turns made alike, together: `count` is how many there are, `parts` what each one of them takes."""
    counts: dict[DrawnTurn, int] = {}
    for turn in turns:
        counts[turn] = counts.get(turn, 0) + 1
    return [
        {
            "kind": f"{turn.angle}",
            "style": str(turn.style),
            "part": turn.parts[0] if turn.parts else None,
            "count": count,
            "parts": _texts(turn.parts),
        }
        for turn, count in counts.items()
    ]


def _end(outcome: Outcome, end: DrawnEnd) -> Json:
    vessel = outcome.site.vessels.get(end.at)
    floor = vessel.floor_m if vessel is not None else None
    hole = outcome.catalog.penetrations[end.penetration].hole_m if end.penetration is not None else None
    return {
        "vessel": end.at,
        "way": str(end.way) if end.way is not None else None,
        "penetration": end.penetration,
        "hole_mm": None if hole is None else _mm(hole, "hole_mm"),
        "centre_above_floor_mm": _above(end.centre_m, floor, "centre_above_floor_mm"),
        "in_floor": end.in_floor,
        "standpipe_top_above_floor_mm": _above(end.standpipe_top_m, floor, "standpipe_top_above_floor_mm"),
        "standpipe": end.standpipe,
        "siphon": None if end.siphon is None else _siphon(end.siphon),
        "chain": _texts(end.chain),
    }


def _siphon(siphon: DrawnSiphon) -> Json:
    return {
        "bell": siphon.bell,
        "guard": siphon.guard,
        "snorkel": siphon.snorkel,
        "flare": siphon.flare,
        "cut_out_mm": _mm(siphon.cut_out_m, "cut_out_mm"),
    }


def _filling(found: Filling) -> Json:
    return {
        "total_l": _number(found.total_m3 / LITRE_M3, "total_l"),
        "levels": [
            {
                "vessel": moving.vessel,
                "low_mm": _mm(moving.low_m, "low_mm"),
                "running_mm": _mm(moving.running_m, "running_mm"),
                "high_mm": _mm(moving.high_m, "high_mm"),
            }
            for moving in found.moving
        ],
    }


def _siphon_facts(facts: SiphonFacts) -> Json:
    flows = {
        "inflow_l_h": facts.inflow_m3_s,
        "starts_from_l_h": facts.starts_m3_s,
        "fastest_l_h": facts.fastest_m3_s,
        "slowest_l_h": facts.slowest_m3_s,
    }
    return {
        "bed": facts.bed,
        **{key: _number(litres_per_hour(flow), key) for key, flow in flows.items()},
        "filling_min": _number(facts.filling_s / 60, "filling_min"),
        "emptying_min": None
        if math.isinf(facts.emptying_s)
        else _number(facts.emptying_s / 60, "emptying_min"),
        "floods_per_h": _number(facts.floods_per_s * HOUR_S, "floods_per_h"),
    }


def _junctions(drawing: Drawing) -> list[Json]:
    return [
        {"junction": junction.junction, "tee": junction.tee, "ports": _texts(junction.ports)}
        for junction in drawing.junctions.values()
    ]


def _level(site: Site, level: DrawnLevel) -> Json:
    vessel = site.vessels[level.vessel]
    return {
        "vessel": level.vessel,
        "floor_mm": _mm(vessel.floor_m, "floor_mm"),
        "water_mm": _mm(level.design_m, "water_mm"),
        "rim_mm": _mm(vessel.rim_m, "rim_mm"),
        "overload_mm": _mm(level.overload_m, "overload_mm"),
    }


def _line(line: OrderLine) -> Json:
    used = used_gauge(line.part, SI)
    return {
        "part": line.part.id,
        "description": line.part.description,
        "quantity": _number(line.purchase.quantity / used.si, "quantity"),
        "unit": used.unit or "piece",
        "packs": line.purchase.packs,
        "sold_as": line.sold_as,
        "unit_price": _number(line.unit_price, "unit_price"),
        "shop": line.purchase.shop,
        "line_cost": _number(line.line_cost, "line_cost"),
    }


def _cuts(cuts: Iterable[CutStick]) -> list[Json]:
    """Every stick, numbered from 1 within its pipe."""
    seen: dict[str, int] = {}
    rows: list[Json] = []
    for cut in cuts:
        seen[cut.pipe] = seen.get(cut.pipe, 0) + 1
        rows.append(
            {
                "pipe": cut.pipe,
                "stick": seen[cut.pipe],
                "stick_mm": _mm(cut.stick_m, "stick_mm"),
                "pieces_mm": [_mm(piece, "pieces_mm") for piece in cut.pieces_m],
                "offcut_mm": _mm(cut.offcut_m, "offcut_mm"),
                "owned": cut.owned,
            }
        )
    return rows


def _rule(found: Finding) -> Json:
    return {
        "id": found.rule,
        "sentence": found.sentence,
        "place": found.place,
        "value": _number(found.value, f"{found.rule}.value"),
        "limit": _number(found.limit, f"{found.rule}.limit"),
        "unit": found.unit,
        "margin": _number(found.margin, f"{found.rule}.margin"),
        "ok": found.ok,
        "hard": found.hard,
        "source": found.source,
    }


def _fault(fault: Fault) -> Json:
    return {
        "name": fault.name,
        "spilled_l": _number(fault.spilled_l, "spilled_l"),
        "margin_mm": _mm(fault.margin_m, "margin_mm"),
        "minutes": None if fault.minutes is None else _or_none(fault.minutes),
        "saved_by": fault.saved_by,
        "lowest_cover_mm": None
        if fault.lowest_cover_m is None
        else _mm(fault.lowest_cover_m, "lowest_cover_mm"),
        "where": fault.where,
    }


def _running(running: Running) -> Json:
    return {
        "phase": running.phase,
        "sumps": [
            {
                "vessel": sump.vessel,
                "lowest_mm": _mm(sump.lowest_m, "lowest_mm"),
                "highest_mm": _mm(sump.highest_m, "highest_mm"),
                "cover_mm": _mm(sump.cover_m, "cover_mm"),
            }
            for sump in running.sumps
        ],
        "beds": [
            {
                "bed": bed.bed,
                "floods_per_hour": _number(bed.floods_per_hour, "floods_per_hour"),
                "filling_s": _or_none(bed.filling_s),
                "emptying_s": _or_none(bed.emptying_s),
            }
            for bed in running.beds
        ],
    }


def _commissioning(found: Commissioning) -> Json:
    return {
        "bucket_l": _number(SI.bucket_m3 / LITRE_M3, "bucket_l"),
        "outlets": [
            {
                "run": outlet.run,
                "vessel": outlet.vessel,
                "design_flow_l_h": _number(litres_per_hour(outlet.design_m3_s), "design_flow_l_h"),
                "flow_l_h": _number(litres_per_hour(outlet.flow_m3_s), "flow_l_h"),
                "bucket_s": _bucket_seconds(outlet.flow_m3_s),
                "open_flow_l_h": _number(litres_per_hour(outlet.open_m3_s), "open_flow_l_h"),
                "open_bucket_s": _bucket_seconds(outlet.open_m3_s),
                "valve_run": outlet.valve_run,
                "valve_loss_mm": _mm(outlet.valve_loss_m, "valve_loss_mm"),
            }
            for outlet in found.outlets
        ],
        "levels": [
            {
                "vessel": level.vessel,
                "water_mm": _mm(level.water_m, "water_mm"),
                "low_mm": None if level.low_m is None else _mm(level.low_m, "low_mm"),
            }
            for level in found.levels
        ],
    }


def _bucket_seconds(flow_m3_s: float) -> float | None:
    """Seconds in which a flow fills the bucket; None where next to nothing flows."""
    return _number(SI.bucket_m3 / flow_m3_s, "bucket_s") if flow_m3_s > LEAST_FLOW_M3_S else None


def _texts(items: Iterable[str]) -> list[Json]:
    return list(items)


def _above(height_m: float | None, floor_m: float | None, what: str) -> float | None:
    return None if height_m is None or floor_m is None else _mm(height_m - floor_m, what)


def _mm(metres: float, what: str) -> float:
    return _number(mm(metres), what)


def _number(value: float, what: str) -> float:
    """The number without floating-point dust: six decimals are finer than anything measured here."""
    if not math.isfinite(value):
        raise InternalError(f"{what} is {value}, not a finite number")
    return round(float(value), 6) or 0.0


def _or_none(value: float | None) -> float | None:
    """A number that may be unknown; infinity stands for unknown."""
    return round(float(value), 6) if value is not None and math.isfinite(value) else None
