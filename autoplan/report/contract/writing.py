"""An outcome -> its JSON, version 1, for other programs. Additions may come; a rename is a new version."""

from __future__ import annotations

import json
import math
import os
import sys
from collections import Counter
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, TypeVar

from autoplan.drawing import CutStick, Drawing
from autoplan.fittings.air import DrawnAirPump
from autoplan.fittings.cap import EndCap
from autoplan.fittings.ends import AtVessel, LineEnd
from autoplan.fittings.floor import ThroughFloor
from autoplan.fittings.flushing import FlushTee
from autoplan.fittings.lengths import Lengths
from autoplan.fittings.outside import OutsideSiphon
from autoplan.fittings.rim import OverRim
from autoplan.fittings.screen import InletScreen
from autoplan.fittings.valve import CheckValveSet, ValveSet
from autoplan.fittings.wall import Pierced, ThroughWall
from autoplan.line.route import Leg
from autoplan.line.row import Line
from autoplan.outcome import Design, Finding, Outcome, OutletFacts
from autoplan.problem.site import RunKind, Site, Vessel
from autoplan.report.contract.built import (
    AirLineRow,
    AirRow,
    CutRow,
    EndRow,
    JunctionRow,
    LegRow,
    OutsideRow,
    PieceRow,
    RunRow,
    SideRow,
    SpareRow,
    SpotRow,
    TurnRow,
    VesselRow,
)
from autoplan.report.contract.parts import part_row, parts_of
from autoplan.report.contract.rows import (
    AnswerRow,
    ClashRow,
    DesignRow,
    GrowthPartRow,
    GrowthRow,
    PurchaseRow,
    RuleRow,
    RuleToldRow,
    SolverRow,
)
from autoplan.report.contract.told import design_told, outcome_told, run_told
from autoplan.report.contract.water import (
    CommissioningRow,
    FaultRow,
    FillingLevelRow,
    FillingRow,
    LevelRow,
    MeasureRow,
    OutletRow,
    PumpRow,
    SiphonRow,
    TimerRow,
    WeepRow,
)
from autoplan.report.figures import OrderLine, order_lines, used_gauge
from autoplan.report.files import replace_files
from autoplan.report.place_words import place_words
from autoplan.report.sections.cautions import CAUTIONS
from autoplan.report.sections.cutting import AskedPiece, asked_pieces
from autoplan.report.sections.drilling import holes_of
from autoplan.report.sections.gets import gets, is_what
from autoplan.report.sections.growth import next_bed, spare_beds
from autoplan.report.sections.judged import fault_name
from autoplan.report.sections.measuring import measure_of
from autoplan.report.sections.order import at_hand
from autoplan.report.sections.rims import rims_of
from autoplan.report.sections.siphons import least_tall
from autoplan.report.sections.tees import tees_on_plan
from autoplan.report.sections.ways import on_plan, way_of
from autoplan.report.units import LEAST_FLOW_M3_S, LITRE_M3, SI, Units, litres_per_hour, mm, units_of

Drilled = TypeVar("Drilled", TimerRow, WeepRow)


def outcome_json(outcome: Outcome) -> dict[str, Any]:
    """The outcome as plain data. Two equal answers differ in `solver.wall_s` only.

    Raises:
        InternalError: a number that must be finite is not.
    """
    return _answer(outcome).model_dump(mode="json", by_alias=True, exclude_unset=True)


def json_text(outcome: Outcome) -> str:
    """The outcome as strict JSON, ending in a newline; ASCII only, so every terminal and file takes it."""
    return text_of(outcome_json(outcome))


def text_of(answer: Mapping[str, Any]) -> str:
    """Plain data as the text of its file."""
    return json.dumps(answer, indent=2, allow_nan=False) + "\n"


def write_json(answer: Mapping[str, Any], target: str) -> None:
    """Write an answer to a file, all of it or nothing; "-" is standard output.

    Args:
        answer: as `outcome_json` makes it.
        target: where.

    Raises:
        OSError: the target cannot be written.
    """
    text = text_of(answer)
    if target == "-":
        sys.stdout.write(text)
        sys.stdout.flush()
        return
    path = Path(os.path.realpath(target))
    if path.exists() and not path.is_file():
        path.write_text(text, encoding="utf-8")  # a pipe or a device is written to, never replaced
        return
    replace_files({path: text})


def _answer(outcome: Outcome) -> AnswerRow:
    site, clash = outcome.site, outcome.clash
    versions = dict(sorted(outcome.solver.versions.items()))
    return AnswerRow.of(
        outcome,
        format=AnswerRow.FORMAT,
        version=AnswerRow.VERSION,
        problem=site.name,
        problem_file=site.file,
        catalog=outcome.catalog.name,
        units=site.print_units,
        solver=SolverRow.of(outcome.solver, versions=versions),
        assumptions=_assumptions(site),
        designs=[_design(outcome, design) for design in outcome.designs],
        clash=None if clash is None else ClashRow.of(clash, sentences=tuple(map(SI.told, clash.sentences))),
        notes=tuple(map(SI.told, outcome.notes)),
        cautions=CAUTIONS,
        **outcome_told(outcome),
    )


