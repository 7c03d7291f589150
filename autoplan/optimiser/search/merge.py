"""One ranking over the variants of a problem, each searched only as far as it may yet matter.

Every variant has a proven least cost for its next design: at first the bound of its relaxation, later what
its search has come to. The variant with the least is the only one that is looked at: if its next design is
found, nothing cheaper exists anywhere and it is the next rank; else its search goes one step on.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from itertools import islice

from autoplan import clock
from autoplan.catalog.parts import Catalog
from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.model.signature import Value, keys_of, traits_in
from autoplan.optimiser.options.making import NoOptionError
from autoplan.optimiser.options.option_cache import Workshop
from autoplan.optimiser.search.clock import DraftLateError
from autoplan.optimiser.search.narrowed import narrowed
from autoplan.optimiser.search.presolve import SLACK
from autoplan.optimiser.search.rank import CONFIRM_S, Ranker
from autoplan.optimiser.search.ranking import Judge, Ranked
from autoplan.optimiser.search.solve import Ending
from autoplan.optimiser.search.tie_break import objective_of
from autoplan.optimiser.search.variants import Variant
from autoplan.options import Progress
from autoplan.outcome import Kind
from autoplan.problem.site import OverflowOffer
from autoplan.rules.book import RuleBook
from autoplan.side_by_side import Meanwhile

MOST_ALONE = 40
"""Most values of the kinds asked for that are searched each by itself; more are told apart by rows."""

SLOW_S = 0.5
"""Where the variants without an overflow took longer to begin, one with it is bounded meanwhile [s]."""

BOUNDING = 0.5
"""Most share of the time given that may go into bounds; what is left over is for finding designs."""


@dataclass(slots=True)
class Trial:
    """A variant on its way, or the designs of a variant that are told apart by one key.

    Attributes:
        variant: the site.
        ranker: its search; None where there is no way to build it, or no time was left to begin.
        lacking: what it has no way to build, if anything.
        unread: whether no time was left even for its bound.
        floor: what is known all the same of what its designs come to at least [cents].
        taken: how many of its designs were ranked or are like one that was.
        passed_over: whether designs of it were left out unsearched, as like one that was ranked.
        only: that key, of which one design is wanted.
    """

    variant: Variant
    ranker: Ranker | None = None
    lacking: NoOptionError | None = None
    unread: bool = False
    taken: int = 0
    passed_over: bool = False
    only: Mapping[str, Value] | None = None
    floor: float = 0.0

    @property
    def waiting(self) -> Ranked | None:
        """Its next design, if it is found."""
        if self.done:
            return None
        found = self.ranker.found.designs[self.taken :] if self.ranker is not None else []
        return found[0] if found else None

    @property
    def known(self) -> float:
        """What the cheapest design of it that is known costs [cents]; infinite if none is."""
        if self.ranker is None or not self.ranker.known:
            return math.inf
        return self.ranker.known[0].goal // self.ranker.fold

    @property
    def least(self) -> float:
        """What its next design costs at least [cents]; infinite if there is none."""
        if self.done:
            return math.inf
        if self.waiting is not None:
            return self.waiting.bound
        if self.ranker is None:
            return self.floor if self.unread else math.inf
        exhausted = self.ranker.ended and self.ranker.found.ending is Ending.NONE
        return math.inf if exhausted else float(self.ranker.least)

    @property
    def open(self) -> bool:
        """Whether there is a design to take, or more to search."""
        if self.done:
            return False
        return self.waiting is not None or (self.ranker is not None and not self.ranker.ended)

    @property
    def done(self) -> bool:
        """Whether the one design that was wanted is ranked, of this variant or of one alike."""
        return self.only is not None and (self.taken > 0 or self.passed_over)


@dataclass(frozen=True, slots=True)
class Placed:
    """A ranked design and the variant it belongs to; `bound` and `proven` speak of all variants [cents]."""

    variant: Variant
    ranked: Ranked
    bound: int
    proven: bool


@dataclass(slots=True)
class Merged:
    """What the variants came to together.

    Attributes:
        designs: in rank order.
        ending: NONE where it is proven that there is no design.
        trials: every variant, in the order given.
        interrupted: whether the user stopped it.
        floors: by the identity of a variant that was not begun, what its designs come to at least [cents].
    """

    designs: list[Placed] = field(default_factory=list)
    ending: Ending = Ending.UNDECIDED
    trials: list[Trial] = field(default_factory=list)
    interrupted: bool = False
    floors: dict[int, float] = field(default_factory=dict)

    @property
    def fruitless(self) -> list[Variant]:
        """The variants that are proven to have no design at all."""
        some = {t.variant.said for t in self.trials if t.least < math.inf or t.taken or t.passed_over}
        every = {trial.variant.said: trial.variant for trial in self.trials}
        return [variant for said, variant in every.items() if said not in some]

    @property
    def rejected(self) -> int:
        """Designs that the verdict refused."""
        return sum(trial.ranker.found.rejected for trial in self.trials if trial.ranker is not None)

    @property
    def solves(self) -> int:
        """Searches run."""
        return sum(trial.ranker.found.solves for trial in self.trials if trial.ranker is not None)


def rank_all(
    variants: Sequence[Variant],
    catalog: Catalog,
    book: RuleBook,
    judge_of: Callable[[Variant], Judge],
    top: int,
    by_ownership: bool = False,
    deadline: float | None = None,
    progress: Progress | None = None,
    confirm: bool = True,
    reserve: int = 0,
    known: Sequence[Placed] = (),
    workshop: Workshop | None = None,
    differ: Collection[Kind] = (),
    longest: float | None = None,
) -> Merged:
    """Find up to `top` designs over all variants in order of cost.

    A variant with an overflow that is only offered is looked at once a design without it may be ranked next,
    or, where it is for need alone, once there turns out to be none.

    Designs of one arrangement that builders would not tell apart by their parts count once, with the cheapest
    of their variants, the first of equals.

    Args:
        variants: the sites; the order breaks ties.
        catalog, book: the price list and the rules in force.
        judge_of: the independent verdict on a variant's drawings.
        top, by_ownership, deadline, progress, confirm: as for `Ranker`.
        reserve: height kept over the limits of `rules.margin` besides [0.1 mm].
        known: designs ranked before; none that is told apart by the same is found again.
        workshop: as for `Draft`.
        longest: the deadline once a design is known, where that is later.
        differ: as for `Ranker`; of which `Kind.ARRANGEMENT` is what variants differ in by themselves.

    Raises:
        InternalError: as for `Ranker.run`.
    """
    shared = workshop if workshop is not None else Workshop(catalog)
    asked = (catalog, book, judge_of, by_ownership, deadline, progress, confirm, reserve, known, shared)
    merger = _Merger(*asked, differ, longest)
    return merger.run(variants, top)


@dataclass(slots=True)
class _Merger:
    catalog: Catalog
    book: RuleBook
    judge_of: Callable[[Variant], Judge]
    by_ownership: bool
    deadline: float | None
    progress: Progress | None
    confirm: bool
    reserve: int
    known: Sequence[Placed]
    workshop: Workshop
    differ: Collection[Kind] = ()
    longest: float | None = None
    found: Merged = field(default_factory=Merged)
    beside: list[tuple[Variant, Meanwhile]] = field(default_factory=list)
    """Of variants with an overflow what designs come to at least, worked out meanwhile."""
    later: list[Variant] = field(default_factory=list)
    """Those with an overflow that is only offered, not begun yet."""
    started: float = 0.0
    several: bool = False
    """Whether more than one design is wanted."""
    known_any: bool = False
    """Whether a design of some variant is known, so that none is looked for before the next is bounded."""

    def run(self, variants: Sequence[Variant], top: int) -> Merged:
        """Bound every variant, then take designs from where the next is cheapest."""
        self.started = time.monotonic()
        self.later = [variant for variant in variants if variant.offered is not None]
        self.several = top > 1
        for variant in variants:
            if variant.offered is None:
                self._begin(variant, len(variants) - len(self.later))
        any_way = [variant for variant in self.later if variant.offered is OverflowOffer.ANY]
        slow = time.monotonic() - self.started > SLOW_S
        self.beside = [(one, Meanwhile(partial(self._floor, one))) for one in any_way if slow]
        try:
            self._rank(top)
        finally:
            for _, begun in self.beside:
                begun.close()
            # They know all of this, or neither would be freed before garbage is looked for.
            self.beside = []
        self._end()
        return self.found

    def _rank(self, top: int) -> None:
        """Take designs from where the next is cheapest."""
        while len(self.found.designs) < top:
            # Once time is up a step is short, and gives what its variant had by then.
            trials = [one for one in self.found.trials if one.open]
            if not trials:
                needed = not self.found.designs
                if self._offered(OverflowOffer.ANY) or (needed and self._offered(OverflowOffer.IF_NEEDED)):
                    continue
                break
            # Of equals a design that is found comes before one that is not.
            trial = min(trials, key=lambda one: (self._cost(one), one.waiting is None))
            if trial.waiting is not None and self._offered(OverflowOffer.ANY, trial.waiting.objective):
                continue
            if trial.waiting is not None:
                self._take(trial, trial.waiting)
            else:
                self._search(trial, top)

    def _offered(self, when: OverflowOffer, before: float = math.inf) -> bool:
        """Begin with the variants that are offered for such a case; whether there were any left.

        Args:
            when: the case.
            before: those that are known to come to as much at least [cents] are left for later, and those of
                which nothing is known when time is up.
        """
        least = [(one, self._least(one, before)) for one in self.later if one.offered is when]
        vain = clock.late(self.deadline) and math.isfinite(before)
        now = [one for one, cents in least if cents < before and not (vain and cents == 0)]
        self.later = [one for one in self.later if one not in now]
        for variant in now:
            self._begin(variant, len(self.found.trials) + len(now))
        return bool(now)

    def _least(self, variant: Variant, before: float) -> float:
        """What a variant that is not begun comes to at least [cents]; 0 where that is not known yet.

        All that there is to know of it, or as much as shows that it comes to no less than something.
        """
        begun = next((begun for one, begun in self.beside if one is variant), None)
        least = 0.0 if begun is None else begun.past(before, lambda: clock.late(self.deadline))
        if least > 0:
            self.found.floors[id(variant)] = least
        return max(0.0, least)

    def _floor(self, variant: Variant) -> Iterator[float]:
        """What any design of a variant comes to at least [cents], by the relaxation alone, as it rises."""
        try:
            draft = self._draft(variant)
        except NoOptionError:
            yield math.inf
            return
        except DraftLateError:
            return
        objective = objective_of(draft, self.by_ownership)
        late = partial(clock.late, self.deadline)
        _, narrowing = narrowed(draft, draft.model, objective, (), late, self.deadline)
        yield from (bound - SLACK for bound in narrowing.rising())

    def _draft(self, variant: Variant) -> Draft:
        asked = (variant.site, self.catalog, self.book, self.reserve, self.workshop)
        return Draft(*asked, deadline=self.deadline)

    def _begin(self, variant: Variant, of: int) -> None:
        trials = self._trials(variant, of, self.started)
        for trial in trials:
            trial.floor = self.found.floors.get(id(variant), 0.0)
        self.found.trials += trials

    def _cost(self, trial: Trial) -> float:
        return trial.least if trial.waiting is None else trial.waiting.objective

    def _trials(self, variant: Variant, of: int, started: float) -> list[Trial]:
        """A variant with its bound, if there is time for it; value by value of the kinds asked for."""
        bounded_by = None if self.deadline is None else started + BOUNDING * (self.deadline - started)
        late = clock.late(bounded_by)
        if late and self.found.trials:
            return [Trial(variant, unread=True)]
        if self.progress is not None:
            which = f", variant {len(self.found.trials) + 1} of {of}" if of > 1 else ""
            self.progress(f"listing the ways to build it{which}", None, None)
        try:
            draft = self._draft(variant)
        except NoOptionError as lacking:
            return [Trial(variant, lacking=lacking.bare())]
        except DraftLateError:
            return [Trial(variant, unread=True)]
        like = [placed.ranked.key for placed in self.known if self._alike(placed.variant, variant)]
        keys = list(islice(keys_of(traits_in(draft, self.differ)), MOST_ALONE + 1)) if self.differ else []
        if not keys or len(keys) > MOST_ALONE:
            ranker = self._ranker(variant, draft)
            for key in like:
                ranker.forbid(key)
            return [Trial(variant, ranker, passed_over=bool(like))]
        return [self._alone(variant, draft, key, key in like, bounded_by) for key in keys]

    def _alone(
        self, variant: Variant, draft: Draft, key: Mapping[str, Value], alike: bool, by_then: float | None
    ) -> Trial:
        """The designs of a variant that are told apart by a key, bounded if there is time for it."""
        if clock.late(by_then if self.known_any else self.deadline):
            return Trial(variant, unread=True, passed_over=alike, only=key)
        return Trial(variant, self._ranker(variant, draft, key), passed_over=alike, only=key)

    def _ranker(self, variant: Variant, draft: Draft, only: Mapping[str, Value] | None = None) -> Ranker:
        watch, judge = self._watcher(variant), self.judge_of(variant)
        ranker = Ranker(
            draft,
            judge,
            by_ownership=self.by_ownership,
            deadline=self.deadline,
            progress=watch,
            confirm=self.confirm,
            differ=self.differ,
            only=only,
            look=not self.known_any,
            longest=self.longest,
            several=self.several,
        )
        self.known_any = self.known_any or bool(ranker.known)
        return ranker

    def _watcher(self, variant: Variant) -> Progress | None:
        if self.progress is None or not variant.traits:
            return self.progress
        tell = self.progress

        def watch(stage: str, best: float | None, bound: float | None) -> None:
            tell(f"{stage} ({variant.said}, rank {len(self.found.designs) + 1})", best, bound)

        return watch

    def _search(self, trial: Trial, top: int) -> None:
        """One step of a variant's search for its next design; where it is alone, for all that are left."""
        assert trial.ranker is not None
        left = top - len(self.found.designs)
        found = [other.waiting.objective for other in self.found.trials if other.waiting is not None]
        asked = trial.taken + (1 if len(self.found.trials) > 1 or trial.only is not None else left)
        # What is dearer than a design that waits elsewhere is not the next rank.
        trial.ranker.step(asked, min(found, default=math.inf))
        self.found.interrupted = self.found.interrupted or trial.ranker.found.interrupted

    def _take(self, trial: Trial, ranked: Ranked) -> None:
        """The next rank; designs like it are none any more, in this variant and in those alike."""
        trial.taken += 1
        later = [self.found.floors.get(id(one)) for one in self.later if one.offered is OverflowOffer.ANY]
        rest = [other.least for other in self.found.trials if other is not trial]
        others = min([*rest, *(cents for cents in later if cents is not None)], default=ranked.bound)
        bound = min(ranked.bound, others)
        proven = ranked.proven and others >= ranked.objective and None not in later
        bound = ranked.objective if proven else int(bound)
        self.found.designs.append(Placed(trial.variant, ranked, bound, proven))
        for other in self.found.trials:
            if other is trial or other.ranker is None or not self._alike(other.variant, trial.variant):
                continue
            other.passed_over = other.passed_over or other.only in (None, ranked.key)
            if other.only is None:
                other.ranker.forbid(ranked.key)
                if other.waiting is not None and other.waiting.key == ranked.key:
                    other.taken += 1

    def _alike(self, one: Variant, other: Variant) -> bool:
        """Whether nothing outside their parts makes designs of two variants different."""
        told = not self.differ or Kind.ARRANGEMENT in self.differ
        return not told or one.kind == other.kind

    def _end(self) -> None:
        """Whether it is proven that there is none, asked once more by another road."""
        if self.found.designs:
            return
        if any(trial.least < math.inf for trial in self.found.trials) or self.found.interrupted:
            return
        self.found.ending = Ending.NONE
        # Proven, so there is something to tell, however soon the user stops what follows.
        clock.hold()
        rankers = [trial.ranker for trial in self.found.trials if trial.ranker is not None]
        for ranker in rankers if self.confirm else []:
            ranker.confirm_none(CONFIRM_S / len(rankers))


