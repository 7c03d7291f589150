"""Wiring: one problem and one price list in, one outcome out."""

from __future__ import annotations

import difflib
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from importlib.metadata import version
from typing import TYPE_CHECKING

from autoplan.assembly.needs import unlisted
from autoplan.catalog.parts import Catalog
from autoplan.drawing import Drawing
from autoplan.errors import InputError, Mistake
from autoplan.outcome import Design, Outcome, SolverReport, Status, Verdict
from autoplan.problem.site import Site
from autoplan.rules.book import RuleBook, read_rules

if TYPE_CHECKING:
    from autoplan.selection.attempt import Attempt

Progress = Callable[[str, float | None, float | None], None]


def design(
    site: Site,
    catalog: Catalog,
    *,
    top: int = 5,
    budget: float | None = None,
    without: Sequence[str] = (),
    rank_by: str = "purchase",
    time_limit: float | None = None,
    progress: Progress | None = None,
) -> Outcome:
    """Ranked, verified designs for a problem.

    Args:
        site, catalog: the problem and the price list.
        top: how many designs.
        budget: most that may be spent, over the problem's own budget if given [currency].
        without: ids of parts that may not be used.
        rank_by: "purchase" or "ownership".
        time_limit: seconds for all searches together, or None.
        progress: told the stage, the best cost and the bound while searching.

    Returns:
        The outcome; `designs` is empty unless its status is "proven" or "feasible".

    Raises:
        InputError: unknown rules or settings, or part ids that the price list does not have.
    """
    started = time.monotonic()
    site = _with_options(site, catalog, budget, without)
    book = read_rules(site)
    site = replace(site, assumptions=(*site.assumptions, *book.assumptions))
    deadline = None if time_limit is None else started + time_limit
    return _Planner(site, catalog, book, rank_by, deadline, progress, started).plan(top, without)


def _with_options(site: Site, catalog: Catalog, budget: float | None, without: Sequence[str]) -> Site:
    known = [part for group in catalog.groups() for part in group]
    mistakes = [_no_part(part, known, "--without", "") for part in without if part not in known] + [
        _no_part(part, known, site.file, place)
        for place, parts in (
            ("unavailable", sorted(site.unavailable)),
            ("owned", list(site.owned)),
            ("offcuts", list(site.offcuts)),
        )
        for part in parts
        if part not in known
    ]
    mistakes += [
        Mistake(site.file, f"offcuts.{part}", f"{part!r} is not a pipe", "name a pipe of the price list")
        for part in site.offcuts
        if part in known and part not in catalog.pipes
    ]
    if mistakes:
        raise InputError(mistakes)
    if budget is not None:
        site = replace(site, wishes=replace(site.wishes, budget=budget))
    return replace(site, unavailable=site.unavailable | frozenset(without))


def _no_part(part: str, known: Sequence[str], file: str, place: str) -> Mistake:
    close = difflib.get_close_matches(part, known, n=1)
    remedy = f"did you mean {close[0]!r}" if close else "list the price list with autoplan parts"
    return Mistake(file, place, f"the price list has no part {part!r}", remedy)


class _Planner:
    """One call of `design`, from rule book to outcome."""

    def __init__(
        self,
        site: Site,
        catalog: Catalog,
        book: RuleBook,
        rank_by: str,
        deadline: float | None,
        progress: Progress | None,
        started: float,
    ) -> None:
        self.site = site
        self.catalog = catalog
        self.book = book
        self.rank_by = rank_by
        self.deadline = deadline
        self.progress = progress
        self.started = started

    def plan(self, top: int, without: Sequence[str]) -> Outcome:
        """Search, judge, and say why if there is nothing."""
        from autoplan.advice.remedies import explain_none, part_missed
        from autoplan.selection.solve import SEED, WORKERS, Ending

        found = self._attempt(self.site, self.book, top, self.progress)
        status = Status.UNDECIDED
        if found.ranking.designs:
            proven = all(design.proven for design in found.ranking.designs)
            status = Status.PROVEN if proven else Status.FEASIBLE
        elif found.ranking.ending is Ending.NONE:
            status = Status.NONE
        clash = None
        notes: tuple[str, ...] = ()
        if status is Status.NONE:
            clash = explain_none(self.site, self.catalog, self.book, found, self._cheapest, self.deadline)
        elif without and found.ranking.designs:
            best = found.ranking.designs[0]
            notes = part_missed(self.site, self.catalog, self.book, without, best, self._cheapest)
        beds = [vessel.bed for vessel in self.site.vessels.values() if vessel.bed is not None]
        missing = unlisted(self.catalog, with_siphons=any(bed.siphon for bed in beds))
        if found.ranking.designs and missing:
            notes = (*notes, f"Not in this price list and not counted: {', '.join(missing)}.")
        report = SolverReport(
            bound=None if found.ranking.first_bound is None else found.ranking.first_bound / 100,
            wall_s=time.monotonic() - self.started,
            seed=SEED,
            workers=WORKERS,
            versions={name: version(name) for name in ("autoplan", "ortools")},
            rejected=found.ranking.rejected,
            solves=found.ranking.solves,
            interrupted=found.ranking.interrupted,
        )
        designs = tuple(
            Design(
                rank=place,
                proven=ranked.proven,
                bound=ranked.bound / 100,
                objective=ranked.objective / 100,
                drawing=ranked.drawing,
                verdict=ranked.verdict,
                differs=_differs(found.ranking.designs[0].traits, ranked.traits) if place > 1 else (),
                traits=ranked.traits,
            )
            for place, ranked in enumerate(found.ranking.designs, start=1)
        )
        return Outcome(status, self.site, self.catalog, designs, report, self.rank_by, clash, notes)

    def _cheapest(self, site: Site, book: RuleBook) -> Attempt:
        """Search a changed problem for its cheapest design only."""
        return self._attempt(site, book, 1, None, confirm=False)

    def _attempt(
        self, site: Site, book: RuleBook, top: int, progress: Progress | None, *, confirm: bool = True
    ) -> Attempt:
        from autoplan.selection.attempt import attempt
        from autoplan.verdict.judge import judge

        def judged(drawing: Drawing) -> Verdict:
            return judge(site, self.catalog, book, drawing)

        by_ownership = self.rank_by == "ownership"
        return attempt(site, self.catalog, book, judged, top, by_ownership, self.deadline, progress, confirm)


def _differs(first: Mapping[str, str], other: Mapping[str, str]) -> tuple[str, ...]:
    """What a builder would notice, a phrase per trait that is not as in rank 1."""
    return tuple(
        f"{name}: {value} instead of {first[name]}" for name, value in other.items() if first[name] != value
    )
