"""One attempt at a problem: draft, search, verdict; or the reason why not even a draft can be made."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

from autoplan.catalog.parts import Catalog
from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.options.making import NoOptionError
from autoplan.optimiser.options.option_cache import Workshop
from autoplan.optimiser.search.clock import DraftLateError
from autoplan.optimiser.search.rank import Ranker
from autoplan.optimiser.search.ranking import Judge, Ranking
from autoplan.optimiser.search.solve import Ending
from autoplan.problem.site import Site
from autoplan.rules.book import RuleBook


class Try(Protocol):
    """Searches a changed problem or rule book for its cheapest design only, or for any at all."""

    def __call__(
        self, site: Site, book: RuleBook, *, any_will_do: bool = False, at_most_s: float = math.inf
    ) -> Attempt:
        """What came of it, in so many seconds at most."""


@dataclass(frozen=True, slots=True)
class Attempt:
    """What came of it.

    Attributes:
        ranking: the designs, or how the search ended.
        lacking: set where some class, junction or pump has no way to be built at all.
    """

    ranking: Ranking
    lacking: NoOptionError | None = None


def attempt(
    site: Site,
    catalog: Catalog,
    book: RuleBook,
    judge: Judge,
    top: int,
    *,
    deadline: float | None = None,
    confirm: bool = True,
    workshop: Workshop | None = None,
    any_will_do: bool = False,
) -> Attempt:
    """Draft the problem and rank its designs; arguments as for `Ranker` and `Draft`."""
    try:
        draft = Draft(site, catalog, book, workshop=workshop, deadline=deadline)
    except NoOptionError as lacking:
        return Attempt(Ranking(ending=Ending.NONE), lacking.bare())
    except DraftLateError:
        return Attempt(Ranking())
    ranker = Ranker(draft, judge, deadline=deadline, confirm=confirm, any_will_do=any_will_do)
    return Attempt(ranker.run(top))
