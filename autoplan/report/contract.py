"""The outcome as JSON, version 1: what other programs read. Additions may come; a rename is a new version."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Iterable, Mapping
from pathlib import Path

from autoplan.drawing import (
    CutStick,
    Drawing,
    DrawnLevel,
)
from autoplan.fittings.air import DrawnAirPump
from autoplan.fittings.base import Item
from autoplan.fittings.cap import EndCap
from autoplan.fittings.corner import Corner
from autoplan.fittings.ends import AtVessel, LineEnd
from autoplan.fittings.floor import BellSiphon, SideHole, ThroughFloor
from autoplan.fittings.flushing import FlushTee
from autoplan.fittings.rim import OverRim
from autoplan.fittings.screen import InletScreen
from autoplan.fittings.valve import CheckValveSet, ValveSet
from autoplan.fittings.wall import Pierced
from autoplan.line.joints import Joint
from autoplan.line.row import Line
from autoplan.outcome import (
    Design,
    Fault,
    Finding,
    Outcome,
    PumpFacts,
    SolverReport,
)
from autoplan.problem.site import RunKind, Site
from autoplan.report.cautions import CAUTIONS
from autoplan.report.contract_drawn import curves_json, cuts_for, drawn_json, siphon_sizes
from autoplan.report.contract_facts import (
    commissioning_json,
    filling_json,
    fish_json,
    running_json,
    siphon_json,
    timer_json,
)
from autoplan.report.contract_told import design_told, outcome_told, run_told
from autoplan.report.figures import OrderLine, order_lines, used_gauge
from autoplan.report.files import replace_files
from autoplan.report.gets import Gain, gets, is_what
from autoplan.report.growth import next_bed, spare_beds
from autoplan.report.json_values import Json, millimetres, number, or_none
from autoplan.report.units import SI, litres_per_hour

FORMAT = "autoplan-outcome"
VERSION = 1


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
        "units": str(outcome.site.print_units),
        "rank_by": outcome.rank_by,
        "differ": _texts(outcome.differ),
        "solver": _solver(outcome.solver),
        "assumptions": _assumptions(outcome.site),
        "designs": [_design(outcome, design) for design in outcome.designs],
        "clash": None
        if clash is None
        else {"rules": _texts(clash.rules), "sentences": _texts(clash.sentences)},
        "notes": _texts(outcome.notes),
        "cautions": _texts(CAUTIONS),
        **outcome_told(outcome),
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


def _design(whole: Outcome, design: Design) -> Json:
    outcome = whole.about(design)
    drawing, verdict, site = design.drawing, design.verdict, outcome.site
    cost = verdict.cost
    pumps = [
        {**_pump(pump), **curves_json(verdict.curves.get(pump.vessel))} for pump in verdict.pumps.values()
    ]
    return {
        "rank": design.rank,
        "proven": design.proven,
        "bound": or_none(design.bound),
        "objective": number(design.objective, "objective"),
        "cost": {
            "purchase": number(cost.purchase, "cost.purchase"),
            "freight": number(cost.freight, "cost.freight"),
            "running_per_year": number(cost.running_per_year, "cost.running_per_year"),
            "ownership": number(cost.ownership, "cost.ownership"),
            "currency": cost.currency,
            "to_pay": number(cost.to_pay, "cost.to_pay"),
        },
        "margin": None if design.margin is None else _rule(design.margin),
        "kept_margin_mm": design.kept_mm,
        "differs": _texts(design.differs),
        "traits": dict(design.traits),
        "kind": is_what(design),
        "gets": [_gain(gain) for gain in gets(whole, design, SI)],
        "pump": pumps[0] if pumps else None,
        "pumps": list(pumps),
        "air": [_air_pump(outcome.site, pump) for pump in drawing.air],
        "hand_pumps": dict(design.drawing.hand_pumps),
        "runs": [_run(outcome, design, drawn) for drawn in drawing.runs.values()],
        "junctions": _junctions(drawing),
        "levels": [_level(site, level, verdict.resting) for level in drawing.levels.values()],
        "purchase": [_line(line) for line in order_lines(outcome.catalog, drawing.purchases)],
        "growth": _growth(outcome, design),
        "cuts": _cuts(drawing.cuts, cuts_for(outcome, design)),
        "rules": [_rule(found) for found in verdict.findings],
        "filling": None if verdict.filling is None else filling_json(verdict.filling, site),
        "siphons": [
            {**siphon_json(facts), **siphon_sizes(design, name, facts)}
            for name, facts in verdict.siphons.items()
        ],
        "timers": [timer_json(facts) for facts in verdict.timers.values()],
        "faults": [_fault(fault) for fault in verdict.faults],
        "running": [running_json(running) for running in verdict.running],
        "commissioning": None if verdict.commissioning is None else commissioning_json(verdict.commissioning),
        **drawn_json(outcome, design),
        **design_told(whole, design),
        **_variant(design),
    }


def _gain(gain: Gain) -> Json:
    return {
        "what": gain.what,
        "unit": gain.unit,
        "first": number(gain.first, "gets.first"),
        "this": number(gain.this, "gets.this"),
        "better": gain.better,
        "text": gain.text,
    }


def _variant(design: Design) -> dict[str, Json]:
    """Which of several sites a design is for, and what was assumed of that one."""
    if design.site is None:
        return {}
    return {"variant": design.variant, "assumptions": _assumptions(design.site)}


def _assumptions(site: Site) -> list[Json]:
    return [
        {"place": a.place, "text": a.text, "mark": a.mark, "why": a.why}
        for a in site.assumptions
        if not a.moot
    ]


def _solver(solver: SolverReport) -> Json:
    return {
        "bound": or_none(solver.bound),
        "wall_s": number(solver.wall_s, "solver.wall_s"),
        "seed": solver.seed,
        "workers": solver.workers,
        "versions": {name: solver.versions[name] for name in sorted(solver.versions)},
        "rejected": solver.rejected,
        "solves": solver.solves,
        "interrupted": solver.interrupted,
    }


def _pump(pump: PumpFacts) -> dict[str, Json]:
    return {
        "vessel": pump.vessel,
        "part": pump.part,
        "mode": pump.mode,
        "speed": number(pump.speed, "pump.speed"),
        "duty_flow_l_h": number(litres_per_hour(pump.duty_flow_m3_s), "pump.duty_flow_l_h"),
        "duty_head_m": number(pump.duty_head_m, "pump.duty_head_m"),
        "required_head_m": number(pump.required_head_m, "pump.required_head_m"),
        "watts": number(pump.watts, "pump.watts"),
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
        "cost": number(sum(line.cents for line in lines) / 100, "growth.cost"),
        "parts": [
            {
                "part": line.part,
                "quantity": number(line.quantity, "quantity"),
                "packs": line.packs,
                "cost": number(line.cents / 100, "cost"),
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
                "depth_mm": millimetres(points[line.vessel].depth_m, "depth_mm"),
                "line": line.line,
                "length_m": number(line.length_m, "length_m"),
                "diffuser": line.diffuser,
                "tap": line.tap,
                "check": line.check,
                "flow_l_h": number(litres_per_hour(_air_flow(site, pump, line.vessel)), "flow_l_h"),
            }
            for line in pump.lines
        ],
    }


def _air_flow(site: Site, pump: DrawnAirPump, vessel: str) -> float:
    """Air that a vessel gets of one pump [m3/s]; from a battery its reserve."""
    if site.air is None:
        return 0.0
    flow = next((point.flow_m3_s for point in site.air.points if point.vessel == vessel), 0.0)
    return flow * (site.air.reserve if pump.battery else 1.0)


def _run(outcome: Outcome, design: Design, drawn: Line) -> Json:
    run, verdict = outcome.site.runs[drawn.run], design.verdict
    facts, line = verdict.runs[run.name], verdict.lines.get(run.name)
    inlet = run.kind is RunKind.PRESSURE and isinstance(drawn.finish, AtVessel)
    return {
        "name": run.name,
        "from": run.start,
        "to": run.finish,
        "kind": str(run.kind),
        "class": run.run_class,
        "pipe": drawn.pipe,
        "bore_mm": millimetres(facts.bore_m, "bore_mm"),
        "length_m": number(facts.length_m, "length_m"),
        "flow_l_h": number(litres_per_hour(facts.flow_m3_s), "flow_l_h"),
        "velocity_m_s": number(facts.velocity_m_s, "velocity_m_s"),
        "loss_mm": millimetres(facts.loss_m, "loss_mm"),
        "overload_loss_mm": millimetres(facts.overload_loss_m, "overload_loss_mm"),
        "pieces_mm": [millimetres(piece, "pieces_mm") for piece in drawn.pieces_m],
        "turns": _turns(drawn.turns),
        "ends": [_end(outcome, drawn.start), _end(outcome, drawn.finish, inlet=inlet)],
        "screen": _first(one.part for one in drawn.all(InletScreen)),
        "flush": _texts(part for one in drawn.all(FlushTee) for part in one.parts()),
        "later": drawn.later,
        "cap": _first(one.part for one in drawn.all(EndCap)),
        "valves": [valve.valve for valve in (drawn.one(ValveSet),) if valve is not None and not drawn.later],
        "check_valve": _first(one.valve for one in drawn.all(CheckValveSet) if not drawn.later),
        "line": [_item(item) for item in line.items] if line else [],
        "sides": [{**_item(side.item), "on": line.items[side.at].part, "at": side.at} for side in line.sides]
        if line
        else [],
        "joints": [_joint(joint) for joint in verdict.joints if joint.run == run.name],
        "told": run_told(outcome, design, run.name),
    }


def _item(item: Item) -> dict[str, Json]:
    return {
        "part": item.part,
        "role": str(item.role),
        "ends": _texts(map(str, item.ends)),
        "length_mm": None if item.length_m is None else millimetres(item.length_m, "length_mm"),
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


def _turns(turns: Iterable[Corner]) -> list[Json]:
    """Turns made alike, together: `count` is how many there are, `parts` what each one of them takes."""
    counts: dict[Corner, int] = {}
    for turn in turns:
        counts[turn] = counts.get(turn, 0) + 1
    return [
        {
            "kind": f"{turn.angle}",
            "style": str(turn.style),
            "part": turn.pieces[0] if turn.pieces else None,
            "count": count,
            "parts": _texts(turn.pieces),
        }
        for turn, count in counts.items()
    ]


def _end(outcome: Outcome, end: LineEnd, *, inlet: bool = False) -> Json:
    """One end; `inlet` where a pressure run ends at a vessel."""
    vessel = outcome.site.vessels.get(end.at)
    floor = vessel.floor_m if vessel is not None else None
    vessel_end = end if isinstance(end, AtVessel) else None
    pierced = end if isinstance(end, Pierced) else None
    stood = end if isinstance(end, ThroughFloor) else None
    rim = end if isinstance(end, OverRim) else None
    hole = outcome.catalog.penetrations[pierced.penetration].hole_m if pierced else None
    siphon, drained = (stood.siphon, stood.drain_hole) if stood else (None, None)
    top, mouth = stood.standpipe_top_m if stood else None, rim.mouth_m if rim else None
    air_hole = rim.air_hole_m if rim else None
    return {
        "vessel": end.at,
        "way": str(vessel_end.way) if vessel_end else None,
        "penetration": pierced.penetration if pierced else None,
        "hole_mm": None if hole is None else millimetres(hole, "hole_mm"),
        "centre_above_floor_mm": _above(
            vessel_end.centre_m if vessel_end else None, floor, "centre_above_floor_mm"
        ),
        "in_floor": stood is not None,
        "standpipe_top_above_floor_mm": _above(top, floor, "standpipe_top_above_floor_mm"),
        "standpipe": stood.standpipe if stood else None,
        "siphon": None if siphon is None else _siphon(siphon),
        "drain_hole": None if drained is None else _drain_hole(drained),
        "chain": _texts(end.chain),
        "siphon_back": str(vessel_end.guard) if inlet and vessel_end else None,
        "mouth_above_floor_mm": _above(mouth, floor, "mouth_above_floor_mm"),
        "air_hole_above_floor_mm": _above(air_hole, floor, "air_hole_above_floor_mm"),
        "air_hole_mm": millimetres(rim.air_hole_width_m, "air_hole_mm") if rim and air_hole else None,
    }


def _first(found: Iterable[str]) -> str | None:
    return next(iter(found), None)


def _siphon(siphon: BellSiphon) -> Json:
    return {
        "bell": siphon.bell,
        "guard": siphon.guard,
        "snorkel": siphon.snorkel,
        "flare": siphon.flare,
        "cut_out_mm": millimetres(siphon.cut_out_m, "cut_out_mm"),
    }


def _drain_hole(hole: SideHole) -> Json:
    return {
        "hole_mm": millimetres(hole.hole_m, "hole_mm"),
        "centre_above_floor_mm": millimetres(hole.height_m, "centre_above_floor_mm"),
        "guard": hole.guard,
    }


def _junctions(drawing: Drawing) -> list[Json]:
    return [
        {"junction": junction.junction, "tee": junction.tee, "ports": _texts(junction.ports)}
        for junction in drawing.junctions.values()
    ]


def _level(site: Site, level: DrawnLevel, resting: Mapping[str, float]) -> Json:
    """Water of one vessel; `rest_mm` hours after the power failed, None where that was not worked out."""
    vessel, rest = site.vessels[level.vessel], resting.get(level.vessel)
    return {
        "vessel": level.vessel,
        "floor_mm": millimetres(vessel.floor_m, "floor_mm"),
        "water_mm": millimetres(level.design_m, "water_mm"),
        "rim_mm": millimetres(vessel.rim_m, "rim_mm"),
        "overload_mm": millimetres(level.overload_m, "overload_mm"),
        "rest_mm": None if rest is None else millimetres(rest, "rest_mm"),
    }


def _line(line: OrderLine) -> Json:
    used = used_gauge(line.part, SI)
    return {
        "part": line.part.id,
        "description": line.part.description,
        "quantity": number(line.purchase.quantity / used.si, "quantity"),
        "unit": used.unit or "piece",
        "packs": line.purchase.packs,
        "sold_as": line.sold_as,
        "unit_price": number(line.unit_price, "unit_price"),
        "shop": line.purchase.shop,
        "line_cost": number(line.line_cost, "line_cost"),
    }


def _cuts(cuts: Iterable[CutStick], asked: Iterable[Json]) -> list[Json]:
    """Every stick, numbered from 1 within its pipe, and what each of its pieces is for."""
    seen: dict[str, int] = {}
    rows: list[Json] = []
    for cut, pieces in zip(cuts, asked, strict=True):
        seen[cut.pipe] = seen.get(cut.pipe, 0) + 1
        rows.append(
            {
                "pipe": cut.pipe,
                "stick": seen[cut.pipe],
                "stick_mm": millimetres(cut.stick_m, "stick_mm"),
                "pieces_mm": [millimetres(piece, "pieces_mm") for piece in cut.pieces_m],
                "pieces": pieces,
                "offcut_mm": millimetres(cut.offcut_m, "offcut_mm"),
                "owned": cut.owned,
            }
        )
    return rows


def _rule(found: Finding) -> Json:
    return {
        "id": found.rule,
        "sentence": found.sentence,
        "place": found.place,
        "value": number(found.value, f"{found.rule}.value"),
        "limit": number(found.limit, f"{found.rule}.limit"),
        "unit": found.unit,
        "margin": number(found.margin, f"{found.rule}.margin"),
        "ok": found.ok,
        "hard": found.hard,
        "source": found.source,
    }


def _fault(fault: Fault) -> Json:
    return {
        "name": fault.name,
        "spilled_l": number(fault.spilled_l, "spilled_l"),
        "margin_mm": millimetres(fault.margin_m, "margin_mm"),
        "minutes": None if fault.minutes is None else or_none(fault.minutes),
        "saved_by": fault.saved_by,
        "cure": fault.cure,
        "lowest_cover_mm": None
        if fault.lowest_cover_m is None
        else millimetres(fault.lowest_cover_m, "lowest_cover_mm"),
        "where": fault.where,
        "dry_minutes": or_none(fault.dry_minutes),
        "fish": None if fault.fish is None else fish_json(fault.fish),
    }


def _texts(items: Iterable[str]) -> list[Json]:
    return list(items)


def _above(height_m: float | None, floor_m: float | None, what: str) -> float | None:
    return None if height_m is None or floor_m is None else millimetres(height_m - floor_m, what)
