"""Ranked designs: each proven cheapest among those that differ from the ones before it."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace

from autoplan import clock
from autoplan.errors import InternalError
from autoplan.optimiser.cutting.cutting import CuttingUndecidedError
from autoplan.optimiser.cutting.sticks import CuttingPlan, cutting_plan, with_more
from autoplan.optimiser.decode import draw
from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.model.levels import settle
from autoplan.optimiser.model.model import ROW_LIMIT
from autoplan.optimiser.model.signature import Value, traits_in, unlike, with_only
from autoplan.optimiser.search.apart import PARTED_FROM, Parts, cheapest, together
from autoplan.optimiser.search.feedback import cut, disagreements
from autoplan.optimiser.search.leaf_by_leaf import LEAF_WORK, LeafByLeaf
from autoplan.optimiser.search.narrowed import narrowed
from autoplan.optimiser.search.presolve import Portion
from autoplan.optimiser.search.ranking import Judge, KnownBest, Ranked, Ranking
from autoplan.optimiser.search.regions import KIND_SPREADS, KIND_WORK, STAGE_WORK, KindsByBound, Regions
from autoplan.optimiser.search.solve import FAR, Answer, Ending, Row, Search, Unbettered, Unless
from autoplan.optimiser.search.tie_break import folded, goal_from, goal_to, limit_of, objective_of, tie_break
from autoplan.options import Progress
from autoplan.outcome import Kind, Verdict
from autoplan.rules.linear import Linear, Var, evaluate, weighted

MOST_REFUSED = 500
"""Designs refused by the verdict before the search is given up as a fault of ours."""

MOST_REJECTED = 10
"""Designs refused by the verdict before a trial of a remedy is given up; it is only a trial."""

LOOKS = 3
"""Most searches for a design at once, before the bound is worked out."""

LOOK_WORK = 2.0
"""Work on each of them, in the solver's own measure: about as many seconds."""

LOOK_GAP = 0.02
"""Share of the cost within which the best of a first look need not be bettered."""

MOST_DOUBTED = 3
"""Answers of which it is not known whether they can be cut before the search ends with what it has."""

CONFIRM_S = 20.0
"""Most time for confirming that there is no design [s]."""


