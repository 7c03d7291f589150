"""The ranked table: one row per design, what a builder compares first."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator

from autoplan.catalog.naming import names_of, tally
from autoplan.fittings.ends import AtVessel
from autoplan.outcome import Design, Outcome, Status
from autoplan.problem.site import RunKind
from autoplan.report.blocks import Block, Grid, GridColumn, Heading, Para, Points, grid_of, numbers
from autoplan.report.figures import money, pipe_size
from autoplan.report.sections.gets import in_words, is_what
from autoplan.report.sections.margin import by_margin, sure_of_margin
from autoplan.report.sections.wishes import HALF_A_CENT
from autoplan.report.units import Units, fixed


def ranked(outcome: Outcome, units: Units) -> Iterator[Block]:
    """The answer in words, the table, and what sets each further design apart from rank 1."""
    yield Heading(f"{outcome.site.name}: {count_words(outcome)}")
    yield Para(" ".join((*answer(outcome), *with_overflow(outcome))))
    if outcome.clash is not None and outcome.clash.sentences:
        yield Points(tuple(map(units.told, outcome.clash.sentences)))
    if outcome.designs:
        yield _table(outcome, units)
        yield Para(
            "Cost is the whole order with freight"
            + (f", and {years_words(outcome)} of power." if outcome.rank_by == "ownership" else ".")
            + " Main: pipe from the pump. Spare head: what the pump has over its need and margin."
            " Spare fall: what the tightest drain has over its need and reserve."
        )
        yield from by_margin(outcome, units)
        yield from _differences(outcome, units)
    if outcome.notes:
        yield Points(tuple(map(units.told, outcome.notes)))


def answer(outcome: Outcome) -> list[str]:
    """What was found and how sure it is, in sentences."""
    stopped = ["The search was interrupted before its end."] if outcome.solver.interrupted else []
    if outcome.status is Status.NONE:
        return ["No design keeps every rule with these parts; this is proven.", *stopped]
    if outcome.status is Status.UNDECIDED:
        return [
            "Undecided: no design was found in the time given, and it is not proven that there is none.",
            "Give it longer with --time-limit.",
            *stopped,
        ]
    back = outcome.solver.rejected
    sent = [f"Checking refused {back} other answer{'s' * (back > 1)}; the search went on."] if back else []
    first = outcome.designs[0]
    which = [f"Rank 1 is: {first.variant}."] if first.variant else []
    alone = [f"Ranks differ in {' and '.join(outcome.differ)} alone."] if outcome.differ else []
    return [_sure(first, outcome), *which, *alone, *sent, *stopped]


def _sure(design: Design, outcome: Outcome) -> str:
    by = f", counted over {years_words(outcome)}" if outcome.rank_by == "ownership" else ""
    if design.kept_mm is not None:
        return sure_of_margin(outcome, design)
    if design.proven:
        return f"Rank {design.rank} is proven cheapest{by}: nothing else that keeps the rules costs less."
    if not math.isfinite(design.bound) or design.bound <= 0.0:
        return f"Rank {design.rank} keeps the rules; nothing is proven yet about how cheap a design can be."
    least = money(design.bound, design.verdict.cost.currency)
    which = "no design without an emergency overflow" if outcome.unweighed else "no design"
    return (
        f"Rank {design.rank} keeps the rules but is not proven cheapest{by}: "
        f"what is proven is that {which} costs less than {least}."
    )


def with_overflow(outcome: Outcome) -> list[str]:
    """What a design with an emergency overflow could cost, where none of them was looked at."""
    spared = next((wish.dearer for wish in outcome.wishes if wish.by_overflow), None)
    if not outcome.unweighed or spared is None or not all(one.proven for one in outcome.designs[:1]):
        return []
    if spared < HALF_A_CENT:
        return ["Nothing with an emergency overflow costs less either."]
    least = money(spared, outcome.catalog.currency)
    return [
        f"Designs with an emergency overflow were not weighed: none is more than {least} cheaper, and "
        'overflow = "any" weighs them too.'
    ]


def _differences(outcome: Outcome, units: Units) -> Iterator[Block]:
    """A line for each rank."""
    items = [said for design in outcome.designs if (said := rank_words(outcome, design, units))]
    if items:
        yield Points(tuple(items))


def rank_words(outcome: Outcome, design: Design, units: Units) -> str:
    """What rank 1 has, "" where nothing was to differ; of a further rank what sets it apart, and for what."""
    if design is outcome.designs[0]:
        return f"Rank 1 has: {is_what(design)}." if design.traits else ""
    what = "; ".join(design.differs) or "small parts only"
    proof = "" if design.proven else " Not proven cheapest of those left."
    got = in_words(outcome, design, units)
    return f"Rank {design.rank} differs from rank 1: {what}. {got}{proof}"


def _table(outcome: Outcome, units: Units) -> Grid:
    """A row for each rank; widths add up, with the gaps, to the width of plain text."""

    def cost(one: Design) -> str:
        return money(ranking_cost(outcome.about(one), one), one.verdict.cost.currency)

    def pumps(one: Design) -> list[str]:
        return names_of(outcome.catalog, (pump.part for pump in one.drawing.pumps.values()))

    def sizes(one: Design, runs: Callable[[Outcome], list[str]]) -> list[str]:
        about = outcome.about(one)
        return _sizes(about, one, runs(about))

    return grid_of(
        outcome.designs,
        (numbers("rank", 4), lambda one: str(one.rank)),
        (numbers("cost", 12), cost),
        (GridColumn("pump", 14), lambda one: ", ".join(pumps(one)) or "none"),
        (GridColumn("main", 9), lambda one: ", ".join(sizes(one, main_runs)) or "none"),
        (GridColumn("drains", 10), lambda one: ", ".join(sizes(one, drain_runs)) or "none"),
        (GridColumn("through walls", 16), lambda one: ", ".join(penetration_tally(one)) or "none"),
        (numbers("spare head", 10), lambda one: _spare(one, "pump-duty", units)),
        (numbers("spare fall", 11), lambda one: _spare(one, "drain-fall", units)),
    )


def ranking_cost(outcome: Outcome, design: Design) -> float:
    """What the designs are ranked by, in the catalogue's currency."""
    cost = design.verdict.cost
    return cost.ownership if outcome.rank_by == "ownership" else cost.to_pay


