"""The beds with a weep hole: what they get, how soon they fill, and run empty when the pump stops."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.bed_facts import WeepFacts
from autoplan.outcome import Design, Outcome
from autoplan.report.alike import gathered
from autoplan.report.blocks import Block, GridColumn, Heading, Para, Points, grid_of, numbers
from autoplan.report.sections.timers import drilled
from autoplan.report.units import Units, fixed


def weeps(outcome: Outcome, design: Design, units: Units) -> Iterator[Block]:
    """A row of figures for each such bed, then how it is made; nothing without them."""
    found = design.verdict.weeps
    if not found:
        return
    yield Heading("Beds with a weep hole")
    yield Para(
        "The feed never stops: the bed fills to its standpipe's lip, which sets the depth and takes what "
        "comes after, and stands there while the pump runs. A hole drilled in the standpipe near the floor "
        "leaks all the while, so the feed brings so much more; when the pump stops, the bed runs empty by "
        "it. Pump off, see that it does: a clogged hole leaves the bed full."
    )
    yield grid_of(
        found.values(),
        (GridColumn("bed", 10), lambda facts: facts.bed),
        (numbers(units.flow.title("inflow"), 8), lambda facts: units.flow.text(facts.inflow_m3_s)),
        (numbers(units.flow.title("leaks"), 8), lambda facts: units.flow.text(facts.leak_m3_s)),
        (numbers("fills min", 9), lambda facts: fixed(facts.filling_s / 60, 1)),
        (numbers("empties min", 11), lambda facts: fixed(facts.emptying_s / 60, 1)),
    )
    yield Points(tuple(gathered(_told(outcome, design, facts, units) for facts in found.values())))


def _told(outcome: Outcome, design: Design, facts: WeepFacts, units: Units) -> tuple[tuple[str], str]:
    """A bed, and its hole and parts."""
    later, made = drilled(outcome, design, facts.bed, "weep hole", units)
    said = (
        f"fills in {fixed(facts.filling_s / 60, 1)} min with the pump on, empties in "
        f"{fixed(facts.emptying_s / 60, 1)} with it off"
    )
    return (f"{facts.bed}{later}",), f"{'; '.join((said, *made))}."