class Ranker:
    """The search for one site's designs in order of cost, step by step.

    It goes by regions: only choices whose reduced cost in the relaxation leaves the bound within a limit may
    be made. All answers up to that limit are in the region, so what is found or refused there is proven up
    to it. The first regions hold few choices and give designs at once; each next one is wider, until the
    limit is what a design must stay below to be of interest, and the search of that region is the proof.
    Where one was too hard to search, the answers are halved and searched part by part from then on.

    Args:
        draft: the model.
        judge: the independent verdict; a design that it refuses is cut off and counted.
        by_ownership: minimise purchase and running cost over the years instead of purchase.
        deadline: `time.monotonic()` at which to stop, or None.
        progress: told the stage, the best cost and the bound [currency].
        confirm: whether to ask once more, by another road, before answering that there is none.
        any_will_do: whether to stop at the first design that the verdict passes, proven cheapest or not.
        differ: the kinds of trait that designs must differ in; all where none is named.
        only: a key; only designs that are told apart by it are looked for.
        look: whether a design is looked for before the bound is worked out.
        longest: the deadline once a design is known, where that is later.
        several: whether more than one design is wanted.

    Attributes:
        found: the designs so far, and how the last search ended.
        least: what is proven to be spent on any design after those found [cents].
        ended: whether there is nothing more to find, or no more time.
    """

    def __init__(
        self,
        draft: Draft,
        judge: Judge,
        *,
        by_ownership: bool = False,
        deadline: float | None = None,
        progress: Progress | None = None,
        confirm: bool = True,
        any_will_do: bool = False,
        differ: Collection[Kind] = (),
        only: Mapping[str, Value] | None = None,
        look: bool = True,
        longest: float | None = None,
        several: bool = False,
    ) -> None:
        self.confirm = confirm
        self.any_will_do = any_will_do
        self.draft = draft
        self.judge = judge
        self.deadline = deadline
        self.longest = deadline if longest is None else longest
        self.progress = progress
        self.objective = objective_of(draft, by_ownership)
        self.tie_break = tie_break(draft)
        self.fold, self.goal = folded(draft, self.objective)
        self.most = goal_to(limit_of(draft, by_ownership), self.fold)
        """What is of interest comes to no more."""
        self.traits = traits_in(draft, differ)
        self.found = Ranking()
        self.rows: list[Row] = []
        self.known: list[KnownBest] = []
        self.doubted = FAR
        """What an answer of which it is not known whether it can be cut comes to at least."""
        self.doubts = 0
        self.shown = 0
        """The most that was told of how little any other answer comes to."""
        self.stopped = False
        self._tell("the least that a design can cost", None)
        # By itself: what asks it would else hold the ranker, and the ranker that.
        self._bounding = clock.HalfTime(deadline)
        model = draft.model if only is None else with_only(draft.model, self.traits, only)
        apart = self.traits if several and only is None else ()
        late = self._bounding.late
        self.model, self.narrowing = narrowed(draft, model, self.objective, apart, late, self.longest)
        self.parts = Parts(self.narrowing)
        self.kinds = KindsByBound(self.narrowing) if self.narrowing.has_kinds else None
        self.regions = Regions(self.narrowing, 0.0)
        self.leaves = LeafByLeaf(self.narrowing, self.fold)
        self.bounded = False  # By all branches; not before it is this search's turn.
        self._bounded_from(self.narrowing.whole)
        if look and not self.ended:
            self._look()

    def _bounded_from(self, bound: float) -> None:
        """Start from a bound on every answer [cents]; infinite where there is none."""
        self.ended = math.isinf(bound)
        self.found.ending = Ending.NONE if self.ended else Ending.UNDECIDED
        self.others_from = FAR if self.ended else goal_from(bound, self.fold)
        self.regions.begin(bound)

    @property
    def least(self) -> int:
        """What is proven to be spent on any design after those found [cents]."""
        return min([self._proven_to, *(known.goal for known in self._unranked())]) // self.fold

    @property
    def _proven_to(self) -> int:
        """No answer but those known is proven to come to less."""
        return min(self.others_from, self.doubted)

    def run(self, top: int) -> Ranking:
        """Find and prove so many designs, or all there are.

        Raises:
            InternalError: costs fell down the ranks, or the verdict refused design after design.
        """
        while not self.ended and len(self.found.designs) < top:
            self.step(top)
        if self.confirm and not self.found.designs and self.found.ending is Ending.NONE:
            self.confirm_none()
        return self.found

    def step(self, top: int, most: float = math.inf) -> None:
        """Search until so many designs are proven, or there is none left that is no dearer than `most`."""
        if not self.stopped and not self.bounded:
            self._tell("what any design costs at least", self.others_from)
            self._bounding.begin()
            self._bounded_from(self.narrowing.bound)
            self.bounded = True
        while not self.stopped and not self.ended:
            cap = self._cap(top, most)
            if self.others_from > cap:
                break
            self._search_region(cap, top)
        self._rank(top)
        if self.stopped:
            self.ended = True
        elif len(self.found.designs) < top and self.others_from > self.most:
            self.ended = True
            self.found.ending = Ending.NONE if self.doubted == FAR else Ending.UNDECIDED

    def forbid(self, key: Mapping[str, Value]) -> None:
        """No design that is told apart by this key: one like it was ranked already, of another site."""
        if set(key) == {trait.name for trait in self.traits}:
            self.rows.append(unlike(self.traits, key))
            ranked, waiting = self.known[: len(self.found.designs)], self._unranked()
            self.known = [*ranked, *(known for known in waiting if self._key(known.values) != key)]

    def _look(self) -> None:
        """A design at once, of the choices that the relaxation as a whole makes or nearly makes.

        Nothing is proven by it, and nothing lost where it finds none; but bounds may take ten times as long.
        """
        for _ in range(LOOKS):
            if self.known or self.late():
                return
            near = self.narrowing.near(self.regions.spread)
            answer = self._search(near).look(self.goal, LOOK_WORK, LOOK_GAP)
            self._note(answer)
            if answer.values:
                self._try(self.draft.orders.with_least_freight(answer.values))
            elif answer.ending is not Ending.NONE:
                return
            else:
                self.regions.widen()

    def _try(self, values: tuple[int, ...]) -> None:
        """Judge an answer of which nothing is proven; nothing is noted where it is not told if it is laid."""
        with suppress(CuttingUndecidedError):
            plan = self._laid(values)
            if plan is None:
                self._mend(values, FAR)
            else:
                self._judged(values, plan)

    def late(self) -> bool:
        """Whether time is up."""
        return clock.late(self.deadline)

    def _tell(self, stage: str, bound: int | None) -> None:
        """Pass on the cheapest design that is verified and what is proven of any, at most what it comes to.

        Args:
            stage: what is done now.
            bound: no other answer is proven to come to less; None where that is not known.
        """
        if self.progress is not None:
            best = self.known[0].goal if self.known else None
            least = min((value for value in (best, bound) if value is not None), default=None)
            known = [None if value is None else value // self.fold / 100 for value in (best, least)]
            self.progress(stage, known[0], None if bound is None else known[1])

    def _unranked(self) -> list[KnownBest]:
        """Designs known and not yet ranked, cheapest first."""
        return self.known[len(self.found.designs) :]

    def _cap(self, top: int, most: float) -> int:
        """What an answer of interest comes to at most: less than the last design asked for, and the limit."""
        enough = len(self.known) >= top
        return min(self.most, goal_to(most, self.fold), self.known[top - 1].goal - 1 if enough else FAR)

    def _search_region(self, cap: int, top: int) -> None:
        """One search: the cheapest answer of interest that can be made of the choices in the next region."""
        if self.late():
            self.stopped = True
            self.found.interrupted = self.found.interrupted or clock.stopped()
            return
        self._bounding.begin()
        if self.kinds is not None and self._look_at_kinds(self.kinds, cap, top):
            return
        if self.regions.hard and cap < FAR - 1 and self._search_leaves(cap, top):
            return
        limit = self.regions.limit(cap / self.fold)
        out = self.narrowing.out(limit)
        reach = min(cap, goal_to(limit, self.fold))
        closing = reach == cap
        wide = len(self.model.variables) - len(out) >= PARTED_FROM and cap < FAR - 1
        parts = self.parts.of(limit, out, split=wide)
        open_ = [part for part in parts if part.least <= cap]
        work = None if closing else STAGE_WORK
        answers = self._cheapest(self._search(out, cap), open_, cap, reach, top, work)
        answer = together(answers)
        self.found.ending = answer.ending
        for part, its in zip(open_, answers, strict=True):
            part.least = max(part.least, cap + 1 if its.ending is Ending.NONE else its.bound or 0)
        # What the region leaves out costs more than it reaches to.
        self.others_from = max(self.others_from, min([reach + 1, *(part.least for part in open_)]))
        if answer.ending is Ending.NONE:
            self.regions.widen()
            return
        taken = self._take_all(answers, out, cap, top)
        undecided = answer.ending is not Ending.PROVEN
        self.regions.hard = self.regions.hard or undecided
        if undecided and (closing or self.late()):
            self.stopped = True
        elif undecided or (taken and self._cap(top, math.inf) < (answer.objective or 0)):
            # Nothing cheaper is left in this region, or it is too hard to tell.
            self.regions.widen()

    def _look_at_kinds(self, kinds: KindsByBound, cap: int, top: int) -> bool:
        """Look for a design of each of the next few kinds, once more when as many are known as asked for.

        Nothing is proven by it; but what the regions to come need not reach past is known soon.
        """
        enough = len(self.known) >= top
        if enough and kinds.looked >= top:
            return False
        if enough:
            kinds.looked = top
        few = first = kinds.few(cap / self.fold, promising=enough)
        for spread in KIND_SPREADS:
            if few and not self.stopped:
                parts = [kinds.near(kind, spread) for kind in few]
                answers = self._search_parts(parts, cap, top, KIND_WORK)
                few = [kind for kind, its in zip(few, answers, strict=True) if its.ending is Ending.NONE]
        if enough:
            self.regions.reach(self._cap(top, math.inf) / self.fold)
        return bool(first)

    def _search_leaves(self, cap: int, top: int) -> bool:
        """Halve the answers until parts of least bound are small, and search these; whether there are any."""
        for bound in self.leaves.halved(cap, self._bounding.go_on):
            self.others_from = max(self.others_from, goal_from(bound, self.fold))
            self._tell("what any design costs at least", self.others_from)
        if few := self.leaves.few(cap):
            answers = self._search_parts([part for _, part in few], cap, top, LEAF_WORK)
            self.leaves.searched(few, answers, cap)
        self.others_from = max(self.others_from, min(cap + 1, goal_from(self.narrowing.bound, self.fold)))
        return bool(few) or self.others_from > cap

    def _search_parts(self, parts: Sequence[Portion], cap: int, top: int, work: float) -> list[Answer]:
        """The cheapest answer of each of some parts, taken where it is of interest; others may cost less."""
        out = frozenset[Var].intersection(*(part.out for part in parts))
        answers = self._cheapest(self._search(out, cap), parts, cap, self.others_from - 1, top, work)
        self._take_all(answers, out, cap, top)
        return answers

    def _take_all(self, answers: Sequence[Answer], out: frozenset[Var], cap: int, top: int) -> bool:
        """Take what was found in each part, cheapest first, as long as it is of interest."""
        taken = False
        for answer in sorted(answers, key=lambda answer: answer.objective or 0):
            if answer.values and (answer.objective or 0) <= min(cap, self._cap(top, math.inf)):
                taken = self._take(answer, out, cap) or taken
        return taken

    def _search(self, out: frozenset[Var], cap: int | None = None) -> Search:
        search = Search(self.model, self.deadline, out)
        ranked = len(self.found.designs)
        for row in (*self.rows, *(known.differ for known in self.known[:ranked])):
            search.require(row)
        for known in self._unranked():
            if cap is None or known.goal <= cap:
                search.require(Unbettered(known.differ, self.goal, known.goal - 1))
        for tight in self.narrowing.rows:
            if tight.size < ROW_LIMIT:
                search.require(tight)
        return search

    def _note(self, answer: Answer) -> None:
        self.found.solves += 1
        self.found.interrupted = self.found.interrupted or answer.interrupted
        self.stopped = self.stopped or answer.interrupted

    def _take(self, answer: Answer, out: frozenset[Var], cap: int) -> bool:
        """Settle, cut and judge an answer; False where it is not a design, once that is written down."""
        # A search that was cut short may pay more freight than its orders ask for.
        answer = replace(answer, values=self.draft.orders.with_least_freight(answer.values))
        try:
            plan = self._laid(answer.values)
            settled = self._tie_broken(answer, out) if plan is not None else answer.values
            if settled != answer.values:
                plan = self._laid(settled)
        except CuttingUndecidedError as undecided:
            self.found.interrupted = self.found.interrupted or undecided.interrupted
            self._doubt(answer.values)
            plan = None
        if plan is not None:
            return self._judged(settled, plan)
        self._mend(answer.values, cap)
        return False

    def _mend(self, values: Sequence[int], cap: int) -> None:
        """Judge an answer whose pieces do not fit with more sticks, if it comes to no more than `cap` so."""
        more = None if self.late() else with_more(self.draft, values, self.deadline)
        if more is not None and evaluate(self.goal, more) <= cap:
            with suppress(CuttingUndecidedError):
                if not (again := cutting_plan(self.draft, more, self.deadline)).short:
                    self._judged(more, again)

    def _judged(self, values: tuple[int, ...], plan: CuttingPlan) -> bool:
        """Draw and judge an answer whose pieces are laid; False where the verdict refuses it."""
        drawing = draw(self.draft, values, settle(self.draft, values), plan)
        verdict = self.judge(drawing)
        if not verdict.ok:
            self._refused(values, verdict)
            return False
        wrong = list(disagreements(self.draft, values, drawing, verdict))
        if wrong:
            raise InternalError(f"optimiser and verdict disagree: {'; '.join(wrong)}")
        self._learn(KnownBest(evaluate(self.goal, values), values, drawing, verdict, self._differ(values)))
        self.stopped = self.stopped or self.any_will_do
        return True

    def _learn(self, known: KnownBest) -> None:
        """A design more, in the place of a dearer one like it."""
        clock.hold()
        self.deadline = self.longest
        ranked, key = self.known[: len(self.found.designs)], self._key(known.values)
        alike = [other for other in self._unranked() if self._key(other.values) == key]
        if all(other.goal > known.goal for other in alike):
            others = [other for other in self._unranked() if other not in alike]
            self.known = ranked + sorted([*others, known], key=lambda one: one.goal)

    def _doubt(self, values: Sequence[int]) -> None:
        """Leave an answer aside whose pieces may or may not fit on its sticks: it may be the cheapest."""
        made = [var for group in self.model.groups for var in group if values[var]]
        bought = [supply.packs for supplies in self.draft.orders.supplies.values() for supply in supplies]
        more = [(packs, evaluate(packs, values) + 1) for packs in bought if packs.terms]
        self.rows.append(Unless(weighted(((var, -1) for var in made), len(made) - 1), tuple(more)))
        self.doubted = min(self.doubted, self.others_from)
        self.doubts += 1
        self.stopped = self.stopped or self.doubts >= MOST_DOUBTED

    def _laid(self, values: Sequence[int]) -> CuttingPlan | None:
        """The cutting plan; None where pieces do not fit, once that is written down for the searches to come.

        Each such row cuts off this answer and none that can be laid, so this comes to an end.
        """
        plan = cutting_plan(self.draft, values, self.deadline)
        self.rows += plan.short
        return None if plan.short else plan

    def _refused(self, values: Sequence[int], verdict: Verdict) -> None:
        """Never this design again, nor what else its reasons forbid; given up once too many were refused."""
        self.found.rejected += 1
        self.rows.append(cut(self.draft, values, verdict))
        if not self.confirm and self.found.rejected > MOST_REJECTED:
            self.stopped = True
        elif self.found.rejected > MOST_REFUSED:
            raise InternalError(f"the verdict sent back {MOST_REFUSED} designs")

    def confirm_none(self, at_most_s: float = CONFIRM_S) -> None:
        """Ask once more, by another road, before telling anyone that there is no design."""
        self._tell("making sure that there is no design", None)
        search = Search(self.model, self.deadline, frozenset())
        for row in self.rows:
            search.require(row)
        again = search.minimize(self.objective, careful=True, at_most_s=at_most_s)
        self.found.solves += 1
        if again.values:
            raise InternalError("the search found no design where a second search finds one")

    def _cheapest(
        self,
        search: Search,
        parts: Sequence[Portion],
        cap: int,
        reach: int,
        top: int,
        work: float | None,
    ) -> list[Answer]:
        """The cheapest answer of interest in each part of a region that reaches up to a goal."""
        stage = self._stage(top, work)

        def watch(_: float | None, bound: float | None) -> None:
            # An answer that is not laid and judged yet is no design; what the region leaves out costs more.
            least = 0 if bound is None or math.isinf(bound) else math.floor(bound)
            self.shown = max(self.shown, self.others_from, min(least, reach + 1))
            self._tell(stage, self.shown)

        watch(None, None)
        best = self.known[0].goal if self.known else None
        at_most = cap if cap < FAR - 1 else None
        beaten = self.known[0].values if top == 1 and self.known and best == cap + 1 else ()
        answers = cheapest(search, parts, self.goal, watch, at_most, work, beaten)
        self._note(together(answers))
        return answers

    def _stage(self, top: int, work: float | None) -> str:
        """What the search is for, in a few words."""
        if len(self.known) < top:
            return f"looking for rank {len(self.known) + 1}"
        return "proving that none is cheaper" if work is None else "looking for anything cheaper"

    def _tie_broken(self, answer: Answer, out: frozenset[Var]) -> tuple[int, ...]:
        """Among answers of this cost always the same one, also where workers raced for it."""
        if not answer.raced or answer.ending is not Ending.PROVEN:
            return answer.values
        search = self._search(out)
        search.require(Linear(constant=evaluate(self.objective, answer.values)) - self.objective)
        better = search.minimize(self.tie_break, hint=answer.values)
        self._note(better)
        return better.values or answer.values

    def _rank(self, top: int) -> None:
        """Rank the designs known, cheapest first, as far as they are proven; all of them if time is up."""
        for known in self._unranked()[: top - len(self.found.designs)]:
            proven = known.goal <= self._proven_to
            if not proven and not self.stopped and self.doubted == FAR:
                break
            objective = evaluate(self.objective, known.values)
            # Choices left out by the cost limit are in no cheaper design, so the bound holds for all.
            bound = objective if proven else min(objective, self._proven_to // self.fold)
            told = {trait.name: trait.told(known.values) for trait in self.traits}
            key = self._key(known.values)
            self.found.add(Ranked(known.drawing, known.verdict, objective, bound, proven, told, key))
        if self.stopped and not self.found.designs:
            self.found.ending = Ending.UNDECIDED

    def _key(self, values: Sequence[int]) -> dict[str, Value]:
        """What a builder tells an answer apart by."""
        return {trait.name: trait.of(values) for trait in self.traits}

    def _differ(self, values: Sequence[int]) -> Linear | Unless:
        """Not all of what a builder tells designs apart by as in this answer."""
        return unlike(self.traits, self._key(values))
