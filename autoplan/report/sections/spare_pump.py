"""What to have in the drawer for the day on which a pump fails: bought where wished for, else told."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice

from autoplan.catalog.naming import name_of, row_of
from autoplan.drawing import DrawnSpare
from autoplan.line.spare_half import SpareHalf, spare_halves
from autoplan.outcome import Design, Outcome
from autoplan.problem.site import RunKind
from autoplan.report.blocks import Block, Heading, Points
from autoplan.report.figures import money

MOST = 3
"""Outlets that are told of for a vessel: the cheapest pumps have them."""


def spare_pump(outcome: Outcome, design: Design) -> Iterator[Block]:
    """For each pump what joins a spare one with another outlet."""
    items = spare_pump_texts(outcome, design)
    if items:
        yield Heading("For a spare pump")
        yield Points(items)


def spare_pump_texts(outcome: Outcome, design: Design) -> tuple[str, ...]:
    """A text for each other outlet."""
    return tuple(_texts(outcome, design))


def _texts(outcome: Outcome, design: Design) -> Iterator[str]:
    for vessel, facts in design.verdict.pumps.items():
        mains = (
            design.drawing.runs[run.name]
            for run in outcome.site.runs.values()
            if run.start == vessel and run.kind is RunKind.PRESSURE
        )
        line = next(mains, None)
        if line is None or line.pipe not in outcome.catalog.pipes:
            continue
        halves = spare_halves(
            outcome.site, outcome.catalog, facts.part, line, facts.duty_flow_m3_s, facts.required_head_m
        )
        ready = design.drawing.spares.get(vessel)
        if ready is not None:
            outlets = {outcome.catalog.pumps[half.pump].outlet: half.pump for half in halves}
            yield _ready_text(outcome, vessel, ready, outlets.get(ready.outlet))
        others = (h for h in halves if ready is None or outcome.catalog.pumps[h.pump].outlet != ready.outlet)
        yield from (_text(outcome, design, vessel, half) for half in islice(others, MOST))


def _ready_text(outcome: Outcome, vessel: str, ready: DrawnSpare, pump: str | None) -> str:
    """What lies ready for one outlet, as far as it is not owned in the order."""
    like = "" if pump is None else f", as {name_of(outcome.catalog, pump)}"
    return (
        f"In {vessel}, one with the outlet {ready.outlet}{like}: {row_of(outcome.catalog, ready.chain)}; in "
        "the order, as far as you do not have it. Put it together and lay it by."
    )


def _text(outcome: Outcome, design: Design, vessel: str, half: SpareHalf) -> str:
    """What one takes, and what of it is at hand."""
    catalog, owned = outcome.catalog, outcome.site.owned
    outlet = catalog.pumps[half.pump].outlet
    lacking = [part for part in half.parts if not owned.get(part)]
    have = (
        "which you have" if not lacking else f"{money(half.cents / 100, design.verdict.cost.currency)} more"
    )
    return (
        f"In {vessel}, one with the outlet {outlet}, as {name_of(catalog, half.pump)}: "
        f"{row_of(catalog, half.parts)}, {have}; not in the order."
    )
