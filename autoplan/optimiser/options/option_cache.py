"""What several drafts of one problem share, worked out once.

Saying why there is no design, and trying what would mend it, takes draft after draft that differ from each
other by one rule or one height. Parts and how they join hang on the stock alone; the ways to build a class
hang on the site and on the rules that had something to say about that class.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Mapping, Sequence
from copy import copy
from dataclasses import dataclass, field
from functools import partial

from autoplan.catalog.parts import Catalog
from autoplan.clock import late
from autoplan.hydraulics.conduits import Conduits
from autoplan.optimiser.options.candidates import candidates_for
from autoplan.optimiser.options.consumables import COUNTED_BY, Counting
from autoplan.optimiser.options.making import Making, NoOptionError
from autoplan.optimiser.options.shelf import Shelf
from autoplan.optimiser.search.clock import OutOfTimeError
from autoplan.problem.site import Run, Site
from autoplan.rules.asked import OnShelf
from autoplan.rules.book import ALL, RuleBook
from autoplan.rules.candidate import Candidate
from autoplan.side_by_side import side_by_side

MONEY = frozenset(kind.id for kind in ALL if kind.of_money)
"""Rules whose rows speak of all that is bought together."""


@dataclass(frozen=True, slots=True)
class Leniency:
    """Rules that refuse and ask nothing in some classes, though their rows are written.

    Of such a draft nothing is bought: it is only for showing that water cannot go that way.
    """

    rules: frozenset[str]
    classes: frozenset[str]


WATER_ONLY = Leniency(frozenset(), frozenset())
"""Every rule has its say, and nothing is bought."""

AT_ONCE_S = 0.1
"""Time in which classes are built one after the other [s]: to build them side by side takes a third of it."""

MOST_KEPT = 16
"""Of each class the ways to build it that are remembered; those of old sites serve nobody."""


@dataclass(frozen=True, slots=True)
class Built:
    """The ways to build one class, and whose word shaped them.

    Attributes:
        site, book, shelf: what they were worked out for.
        free: whether nothing cost anything; see `Counting`.
        candidates: the ways; empty where there are none.
        refusing: ids of rules that refused something, each the first to refuse it.
        lacking: why there are none.
        losses: what each of them loses, by run, flow, roughness that has grown and the most that counts
            [0.1 mm, up]; filled by drafts.
    """

    site: Site
    book: RuleBook
    shelf: Shelf
    free: bool
    candidates: tuple[Candidate, ...]
    refusing: frozenset[str]
    lacking: NoOptionError | None
    losses: dict[tuple[str, float, float, int], list[int]] = field(default_factory=dict)
    _lines: dict[str, Conduits] = field(default_factory=dict)

    def lines(self, run: str) -> Conduits:
        """A run as each of the ways makes it."""
        if run not in self._lines:
            self._lines[run] = Conduits([way.lines[run] for way in self.candidates])
        return self._lines[run]

    def serves(self, site: Site, book: RuleBook, members: Sequence[Run], *, free: bool) -> bool:
        """Whether they are the same ways for this site under this rule book.

        They are if the books differ only in rules left out that refused nothing here (what a rule refuses
        that is not the first to do so stays refused without it), ask no more of a joint than others do, and
        count nothing that the class takes.
        """
        if site != self.site or (self.free and not free) or book.settings != self.book.settings:
            return False
        now = {rule.id for rule in book.rules}
        before = {rule.id for rule in self.book.rules}
        gone = before - now
        if now - before or gone & self.refusing or gone & COUNTED_BY:
            return False
        return all(
            book.asks_of_end(site, run, side) == self.book.asks_of_end(site, run, side)
            for run in members
            for side in ("start", "finish")
        )


class Workshop:
    """Shelves and ways to build, kept from one draft to the next.

    Args:
        catalog: the whole price list.
        ranked: whether designs are ranked behind the cheapest: then guards against siphoning back that lose
            everywhere are kept, since designs differ in them.

    Attributes:
        until: `time.monotonic()` after which no class is built any more; None for no end.
        took: by class, how long it took to build it last [s]; in all, what a draft of another site takes.
    """

    def __init__(self, catalog: Catalog, *, ranked: bool = True) -> None:
        self.catalog = catalog
        self.ranked = ranked
        self.until: float | None = None
        self.took: dict[str, float] = {}
        self._refused: dict[object, frozenset[str]] = {}
        self._shelves: dict[object, Shelf] = {}
        self.scarce: frozenset[str] = frozenset()
        """Parts of which some draft might have wanted more than a stated stock."""
        self._built: dict[str, deque[Built]] = {}

    def refused(self, site: Site, book: RuleBook) -> frozenset[str]:
        """Parts that some rule allows nowhere on a site; the same where its wishes are."""
        key = (site.wishes, *(rule.id for rule in book.rules))
        if key not in self._refused:
            rows = (part for group in self.catalog.groups() for part in group.values())
            self._refused[key] = frozenset(part.id for part in rows if book.refusing(OnShelf(part, site)))
        return self._refused[key]

    def shelf(self, site: Site, book: RuleBook) -> Shelf:
        """The parts that may be used on a site; the same where stock and refused parts are the same."""
        refused = self.refused(site, book)
        key = (
            refused,
            site.unavailable,
            tuple(sorted(site.owned.items())),
            tuple(sorted((part, tuple(lengths)) for part, lengths in site.offcuts.items())),
            site.tanks(),
            self.scarce,
        )
        if key not in self._shelves:
            self._shelves[key] = Shelf(site, self.catalog, refused, self.scarce)
        return self._shelves[key]

    def built(
        self, site: Site, book: RuleBook, counting: Counting, name: str, members: Sequence[Run]
    ) -> Built:
        """The ways to build a class, from before where they are the same.

        Raises:
            NoOptionError: there is none; names the rules that refused the last options.
            OutOfTimeError: it is past `until`.
        """
        if self.until is not None and time.monotonic() > self.until:
            raise OutOfTimeError
        found = self._known(site, book, counting, name, members)
        if found is None:
            making = self._making(site, book, counting, name, members)
            found = self._keep(making, counting, _built(making, counting))
        if found.lacking is not None:
            raise copy(found.lacking)
        return found

    def build_all(self, site: Site, books: Mapping[str, RuleBook], counting: Counting) -> None:
        """Build classes of a site, by name under these rules, so that `built` knows them.

        Side by side, once that takes long. It ends with a class that cannot be built, and when time is up.
        """
        by_then, classes = time.monotonic() + AT_ONCE_S, site.classes()
        new = [
            self._making(site, book, counting, name, classes[name])
            for name, book in books.items()
            if self._known(site, book, counting, name, classes[name]) is None
        ]
        while new and time.monotonic() < by_then:
            making = new.pop(0)
            if self._keep(making, counting, _built(making, counting)).lacking is not None:
                return
        if late(self.until):
            return
        # Those of most runs take longest.
        new.sort(key=lambda making: -len(making.members))
        for making, work in zip(
            new, side_by_side([partial(_built, one, counting) for one in new]), strict=True
        ):
            self._keep(making, counting, work)

    def _making(
        self, site: Site, book: RuleBook, counting: Counting, name: str, members: Sequence[Run]
    ) -> Making:
        return Making(site, counting.shelf, book, name, members, ranked=self.ranked)

    def _known(
        self, site: Site, book: RuleBook, counting: Counting, name: str, members: Sequence[Run]
    ) -> Built | None:
        """The ways to build a class from before, where they are the same."""
        for one in self._built.get(name, ()):
            if one.shelf is counting.shelf and one.serves(site, book, members, free=counting.free):
                return one
        return None

    def _keep(self, making: Making, counting: Counting, work: _Work) -> Built:
        """Remember the ways to build a class."""
        self.took[making.run_class] = work.took_s
        found = Built(
            making.site,
            making.book,
            counting.shelf,
            counting.free,
            work.candidates,
            work.refusing,
            work.lacking,
        )
        self._built.setdefault(making.run_class, deque(maxlen=MOST_KEPT)).append(found)
        return found


@dataclass(frozen=True, slots=True)
class _Work:
    """What building a class came to; see `Built`, and how long it took."""

    candidates: tuple[Candidate, ...]
    refusing: frozenset[str]
    lacking: NoOptionError | None
    took_s: float


def _built(making: Making, counting: Counting) -> _Work:
    started = time.monotonic()
    lacking: NoOptionError | None = None
    candidates: tuple[Candidate, ...] = ()
    try:
        candidates = tuple(candidates_for(making, counting))
    except NoOptionError as error:
        lacking = error.bare()
    return _Work(candidates, frozenset(making.refused), lacking, time.monotonic() - started)
