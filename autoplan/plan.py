"""Wiring of one call: what is searched, in which order, and what is told of it."""

from __future__ import annotations

import math
import time
from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property, partial
from importlib.metadata import version
from typing import TYPE_CHECKING

from autoplan import clock
from autoplan.catalog.parts import Catalog
from autoplan.drawing import Drawing
from autoplan.errors import InternalError
from autoplan.optimiser.search.variants import variants_of
from autoplan.options import Options, Progress
from autoplan.outcome import Clash, Design, Kind, Outcome, SolverReport, Status, Verdict
from autoplan.problem.brief import Assumption
from autoplan.problem.detours import detours
from autoplan.problem.problem import Problem
from autoplan.problem.site import Site
from autoplan.problem.slopes import slopes
from autoplan.rules.base import Concern
from autoplan.rules.book import ROLES, RuleBook
from autoplan.rules.margin import MARGIN, with_budget
from autoplan.sentence import Text
from autoplan.telling import designs_told, fruitless, told
from autoplan.wished import WishCost

if TYPE_CHECKING:
    from autoplan.optimiser.options.option_cache import Workshop
    from autoplan.optimiser.search.attempt import Attempt
    from autoplan.optimiser.search.merge import Merged, Placed
    from autoplan.optimiser.search.ranking import Judge, Ranked
    from autoplan.optimiser.search.variants import Variant

WITHIN_BUDGET = 0.6
"""Share of the time given in which a design within the budget is looked for; the rest is for saying what the
cheapest costs."""

SLOW_S = 1.0
"""A search that took longer than this is of designs that take long to tell too [s]."""


def _with_full(problem: Problem, count: int, *, sure: bool = True) -> Problem:
    """The problem with so many beds full at once, as found by trying."""
    why = "most beds that may be full at once with a design left"
    if not sure:
        why = "whether more beds may be full at once was not decided in the time given"
    found = Assumption("wishes.beds_full", str(count), "chosen by the program", why)
    wishes = replace(problem.wishes, beds_full=count, most_full=False)
    return replace(problem, wishes=wishes).assuming(found)


