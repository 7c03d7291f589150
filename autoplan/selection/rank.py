"""Ranked designs: each proven cheapest among those that differ from the ones before it."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from autoplan.drawing import Drawing
from autoplan.errors import InternalError
from autoplan.hydraulics.pump import energy_kwh_per_year
from autoplan.outcome import Verdict
from autoplan.problem.graph import pumped_from
from autoplan.problem.site import RunKind
from autoplan.rules.base import Candidate
from autoplan.rules.linear import Linear, Var, weighted
from autoplan.selection.cutting import CuttingUndecidedError
from autoplan.selection.draft import Draft
from autoplan.selection.draw import Chosen, draw, read_choices
from autoplan.selection.feedback import cut, disagreements
from autoplan.selection.levels import settle
from autoplan.selection.model import ROW_LIMIT
from autoplan.selection.presolve import SLACK, Narrowing
from autoplan.selection.solve import Answer, Ending, Search, Unless
from autoplan.selection.sticks import CuttingPlan, cutting_plan, evaluate
from autoplan.selection.together import Together

MOST_REFUSED = 500
"""Designs refused by the verdict before the search is given up as a fault of ours."""

MOST_REJECTED = 10
"""Designs refused by the verdict before a trial of a remedy is given up; it is only a trial."""

FIRST_LIMIT = 1.05
"""First cost limit, as a multiple of the relaxation's bound."""

STEP = 0.012
"""By how much dearer each further rank may be expected to be, as a share."""

KIND_WEIGHT = 20
"""One more kind of part weighs as much as so many watts."""

