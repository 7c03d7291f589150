"""The timed beds: how their clocks are set, what they get, how soon they fill and run empty."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.bed_facts import TimerFacts
from autoplan.catalog.naming import name_of
from autoplan.line.row import Line
from autoplan.outcome import Design, Outcome
from autoplan.report.alike import gathered
from autoplan.report.blocks import Block, GridColumn, Heading, Para, Points, grid_of, numbers
from autoplan.report.sections.drilling import drill_words
from autoplan.report.sections.siphons import tall
from autoplan.report.units import Units, fixed


def timers(outcome: Outcome, design: Design, units: Units) -> Iterator[Block]:
    """A row of figures for each timed bed, then how it is set and made; nothing without timers."""
    found = design.verdict.timers
    if not found:
        return
    yield Heading("Timed beds")
    yield Para(
        "A clock opens the valve on a bed's feed: the bed fills to its standpipe's lip, which sets the depth "
        "and takes what comes after. Shut, the bed runs empty by a hole drilled in the standpipe near the "
        "floor, which leaks while it fills too. All of them may be open at once: pump, sump and drains are "
        "sized for that. Each valve needs a hand-set stop for its opening, by which it is set to its flow. "
        "Set each flow with every clock held open and the beds near empty, then set the clocks; opening the "
        "beds one after the other moves the sump less. The valves shut when the power fails."
    )
    yield grid_of(
        found.values(),
        (GridColumn("bed", 10), lambda facts: facts.bed),
        (numbers("open min", 8), lambda facts: _minutes(facts.on_s)),
        (numbers("of every min", 12), lambda facts: _minutes(facts.cycle_s)),
        (numbers(units.flow.title("inflow"), 8), lambda facts: units.flow.text(facts.inflow_m3_s)),
        (numbers(units.flow.title("leaks"), 8), lambda facts: units.flow.text(facts.leak_m3_s)),
        (numbers("fills min", 9), lambda facts: fixed(facts.filling_s / 60, 1)),
        (numbers("empties min", 11), lambda facts: fixed(facts.emptying_s / 60, 1)),
        (numbers("power W", 7), lambda facts: fixed(facts.watts, 1)),
    )
    yield Points(tuple(gathered(_told(outcome, design, facts, units) for facts in found.values())))


def _told(outcome: Outcome, design: Design, facts: TimerFacts, units: Units) -> tuple[tuple[str], str]:
    """A bed, and its clock, hole and parts."""
    catalog = outcome.catalog
    valve = "timed valve" + ("" if facts.valve is None else f" ({name_of(catalog, facts.valve)})")
    said = (
        f"{valve} with a hand-set stop for its opening, open {_minutes(facts.on_s)} min of every "
        f"{_minutes(facts.cycle_s)}, fills in {fixed(facts.filling_s / 60, 1)}, empties in "
        f"{fixed(facts.emptying_s / 60, 1)}"
    )
    later, made = drilled(outcome, design, facts.bed, "drain hole", units)
    return (f"{facts.bed}{later}",), f"{'; '.join((said, *made))}."


def drilled(
    outcome: Outcome, design: Design, bed: str, what: str, units: Units
) -> tuple[str, tuple[str, ...]]:
    """Whether a bed comes later, and its standpipe, the hole in it and its guard in words."""
    (drawn,) = [run for run in design.drawing.runs.values() if _drains(run, bed)]
    end, catalog = drawn.floor, outcome.catalog
    assert end is not None
    hole = end.drain_hole
    assert hole is not None
    assert end.standpipe_top_m is not None
    lip = units.height.said(end.standpipe_top_m - outcome.site.vessels[bed].floor_m)
    return " (to come later)" if drawn.later else "", (
        f"standpipe of {name_of(catalog, end.standpipe or drawn.pipe)}, its lip {lip} above the floor",
        f"{what} {drill_words(hole.hole_m, units)}, its centre {units.height.said(hole.height_m)} "
        "above the floor",
        f"guard{tall(design, bed, 'guard', units)} round it ({name_of(catalog, hole.guard)})"
        if hole.guard is not None
        else "not on the price list and not counted: a media guard round it",
    )


def _drains(run: Line, bed: str) -> bool:
    return run.start.at == bed and run.floor is not None and run.floor.drain_hole is not None


def _minutes(seconds: float) -> str:
    """Minutes, with a decimal only where there is one."""
    return fixed(seconds / 60, 1).removesuffix(".0")