class Planner:
    """One call of `design`, from rule book to outcome."""

    def __init__(
        self,
        problem: Problem,
        catalog: Catalog,
        book: RuleBook,
        options: Options,
        started: float,
        deadline: float | None,
    ) -> None:
        self.problem = problem
        self.catalog = catalog
        self.book = book
        self.options = options
        self.differ = tuple(dict.fromkeys(map(Kind, options.differ)))
        self.started = started
        self.deadline = deadline
        self.ranked = False
        self.fallback: Placed | None = None
        """A design found on the way, told where the search proper comes to none in time."""
        self.full: tuple[Text, ...] = ()
        """How many beds may be full at once, where that is found by trying."""

    def plan(self) -> Outcome:
        """Search, judge, and say why if there is nothing."""
        from autoplan.optimiser.search.merge import Merged, Trial, closed_kinds
        from autoplan.optimiser.search.solve import Ending

        top, without = self.options.top, self.options.without
        self._say("laying out what there is to choose from")
        self.ranked = top > 1 and (not self.differ or Kind.GUARD in self.differ)
        if self.problem.wishes.most_full:
            self.problem = self._with_most_full(self.problem)
        variants, left_out = variants_of(self.problem, self.catalog)
        refused = {id(one) for one in variants if self._refused(one)}
        vain = [one for one in variants if id(one) in refused]
        variants = [one for one in variants if id(one) not in refused]
        found, kept_mm = Merged(ending=Ending.NONE), list[int | None]()
        if variants:
            found, kept_mm, variants = self._found(variants, top)
        clash = None
        notes: tuple[Text, ...] = (*left_out, *_of_lines((*variants, *vain)[0].site))
        if not found.designs and found.ending is not Ending.NONE:
            found, clash, said = self._without_budget(found, variants)
            kept_mm, notes = [None] * len(found.designs), (*notes, *said)
        begun = {id(trial.variant) for trial in found.trials}
        weighed = begun | found.floors.keys()
        unweighed = any(one.offered is not None and id(one) not in weighed for one in variants)
        variants = [one for one in variants if one.offered is None or id(one) in begun]
        vain = [one for one in vain if one.offered is None or not found.designs]
        found.trials += map(Trial, vain)
        variants = sorted((*variants, *vain), key=lambda one: one.offered is not None)
        if not found.designs:
            # That an overflow which nobody asked for would not help either is no news.
            variants = [one for one in variants if one.offered is None]
        status = Status.UNDECIDED if clash is None else Status.NONE
        if found.designs:
            status = Status.PROVEN if all(one.proven for one in found.designs) else Status.FEASIBLE
        elif found.ending is Ending.NONE:
            # That there is none stands; what would mend it may be cut short.
            clock.hold()
            status, clash = Status.NONE, self._why_none(found, variants)
            if clock.late(self.deadline):
                notes = (*notes, "Not all that might mend it was tried: there was no more time.")
        if without and found.designs:
            notes += self._missed(found, without)
        if found.designs:
            notes += (*self.full, *closed_kinds(found, self.differ, top))
        notes += fruitless(found) if len(variants) > 1 else ()
        designs, wishes = self._told(found, kept_mm, vain, several=len(variants) > 1)
        return Outcome(
            status,
            variants[0].site,
            self.catalog,
            designs,
            self._report(found),
            self.options.rank_by,
            clash,
            notes,
            self.differ,
            wishes,
            unweighed,
        )

    def _told(
        self, found: Merged, kept_mm: Sequence[int | None], vain: Sequence[Variant], *, several: bool
    ) -> tuple[tuple[Design, ...], tuple[WishCost, ...]]:
        """All that is told of the ranked designs, and of what each wish costs."""
        if not found.designs:
            return (), ()
        first = found.designs[0]
        self._say("hours and faults", first.ranked.objective / 100, first.bound / 100)
        wishes = partial(self._wishes, found, vain)
        tell = partial(designs_told, found, kept_mm, self.catalog, self.book, several=several)
        slow = time.monotonic() - self.started > SLOW_S
        if not self.options.price_wishes:
            designs, (costs,) = tell([wishes], slow=slow)
            return designs, costs
        designs, _ = tell([], slow=slow)
        self._say("what each wish costs")
        return designs, wishes()

    def _wishes(self, found: Merged, vain: Sequence[Variant]) -> tuple[WishCost, ...]:
        """What each wish costs of rank 1, where money ranks and there is time to say."""
        from autoplan.advice.wishes import wish_costs

        if self.options.rank_by == MARGIN or clock.late(self.deadline):
            return ()
        search = partial(self._of_all, self.problem) if self.options.price_wishes else None
        return tuple(wish_costs(found, vain, self.book, self.workshop, search))

    def _refused(self, variant: Variant) -> bool:
        """Whether a variant certainly has no design, told without drafting it."""
        from autoplan.advice.at_once import refused_at_once

        return bool(refused_at_once(variant.site, self.book, self.workshop.shelf(variant.site, self.book)))

    def _why_none(self, found: Merged, variants: Sequence[Variant]) -> Clash:
        """Why no variant has a design, said of the first."""
        from autoplan.advice.remedies import explain_none

        first = variants[0]
        lacking = next((trial.lacking for trial in found.trials if trial.variant is first), None)
        clash = explain_none(
            first.site,
            self.catalog,
            self.book,
            lacking,
            self._of_one,
            self.workshop,
            self.deadline,
            lambda what: self._say(f"no design: {what}"),
        )
        if len(variants) > 1:
            of = f"Of {len(variants)} variants none has a design; this is said of {first.named}:"
            clash = replace(clash, sentences=(of, *clash.sentences))
        return clash

    def _without_budget(
        self, found: Merged, variants: Sequence[Variant]
    ) -> tuple[Merged, Clash | None, tuple[str, ...]]:
        """What the cheapest design costs, where none within the budget was found in time.

        Returns:
            The design, if it is within the budget after all; the clash, where it is proven to cost more than
            there is; else a note on what is known.
        """
        from autoplan.advice.remedies import least_against, over_budget

        budget = self.problem.wishes.budget
        if not self._keeps_time(variants) or found.interrupted or budget is None:
            return found, None, ()
        self._say("no design yet within the budget: trying without it")
        free = self._ranked(
            variants, self.book.without(ROLES[Concern.BUDGET]), 1, self.options.progress, confirm=False
        )
        if not free.designs:
            cents = min(trial.least for trial in free.trials)
            return found, *least_against(cents, budget, self.catalog)
        (best,) = free.designs
        if best.ranked.verdict.cost.to_pay <= budget:
            verdict = self._judge(best.variant.site, self.book)(best.ranked.drawing)
            free.designs = [replace(best, ranked=replace(best.ranked, verdict=verdict))]
            return free, None, ()
        ranked = replace(best.ranked, bound=best.bound, proven=best.proven)
        return found, *over_budget(ranked, budget, self.catalog)

    def _keeps_time(self, variants: Sequence[Variant]) -> bool:
        """Whether some of the time is kept to say what the cheapest design costs, whatever the budget."""
        return self.deadline is not None and self._within_budget(variants)

    def _within_budget(self, variants: Sequence[Variant]) -> bool:
        """Whether the cheapest designs are asked for, and no dearer than a budget."""
        asked = variants[0].site.wishes.budget is not None and self.book.has(Concern.BUDGET)
        return asked and self.options.rank_by == "purchase"

    def _found(self, variants: list[Variant], top: int) -> tuple[Merged, list[int | None], list[Variant]]:
        """The ranking, by rank the margin kept for it [mm] where that is what ranks, and the variants."""
        if self.options.rank_by != MARGIN:
            # Where none is within the budget, the search without it is the second road to that.
            found = self._ranked(
                variants,
                self.book,
                top,
                self.options.progress,
                confirm=not self._within_budget(variants),
                until=self._until(variants),
            )
            found = self._at_least(found)
            return found, [None] * len(found.designs), variants
        from autoplan.advice.contradiction import never_cheaper
        from autoplan.optimiser.search.margin import rank_by_margin

        cheapest = None
        if self.problem.wishes.budget is None:
            cheapest = self._at_least(self._ranked(variants, self.book, 1, self.options.progress))
            if not cheapest.designs:
                return cheapest, [], variants
            whole = cheapest.designs[0].ranked.verdict.cost.to_pay
            self.problem = with_budget(self.problem, whole)
            variants = [replace(one, site=with_budget(one.site, whole)) for one in variants]

        def search(reserve: int, known: Sequence[Placed], count: int) -> Merged:
            first = reserve == 0 and not known
            told = (
                self._with_stage(f"at least {reserve / 10:g} mm to spare")
                if reserve
                else self.options.progress
            )
            found = self._ranked(
                variants, self.book, count, told, confirm=first, reserve=reserve, known=known
            )
            return self._at_least(found) if first else found

        spared = rank_by_margin(search, top, cheapest)
        if cheapest is not None:
            for placed in spared.merged.designs:
                never_cheaper(told(cheapest.designs[0]), placed.ranked, "with a margin kept")
        return spared.merged, list(spared.kept_mm), variants

    def _until(self, variants: Sequence[Variant]) -> float | None:
        """Until when a design within the budget is looked for."""
        if self.deadline is None or not self._keeps_time(variants):
            return self.deadline
        now = time.monotonic()
        return now + WITHIN_BUDGET * max(0.0, self.deadline - now)

    def _with_most_full(self, problem: Problem) -> Problem:
        """The problem with as many beds full at once as leave a design; one where none does.

        Without a time limit the first count that has one, from all beds down, is the most. With one, counts
        are tried from one bed up for a part of the time, and the last that has a design is taken.
        """
        beds = sum(vessel.bed is not None for vessel in problem.outline.vessels.values())
        limited = self.deadline is not None
        by_then = clock.halfway(self.deadline)
        most, sure = 1, True
        for count in range(1, beds + 1) if limited else range(beds, 0, -1):
            if count == 1 and not limited:
                break
            decided = False
            if not clock.late(by_then):
                self._say(f"whether {count} of {beds} beds may be full at once")
                found, decided = self._any_design(_with_full(problem, count), clock.left(by_then))
                if found is not None:
                    most, self.fallback = count, found
                    if not limited:
                        break
                    sure = True
            sure = sure and decided
        more = (
            "the most that leave a design" if sure else "whether more may was not decided in the time given"
        )
        self.full = (f"{most} of {beds} beds may be full at once: {more}.",)
        return _with_full(problem, most, sure=sure)

    def _any_design(self, problem: Problem, at_most_s: float) -> tuple[Placed | None, bool]:
        """A design of any of what a problem stands for, and whether it was decided if there is one."""
        from autoplan.optimiser.search.merge import Placed
        from autoplan.optimiser.search.solve import Ending

        variants, _ = variants_of(problem, self.catalog)
        by_then, decided = time.monotonic() + at_most_s, True
        for variant in variants:
            if self._refused(variant):
                continue
            left = by_then - time.monotonic()
            ranking = self._of_one(variant.site, self.book, any_will_do=True, at_most_s=left).ranking
            if ranking.designs:
                first = ranking.designs[0]
                # What the other variants may come to is not known.
                bound = first.bound if len(variants) == 1 else 0
                return Placed(variant, first, bound, False), True
            decided = decided and ranking.ending is Ending.NONE
        return None, decided

    def _at_least(self, found: Merged) -> Merged:
        """What was found; where that is nothing yet, the design that was found on the way.

        Raises:
            InternalError: it is proven that there is none, and there is one.
        """
        from autoplan.optimiser.search.solve import Ending

        if self.fallback is not None and not found.designs:
            if found.ending is Ending.NONE:
                raise InternalError("the search found no design where an earlier one of the same call did")
            found.designs.append(self.fallback)
        return found

    def _missed(self, found: Merged, without: Sequence[str]) -> tuple[str, ...]:
        """What it costs to do without some parts, as far as there was time to find that out."""
        from autoplan.advice.remedies import part_missed

        best: Ranked | None = told(found.designs[0])
        self._say(f"what losing {', '.join(without)} costs")
        if self.options.rank_by == MARGIN:
            designs = self._of_all(self.problem, self.book).ranking.designs
            best = designs[0] if designs else None
        if best is not None:
            said = part_missed(self.problem, self.catalog, self.book, without, best, self._of_all)
            if said:
                return said
        return (f"What losing {', '.join(without)} costs was not found out in the time given.",)

    def _say(self, stage: str, best: float | None = None, none_under: float | None = None) -> None:
        """Tell what is done now."""
        if self.options.progress is not None:
            self.options.progress(stage, best, none_under)

    def _with_stage(self, what: str) -> Progress | None:
        """The progress, with something said in front of each stage."""
        if self.options.progress is None:
            return None
        tell = self.options.progress
        return lambda stage, best, bound: tell(f"{what}, {stage}", best, bound)

    def _report(self, found: Merged) -> SolverReport:
        from autoplan.optimiser.search.solve import SEED, WORKERS

        return SolverReport(
            bound=found.designs[0].bound / 100 if found.designs else None,
            wall_s=time.monotonic() - self.started,
            seed=SEED,
            workers=WORKERS,
            versions={name: version(name) for name in ("autoplan", "ortools")},
            rejected=found.rejected,
            solves=found.solves,
            interrupted=found.interrupted,
        )

    @cached_property
    def workshop(self) -> Workshop:
        """What all drafts of this call share."""
        from autoplan.optimiser.options.option_cache import Workshop

        return Workshop(self.catalog, ranked=self.ranked)

    def _of_one(
        self, site: Site, book: RuleBook, *, any_will_do: bool = False, at_most_s: float = math.inf
    ) -> Attempt:
        """Search a changed site for a design that costs least to buy, or for any, in so many seconds at most.

        What is told of its cost is told of the order, whatever designs are ranked by.
        """
        from autoplan.optimiser.search.attempt import attempt

        by_then = min(math.inf if self.deadline is None else self.deadline, time.monotonic() + at_most_s)
        return attempt(
            site,
            self.catalog,
            book,
            self._judge(site, book),
            1,
            deadline=by_then if math.isfinite(by_then) else None,
            confirm=False,
            workshop=self.workshop,
            any_will_do=any_will_do,
        )

    def _of_all(self, problem: Problem, book: RuleBook) -> Attempt:
        """Search a changed problem, with all that it stands for, for its cheapest design only."""
        from autoplan.optimiser.search.attempt import Attempt
        from autoplan.optimiser.search.ranking import Ranking

        variants, _ = variants_of(problem, self.catalog)
        found = self._ranked(variants, book, 1, None, confirm=False)
        ranking = Ranking([told(placed) for placed in found.designs], found.ending)
        return Attempt(ranking, found.trials[0].lacking)

    def _ranked(
        self,
        variants: Sequence[Variant],
        book: RuleBook,
        top: int,
        progress: Progress | None,
        *,
        confirm: bool = True,
        reserve: int = 0,
        known: Sequence[Placed] = (),
        until: float | None = None,
    ) -> Merged:
        from autoplan.optimiser.search.merge import rank_all

        def judge_of(variant: Variant) -> Judge:
            return self._judge(variant.site, book)

        return rank_all(
            variants,
            self.catalog,
            book,
            judge_of,
            top,
            self.options.by_ownership,
            self.deadline if until is None else until,
            progress,
            confirm,
            reserve,
            known,
            self.workshop,
            self.differ,
            self.deadline,
        )

    def _judge(self, site: Site, book: RuleBook) -> Judge:
        from autoplan.verdict.judge import judge

        def judged(drawing: Drawing) -> Verdict:
            return judge(site, self.catalog, book, drawing)

        return judged


def _of_lines(site: Site) -> tuple[Text, ...]:
    """What is told of a problem's lines whatever is built."""
    return (*detours(site), *slopes(site))