PLAIN_WEIGHT = 6400
"""Keeps the canonical order (at most 255 for each of some 25 groups) below one watt."""

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

    Raises:
        InternalError: costs fell down the ranks, or the verdict refused design after design.
    """
    return Ranker(draft, judge, by_ownership, deadline, progress, confirm).run(top)


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
    """One draft's search: asked for more ranks, it goes on where it was; arguments as for `rank`."""

    def __init__(
        self,
        draft: Draft,
        judge: Judge,
        by_ownership: bool,
        deadline: float | None,
        progress: Progress | None,
        confirm: bool,
    ) -> None:
        self.confirm = confirm
        self.draft = draft
        self.judge = judge
        self.deadline = deadline
        self.progress = progress
        self.objective = objective_of(draft, by_ownership)
        self.tie_break = _tie_break(draft)
        self.fold, self.goal = _folded(draft, self.objective)
        self.traits = _trait_groups(draft)
        partitions: list[list[Sequence[Var]]] = [list(next(iter(self.traits.values())).values())]
        dividing = (draft.stores.screwed, *draft.orders.ordered.values())
        partitions += [
            [[var] for var in group] for group in draft.model.groups if any(var in dividing for var in group)
        ]
        self.narrowing = Narrowing(draft.model, self.objective, partitions, Together(draft).rows)
        bound = self.narrowing.bound
        self.limit = bound * FIRST_LIMIT
        self.ended = math.isinf(bound)
        self.least = 0 if self.ended else max(0, math.floor(bound - SLACK))
        self.rows: list[Linear | Unless] = []
        self.found = Ranking(ending=Ending.NONE if self.ended else Ending.UNDECIDED)
        self.search = Search(draft.model, deadline, frozenset())

    def run(self, top: int) -> Ranking:
        """Search among the choices that a cost limit leaves; raise the limit until it covers every rank."""
        while not self.ended and len(self.found.designs) < top:
            self.step(top)
        if self.confirm and not self.found.designs and self.found.ending is Ending.NONE:
            self.confirm_none()
        return self.found

    def step(self, top: int, reach: int = 0, most: float = math.inf) -> None:
        """Search within the cost limit until there are `top` designs, and raise it where there are fewer.

        It is raised so far that `reach` ranks are likely to lie within it. No design dearer than `most` is
        looked for: once none is left up to there, the limit stays. `least` is what is proven to be spent on
        any further design; `ended` that there is none, or no more time.
        """
        limit = min(self.limit, most)
        within = math.isfinite(limit)
        beyond = self._within(limit, top)
        stopped = self.found.ending is Ending.UNDECIDED or self.found.interrupted
        if stopped or len(self.found.designs) == top:
            self.ended = stopped
            return
        self.ended = not within
        if within and self.found.ending in (Ending.NONE, Ending.PROVEN):
            self.least = max(self.least, math.floor(limit))
        if limit == self.limit:
            self.limit = self._wider(self.limit, beyond, max(top, reach))

    def forbid(self, key: Mapping[str, str]) -> None:
        """No design that is told apart by this key: one like it was ranked already, of another site."""
        same = [self.traits.get(name, {}).get(value) for name, value in key.items()]
        made = [var for names in same if names is not None for var in names]
        if set(key) == set(self.traits) and None not in same:
            self._require(weighted(((var, -1) for var in made), len(same) - 1))

    def _within(self, limit: float, top: int) -> int | None:
        """Take every design up to the limit; return the cost of one found beyond it, or None."""
        self.search = Search(self.draft.model, self.deadline, self.narrowing.out(limit))
        for row in self.rows:
            self.search.require(row)
        while len(self.found.designs) < top:
            answer = self._cheapest()
            self.found.solves += 1
            self.found.ending = answer.ending
            self.found.interrupted = self.found.interrupted or answer.interrupted
            if not answer.values or answer.interrupted:
                return None
            if answer.objective is not None and answer.objective > limit:
                return answer.objective
            if not self._take(answer):
                return None
        return None

    def _wider(self, limit: float, beyond: int | None, top: int) -> float:
        """A larger cost limit: over a design known to lie beyond it and later ranks; at last none."""
        bound = self.narrowing.bound
        if beyond is not None:
            return beyond * (1 + STEP * (top - len(self.found.designs)))
        larger = bound + 3 * (limit - bound)
        return larger if math.isfinite(larger) and larger < 2 * bound else math.inf

    def _take(self, answer: Answer) -> bool:
        """Settle, cut and judge an answer; False once the search should stop."""
        try:
            plan = self._laid(answer.values)
            settled = self._tie_broken(answer) if plan is not None else answer.values
            if settled != answer.values:
                plan = self._laid(settled)
        except CuttingUndecidedError as undecided:
            self.found.ending = Ending.UNDECIDED
            self.found.interrupted = self.found.interrupted or undecided.interrupted
            return False
        if plan is None:
            return True
        drawing = draw(self.draft, settled, settle(self.draft, settled), plan)
        verdict = self.judge(drawing)
        if not verdict.ok:
            return self._refused(settled, verdict)
        wrong = list(disagreements(self.draft, settled, drawing, verdict))
        if wrong:
            raise InternalError(f"selection and verdict disagree: {'; '.join(wrong)}")
        self._add(answer, settled, drawing, verdict)
        return answer.ending is Ending.PROVEN and not self.found.interrupted

    def _laid(self, values: Sequence[int]) -> CuttingPlan | None:
        """The cutting plan; None where pieces do not fit, once that is written down for the searches to come.

        Each such row cuts off this answer and none that can be laid, so this comes to an end.
        """
        plan = cutting_plan(self.draft, values, self.deadline)
        for row in plan.short:
            self._require(row)
        return None if plan.short else plan

    def _refused(self, values: Sequence[int], verdict: Verdict) -> bool:
        """Never this design again, nor what else its reasons forbid; False once too many were refused."""
        self.found.rejected += 1
        self._require(cut(self.draft, values, verdict))
        if not self.confirm and self.found.rejected > MOST_REJECTED:
            self.found.ending = Ending.UNDECIDED
            return False
        if self.found.rejected > MOST_REFUSED:
            raise InternalError(f"the verdict sent back {MOST_REFUSED} designs")
        return True

    def _require(self, row: Linear | Unless) -> None:
        """A row for this search and every later one."""
        self.rows.append(row)
        self.search.require(row)

    def confirm_none(self, at_most_s: float = CONFIRM_S) -> None:
        """Ask once more, by another road, before telling anyone that there is no design."""
        search = Search(self.draft.model, self.deadline, frozenset())
        again = search.minimize(self.objective, careful=True, at_most_s=at_most_s)
        self.found.solves += 1
        if again.values:
            raise InternalError("the search found no design where a second search finds one")

    def _cheapest(self) -> Answer:
        stage = f"rank {len(self.found.designs) + 1}"

        def watch(best: float | None, bound: float | None) -> None:
            if self.progress is not None:
                known = [None if value is None else value / self.fold / 100 for value in (best, bound)]
                self.progress(stage, known[0], known[1])

        watch(None, None)
        found = self.search.minimize(self.goal, watcher=watch)
        if not found.values or found.bound is None:
            return found
        cost = evaluate(self.objective, found.values)
        return replace(found, objective=cost, bound=found.bound // self.fold)

    def _tie_broken(self, answer: Answer) -> tuple[int, ...]:
        """Among designs of this cost always the same one, also where workers raced for it."""
        if not answer.raced or answer.ending is not Ending.PROVEN or answer.objective is None:
            return answer.values
        search = Search(self.draft.model, self.deadline, self.narrowing.out(answer.objective))
        for row in self.rows:
            search.require(row)
        search.require(Linear(constant=answer.objective) - self.objective)
        better = search.minimize(self.tie_break, hint=answer.values)
        self.found.solves += 1
        self.found.interrupted = self.found.interrupted or better.interrupted
        return better.values or answer.values

    def _add(self, answer: Answer, values: Sequence[int], drawing: Drawing, verdict: Verdict) -> None:
        objective = evaluate(self.objective, values)
        proven = answer.ending is Ending.PROVEN
        if self.found.designs and proven and objective < self.found.designs[-1].objective:
            raise InternalError(f"rank {len(self.found.designs) + 1} is cheaper than the one before it")
        # Choices left out by the cost limit are in no cheaper design, so the bound holds for all.
        bound = objective if proven else math.floor(min(self.narrowing.bound, answer.bound or 0))
        if self.found.first_bound is None:
            self.found.first_bound = bound
        traits = traits_of(self.draft, read_choices(self.draft, values))
        key = {
            name: next(value for value, names in group.items() if _holds(names, values))
            for name, group in self.traits.items()
        }
        self.least = max(self.least, bound)
        self.found.designs.append(Ranked(drawing, verdict, objective, bound, proven, traits, key))
        self._require(self._differ(values))

    def _differ(self, values: Sequence[int]) -> Linear:
        """Not all of what a builder tells designs apart by as in this answer."""
        same = [
            var
            for group in self.traits.values()
            for names in group.values()
            for var in names
            if _holds(names, values)
        ]
        return weighted(((var, -1) for var in same), len(self.traits) - 1)


def _holds(names: Sequence[Var], values: Sequence[int]) -> bool:
    return any(values[var] for var in names)


def _trait_groups(draft: Draft) -> dict[str, dict[str, list[Var]]]:
    """What ranks must differ in: for each trait, the choices by the trait's value."""
    groups: dict[str, dict[str, list[Var]]] = {}
    for vessel in draft.site.pumped_vessels():
        group: dict[str, list[Var]] = {}
        for var, choice in draft.pumps(vessel):
            group.setdefault(choice.pump.id, []).append(var)
        groups[f"pump in {vessel}"] = group
    for name in _told_apart(draft):
        group = {}
        for var, candidate in draft.candidates(name):
            group.setdefault(_candidate_trait(candidate), []).append(var)
        groups[f"runs {name}"] = group
    return groups


def _told_apart(draft: Draft) -> list[str]:
    """Classes by which ranks differ: every drain, and the pressure runs with half a pump's flow or more.

    A builder does not call it another design because one feed of many is a size narrower.
    """
    roots = pumped_from(draft.site)
    flows = draft.site.flows
    whole = {
        run.start: flows[run.name].design_m3_s
        for run in draft.site.runs.values()
        if run.start in draft.site.pumped_vessels()
    }
    return [
        name
        for name, members in draft.site.classes().items()
        if any(
            run.kind is RunKind.GRAVITY or flows[run.name].design_m3_s >= whole[roots[run.name]] / 2
            for run in members
        )
    ]


def _candidate_trait(candidate: Candidate) -> str:
    return f"{candidate.pipe.end} {candidate.start_way} {candidate.finish_way}"


def traits_of(draft: Draft, chosen: Chosen) -> dict[str, str]:
    """What a builder tells designs apart by, in plain words: pump, then pipe and wall parts by class."""
    traits = {
        f"pump in {vessel}": draft.catalog.pumps[choice.pump.id].description
        for vessel, choice in chosen.pumps.items()
    }
    for name, candidate in chosen.candidates.items():
        ways = [way for way in (candidate.start_way, candidate.finish_way) if way is not None]
        end = candidate.pipe.end
        # Pipe of one size comes to be welded or only to be gripped, as PE is: another way to build it.
        gripped = " for compression joints" if end.form == "plain" else ""
        traits[name] = ", ".join((f"{end.system} {end.size}{gripped}", *ways))
    return traits


def _folded(draft: Draft, objective: Linear) -> tuple[int, Linear]:
    """The objective with plainness below its last cent, and what it was multiplied by.

    Plainness is few kinds of part, counted choice by choice, and little power.
    """
    power = weighted((var, round(watts / 10)) for var, watts in draft.watts())
    plain = weighted((var, len(parts)) for var, parts in draft.choices_with_parts()) + power
    most = sum(max(plain.terms.get(var, 0) for var in group) for group in draft.model.groups)
    fold = most + 1
    goal = objective * fold + plain
    return (fold, goal) if goal.size < ROW_LIMIT else (1, objective)


def _tie_break(draft: Draft) -> Linear:
    """Few kinds of part before little power, and then an order that depends on nothing but names.

    Kinds are counted choice by choice: counting them over the whole design takes the solver many times as
    long as finding the design, for the sake of a bush.
    """
    power = weighted((var, round(watts)) for var, watts in draft.watts())
    kinds = weighted((var, len(parts)) for var, parts in draft.choices_with_parts())
    return (kinds * KIND_WEIGHT + power) * PLAIN_WEIGHT + _canonical(draft)


def _canonical(draft: Draft) -> Linear:
    """A small number for each choice, from its name alone."""
    pairs = []
    for group in draft.model.groups:
        for var in group:
            digest = hashlib.sha256(draft.model.variables[var].name.encode()).digest()
            pairs.append((var, digest[0]))
    return weighted(pairs)
