"""Beds to come later: what is ready for them, and what adding one will take."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.catalog.parts import Pipe
from autoplan.line.later import LaterLine, later_lines
from autoplan.outcome import Design, Outcome
from autoplan.report.blocks import Block, Grid, GridColumn, Heading, Para, numbers
from autoplan.report.figures import money
from autoplan.report.units import Units, fixed


def spare_beds(outcome: Outcome) -> list[str]:
    """Names of the beds to come later."""
    return [name for name, vessel in outcome.site.vessels.items() if vessel.spare]


def next_bed(outcome: Outcome, design: Design) -> tuple[LaterLine, ...]:
    """What the first of them will take."""
    (first, *_) = spare_beds(outcome)
    runs = [run for run in outcome.site.runs.values() if first in (run.start, run.finish)]
    return later_lines(outcome.site, outcome.catalog, [design.drawing.runs[run.name] for run in runs])


def growth(outcome: Outcome, design: Design, units: Units) -> Iterator[Block]:
    """The next bed's parts and their price."""
    names = spare_beds(outcome)
    if not names:
        return
    lines, currency = next_bed(outcome, design), design.verdict.cost.currency
    total = money(sum(line.cents for line in lines) / 100, currency)
    yield Heading("Growth")
    yield Para(
        f"Pump, trunk, sump and levels are sized for {', '.join(names)} as well: every flow, loss and level "
        "in this plan is that of the whole; under First run stands what there is now. Of what is to come, "
        "capped tees are built now."
    )
    yield Para(
        f"To add {names[0]}: stop the pump, cut its stub off at the cap, join the feed to it by a coupling, "
        "drill the bed's floor and the wall that its drain ends at, and set the valves anew. Beside the bed "
        f"and its media that takes about {total}, each part at its cheapest, without freight and cement:"
    )
    yield Grid(
        (
            GridColumn("part", 64),
            numbers("used", 12),
            numbers("buy", 6),
            numbers(f"cost {currency}", 9),
        ),
        tuple(_row(outcome, line, units) for line in lines),
    )


def _row(outcome: Outcome, line: LaterLine, units: Units) -> tuple[str, ...]:
    part = outcome.catalog.part(line.part)
    used = units.way.said(line.quantity) if isinstance(part, Pipe) else fixed(line.quantity, 0)
    return (part.description, used, str(line.packs), fixed(line.cents / 100, 2))
