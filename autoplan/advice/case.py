"""A problem without a design, and what it takes to look into it."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import TypeVar

from autoplan.advice.at_once import refused_at_once
from autoplan.catalog.parts import Catalog
from autoplan.clock import left
from autoplan.optimiser.options.option_cache import Workshop
from autoplan.optimiser.search.attempt import Attempt, Try
from autoplan.optimiser.search.clock import OutOfTimeError
from autoplan.optimiser.search.ranking import Ranking
from autoplan.optimiser.search.solve import Ending
from autoplan.optimiser.search.without import Rows, Without
from autoplan.problem.site import Site
from autoplan.rules.book import RuleBook

Found = TypeVar("Found")

Tell = Callable[[str], None]
"""Told what is being tried."""

LONGEST_TRY_S = 20.0
"""Time for trying one thing [s]: what is not found to help by then is not named."""

WITHOUT = "without "
"""How it begins what is tried where rules are left aside."""

MOST_NAMED = 4
"""Vessels that are named one by one."""

LONG_STRIDE = 4
"""How much further apart steps are where nothing tells how far to go; 2 elsewhere."""

MOST_UNDECIDED = 2
"""Steps of a remedy that may stay undecided before it is given up."""


def named(names: Sequence[str]) -> str:
    """Some vessels in words: all of them where they are few."""
    if len(names) > MOST_NAMED:
        return f"{names[0]} and {len(names) - 1} more like it"
    return " and ".join(part for part in (", ".join(names[:-1]), names[-1]) if part)


@dataclass(frozen=True, slots=True)
class Least:
    """The least step that works, and whether it is proven that the one before it does not."""

    step: int
    proven: bool


QUICK = 2.0
"""A search that takes at most this multiple of a draft is quick."""


@dataclass(slots=True)
class Allowance:
    """Time for looking into a problem, and what there was no time for.

    Attributes:
        deadline: `time.monotonic()` after which nothing further is tried; None for no end.
        longest: by what was done, the longest that it took [s]: no more is begun than there is time for.
        untried: what was left out.
    """

    deadline: float | None = None
    longest: dict[str, float] = field(default_factory=dict)
    untried: list[str] = field(default_factory=list)

    @property
    def left(self) -> float:
        """Time left [s]; none once the user asked to stop."""
        return left(self.deadline)

    def allows(self, what: str) -> bool:
        """Whether there is time to do something once more."""
        return self.left > self.longest.get(what, 0.0)

    def expect(self, seconds: float) -> None:
        """Note how long a draft takes at least, and so a search [s]."""
        for what in ("draft", "search"):
            self.longest[what] = max(seconds, self.longest.get(what, 0.0))

    @property
    def searches_are_quick(self) -> bool:
        """Whether a search takes hardly longer than the draft that every question takes anyway."""
        draft = self.longest.get("draft", 0.0)
        return draft > 0 and self.longest.get("search", 0.0) <= QUICK * draft

    @contextmanager
    def taking(self, what: str) -> Iterator[None]:
        """While something is done, so that it is known how long that takes."""
        started = time.monotonic()
        yield
        took = time.monotonic() - started
        self.longest[what] = max(took, self.longest.get(what, 0.0))


@dataclass(frozen=True, slots=True)
class Case:
    """What all remedies are tried on.

    Attributes:
        site, catalog, book: the problem, the price list and the rules that have none.
        search: searches a changed problem or rule book.
        vain: shows what it is not for.
        workshop: what the drafts of this problem share.
        clock: the time for all of it.
        tell: told what is being tried.
    """

    site: Site
    catalog: Catalog
    book: RuleBook
    search: Try
    vain: Without
    workshop: Workshop
    clock: Allowance = field(default_factory=Allowance)
    tell: Tell = lambda _: None

    def begin(self, what: str) -> bool:
        """Say what is tried next; False, and a note of it, where no time is left for that."""
        self.tell(f"trying {what}")
        if self.clock.allows("draft"):
            return True
        self.clock.untried.append(what)
        return False

    def without(self, *rules: str, cheapest: bool = False) -> Attempt | None:
        """What is found without some rules: any design, or the cheapest; None where there was no time."""
        book = self.book.without(*rules)
        if refused_at_once(self.site, book, self.workshop.shelf(self.site, book)):
            return Attempt(Ranking(ending=Ending.NONE))
        what = f"{WITHOUT}{' and '.join(rules)}" if len(rules) < 3 else "with fewer rules"
        if not self.begin(what):
            return None
        if self.none_without(*rules):
            return Attempt(Ranking(ending=Ending.NONE))
        tried = self._searched(self.site, book, cheapest=cheapest)
        if tried is None:
            self.clock.untried.append(what)
        return tried

    def none_without(self, *rules: str) -> bool:
        """Whether the relaxation shows that there is no design even without some rules."""
        return self._drafted(lambda: self.vain.none_without(rules)) or False

    def none_at(self, site: Site) -> bool:
        """Whether it is proven by arithmetic alone that a changed problem has no design."""
        if refused_at_once(site, self.book, self.workshop.shelf(site, self.book)):
            return True
        return self._drafted(lambda: self.vain.none_at(site)) or False

    def rows_at(self, site: Site) -> Rows | None:
        """The relaxation of a changed problem; None where it cannot be built or no time is left."""
        return self._drafted(lambda: self.vain.rows_at(site))

    def _drafted(self, ask: Callable[[], Found]) -> Found | None:
        """What is answered by arithmetic that takes a draft; None where there is no time for one."""
        if not self.clock.allows("draft"):
            return None
        try:
            with self.clock.taking("draft"):
                return ask()
        except OutOfTimeError:
            return None

    def ending_at(self, site: Site) -> Ending:
        """Whether a changed problem has a design: FEASIBLE, NONE, or UNDECIDED for lack of time."""
        if refused_at_once(site, self.book, self.workshop.shelf(site, self.book)):
            return Ending.NONE
        tried = self._searched(site, self.book, cheapest=False)
        if tried is None:
            return Ending.UNDECIDED
        if tried.ranking.designs:
            return Ending.FEASIBLE
        return Ending.NONE if tried.ranking.ending is Ending.NONE else Ending.UNDECIDED

    def _searched(self, site: Site, book: RuleBook, *, cheapest: bool) -> Attempt | None:
        if not self.clock.allows("search"):
            return None
        at_most_s = max(0.0, min(LONGEST_TRY_S, self.clock.left))
        started = time.monotonic()
        try:
            tried = self.search(site, book, any_will_do=not cheapest, at_most_s=at_most_s)
        except OutOfTimeError:
            return None
        took = time.monotonic() - started
        if took < at_most_s:
            # One that ran into its limit takes as long as that lets it.
            self.clock.longest["search"] = max(took, self.clock.longest.get("search", 0.0))
        return tried

    def remedy(
        self,
        what: str,
        at: Callable[[int], Site],
        first: int | None,
        most: int,
    ) -> Least | None:
        """As `least`, for something that was begun; noted as untried where time ran out before that."""
        found = None if first is None else self.least(at, first, most)
        self.note(what, found)
        return found

    def note(self, what: str, found: Least | None) -> None:
        """Note as untried what came to nothing for lack of time."""
        if found is None and not (self.clock.allows("draft") and self.clock.allows("search")):
            self.clock.untried.append(what)

    def least(
        self,
        at: Callable[[int], Site],
        first: int,
        most: int,
        more: Callable[[Site], int | None] | None = None,
    ) -> Least | None:
        """The least whole step from 1 up to `most` whose changed problem has a design; None if none is found.

        Args:
            at: the problem changed by so many steps; by none it has no design.
            first: a guess at the step.
            more: a guess at how many steps further on the least is, from a changed problem that has none;
                None where no further step will do.

        Upwards from the guess steps are searched, further and further apart. Downwards the relaxation says
        from where on there is none, and just above a search is asked; where searches are quick, they are
        asked alone. What is told works; it is proven to be the least where the step before it is shown to
        have none, by the relaxation or by a search.
        """
        found = self._upwards(at, min(max(1, first), most), most, more)
        if found is None:
            return None
        fails, proven, works = found
        if proven and self.clock.searches_are_quick:
            probe = (fails + works) // 2
        else:
            vain = self._in_vain(at, fails, works)
            if vain > fails:
                fails, proven = vain, True
            probe = fails + 1
        while works - fails > 1 and self.clock.allows("search"):
            ending = self.ending_at(at(probe))
            if ending is Ending.FEASIBLE:
                works = probe
            else:
                fails, proven = probe, ending is Ending.NONE
            probe = (fails + works) // 2
        return Least(works, proven and works - fails == 1)

    def _upwards(
        self, at: Callable[[int], Site], step: int, most: int, more: Callable[[Site], int | None] | None
    ) -> tuple[int, bool, int] | None:
        """The last step that was found to fail, whether that is proven, and the first that works."""
        fails, proven, jump, undecided, stride = 0, True, 1, 0, 2
        while True:
            ending = self.ending_at(at(step))
            if ending is Ending.FEASIBLE:
                return fails, proven, step
            undecided += ending is not Ending.NONE
            if step == most or undecided > MOST_UNDECIDED or not self.clock.allows("search"):
                return None
            fails, proven = step, ending is Ending.NONE
            if more is not None and proven:
                further = more(at(step))
                if further is None:
                    return None
                jump, stride = max(jump, further), LONG_STRIDE if further == 0 else 2
            step, jump = min(most, step + jump), stride * jump

    def _in_vain(self, at: Callable[[int], Site], fails: int, works: int) -> int:
        """The largest step below `works` that the relaxation shows to have no design; `fails` if none is."""
        low, high, jump = fails, works, 1
        while high - low > 1 and self.clock.allows("draft"):
            middle = max(low + 1, works - jump) if low == fails else (low + high) // 2
            if self.none_at(at(middle)):
                low = middle
            else:
                high, jump = middle, 2 * jump
        return low
