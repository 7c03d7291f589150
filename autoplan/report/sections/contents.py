"""The parts of a printed plan, each by the name that asks for it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from autoplan.outcome import Design, Outcome
from autoplan.report.blocks import Block, Para, Points
from autoplan.report.sections.air import air
from autoplan.report.sections.build import assumptions, cautions, costs, levels, pumps, runs
from autoplan.report.sections.build_order import order_of_work
from autoplan.report.sections.cutting import cuts
from autoplan.report.sections.drilling import holes
from autoplan.report.sections.filling import filling
from autoplan.report.sections.first_run import first_run
from autoplan.report.sections.growth import growth
from autoplan.report.sections.joints import joints
from autoplan.report.sections.judged import faults, hours, not_judged, rules, warnings
from autoplan.report.sections.levels_picture import heights
from autoplan.report.sections.order import purchase
from autoplan.report.sections.siphons import siphons
from autoplan.report.sections.site_cautions import life
from autoplan.report.sections.spare_pump import spare_pump
from autoplan.report.sections.table import ranked
from autoplan.report.sections.timers import timers
from autoplan.report.sections.upkeep import upkeep
from autoplan.report.sections.weeps import weeps
from autoplan.report.units import Units, whole_marks

ALL = "all"

Section = Callable[[Outcome, Design, Units], Iterator[Block]]


def _levels(outcome: Outcome, design: Design, units: Units) -> Iterator[Block]:
    yield from levels(outcome, design, units)
    yield from heights(outcome, design, units)


def _pump(outcome: Outcome, design: Design, units: Units) -> Iterator[Block]:
    yield from pumps(outcome, design, units)
    yield from air(outcome, design, units)


def _buy(outcome: Outcome, design: Design, units: Units) -> Iterator[Block]:
    yield from purchase(outcome, design, units)
    yield from spare_pump(outcome, design)


def _siphons(outcome: Outcome, design: Design, units: Units) -> Iterator[Block]:
    yield from siphons(outcome, design, units)
    yield from timers(outcome, design, units)
    yield from weeps(outcome, design, units)


def _rules(_: Outcome, design: Design, units: Units) -> Iterator[Block]:
    yield from rules(design.verdict.findings, design.verdict.cost.currency, units)
    yield from warnings(design, units)
    yield from not_judged(design, units)


SECTIONS: dict[str, Section] = {
    "cost": lambda outcome, design, _: costs(outcome, design),
    "pump": _pump,
    "runs": runs,
    "levels": _levels,
    "holes": holes,
    "siphons": _siphons,
    "buy": _buy,
    "cut": cuts,
    "joints": lambda _, design, __: joints(design),
    "order": order_of_work,
    "fill": filling,
    "first-run": first_run,
    "spare": growth,
    "rules": _rules,
    "hours": hours,
    "faults": lambda _, design, units: faults(design.verdict.faults, units),
    "assumed": lambda outcome, _, units: assumptions(outcome, units),
    "upkeep": lambda outcome, design, _: upkeep(outcome, design),
    "cautions": cautions,
}
"""What there is to show of one design, in the order in which it is shown."""

NAMES = ("ranks", *SECTIONS, ALL)
"""Everything that may be asked for."""


def sections(outcome: Outcome, units: Units, asked: Sequence[str], rank: int = 1) -> Iterator[Block]:
    """Some parts of the answer.

    Args:
        outcome: with or without designs.
        units: in which figures are put; heights as a tape is marked.
        asked: names out of `NAMES`, in any order.
        rank: of the design that they are about.
    """
    names = set(NAMES if ALL in asked else asked)
    units = whole_marks(units)
    if "ranks" in names or not outcome.designs:
        yield from ranked(outcome, units)
    if not outcome.designs:
        yield from assumptions(outcome, units)
        return
    if rank > len(outcome.designs):
        yield Para(no_such_rank(outcome, rank))
        return
    design = outcome.designs[rank - 1]
    if len(outcome.designs) > 1 and "cost" not in names:
        yield Para(f"Of rank {rank}:")
    for name, section in SECTIONS.items():
        if name in names:
            yield from section(outcome.about(design), design, units)
    if "cautions" not in names:
        yield Points(life(outcome.about(design), design, units))


def no_such_rank(outcome: Outcome, rank: int) -> str:
    """That fewer designs were found than that."""
    count = len(outcome.designs)
    return f"There is no rank {rank}: {'one design was' if count == 1 else f'{count} designs were'} found."