def _assumptions(site: Site) -> list[object]:
    return [assumed for assumed in site.assumptions if not assumed.moot]


def _design(whole: Outcome, design: Design) -> DesignRow:
    outcome = whole.about(design)
    drawing, verdict, site = design.drawing, design.verdict, outcome.site
    pumps, units = _pumps(design), units_of(site.print_units)
    asked = asked_pieces(outcome, design)
    # Which of several sites a design is for, and what was assumed of that one.
    variant = {} if design.site is None else {"variant": design.variant, "assumptions": _assumptions(site)}
    return DesignRow.of(
        verdict,
        rank=design.rank,
        proven=design.proven,
        bound=design.bound,
        objective=design.objective,
        margin=None if design.margin is None else _rule(design.margin, units),
        kept_margin_mm=design.kept_mm,
        differs=design.differs,
        traits=design.traits,
        kind=is_what(design),
        gets=gets(whole, design, SI),
        pump=pumps[0] if pumps else None,
        pumps=pumps,
        air=[_air_pump(site, pump) for pump in drawing.air],
        hand_pumps=drawing.hand_pumps,
        spares={vessel: SpareRow.of(one, outlet=str(one.outlet)) for vessel, one in drawing.spares.items()},
        runs=[_run(outcome, design, drawn) for drawn in drawing.runs.values()],
        junctions=list(_junctions(site, drawing)),
        levels=[
            LevelRow.of(level, site.vessels[name], rest_mm=_millimetres(verdict.resting.get(name)))
            for name, level in drawing.levels.items()
        ],
        purchase=[
            *(_line(line) for line in order_lines(outcome.catalog, drawing.purchases)),
            *(_line(line).model_copy(update={"shop": None}) for line in at_hand(outcome, design)),
        ],
        growth=_growth(outcome, design),
        cuts=list(_cuts(drawing.cuts, asked.from_sticks)),
        rules=[_rule(found, units) for found in verdict.findings],
        faults=[FaultRow.of(fault, name=fault_name(fault, SI)) for fault in verdict.faults],
        filling=_filling(design, site),
        siphons=_siphons(design),
        timers=_drilled(design, TimerRow, verdict.timers),
        weeps=_drilled(design, WeepRow, verdict.weeps),
        commissioning=_commissioning(outcome, design),
        vessels=[_vessel(vessel) for vessel in site.vessels.values()],
        holes=holes_of(outcome, design),
        rims=rims_of(outcome, design),
        parts={part.id: part_row(part) for part in parts_of(outcome, design)},
        from_roll=[_piece(piece) for piece in asked.from_roll],
        **design_told(whole, design),
        **variant,
    )


def _junctions(site: Site, drawing: Drawing) -> Iterator[JunctionRow]:
    """Each with its place on the plan."""
    places = tees_on_plan(site)
    for joint in drawing.junctions.values():
        at = places.get(joint.junction)
        spot = (None, None) if at is None else (mm(at.real), mm(at.imag))
        yield JunctionRow.of(joint, x_mm=spot[0], y_mm=spot[1])


def _rule(found: Finding, units: Units) -> RuleRow:
    """One finding in SI; `told` has what the units asked for say in other words."""
    said, told = (
        {"place": place_words(found.place, shown), "source": shown.told(found.source)}
        for shown in (SI, units)
    )
    return RuleRow.of(found, **said, **({} if told == said else {"told": RuleToldRow.of(**told)}))


def _millimetres(metres: float | None) -> float | None:
    return None if metres is None else mm(metres)


def _pumps(design: Design) -> list[PumpRow]:
    """Each with its curves, where they were worked out."""
    curves = design.verdict.curves
    none = dict.fromkeys(("curve", "full_speed_curve", "system", "meets"))
    return [
        PumpRow.of(pump, curves[name]) if name in curves else PumpRow.of(pump, **none)
        for name, pump in design.verdict.pumps.items()
    ]


def _growth(outcome: Outcome, design: Design) -> GrowthRow | None:
    """Beds to come later, and what the first of them takes; None where there are none."""
    beds = spare_beds(outcome)
    if not beds:
        return None
    lines = next_bed(outcome, design)
    return GrowthRow.of(
        spare_beds=beds,
        next=beds[0],
        cost=sum(line.cents for line in lines) / 100,
        parts=[GrowthPartRow.of(line, cost=line.cents / 100) for line in lines],
    )