def main_runs(outcome: Outcome) -> list[str]:
    """The pressure runs that leave a pumped vessel."""
    pumped = outcome.site.pumped_vessels()
    return [
        run.name for run in outcome.site.runs.values() if run.kind is RunKind.PRESSURE and run.start in pumped
    ]


def drain_runs(outcome: Outcome) -> list[str]:
    """The gravity runs."""
    return [run.name for run in outcome.site.runs.values() if run.kind is RunKind.GRAVITY]


def _sizes(outcome: Outcome, design: Design, runs: Iterable[str]) -> list[str]:
    sizes = (pipe_size(outcome.catalog.pipes[design.drawing.runs[run].pipe]) for run in runs)
    return list(dict.fromkeys(sizes))


def penetration_tally(design: Design) -> list[str]:
    """Each way through a wall or over a rim with its count."""
    built = (run for run in design.drawing.runs.values() if not run.later)
    return tally(str(end.way) for run in built for end in run.ends if isinstance(end, AtVessel))


def _spare(design: Design, rule: str, units: Units) -> str:
    """The smallest margin of a rule with its unit, or a dash where nothing was judged by it."""
    margins = [(found.margin, found.unit) for found in design.verdict.findings if found.rule == rule]
    if not margins:
        return "-"
    margin, unit = min(margins)
    return f"{units.measure_down(margin, unit)} {units.word(unit, design.verdict.cost.currency)}"


def years_words(outcome: Outcome) -> str:
    """The years that power is counted over, with the word."""
    years = outcome.site.wishes.ownership_years
    return f"{fixed(years, 0 if years == int(years) else 1)} year{'' if years == 1 else 's'}"


def count_words(outcome: Outcome) -> str:
    """How many designs there are, and in which order."""
    if outcome.status is Status.UNDECIDED:
        return "undecided"
    first = "most margin first" if outcome.rank_by == "margin" else "cheapest first"
    count = len(outcome.designs)
    return {0: "no design", 1: "one design"}.get(count, f"{count} designs, {first}")
