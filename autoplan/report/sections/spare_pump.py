"""What to have in the drawer for the day on which a pump fails: told with what is bought, and not bought."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.catalog.naming import name_of, row_of
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
        yield from (_text(outcome, design, vessel, half) for half in halves[:MOST])


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