def _air_pump(site: Site, pump: DrawnAirPump) -> AirRow:
    """An air pump; from a battery vessels get their reserve."""
    points = {} if site.air is None else {point.vessel: point for point in site.air.points}
    share = site.air.reserve if site.air is not None and pump.battery else 1.0
    lines = [
        AirLineRow.of(
            line,
            points[line.vessel],
            flow_l_h=litres_per_hour(points[line.vessel].flow_m3_s * share),
        )
        for line in pump.lines
    ]
    return AirRow.of(pump, lines=lines)


def _run(outcome: Outcome, design: Design, drawn: Line) -> RunRow:
    run, verdict = outcome.site.runs[drawn.run], design.verdict
    line, way = verdict.lines.get(run.name), way_of(outcome.site, drawn)
    inlet = run.kind is RunKind.PRESSURE and isinstance(drawn.finish, AtVessel)
    return RunRow.of(
        verdict.runs[run.name],
        way,
        drawn,
        name=run.name,
        start=run.start,
        finish=run.finish,
        kind=run.kind,
        run_class=run.run_class,
        turns=[
            TurnRow.of(
                kind=str(turn.angle),
                style=turn.style,
                part=turn.pieces[0] if turn.pieces else None,
                count=count,
                parts=turn.pieces,
            )
            for turn, count in Counter(drawn.turns).items()
        ],
        ends=[_end(outcome, drawn, drawn.start), _end(outcome, drawn, drawn.finish, inlet=inlet)],
        screen=next((one.part for one in drawn.all(InletScreen)), None),
        flush=[part for one in drawn.all(FlushTee) for part in one.parts()],
        cap=next((one.part for one in drawn.all(EndCap)), None),
        valves=[valve.valve] if (valve := drawn.one(ValveSet)) is not None and not drawn.later else [],
        check_valve=next((one.valve for one in drawn.all(CheckValveSet) if not drawn.later), None),
        line=line.items if line else (),
        sides=[SideRow.of(side.item, on=line.items[side.at].part, at=side.at) for side in line.sides]
        if line
        else (),
        joints=[joint for joint in verdict.joints if joint.run == run.name],
        told=run_told(outcome, design, run.name),
        legs=[_leg(leg) for leg in way.legs],
        on_plan=[SpotRow.of(x_mm=mm(at.real), y_mm=mm(at.imag)) for at in on_plan(outcome.site, run)],
    )


def _leg(leg: Leg) -> LegRow:
    """A leg; of a measured one its length alone."""
    return LegRow.of(leg) if leg.toward is not None else LegRow.of(length_mm=mm(leg.length_m))


def _end(outcome: Outcome, drawn: Line, end: LineEnd, *, inlet: bool = False) -> EndRow:
    """One end of a line; `inlet` where a pressure run ends at a vessel."""
    vessel = outcome.site.vessels.get(end.at)

    def above(height_m: float | None) -> float | None:
        """A height above the datum as one above the vessel's floor [mm]."""
        return None if height_m is None or vessel is None else mm(height_m - vessel.floor_m)

    there = end if isinstance(end, AtVessel) else None
    stood = end if isinstance(end, ThroughFloor) else None
    rim = end if isinstance(end, OverRim) else None
    out = end if isinstance(end, OutsideSiphon) else None
    walled = end if isinstance(end, ThroughWall) else None
    down = walled.down if walled else None
    part = end.penetration if isinstance(end, Pierced) else None
    return EndRow.of(
        end,
        way=there.way if there else None,
        penetration=part,
        hole_mm=mm(outcome.catalog.penetrations[part].hole_m) if part else None,
        centre_above_floor_mm=above(there.centre_m if there else None),
        in_floor=stood is not None,
        standpipe_top_above_floor_mm=above(stood.standpipe_top_m if stood else None),
        standpipe=stood.standpipe if stood else None,
        siphon=stood.siphon if stood else None,
        drain_hole=stood.drain_hole if stood else None,
        outside_siphon=OutsideRow.of(out, lip_above_floor_mm=above(out.lip_m)) if out else None,
        siphon_back=there.guard if there and inlet else None,
        mouth_above_floor_mm=above(rim.mouth_m if rim else None),
        air_hole_above_floor_mm=above(rim.air_hole_m if rim else None),
        air_hole_mm=mm(rim.air_hole_width_m) if rim and rim.air_hole_m else None,
        well=walled.well or None if walled else None,
        well_mm=mm(walled.well_m) if walled and walled.well else None,
        down=down.pieces[0] if down else None,
        down_mm=mm(down.reach_m(Lengths(outcome.catalog, outcome.catalog.pipes[drawn.pipe])))
        if down
        else None,
    )


