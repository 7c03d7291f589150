"""A thin wall does not carry the pipe in its seal."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping

from autoplan.catalog.parts import SundryKind
from autoplan.fittings.wall import Pierced
from autoplan.line.needs import Want, by_size, is_listed
from autoplan.outcome import Finding
from autoplan.places import OfWant
from autoplan.rules.base import Given, Rule, Setting
from autoplan.rules.order.supply import had_of, not_listed
from autoplan.rules.survey import Survey
from autoplan.sentence import Text
from autoplan.units import Dimension


class SealStand(Rule):
    """A wall thinner than the limit gives way under the pipe's weight and the seal leaks: carry the pipe.

    A price list without any support stand leaves the builder to make them. What the model needs is written by
    the orders.
    """

    id = "seal-stand"
    sentence = "Where a thin wall carries a push-in seal, a support stand carries the pipe."
    source = "common practice, no source"
    unit = "stands"
    negotiable = True
    of_money = True
    counts = frozenset((SundryKind.STAND,))
    settings = (
        Setting(
            "carries_from",
            Dimension.LENGTH,
            "6 mm",
            "common practice, no source",
            "wall that carries a pipe in a push-in seal by itself",
            Given.STANDS_UNDER,
        ),
    )

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per size of pipe that needs stands."""
        if not is_listed(survey.catalog, SundryKind.STAND):
            return
        for want, had, asked in had_of(survey, self._wanted(survey)):
            yield self.not_under(OfWant(want), had, float(asked), 1e-6)

    def unjudged(self, survey: Survey) -> Iterator[Text]:
        """That there is no such stand to be had."""
        return not_listed(survey, self._wanted(survey))

    def _wanted(self, survey: Survey) -> Mapping[Want, float]:
        """By size of pipe a stand for each seal in a wall that is too thin to carry it."""
        wanted: Counter[Want] = Counter()
        for name, _, end in survey.ends():
            sealed = isinstance(end, Pierced) and end.sealed
            if sealed and survey.site.vessels[end.at].wall_m < self.values["carries_from"] - 1e-9:
                wanted[by_size(SundryKind.STAND, survey.pipe(name).outside_m)] += 1
        return wanted
