"""A problem without a design, and what it takes to look into it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

from autoplan import clock
from autoplan.catalog.parts import Catalog
from autoplan.problem.site import Site
from autoplan.rules.book import RuleBook
from autoplan.selection.attempt import Attempt, Try
from autoplan.selection.rank import Ranking
from autoplan.selection.shelf import Shelf
from autoplan.selection.solve import Ending
from autoplan.selection.without import Without

Step = TypeVar("Step")

LONGEST_TRY_S = 20.0
"""Time for trying one thing [s]: what is not found to help by then is not named."""


@dataclass(frozen=True, slots=True)
class Case:
    """What all remedies are tried on.

    Attributes:
        site, catalog, book: the problem, the price list and the rules that have none.
        search: searches a changed problem or rule book.
        vain: shows what it is not for.
        shelf: the parts that may be used.
        deadline: `time.monotonic()` after which nothing further is tried.
    """

    site: Site
    catalog: Catalog
    book: RuleBook
    search: Try
    vain: Without
    shelf: Shelf
    deadline: float | None

    @property
    def _a_try_s(self) -> float:
        """Time for the next try [s]."""
        return min(LONGEST_TRY_S, clock.left(self.deadline))

    @property
    def late(self) -> bool:
        """Whether time is up, or the user asked to stop."""
        return clock.late(self.deadline)

    def without(self, *rules: str, cheapest: bool = False) -> Attempt:
        """What is found without some rules: any design, or the cheapest."""
        if self.vain.none_without(rules):
            return Attempt(Ranking(ending=Ending.NONE))
        book = self.book.without(*rules)
        return self.search(self.site, book, any_will_do=not cheapest, at_most_s=self._a_try_s)

    def works(self, site: Site) -> bool:
        """Whether a changed problem has a design; it has none where time is up before one is found."""
        if self.late or self.vain.none_at(site):
            return False
        tried = self.search(site, self.book, any_will_do=True, at_most_s=self._a_try_s)
        return bool(tried.ranking.designs)

    def least(self, steps: Sequence[tuple[Step, Site]]) -> Step | None:
        """The least step whose changed problem has a design; None where the last has none.

        Looked for by halving, so of steps of which a further one may fail where a nearer one works it may
        miss the nearer.
        """
        if not steps or not self.works(steps[-1][1]):
            return None
        fails, works = -1, len(steps) - 1
        while works - fails > 1 and not self.late:
            middle = (fails + works) // 2
            if self.works(steps[middle][1]):
                works = middle
            else:
                fails = middle
        return steps[works][0]
