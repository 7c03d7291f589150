"""What a problem and its options ask for that the price list or the rule book does not have."""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Sequence

from autoplan.catalog.parts import Catalog
from autoplan.errors import InputError, Mistake
from autoplan.optimiser.search.variants import choice_mistakes
from autoplan.outcome import Kind
from autoplan.problem.problem import Problem
from autoplan.problem.site import BedDrain
from autoplan.rules.base import Given
from autoplan.rules.beds.flood_rate import FloodRate
from autoplan.rules.book import RuleBook, read_rules
from autoplan.rules.margin import MARGIN, off_mistakes
from autoplan.units import Dimension, write

LEAST_FLOOD_M = 0.01
"""Least that a siphon's flood rises over where it breaks [m]; assumed, no source."""


def part_mistakes(catalog: Catalog, parts: Sequence[str], file: str, place: str = "") -> Iterator[Mistake]:
    """Part ids that the price list does not have, each told once with the nearest that it has.

    Args:
        catalog: the price list.
        parts: the ids that were written.
        file, place: where they were, for the mistake.
    """
    known = [part for group in catalog.groups() for part in group]
    for part in dict.fromkeys(parts):
        if part not in known:
            close = difflib.get_close_matches(part, known, n=1)
            remedy = f"did you mean {close[0]!r}" if close else f"see `autoplan parts {catalog.name}`"
            yield Mistake(file, place, f"{part!r} is not in the price list {catalog.name}", remedy)


def kind_mistakes(kinds: Sequence[str]) -> Iterator[Mistake]:
    """Kinds in which designs cannot be asked to differ, each told once with the nearest that there is."""
    known = list(map(str, Kind))
    for kind in dict.fromkeys(kinds):
        if kind not in known:
            close = difflib.get_close_matches(kind, known, n=1)
            remedy = f"did you mean {close[0]!r}" if close else f"write one of {', '.join(known)}"
            yield Mistake("--differ", "", f"designs cannot be asked to differ in {kind!r}", remedy)


def problem_mistakes(problem: Problem, catalog: Catalog | None, rank_by: str) -> Iterator[Mistake]:
    """Parts and vessels of a problem that the price list lacks, and its mistakes under `[rules]`.

    Args:
        problem: what is asked; without layouts where nothing else of it could be read.
        catalog: the price list, if it could be read.
        rank_by: a ranking by margin needs the rules that it speaks of.
    """
    if catalog is not None:
        yield from _lacking(problem, catalog)
    yield from rule_mistakes(problem, rank_by)


def _lacking(problem: Problem, catalog: Catalog) -> Iterator[Mistake]:
    for place, parts in (
        ("unavailable", sorted(problem.unavailable)),
        ("owned", list(problem.owned)),
        ("offcuts", list(problem.offcuts)),
    ):
        yield from part_mistakes(catalog, parts, problem.file, place)
    known = {part for group in catalog.groups() for part in group}
    for part in problem.offcuts:
        if part in known and part not in catalog.pipes:
            remedy = "name a pipe of the price list"
            yield Mistake(problem.file, f"offcuts.{part}", f"{part!r} is not a pipe", remedy)
    yield from choice_mistakes(problem, catalog)


def rule_mistakes(problem: Problem, rank_by: str = "") -> Iterator[Mistake]:
    """What is wrong under the `[rules]` of a problem, for this ranking."""
    try:
        book = read_rules(problem.outline)
    except InputError as error:
        yield from error.mistakes
        return
    if rank_by == MARGIN:
        yield from off_mistakes(problem, book.off)
    yield from _no_flood_mistakes(problem, book)


def _no_flood_mistakes(problem: Problem, book: RuleBook) -> Iterator[Mistake]:
    """Beds of which the siphon would break as it starts, told here where the rule that forbids it is off.

    Such a bed neither floods nor runs empty, and would start its siphon many thousand times in a night.
    """
    if FloodRate.id not in book.off:
        return
    shallow: dict[Given, list[str]] = {}
    for name, vessel in problem.outline.vessels.items():
        if vessel.bed is None or not vessel.bed.siphon:
            continue
        what = Given.AIR_MOUTH if vessel.bed.drain is BedDrain.OUTSIDE else Given.CUT_OUT
        if vessel.bed.flood_m - book.given(what) < LEAST_FLOOD_M - 1e-9:
            shallow.setdefault(what, []).append(name)
    for what, beds in shallow.items():
        least = write(LEAST_FLOOD_M, Dimension.LENGTH)
        told = f"{write(book.given(what), Dimension.LENGTH)!r} is less than {least} under the flood of "
        remedy = "write less, so that the water rises and falls"
        yield Mistake(problem.file, f"rules.{book.place(what)}", told + ", ".join(beds), remedy)
