"""What the circuit's water touches is sold for drinking water; in drains for drains at least, if so asked."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from autoplan.catalog.kinds.fixture import SCREENS
from autoplan.catalog.kinds.trim import TrimPart
from autoplan.catalog.materials import Grade
from autoplan.catalog.parts import Fixture, FixtureKind, Part, Penetration, SiphonPart
from autoplan.outcome import Finding
from autoplan.places import OfAll, OfPart
from autoplan.problem.brief import DrainGrade
from autoplan.problem.flows import pumped_from
from autoplan.problem.site import Run, RunKind, Site
from autoplan.rules.asked import InWall, OnShelf
from autoplan.rules.base import ModelView, Rule, answers
from autoplan.rules.joints.fish_safe import touches
from autoplan.rules.linear import Var, weighted
from autoplan.rules.quantities import RATING, more
from autoplan.rules.survey import Survey
from autoplan.sentence import Text, say


def lies_beside_drain_parts(site: Site, run: Run) -> bool:
    """Of runs under pressure on a site whose drains may be of what is sold for drains."""
    return run.kind is RunKind.PRESSURE and site.wishes.drain_grade is DrainGrade.DRAIN


class DrinkingWater(Rule):
    """Water that fish live in and plants for the table grow in goes through parts sold for drinking water.

    What is sold for drains may hold regrind or stabilisers that no supplier answers for. A builder who trusts
    it all the same asks for `drain_grade` = "drain"; then it may be in drains, where it is a part that holds
    no pressure or that drains alone have, and nothing that holds no pressure is under pressure. What a row
    does not say is not judged: it is told.
    """

    id = "drinking-water"
    sentence = "What the water touches is sold for drinking water, or in drains for drains where so asked."
    unit = "parts"
    negotiable = True
    of_taste = True
    wished = "drain_grade"
    reads = (more(RATING, lies_beside_drain_parts),)

    @answers(OnShelf)
    def is_sold_for_it(self, asked: OnShelf) -> bool:
        """Nothing sold for drains but what drains are made of, where that is asked for."""
        if asked.part.grade is not Grade.DRAIN or not touches(asked.part):
            return True
        return asked.site.wishes.drain_grade is DrainGrade.DRAIN and of_drains(asked.part)

    @answers(InWall)
    def is_sold_for_the_wall(self, asked: InWall) -> bool:
        """No wall part that is sold for drains on a run under pressure."""
        return asked.run.kind is RunKind.GRAVITY or asked.part.grade is not Grade.DRAIN

    def encode(self, draft: ModelView) -> None:
        """Nothing that holds no pressure lies under it, whatever other rules say of that."""
        if draft.site.wishes.drain_grade is not DrainGrade.DRAIN:
            return
        fed = pumped_from(draft.site)
        for members in draft.site.classes().values():
            if members[0].name in fed:
                self._forbid(draft, draft.each(RATING, members[0].name))
        starts = {run.start for run in draft.site.runs.values() if run.name in fed}
        for name, groups in draft.joints().items():
            for ways in groups if name in starts else ():
                self._forbid(draft, ways)

    def _forbid(self, draft: ModelView, rated: Iterable[tuple[Var, float]]) -> None:
        if weak := [var for var, rating in rated if rating <= 0.0]:
            draft.at_least(self.id, weighted((var, -1) for var in weak), 0)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per part that is in the wrong place, or a single one that there is none."""
        pressed = _under_pressure(survey)
        allowed = survey.site.wishes.drain_grade is DrainGrade.DRAIN
        bad = [
            part.id
            for part in _wet(survey)
            if (part.grade is Grade.DRAIN and not (allowed and of_drains(part)))
            or (part.id in pressed and (part.grade is Grade.DRAIN or (allowed and _holds_nothing(part))))
        ]
        for part_id in bad:
            yield self.at_most(OfPart(part_id), 1.0, 0.0)
        if not bad:
            yield self.at_most(OfAll("everything in the water"), 0.0, 0.0)

    def unjudged(self, survey: Survey) -> Iterator[Text]:
        """How many parts of the design do not say what they are sold for."""
        wet = _wet(survey)
        silent = sum(part.grade is Grade.UNKNOWN for part in wet)
        if silent:
            words = "{} of {} parts in the water do not say what they are sold for: ask in the shop"
            yield say(words, str(silent), str(len(wet)))


def of_drains(part: Part) -> bool:
    """Whether a part is one that holds no pressure, or that stands in drains and beds alone."""
    if isinstance(part, Fixture):
        return part.kind in (*SCREENS, FixtureKind.PLUG)
    return _holds_nothing(part) or isinstance(part, Penetration | SiphonPart | TrimPart)


def _holds_nothing(part: Part) -> bool:
    return getattr(part, "rating_m", None) == 0.0


def _wet(survey: Survey) -> list[Part]:
    """Every part that the water of a design touches, once."""
    parts = dict.fromkeys([*survey.used_pieces(), *survey.used_pipe()])
    parts |= dict.fromkeys(line.part for line in survey.drawing.purchases)
    return [row for row in map(survey.catalog.part, parts) if touches(row)]


def _under_pressure(survey: Survey) -> frozenset[str]:
    """Parts of runs under pressure, of their pipe, and of the tees that they meet at."""
    found: set[str] = set()
    for run in survey.pressure_runs():
        drawn = survey.drawn(run.name)
        found |= {drawn.pipe, *drawn.parts(), *(pipe for pipe, _ in survey.assembled(run.name).stubs())}
        junctions = (survey.drawing.junctions.get(place) for place in (run.start, run.finish))
        found |= {one.tee for one in junctions if one is not None and one.tee is not None}
    return frozenset(found)
