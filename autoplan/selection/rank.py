"""Ranked designs: each proven cheapest among those that differ from the ones before it."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from autoplan.drawing import Drawing
from autoplan.errors import InternalError
from autoplan.hydraulics.pump import energy_kwh_per_year
from autoplan.outcome import Verdict
from autoplan.rules.base import Candidate
from autoplan.rules.linear import Linear, Var, total, weighted
from autoplan.selection.draft import Draft
from autoplan.selection.draw import Chosen, cutting_plan, draw, evaluate, read_choices
from autoplan.selection.levels import settle
from autoplan.selection.solve import Answer, Ending, Search

MOST_CUTS = 200
"""Cuts by cutting plans and verdicts before the search is given up as a fault of ours."""

Judge = Callable[[Drawing], Verdict]
Progress = Callable[[str, float | None, float | None], None]


@dataclass(frozen=True, slots=True)
class Ranked:
    """One design with its proof.

    Attributes:
        drawing, verdict: the design and its judgement.
        objective, bound: what was minimised and its proven bound [cents].
        proven: whether the two meet.
        traits: what ranks are told apart by.
    """

    drawing: Drawing
    verdict: Verdict
    objective: int
    bound: int
    proven: bool
    traits: Mapping[str, str]


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
) -> Ranking:
    """Find up to `top` designs in order of cost.

    Args:
        draft: the model.
        judge: the independent verdict; a design that it refuses is cut off and counted.
        top: how many designs.
        by_ownership: minimise purchase and running cost over the years instead of purchase.
        deadline: `time.monotonic()` at which to stop, or None.
        progress: told the stage, the best cost and the bound [currency].

    Raises:
        InternalError: costs fell down the ranks, or the verdict refused design after design.
    """
    return _Ranker(draft, judge, by_ownership, deadline, progress).run(top)


def objective_of(draft: Draft, by_ownership: bool) -> Linear:
    """Purchase and freight [cents], with the running cost over the years if asked."""
    spending = draft.spending()
    if not by_ownership:
        return spending
    wishes = draft.site.wishes
    running = [
        (
            var,
            round(
                energy_kwh_per_year(choice.watts) * wishes.power_price_per_kwh * wishes.ownership_years * 100
            ),
        )
        for vessel in draft.site.pumped_vessels()
        for var, choice in draft.pumps(vessel)
    ]
    return spending + weighted(running)


class _Ranker:
    def __init__(
        self,
        draft: Draft,
        judge: Judge,
        by_ownership: bool,
        deadline: float | None,
        progress: Progress | None,
    ) -> None:
        self.draft = draft
        self.judge = judge
        self.progress = progress
        self.objective = objective_of(draft, by_ownership)
        self.tie_breaks = (_plainness(draft), _canonical(draft))
        self.search = Search(draft.model, deadline)
        self.traits = _trait_groups(draft)
        self.found = Ranking()

    def run(self, top: int) -> Ranking:
        while len(self.found.designs) < top:
            answer = self._next()
            self.found.ending = answer.ending
            if not answer.values:
                break
            if answer.interrupted:
                self.found.interrupted = True
                break
        self.found.solves = self.search.solves
        return self.found

    def _next(self) -> Answer:
        """One more rank, or the answer that says why not."""
        for _ in range(MOST_CUTS):
            answer = self._cheapest()
            if not answer.values:
                return answer
            settled = self._tie_broken(answer)
            cuts, _, short = cutting_plan(self.draft, settled)
            if short:
                for pipe in short:
                    self._cut_sticks(settled, pipe.pipe, pipe.cents)
                continue
            drawing = draw(self.draft, settled, settle(self.draft, settled), cuts)
            verdict = self.judge(drawing)
            if not verdict.ok:
                self.found.rejected += 1
                self._forbid(settled)
                continue
            self._add(answer, settled, drawing, verdict)
            return answer
        raise InternalError(f"the verdict and the cutting plan sent back {MOST_CUTS} designs in a row")

    def _cheapest(self) -> Answer:
        stage = f"rank {len(self.found.designs) + 1}"

        def watch(best: float | None, bound: float | None) -> None:
            if self.progress is not None:
                self.progress(
                    stage, None if best is None else best / 100, None if bound is None else bound / 100
                )

        watch(None, None)
        return self.search.minimize(self.objective, watcher=watch)

    def _tie_broken(self, answer: Answer) -> tuple[int, ...]:
        """Among designs of this cost the plainest, and among those always the same one."""
        if answer.ending is not Ending.PROVEN or answer.objective is None:
            return answer.values
        rows = [Linear(constant=answer.objective) - self.objective]
        values = answer.values
        for wish in self.tie_breaks:
            better = self.search.minimize(wish, also=rows, hint=values)
            if not better.values or better.objective is None:
                return values
            values = better.values
            rows.append(Linear(constant=better.objective) - wish)
        return values

    def _add(self, answer: Answer, values: Sequence[int], drawing: Drawing, verdict: Verdict) -> None:
        objective = evaluate(self.objective, values)
        if (
            self.found.designs
            and objective < self.found.designs[-1].objective
            and answer.ending is Ending.PROVEN
        ):
            raise InternalError(f"rank {len(self.found.designs) + 1} is cheaper than the one before it")
        bound = objective if answer.bound is None else answer.bound
        if self.found.first_bound is None:
            self.found.first_bound = bound
        chosen = read_choices(self.draft, values)
        self.found.designs.append(
            Ranked(
                drawing,
                verdict,
                objective,
                bound,
                answer.ending is Ending.PROVEN,
                traits_of(self.draft, chosen),
            )
        )
        same = [
            var for group in self.traits for names in group.values() for var in names if _holds(names, values)
        ]
        self.search.require(weighted(((var, -1) for var in same), len(self.traits) - 1))

    def _cut_sticks(self, values: Sequence[int], pipe: str, cents: int) -> None:
        """With these very pieces, that pipe costs at least so much; more pieces never cost less."""
        cutting = [var for var, list_ in self.draft.pipe_pieces()[pipe] if list_ and values[var]]
        slack = weighted(((var, -cents) for var in cutting), cents * len(cutting))
        self.search.require(self.draft.orders.pipe_spending[pipe] + slack - cents)

    def _forbid(self, values: Sequence[int]) -> None:
        """Never these very choices again."""
        made = read_choices(self.draft, values).variables
        self.search.require(weighted(((var, -1) for var in made), len(made) - 1))


def _holds(names: Sequence[Var], values: Sequence[int]) -> bool:
    return any(values[var] for var in names)


def _trait_groups(draft: Draft) -> list[dict[str, list[Var]]]:
    """What ranks must differ in: for each trait, the choices by the trait's value."""
    groups: list[dict[str, list[Var]]] = []
    for vessel in draft.site.pumped_vessels():
        group: dict[str, list[Var]] = {}
        for var, choice in draft.pumps(vessel):
            group.setdefault(choice.pump.id, []).append(var)
        groups.append(group)
    for name in draft.site.classes():
        group = {}
        for var, candidate in draft.candidates(name):
            group.setdefault(_candidate_trait(candidate), []).append(var)
        groups.append(group)
    return groups


