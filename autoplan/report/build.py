"""Rank 1 in full: what a builder takes to the site and to the counter."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.drawing import DrawnJunction
from autoplan.outcome import Design, Outcome
from autoplan.problem.site import Draw, RunKind
from autoplan.report.blocks import Block, Column, Grid, Heading, Para, Points, numbers
from autoplan.report.cautions import CAUTIONS
from autoplan.report.figures import (
    bucket_seconds,
    end_words,
    fixed,
    flow,
    mm,
    money,
    tally,
    tenth_mm,
    turn_words,
    whole_mm,
)
from autoplan.report.judged import faults, rules, warnings
from autoplan.report.order import cuts, purchase


def full(outcome: Outcome, design: Design) -> Iterator[Block]:
    """Every section of one design, its warnings, the assumptions and the cautions."""
    yield from costs(outcome, design)
    yield from pumps(outcome, design)
    yield from runs(outcome, design)
    yield from levels(outcome, design)
    yield from holes(outcome, design)
    yield from purchase(outcome, design)
    yield from cuts(outcome, design)
    yield from rules(design)
    yield from warnings(design)
    yield from faults(design)
    yield from assumptions(outcome)
    yield from cautions()


def costs(outcome: Outcome, design: Design) -> Iterator[Block]:
    """What the design costs to buy and to run."""
    cost = design.verdict.cost
    years = fixed(outcome.site.wishes.ownership_years, 1).removesuffix(".0")
    yield Heading(f"Rank {design.rank} in full")
    yield Para(
        f"Parts {money(cost.purchase, cost.currency)}, freight {money(cost.freight, cost.currency)}, "
        f"together {money(cost.purchase + cost.freight, cost.currency)}. "
        f"Power {money(cost.running_per_year, cost.currency)} a year; "
        f"bought and run for {years} years: {money(cost.ownership, cost.currency)}."
    )


def pumps(outcome: Outcome, design: Design) -> Iterator[Block]:
    """Each pump and its duty."""
    facts = design.verdict.pumps.values()
    if not facts:
        return
    yield Heading("Pump")
    yield Grid(
        (
            Column("stands in", 12),
            Column("pump", 26),
            Column("how", 18),
            numbers("flow L/h", 8),
            numbers("head m", 6),
            numbers("needed m", 8),
            numbers("power W", 7),
        ),
        tuple(
            (
                pump.vessel,
                _named(outcome, pump.part),
                f"slowed to {fixed(100 * pump.speed, 0)} %" if pump.mode == "slowed" else pump.mode,
                flow(pump.duty_flow_m3_s),
                fixed(pump.duty_head_m, 2),
                fixed(pump.required_head_m, 2),
                fixed(pump.watts, 0),
            )
            for pump in facts
        ),
    )


def runs(outcome: Outcome, design: Design) -> Iterator[Block]:
    """Each run: first its figures, then its fittings from start to end."""
    yield Heading("Runs")
    yield Grid(
        (
            Column("run", 13),
            Column("from - to", 16),
            Column("kind", 8),
            Column("pipe", 15),
            numbers("bore mm", 6),
            numbers("length mm", 6),
            numbers("flow L/h", 6),
            numbers("velocity m/s", 8),
            numbers("loss mm", 6),
        ),
        tuple(_run_figures(outcome, design, name) for name in design.drawing.runs),
    )
    yield Points(tuple(f"{name}: {_run_fittings(outcome, design, name)}" for name in design.drawing.runs))
    joined = [_junction_words(junction) for junction in design.drawing.junctions.values()]
    if joined:
        yield Points(tuple(joined))


def _junction_words(junction: DrawnJunction) -> str:
    if junction.tee is None:
        return f"Junction {junction.junction}: {' and '.join(junction.ports)} in line."
    first, second, branch = junction.ports
    through = f"straight through {first} and {second}"
    return f"Junction {junction.junction}: {junction.tee}, {through}, branch {branch}."


def _run_figures(outcome: Outcome, design: Design, name: str) -> tuple[str, ...]:
    run, drawn, facts = outcome.site.runs[name], design.drawing.runs[name], design.verdict.runs[name]
    return (
        name,
        f"{run.start} - {run.finish}",
        str(run.kind),
        drawn.pipe,
        tenth_mm(facts.bore_m),
        whole_mm(facts.length_m),
        flow(facts.flow_m3_s),
        fixed(facts.velocity_m_s, 2),
        tenth_mm(facts.loss_m),
    )


def _run_fittings(outcome: Outcome, design: Design, name: str) -> str:
    drawn, facts = design.drawing.runs[name], design.verdict.runs[name]
    pumped = outcome.site.runs[name].kind is RunKind.PRESSURE and drawn.start.at in design.drawing.pumps
    start = f"the pump in {drawn.start.at}" if pumped else drawn.start.at
    said = [
        f"starts at {end_words(drawn.start, start)}",
        "turns: " + (", ".join(tally(map(turn_words, drawn.turns))) or "none"),
    ]
    if drawn.valve is not None:
        said.append(f"valve: {', '.join([drawn.valve, *tally(drawn.valve_chain)])}")
        if facts.flow_m3_s > 0:
            said.append(f"set the valve so that 10 L run in {fixed(bucket_seconds(facts.flow_m3_s), 0)} s")
    if drawn.extras:
        said.append(f"joints: {', '.join(tally(drawn.extras))}")
    return "; ".join([*said, f"ends at {end_words(drawn.finish, drawn.finish.at)}"]) + "."


def levels(outcome: Outcome, design: Design) -> Iterator[Block]:
    """Each vessel's heights, above the datum and above its own floor."""
    yield Heading("Water levels")
    yield Para("Millimetres above the site's datum; in brackets above the vessel's own floor inside.")
    rows = []
    for level in design.drawing.levels.values():
        vessel = outcome.site.vessels[level.vessel]
        heights = (vessel.floor_m, level.design_m, level.overload_m, vessel.rim_m)
        rows.append(
            (level.vessel, *(f"{tenth_mm(at)} ({tenth_mm(at - vessel.floor_m)})" for at in heights)),
        )
    titles = ("floor", "water", "at overload", "rim")
    yield Grid((Column("vessel", 20), *(numbers(title, 18) for title in titles)), tuple(rows))


