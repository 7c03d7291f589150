"""What the rules say of a design, and what happens when something goes wrong."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.outcome import Design, Finding
from autoplan.report.blocks import Block, Column, Grid, Heading, Para, Points, numbers
from autoplan.report.figures import fixed, measure, tenth_mm, with_unit


def rules(design: Design) -> Iterator[Block]:
    """Each rule once, at the place where its margin is smallest."""
    grouped = by_rule(design.verdict.findings)
    if not grouped:
        return
    yield Heading("Rules")
    yield Para("Each rule at the place where its margin is smallest.")
    yield Grid(
        (
            Column("rule", 42),
            Column("tightest at", 20),
            numbers("value", 9),
            numbers("limit", 9),
            numbers("margin", 12),
        ),
        tuple(_rule(found, design.verdict.cost.currency) for found in grouped.values()),
    )


def by_rule(findings: tuple[Finding, ...]) -> dict[str, list[Finding]]:
    """Findings by rule in the order they came, the tightest place of each rule first."""
    grouped: dict[str, list[Finding]] = {}
    for found in findings:
        grouped.setdefault(found.rule, []).append(found)
    return {rule: sorted(places, key=lambda found: found.margin) for rule, places in grouped.items()}


def _rule(places: list[Finding], currency: str) -> tuple[str, ...]:
    worst = places[0]
    where = worst.place if len(places) == 1 else f"{worst.place} (of {len(places)} places)"
    state = "" if worst.ok else " NOT HELD"
    return (
        f"{worst.rule}: {worst.sentence} ({worst.source}){state}",
        where,
        measure(worst.value, worst.unit),
        measure(worst.limit, worst.unit),
        with_unit(worst.margin, worst.unit, currency),
    )


def warnings(design: Design) -> Iterator[Block]:
    """Every place where a rule is not held: soft rules warn, a hard one would have refused the design."""
    currency = design.verdict.cost.currency
    items = tuple(
        f"{found.place}: {found.sentence} Here it is {with_unit(found.value, found.unit, currency)} "
        f"against {with_unit(found.limit, found.unit, currency)}."
        for found in design.verdict.findings
        if not found.ok
    )
    if items:
        yield Heading("Warnings")
        yield Points(items)


def faults(design: Design) -> Iterator[Block]:
    """Each thing going wrong and what comes of it."""
    if not design.verdict.faults:
        return
    yield Heading("When something goes wrong")
    yield Grid(
        (
            Column("what", 40),
            numbers("spilled L", 9),
            numbers("margin mm", 10),
            numbers("minutes", 8),
            Column("saved by", 25),
        ),
        tuple(
            (
                fault.name,
                fixed(fault.spilled_l, 0),
                tenth_mm(fault.margin_m),
                "-" if fault.minutes is None else fixed(fault.minutes, 0),
                fault.saved_by or "-",
            )
            for fault in design.verdict.faults
        ),
    )