def _candidate_trait(candidate: Candidate) -> str:
    pipe = candidate.pipe
    return f"{pipe.end} {pipe.bore_m:.5f} {candidate.start_way} {candidate.finish_way}"


def traits_of(draft: Draft, chosen: Chosen) -> dict[str, str]:
    """What a builder tells designs apart by, in plain words: pump, then pipe and wall parts by class."""
    traits = {
        f"pump in {vessel}": draft.catalog.pumps[choice.pump.id].description
        for vessel, choice in chosen.pumps.items()
    }
    for name, candidate in chosen.candidates.items():
        ways = [way for way in (candidate.start_way, candidate.finish_way) if way is not None]
        end, bore = candidate.pipe.end, candidate.pipe.bore_m * 1000
        size = f"{end.system} {end.size} (bore {bore:.1f} mm)"
        traits[name] = ", ".join((size, *ways))
    return traits


def _plainness(draft: Draft) -> Linear:
    """Tie-break before the canonical one: few distinct parts, little power; weights keep that order."""
    model = draft.model
    pairs: list[tuple[Var, int]] = []
    for vessel in draft.site.pumped_vessels():
        pairs += [(var, round(choice.watts * 10)) for var, choice in draft.pumps(vessel)]
    return weighted(pairs) + total(_distinct(draft, model.groups)) * 5000


def _distinct(draft: Draft, groups: Sequence[tuple[Var, ...]]) -> Iterator[Linear]:
    """One variable per part that is 1 if any choice uses it."""
    using: dict[str, set[Var]] = {}
    for var, parts in draft.choices_with_parts():
        for part in parts:
            using.setdefault(part, set()).add(var)
    for part, variables in using.items():
        used = draft.model.choice(f"uses {part}")
        for group in groups:
            inside = [var for var in group if var in variables]
            if inside:
                draft.model.at_least("", weighted([(used, 1)]), weighted((var, 1) for var in inside))
        yield weighted([(used, 1)])


def _canonical(draft: Draft) -> Linear:
    """An order of all choices that depends on nothing but their names."""
    names = draft.model.variables
    pairs = []
    for group in draft.model.groups:
        for var in group:
            digest = hashlib.sha256(names[var].name.encode()).digest()
            pairs.append((var, int.from_bytes(digest[:3], "big") // 16))
    return weighted(pairs)