def _line(line: OrderLine) -> PurchaseRow:
    used = used_gauge(line.part, SI)
    return PurchaseRow.of(
        line,
        line.purchase,
        part=line.part.id,
        description=line.part.description,
        quantity=line.purchase.quantity / used.si,
        unit=used.unit or "piece",
    )


def _cuts(cuts: tuple[CutStick, ...], asked: tuple[tuple[AskedPiece, ...], ...]) -> Iterator[CutRow]:
    """Every stick, numbered from 1 within its pipe, and what each of its pieces is for."""
    seen: Counter[str] = Counter()
    for cut, pieces in zip(cuts, asked, strict=True):
        seen[cut.pipe] += 1
        yield CutRow.of(cut, stick=seen[cut.pipe], pieces=[_piece(piece) for piece in pieces])


def _piece(piece: AskedPiece) -> PieceRow:
    return PieceRow.of(piece, run=piece.run or None, place=piece.place or None)


def _filling(design: Design, site: Site) -> FillingRow | None:
    found = design.verdict.filling
    if found is None:
        return None

    def litres(vessel: str, level_m: float) -> float:
        """Water that stands in a vessel under a level [L]."""
        stands = site.vessels[vessel]
        return (level_m - stands.floor_m) * stands.area_m2 / LITRE_M3

    levels = [
        FillingLevelRow.of(
            moving,
            low_l=litres(moving.vessel, moving.low_m),
            running_l=litres(moving.vessel, moving.running_m),
            high_l=litres(moving.vessel, moving.high_m),
            rim_l=litres(moving.vessel, site.vessels[moving.vessel].rim_m),
        )
        for moving in found.moving
    ]
    return FillingRow.of(found, levels=levels)


def _drilled(design: Design, row: type[Drilled], found: Mapping[str, object]) -> list[Drilled]:
    """Beds with a hole in their standpipes, each with how tall its guard must be."""
    return [
        row.of(facts, guard_least_mm=_millimetres(least_tall(design, bed, "guard")))
        for bed, facts in found.items()
    ]


def _siphons(design: Design) -> list[SiphonRow]:
    """Each with its drain, and how tall bell and guard must be inside."""
    return [
        SiphonRow.of(
            facts,
            drain=name,
            bell_least_mm=_millimetres(least_tall(design, facts.bed, "bell")),
            guard_least_mm=_millimetres(least_tall(design, facts.bed, "guard")),
        )
        for name, facts in design.verdict.siphons.items()
    ]


def _commissioning(outcome: Outcome, design: Design) -> CommissioningRow | None:
    found = design.verdict.commissioning
    if found is None:
        return None
    outlets = [_outlet(outcome.site, design, outlet) for outlet in found.outlets]
    return CommissioningRow.of(found, bucket_l=SI.bucket_m3 / LITRE_M3, outlets=outlets)


def _outlet(site: Site, design: Design, outlet: OutletFacts) -> OutletRow:
    """One outlet, and what is timed there."""
    line, flow = design.drawing.runs[outlet.run], outlet.flow_m3_s
    measure = measure_of(site, design, line, flow)
    told = MeasureRow.of(
        measure,
        volume_l=measure.let_in_m3(SI) / LITRE_M3,
        seconds=measure.seconds(flow, SI),
        open_seconds=measure.seconds(outlet.open_m3_s, SI),
    )

    def seconds(flow_m3_s: float) -> float | None:
        """In which a flow fills the bucket [s]; None where next to nothing flows."""
        return SI.bucket_m3 / flow_m3_s if flow_m3_s > LEAST_FLOW_M3_S else None

    bucket = seconds(flow), seconds(outlet.open_m3_s)
    return OutletRow.of(outlet, bucket_s=bucket[0], open_bucket_s=bucket[1], measure=told)


def _vessel(vessel: Vessel) -> VesselRow:
    width = math.sqrt(vessel.area_m2 * (4.0 / math.pi if vessel.curved else 1.0))
    return VesselRow.of(
        vessel,
        shape="round" if vessel.curved else "flat",
        width_mm=mm(width),
        volume_l=vessel.area_m2 * vessel.depth_m / LITRE_M3,
        **_spot(vessel),
    )


def _spot(vessel: Vessel) -> dict[str, float | None]:
    """Where a vessel stands and how large it is outside, if its place is known."""
    spot, (length, width) = vessel.spot, vessel.half_outside_m
    if spot is None:
        return dict.fromkeys(("x_mm", "y_mm", "outside_length_mm", "outside_width_mm")) | {"facing_deg": 0.0}
    return {
        "x_mm": mm(spot.x_m),
        "y_mm": mm(spot.y_m),
        "facing_deg": spot.facing_deg,
        "outside_length_mm": mm(2 * length),
        "outside_width_mm": mm(2 * width),
    }
