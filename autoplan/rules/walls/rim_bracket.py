"""A pipe that goes over a rim is held there."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping

from autoplan.catalog.parts import SundryKind
from autoplan.line.needs import Want, by_size, is_listed
from autoplan.outcome import Finding
from autoplan.places import OfWant
from autoplan.problem.standing import leaves_over_rim
from autoplan.rules.base import Rule
from autoplan.rules.order.supply import had_of, not_listed
from autoplan.rules.survey import Survey
from autoplan.sentence import Text


class RimBracket(Rule):
    """A pipe that only hangs over a rim is lifted off by its jet or a hand, and pours beside the vessel.

    A price list without any rim bracket leaves the builder to make them. What the model needs is written by
    the orders.
    """

    id = "rim-bracket"
    sentence = "Where a pipe goes over a rim, a bracket on the rim holds it."
    source = "common practice, no source"
    unit = "brackets"
    negotiable = True
    of_money = True
    counts = frozenset((SundryKind.BRACKET,))

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per size of pipe that goes over a rim."""
        if not is_listed(survey.catalog, SundryKind.BRACKET):
            return
        for want, had, asked in had_of(survey, self._wanted(survey)):
            yield self.not_under(OfWant(want), had, float(asked), 1e-6)

    def unjudged(self, survey: Survey) -> Iterator[Text]:
        """That there is no such bracket to be had."""
        return not_listed(survey, self._wanted(survey))

    def _wanted(self, survey: Survey) -> Mapping[Want, float]:
        """By size of pipe a bracket for each rim that it goes over."""
        wanted: Counter[Want] = Counter()
        for name, drawn in survey.drawing.runs.items():
            rims = (drawn.rim is not None) + leaves_over_rim(survey.site, survey.run(name))
            if rims and not drawn.later:
                wanted[by_size(SundryKind.BRACKET, survey.pipe(name).outside_m)] += rims
        return wanted
