"""Every part that pressure can reach holds the pump's shut-off head."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator

from autoplan.catalog.parts import Catalog
from autoplan.outcome import Finding
from autoplan.places import OnRun
from autoplan.problem.flows import pumped_from
from autoplan.rules.asked import UnderHead
from autoplan.rules.base import ModelView, Rule, answers
from autoplan.rules.linear import Linear, Var, weighted
from autoplan.rules.quantities import RATING, more, pumped
from autoplan.rules.survey import Survey


class PressureRating(Rule):
    """Rating >= shut-off head, for pipe, turns, valves, adaptors and tees of every pressure run."""

    id = "pressure-rating"
    sentence = "Every part under pressure holds the pump's head against a closed valve."
    source = "pressure rating of the part's row"
    unit = "m"
    reads = (more(RATING, pumped),)

    @answers(UnderHead)
    def holds(self, asked: UnderHead) -> bool:
        """Only pipe that some pump is weak enough for: other only widens the model."""
        return asked.pipe.rating_m >= asked.head_m

    def encode(self, draft: ModelView) -> None:
        """No part of a lower rating together with a pump of a higher shut-off head."""
        roots = pumped_from(draft.site)
        for members in draft.site.classes().values():
            for vessel in sorted({roots[run.name] for run in members if run.name in roots}):
                self._forbid(draft, vessel, draft.each(RATING, members[0].name))
        feeds = {run.start: roots[run.name] for run in draft.site.runs.values() if run.name in roots}
        for name, groups in draft.joints().items():
            for ways in groups if name in feeds else ():
                self._forbid(draft, feeds[name], ways)

    def _forbid(self, draft: ModelView, vessel: str, rated: Iterable[tuple[Var, float]]) -> None:
        by_rating: dict[float, list[Var]] = defaultdict(list)
        for var, rating in rated:
            by_rating[rating].append(var)
        for rating, weak in sorted(by_rating.items()):
            strong = [var for var, choice in draft.pumps(vessel) if choice.shut_off_m > rating]
            if strong:
                both = weighted((var, -1) for var in (*weak, *strong))
                draft.at_least(self.id, both, Linear(constant=-1))

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per pressure run; value is the least rating of its parts and of its start's."""
        for name, vessel in pumped_from(survey.site).items():
            shut_off = survey.pump_curve(vessel).shut_off_m
            yield self.not_under(OnRun(name), run_rating(survey, name), shut_off)


def run_rating(survey: Survey, name: str) -> float:
    """Least pressure rating [m of water] among the parts of a run and of the tee that it starts from."""
    catalog: Catalog = survey.catalog
    drawn = survey.drawn(name)
    parts = [*drawn.coupling, *(part for turn in drawn.turns for part in turn.pieces)]
    parts += [part for one in drawn.fittings for part in one.parts()]
    known = (getattr(catalog.part(part), "rating_m", None) for part in parts)
    ratings = [survey.pipe(name).rating_m, *(rating for rating in known if rating is not None)]
    junction = survey.drawing.junctions.get(drawn.start.at)
    if junction is not None and junction.tee is not None:
        ratings.append(catalog.tees[junction.tee].rating_m)
    return float(min(ratings))
