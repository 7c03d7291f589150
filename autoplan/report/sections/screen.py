"""The first screen: what a design is and costs, and what to look at first, in a few lines."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterable, Iterator, Sequence
from itertools import islice
from typing import NamedTuple

from autoplan.outcome import FAULT_HOURS, Design, Fault, Finding, Outcome
from autoplan.places import AtEnd, InVessel
from autoplan.problem.brief import Assumption, PrintUnits
from autoplan.report.blocks import clean
from autoplan.report.figures import money
from autoplan.report.place_words import place_words
from autoplan.report.sections.gets import in_short
from autoplan.report.sections.judged import ends_badly, warning_texts
from autoplan.report.sections.levels_picture import Marks, Profile, levels_picture
from autoplan.report.sections.site_cautions import life
from autoplan.report.sections.table import answer, count_words, ranking_cost, years_words
from autoplan.report.sections.wishes import wish_words
from autoplan.report.units import MEASURES, Units, fixed, read_as

GUTTER = 8
"""Characters before each text, which hold its label."""

ROOMY, MOST_LINES, MOST_NARROW_LINES = 100, 30, 40
"""From this width on [characters] a screen is this many lines, below it the other many."""

LEAST_PICTURE, FAIR_PICTURE, MOST_PICTURE = 6, 7, 10
"""Lines of the picture of levels: at least, from where on nothing is left out for it, at most."""

MOST_PUMPS = 2


class Shown(NamedTuple):
    """How many of each are shown at most; of rules that cannot judge all only their number where more are."""

    ranks: int
    warnings: int
    guesses: int
    faults: int = 3
    wishes: int = 2
    silent: int = 0


FULL = Shown(5, 2, 2, wishes=9, silent=9)
SHORT = (
    *(Shown(5, 2, 1), Shown(5, 1, 1), Shown(4, 1, 1), Shown(3, 1, 1)),
    *(Shown(3, 1, 1, 2, 1), Shown(2, 1, 0, 2, 1), Shown(2, 1, 0, 1, 1)),
)
"""How many are shown, and how many where there is no room for so many."""

CLOSE = 0.05
"""How near to its limit, as a share of it, a figure is told with what was assumed for it [-]."""

Entry = tuple[str, tuple[str, ...]]
"""A label, and texts that each begin a line."""


def first_screen(
    outcome: Outcome, units: Units, marks: Marks, width: int = 100, rank: int = 1, again: str = ""
) -> tuple[str, ...]:
    """The lines: at most 30 of 100 characters or 40 of 80, but for long reasons why there is no design.

    Args:
        outcome: with or without designs.
        units: in which figures are put.
        marks: what the picture is drawn with.
        width: characters in a line, 40 or more.
        rank: of the design that cost, pump, levels, faults and what is assumed are told of.
        again: options that were given, without which it would be another answer.
    """
    if not outcome.designs:
        return tuple(_folded(_of_none(outcome, units), width))
    design = outcome.designs[min(rank, len(outcome.designs)) - 1]
    room = MOST_LINES if width >= ROOMY else MOST_NARROW_LINES
    for shown in (FULL, *SHORT):
        before, after = _of_design(outcome, design, units, width, shown)
        after.append(("More", (_more(outcome, again),)))
        lines = [*_folded(before, width)], [*_folded(after, width)]
        left = room - len(lines[0]) - len(lines[1]) - 1
        if left >= FAIR_PICTURE:
            break
    height = max(LEAST_PICTURE, min(MOST_PICTURE, left))
    return (*lines[0], *_picture(outcome, design, units, marks, width, height), *lines[1])


def _folded(entries: Iterable[Entry], width: int) -> Iterator[str]:
    """The lines of entries, each label before the first of its own."""
    for label, texts in entries:
        for text in texts:
            for line in textwrap.wrap(clean(text), width - GUTTER, break_on_hyphens=False):
                yield label.ljust(GUTTER) + line
                label = ""


def _of_none(outcome: Outcome, units: Units) -> Iterator[Entry]:
    """Why there is no design, and what would help."""
    yield "Answer", (f"{outcome.site.name}: {' '.join(answer(outcome))}",)
    if outcome.clash is not None and outcome.clash.sentences:
        yield "Why", tuple(map(units.told, outcome.clash.sentences))
    if outcome.notes:
        yield "Help", tuple(map(units.told, outcome.notes))
    yield "More", ("--show assumed: what was assumed because the problem does not say.",)


def _of_design(
    outcome: Outcome, design: Design, units: Units, width: int, shown: Shown
) -> tuple[list[Entry], list[Entry]]:
    """A design, what other ranks give for the difference, what to look at: before the picture and after."""
    which = "" if design.rank == 1 else f" Rank {design.rank}:"
    before = [
        ("Answer", (f"{outcome.site.name}: {_answer(outcome)}{which}",)),
        ("Cost", (_cost(outcome, design),)),
        ("Wishes", _wishes(outcome, design, shown.wishes)),
        ("Pump", tuple(_pumps(outcome, design, units))[:MOST_PUMPS]),
    ]
    after = [
        ("Ranks", tuple(_ranks(outcome, units, width, shown.ranks))),
        ("Faults", tuple(_faults(design, units, shown.faults))),
        ("Also", (*map(units.told, outcome.notes), *_not_judged(design, shown.silent))),
        ("Warning", tuple(_warnings(design, units, shown.warnings))),
        ("Assumed", tuple(islice(_guesses(outcome, design, units), shown.guesses))),
        ("Danger", life(outcome.about(design), design, units)),
    ]
    return before, after


def _answer(outcome: Outcome) -> str:
    """How many designs and how sure they are, in short where all is proven and as usual."""
    said, first = answer(outcome), outcome.designs[0]
    if first.proven and first.kept_mm is None:
        said[0] = "Rank 1 is proven cheapest."
    return f"{count_words(outcome)}. {' '.join(said)}"


def _cost(outcome: Outcome, design: Design) -> str:
    cost = design.verdict.cost
    freight = f", freight {fixed(cost.freight, 2)} of it" if cost.freight else ""
    a_year, owned = fixed(cost.running_per_year, 2), fixed(cost.ownership, 2)
    buy = f"{money(cost.to_pay, cost.currency)} to buy{freight}"
    return f"{buy}; power {a_year} a year; {owned} over {years_words(outcome)}."


def _wishes(outcome: Outcome, design: Design, most: int) -> tuple[str, ...]:
    """What they cost of rank 1, the dearest where there are more."""
    said = wish_words(outcome, most) if design.rank == 1 else ""
    return (said,) if said else ()


def _pumps(outcome: Outcome, design: Design, units: Units) -> Iterator[str]:
    """Each pump, its duty, and what it has to spare."""
    for pump in design.verdict.pumps.values():
        name = outcome.catalog.part(pump.part).description
        how = f", slowed to {fixed(100 * pump.speed, 0)} %" if pump.mode == "slowed" else ""
        spare = units.head.text_down(pump.duty_head_m - pump.required_head_m)
        yield (
            f"{name}, in {pump.vessel}{how}: {units.flow.said(pump.duty_flow_m3_s)} lifted "
            f"{units.head.said(pump.required_head_m)}, {spare} {units.head.unit} to spare."
        )


def _picture(
    outcome: Outcome, design: Design, units: Units, marks: Marks, width: int, height: int
) -> Iterator[str]:
    """The levels of a design, and how to read them."""
    site = outcome.about(design).site
    stands = [
        Profile(name, site.vessels[name].floor_m, level.design_m, site.vessels[name].rim_m)
        for name, level in design.drawing.levels.items()
    ]
    us = site.print_units is PrintUnits.US
    told = f"{units.piece.unit} over the height that the problem counts from: rim, ~ water ~, floor."
    yield f"{'Levels'.ljust(GUTTER)}{told}"
    yield from levels_picture(stands, units.piece.text, width=width, height=height, us=us, marks=marks)


def _ranks(outcome: Outcome, units: Units, width: int, most: int) -> Iterator[str]:
    """A line for each rank: what it costs and what a person gets for the difference to rank 1."""
    shown = outcome.designs[:most]
    costs = [money(ranking_cost(outcome.about(one), one), one.verdict.cost.currency) for one in shown]
    longest = max(map(len, costs))
    for design, cost in zip(shown, costs, strict=True):
        number = f"{design.rank}  {cost.rjust(longest)}  "
        yield number + in_short(outcome, design, units, width - GUTTER - len(number))
    if len(outcome.designs) > most:
        yield f"{len(outcome.designs) - most} more: --show ranks"


def _warnings(design: Design, units: Units, most: int) -> Iterator[str]:
    """What is against the rules that only warn."""
    found = warning_texts(design, units)
    yield from found[:most]
    if len(found) > most:
        yield f"{len(found) - most} more: --show rules"


def _not_judged(design: Design, most: int) -> Iterator[str]:
    """Which rules cannot judge all of it, or how many."""
    rules = design.verdict.unjudged
    if rules:
        named = ", ".join(rules) if len(rules) <= max(1, most) else f"{len(rules)} rules"
        yield f"Not judged: all of {named}, see --show rules."


def _faults(design: Design, units: Units, most: int) -> Iterator[str]:
    """The worst kinds of fault: litres, minutes and what would save it."""
    bad = [fault for fault in design.verdict.faults if ends_badly(fault)]
    if not bad and design.verdict.faults:
        yield f"Nothing spills and no pump draws air within {fixed(FAULT_HOURS, 0)} hours of any fault."
    by_cure: dict[str, list[Fault]] = {}
    for fault in bad:
        by_cure.setdefault(fault.cure, []).append(fault)
    for alike in islice(by_cure.values(), most):
        yield _fault(alike, units)


def _fault(alike: Sequence[Fault], units: Units) -> str:
    """The worst of some that one thing would save, what it does and what would save it."""
    worst = alike[0]
    others = f" ({len(alike) - 1} like it)" if len(alike) > 1 else ""
    lost = []
    if worst.spilled_l:
        lost.append(f"{units.measure(worst.spilled_l, 'L')} {units.volume.unit} spilled")
    if worst.fish is not None:
        depth = f"{units.piece.text_down(worst.fish.depth_m)} {units.piece.unit}"
        lost.append(f"{depth} left for the fish")
    if not lost and worst.dry_minutes is not None:
        lost.append("the pump draws air")
    when = f" after {fixed(worst.minutes, 0)} min" if worst.minutes else ""
    cure = f" Cure: {worst.cure}." if worst.cure else ""
    return f"{worst.name}{others}: {', '.join(lost)}{when}.{cure}"


def _guesses(outcome: Outcome, design: Design, units: Units) -> Iterator[str]:
    """What was assumed and stands nearest to a limit."""
    told: set[str] = set()
    assumed = [one for one in outcome.about(design).site.assumptions if not one.moot]
    measured = [f for f in design.verdict.findings if f.unit in MEASURES and not f.as_sold]
    for found in sorted(measured, key=_nearness):
        if _nearness(found) > CLOSE:
            return
        for one in assumed:
            if one.place not in told and _bears_on(one, found):
                told.add(one.place)
                spare = f"{units.measure_down(found.margin, found.unit)} {units.word(found.unit, '')}"
                where = place_words(found.place, units)
                yield f"{one.why}, {units.written(one.text)}: {spare} to spare at {where}."


def _nearness(found: Finding) -> float:
    """Margin as a share of the limit [-]."""
    return abs(found.margin / found.limit) if found.limit else float("inf")


def _bears_on(assumed: Assumption, found: Finding) -> bool:
    """Whether an assumption is the limit of a finding, what is kept to it, or the figure itself."""
    setting = assumed.place.startswith(f"rules.{found.rule}.")
    if setting and assumed.text.endswith("%"):
        return True
    vessel, _, _ = assumed.place.partition(".")
    at_end = isinstance(found.place, AtEnd) and found.place.vessel == vessel
    there = at_end or found.place == InVessel(vessel)
    figures = [found.limit] if setting else [found.limit, found.value] if there else []
    number = read_as(assumed.text, found.unit) if figures else None
    return number is not None and any(math.isclose(number, figure, abs_tol=0.05) for figure in figures)


def _more(outcome: Outcome, again: str) -> str:
    other = "; --rank 2" if len(outcome.designs) > 1 else ""
    asked = " ".join(filter(None, ("autoplan design", outcome.site.file, again)))
    return f"{asked} --show buy,holes,runs,cut,joints or all{other}."