def closed_kinds(found: Merged, differ: Collection[Kind], top: int) -> tuple[str, ...]:
    """A sentence for each kind asked for that leaves no choice, and one where there are no more designs.

    Args:
        found: the ranking, with a design at least.
        differ: the kinds in which alone designs were asked to differ.
        top: how many designs were asked for.
    """
    notes = [
        f"Nothing to differ in for {kind}: {why}."
        for kind, why in ((kind, _why_closed(found, kind)) for kind in differ)
        if why
    ]
    ended = all(trial.least == math.inf for trial in found.trials)
    if len(notes) < len(differ) and ended and len(found.designs) < top:
        what = " and ".join(map(str, differ))
        notes.append(f"No further design that keeps the rules differs in {what}.")
    unread = sum(trial.unread and trial.only is not None for trial in found.trials)
    if unread:
        what = " and ".join(map(str, differ))
        notes.append(f"No time was left to look at {unread} of {len(found.trials)} that differ in {what}.")
    return tuple(notes)


def _why_closed(found: Merged, kind: Kind) -> str:
    """Why designs cannot differ in a kind; nothing where they might."""
    if kind is Kind.ARRANGEMENT:
        several = len({trial.variant.kind for trial in found.trials}) > 1
        return "" if several else "the problem leaves no arrangement and no vessel to be chosen"
    rankers = [trial.ranker for trial in found.trials if trial.ranker is not None]
    traits = [trait for ranker in rankers for trait in ranker.traits if trait.kind is kind]
    names = list(dict.fromkeys(trait.name for trait in traits))
    if any(trait.open for trait in traits) or len({(t.name, t.order) for t in traits}) > len(names):
        return ""
    first = found.designs[0].ranked.traits
    said = ", ".join(f"{name} {first[name]}" for name in names if name in first)
    return f"every design has {said}" if said else "there is nothing of the kind in this problem"