def holes(outcome: Outcome, design: Design) -> Iterator[Block]:
    """Each hole to drill, then what is set to a height without one."""
    yield Heading("Holes to drill")
    rows, heights = [], []
    for drawn in design.drawing.runs.values():
        for end in (drawn.start, drawn.finish):
            vessel = outcome.site.vessels.get(end.at)
            if vessel is None:
                continue
            if end.penetration is not None and end.centre_m is not None:
                hole = outcome.catalog.penetrations[end.penetration].hole_m
                centre = "in the floor" if end.in_floor else tenth_mm(end.centre_m - vessel.floor_m)
                rows.append((end.at, centre, fixed(mm(hole), 1), end.penetration, drawn.run))
            if end.standpipe_top_m is not None:
                top = tenth_mm(end.standpipe_top_m - vessel.floor_m)
                heights.append(
                    f"{end.at}: cut the standpipe of {drawn.run} so that its top is {top} mm above the floor."
                )
            if end.inner_chain and end.penetration is not None:
                inside = ", ".join(tally(end.inner_chain))
                heights.append(f"{end.at}: inside the wall part {end.penetration} of {drawn.run}: {inside}.")
    if rows:
        yield Para("Hole centres above the vessel's own floor inside. Drill round and clean off all swarf.")
        yield Grid(
            (
                Column("vessel", 22),
                numbers("centre mm", 12),
                numbers("hole mm", 8),
                Column("part", 26),
                Column("run", 24),
            ),
            tuple(rows),
        )
    else:
        yield Para("None.")
    heights += [
        f"{drawn.start.at}: {drawn.run} lifts from the middle of the floor: a level piece to a turn, a riser "
        f"cut so that the branch of {drawn.extras[0]} meets the hole, and an open piece above the tee."
        for drawn in design.drawing.runs.values()
        if outcome.site.runs[drawn.run].draw is Draw.SOLIDS_LIFTING and drawn.extras
    ]
    if heights:
        yield Points(tuple(heights))


def assumptions(outcome: Outcome) -> Iterator[Block]:
    """Every value the builder did not give, with its mark."""
    if not outcome.site.assumptions:
        return
    yield Heading("Assumed, because the problem does not say")
    yield Points(
        tuple(
            f"{assumed.place} = {assumed.text}: {assumed.why} ({assumed.mark})."
            for assumed in outcome.site.assumptions
        )
    )


def cautions() -> Iterator[Block]:
    """The cautions."""
    yield Heading("Cautions")
    yield Points(CAUTIONS)


def _named(outcome: Outcome, part: str) -> str:
    return f"{part}: {outcome.catalog.part(part).description}"
