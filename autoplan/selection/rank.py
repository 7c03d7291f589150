"""Ranked designs: each proven cheapest among those that differ from the ones before it."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from autoplan.drawing import Drawing
from autoplan.errors import InternalError
from autoplan.hydraulics.pump import energy_kwh_per_year
from autoplan.outcome import Verdict
from autoplan.rules.linear import Linear, Var, evaluate, weighted
from autoplan.selection.cutting import CuttingUndecidedError
from autoplan.selection.draft import Draft
from autoplan.selection.draw import draw, read_choices
from autoplan.selection.feedback import cut, disagreements
from autoplan.selection.levels import settle
from autoplan.selection.plain import folded, tie_break
from autoplan.selection.presolve import SLACK, Narrowing, Partition, Relaxation
from autoplan.selection.scout import Members, Scout
from autoplan.selection.solve import FAR, Answer, Ending, Search, Unless
from autoplan.selection.sticks import CuttingPlan, cutting_plan
from autoplan.selection.together import Together
from autoplan.selection.traits import trait_groups, traits_of

MOST_REFUSED = 500
"""Designs refused by the verdict before the search is given up as a fault of ours."""

MOST_REJECTED = 10
"""Designs refused by the verdict before a trial of a remedy is given up; it is only a trial."""

FIRST_LIMIT = 1.05
"""First cost limit, as a multiple of the relaxation's bound."""

GUESS_LIMIT = 1.12
"""Cost limit of a guess at the cheapest designs, as a multiple of the relaxation's bound."""

MOST_TRIED = 3
"""Traits tried for each design that is asked for before the guess is given up."""

CLOSE = 0.02
"""How much dearer a design may be than the relaxation makes us think, as a share."""

SPARE = 3
"""Traits guessed at beyond as many as designs are asked for."""

CONFIRM_S = 20.0
"""Most time for confirming that there is no design [s]."""

Judge = Callable[[Drawing], Verdict]
Progress = Callable[[str, float | None, float | None], None]


@dataclass(frozen=True, slots=True)
class Ranked:
    """One design with its proof.

    Attributes:
        drawing, verdict: the design and its judgement.
        objective, bound: what was minimised and its proven bound [cents].
        proven: whether the two meet.
        traits: what ranks are told apart by, in plain words and with what is told along.
        key: what ranks are told apart by, and nothing else.
    """

    drawing: Drawing
    verdict: Verdict
    objective: int
    bound: int
    proven: bool
    traits: Mapping[str, str]
    key: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class _Known:
    """A design that is the cheapest with its traits.

    Attributes:
        goal: what it comes to, in the unit of `plain.folded`.
        values: of every variable.
        drawing, verdict: the design and its judgement.
        differ: the row that other traits keep.
    """

    goal: int
    values: tuple[int, ...]
    drawing: Drawing
    verdict: Verdict
    differ: Linear


@dataclass(slots=True)
class Ranking:
    """What a ranking run came to.

    Attributes:
        designs: in rank order.
        ending: of the last search: NONE once no further design differs.
        first_bound: bound of rank 1 [cents], or None.
        rejected: designs that the verdict refused.
        solves: searches run.
        interrupted: whether the user stopped it.
    """

    designs: list[Ranked] = field(default_factory=list)
    ending: Ending = Ending.UNDECIDED
    first_bound: int | None = None
    rejected: int = 0
    solves: int = 0
    interrupted: bool = False


def rank(
    draft: Draft,
    judge: Judge,
    top: int,
    by_ownership: bool = False,
    deadline: float | None = None,
    progress: Progress | None = None,
    confirm: bool = True,
    any_will_do: bool = False,
) -> Ranking:
    """Find up to `top` designs in order of cost.

    Args:
        draft: the model.
        judge: the independent verdict; a design that it refuses is cut off and counted.
        top: how many designs.
        by_ownership: minimise purchase and running cost over the years instead of purchase.
        deadline: `time.monotonic()` at which to stop, or None.
        progress: told the stage, the best cost and the bound [currency].
        confirm: whether to ask once more, by another road, before answering that there is none.
        any_will_do: whether to stop at the first design that the verdict passes, proven cheapest or not.

    Raises:
        InternalError: costs fell down the ranks, or the verdict refused design after design.
    """
    return Ranker(draft, judge, by_ownership, deadline, progress, confirm, any_will_do).run(top)


def objective_of(draft: Draft, by_ownership: bool) -> Linear:
    """Purchase and freight [cents], with the running cost over the years if asked."""
    spending = draft.spending()
    if not by_ownership:
        return spending
    wishes = draft.site.wishes
    running = [
        (
            var,
            round(energy_kwh_per_year(watts) * wishes.power_price_per_kwh * wishes.ownership_years * 100),
        )
        for var, watts in draft.watts()
    ]
    return spending + weighted(running)


class Ranker:
    """The search for one site's designs in order of cost, step by step.

    Attributes:
        found: the designs so far, and how the last search ended.
        least: what is proven to be spent on any design after those found [cents].
        ended: whether there is nothing more to find, or no more time.
    """

    def __init__(
        self,
        draft: Draft,
        judge: Judge,
        by_ownership: bool,
        deadline: float | None,
        progress: Progress | None,
        confirm: bool,
        any_will_do: bool = False,
    ) -> None:
        self.confirm = confirm
        self.any_will_do = any_will_do
        self.draft = draft
        self.judge = judge
        self.deadline = deadline
        self.progress = progress
        self.objective = objective_of(draft, by_ownership)
        self.tie_break = tie_break(draft)
        self.fold, self.goal = folded(draft, self.objective)
        self.traits = trait_groups(draft)
        self.dividing: list[list[Sequence[Var]]] = [
            [[var] for var in group]
            for group in draft.model.groups
            if any(var in (draft.stores.screwed, *draft.orders.ordered.values()) for var in group)
        ]
        partitions: list[Partition] = [list(next(iter(self.traits.values())).values()), *self.dividing]
        self.narrowing = Narrowing(draft.model, self.objective, partitions, Together(draft).rows)
        bound = self.narrowing.bound
        self.limit = bound * FIRST_LIMIT
        self.ended = math.isinf(bound)
        self.found = Ranking(ending=Ending.NONE if self.ended else Ending.UNDECIDED)
        self.rows: list[Linear | Unless] = []
        self.known: list[_Known] = []
        self.others_from = 0 if self.ended else max(0, math.floor(bound - SLACK)) * self.fold
        """No answer with other traits than those known comes to less."""
        self.guessed = False
        self.stopped = False

    @property
    def least(self) -> int:
        """What is proven to be spent on any design after those found [cents]."""
        return min([self.others_from, *(known.goal for known in self._unranked())]) // self.fold

    def run(self, top: int) -> Ranking:
        """Guess at designs, prove that there are no cheaper ones, raise the limit until all are covered."""
        while not self.ended and len(self.found.designs) < top:
            self.step(top)
        if self.confirm and not self.found.designs and self.found.ending is Ending.NONE:
            self.confirm_none()
        return self.found

    def step(self, top: int, most: float = math.inf) -> None:
        """Search within the cost limit until there are `top` designs, and raise it where there are fewer.

        No design dearer than `most` is looked for: once none is left up to there, the limit stays.
        """
        limit = min(self.limit, most)
        if not self.guessed:
            self.guessed = True
            self._guess(top, most)
        if not self.stopped:
            self._prove(limit, top, most)
        self._rank(top)
        if self.stopped:
            self.ended = True
        elif len(self.found.designs) < top and limit == self.limit:
            self.ended = math.isinf(limit)
            self.found.ending = Ending.NONE
            self.limit = self._wider(limit)

    def forbid(self, key: Mapping[str, str]) -> None:
        """No design that is told apart by this key: one like it was ranked already, of another site."""
        same = [self.traits.get(name, {}).get(value) for name, value in key.items()]
        made = [var for names in same if names is not None for var in names]
        if set(key) == set(self.traits) and None not in same:
            self.rows.append(weighted(((var, -1) for var in made), len(same) - 1))
            ranked, waiting = self.known[: len(self.found.designs)], self._unranked()
            self.known = [*ranked, *(known for known in waiting if self._key(known.values) != key)]

    def _unranked(self) -> list[_Known]:
        """Designs known and not yet ranked, cheapest first."""
        return self.known[len(self.found.designs) :]

    def _guess(self, top: int, most: float) -> None:
        """The cheapest designs with traits that the relaxation thinks promising."""
        limit = math.floor(min(self.narrowing.bound * GUESS_LIMIT, most))
        out = self.narrowing.out(limit)
        partitions: list[Partition] = [list(group.values()) for group in self.traits.values()]
        partitions += self.dividing
        relaxation = Relaxation(self.draft.model, self.objective, out, partitions)
        for row in self.narrowing.rows:
            relaxation.require(row)
        scout, spread = Scout(relaxation, len(self.traits)), math.inf
        for tried, (members, bound) in enumerate(scout.promising()):
            if tried >= (top + SPARE if len(self.known) >= top else MOST_TRIED * top):
                return
            self._try(scout, members, min(limit, bound + spread), top)
            if self.stopped:
                return
            if self.known and math.isinf(spread):
                # Others lie about as far above their bound as the first.
                first = evaluate(self.objective, self.known[0].values)
                spread = first - bound + CLOSE * first

    def _try(self, scout: Scout, members: Members, limit: float, top: int) -> None:
        """Take the cheapest design with these traits, if one within the limit is of interest."""
        while not self.stopped:
            most = math.floor(limit) * self.fold + self.fold - 1
            if len(self.known) >= top:
                most = min(most, self.known[top - 1].goal - 1)
            out = scout.left_out(members, most // self.fold)
            if out is None:
                return
            out |= self.narrowing.out(most // self.fold)
            answer = self._search(out).minimize(self.goal, at_most=most)
            self._note(answer)
            if answer.ending is Ending.NONE:
                return
            taken = bool(answer.values) and not answer.interrupted and self._take(answer, out)
            self.stopped = self.stopped or answer.ending is not Ending.PROVEN
            if taken:
                return

    def _prove(self, limit: float, top: int, cap: float) -> None:
        """Find every design up to a cost limit, or the cheapest that are asked for."""
        while not self.stopped:
            most = self._most(limit, top, cap)
            if most is not None and most < self.others_from:
                return
            out = self.narrowing.out(math.inf if most is None else most // self.fold)
            answer = self._cheapest(out, most, top)
            self.found.ending = answer.ending
            if answer.ending is Ending.NONE:
                self.others_from = max(self.others_from, most + 1) if most is not None else FAR
                return
            if answer.bound is not None:
                self.others_from = max(self.others_from, answer.bound)
            if answer.values and not answer.interrupted:
                self._take(answer, out)
            self.stopped = self.stopped or answer.ending is not Ending.PROVEN or answer.interrupted

    def _most(self, limit: float, top: int, cap: float) -> int | None:
        """What an answer of interest comes to at most: less than the last design asked for, or the limit."""
        enough = len(self.known) >= top
        limit = cap if enough else limit
        within = None if math.isinf(limit) else math.floor(limit) * self.fold + self.fold - 1
        if not enough:
            return within
        last = self.known[top - 1].goal - 1
        return last if within is None else min(last, within)

    def _wider(self, limit: float) -> float:
        """A larger cost limit; at last none."""
        bound = self.narrowing.bound
        larger = bound + 3 * (limit - bound)
        return larger if math.isfinite(larger) and larger < 2 * bound else math.inf

    def _search(self, out: frozenset[Var]) -> Search:
        search = Search(self.draft.model, self.deadline, out)
        for row in (*self.rows, *(known.differ for known in self.known)):
            search.require(row)
        return search

    def _note(self, answer: Answer) -> None:
        self.found.solves += 1
        self.found.interrupted = self.found.interrupted or answer.interrupted
        self.stopped = self.stopped or answer.interrupted

    def _take(self, answer: Answer, out: frozenset[Var]) -> bool:
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
            self.stopped = True
            return False
        if plan is None:
            return False
        drawing = draw(self.draft, settled, settle(self.draft, settled), plan)
        verdict = self.judge(drawing)
        if not verdict.ok:
            self._refused(settled, verdict)
            return False
        wrong = list(disagreements(self.draft, settled, drawing, verdict))
        if wrong:
            raise InternalError(f"selection and verdict disagree: {'; '.join(wrong)}")
        goal = evaluate(self.goal, settled)
        self.known.append(_Known(goal, settled, drawing, verdict, self._differ(settled)))
        self.known.sort(key=lambda known: known.goal)
        self.stopped = self.stopped or self.any_will_do
        return True

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
        search = Search(self.draft.model, self.deadline, frozenset())
        for row in self.rows:
            search.require(row)
        again = search.minimize(self.objective, careful=True, at_most_s=at_most_s)
        self.found.solves += 1
        if again.values:
            raise InternalError("the search found no design where a second search finds one")

    def _cheapest(self, out: frozenset[Var], most: int | None, top: int) -> Answer:
        """The cheapest answer with other traits than those known."""
        stage = f"rank {min(top, len(self.known) + 1)}"

        def watch(best: float | None, bound: float | None) -> None:
            if self.progress is not None:
                known = [None if value is None else value / self.fold / 100 for value in (best, bound)]
                self.progress(stage, known[0], known[1])

        watch(None, None)
        answer = self._search(out).minimize(self.goal, watcher=watch, at_most=most)
        self._note(answer)
        return answer

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
        """Rank the designs known, cheapest first, as far as they are proven; the next too if time is up."""
        for known in self._unranked()[: top - len(self.found.designs)]:
            proven = known.goal <= self.others_from
            if not proven and not self.stopped:
                break
            self._publish(known, proven=proven)
            if not proven:
                break
        if self.stopped and not self.found.designs:
            self.found.ending = Ending.UNDECIDED

    def _publish(self, known: _Known, *, proven: bool) -> None:
        objective = evaluate(self.objective, known.values)
        if self.found.designs and proven and objective < self.found.designs[-1].objective:
            raise InternalError(f"rank {len(self.found.designs) + 1} is cheaper than the one before it")
        # Choices left out by the cost limit are in no cheaper design, so the bound holds for all.
        bound = objective if proven else min(objective, self.others_from // self.fold)
        if self.found.first_bound is None:
            self.found.first_bound = bound
        traits = traits_of(self.draft, read_choices(self.draft, known.values))
        key = self._key(known.values)
        self.found.designs.append(Ranked(known.drawing, known.verdict, objective, bound, proven, traits, key))
        self.found.ending = Ending.PROVEN if proven else Ending.FEASIBLE

    def _key(self, values: Sequence[int]) -> dict[str, str]:
        """What a builder tells an answer apart by, name to value."""
        return {
            name: next(value for value, names in group.items() if any(values[var] for var in names))
            for name, group in self.traits.items()
        }

    def _differ(self, values: Sequence[int]) -> Linear:
        """Not all of what a builder tells designs apart by as in this answer."""
        same = [var for name, value in self._key(values).items() for var in self.traits[name][value]]
        return weighted(((var, -1) for var in same), len(self.traits) - 1)
