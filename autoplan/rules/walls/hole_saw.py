"""Every hole has a saw of its size."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.catalog.parts import SundryKind
from autoplan.line.needs import Want, by_size, is_listed
from autoplan.outcome import Finding
from autoplan.places import OfWant
from autoplan.rules.base import Rule
from autoplan.rules.order.supply import had_of, not_listed
from autoplan.rules.survey import Survey
from autoplan.sentence import Text


class HoleSaw(Rule):
    """The hole must be the size that the part asks for, round and free of swarf.

    A saw is bought once for all holes of its size, or is owned. A price list without any hole saw leaves the
    builder to find them. What the model needs is written by the orders.
    """

    id = "hole-saw"
    sentence = "For each size of hole a hole saw is owned or on the order."
    source = "the parts' rows"
    unit = "saws"
    negotiable = True
    of_money = True
    of_taste = True
    counts = frozenset((SundryKind.SAW,))

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per size of hole."""
        if not is_listed(survey.catalog, SundryKind.SAW):
            return
        for want, had, one in had_of(survey, dict.fromkeys(saws_wanted(survey), 1.0)):
            yield self.not_under(OfWant(want), had, one, 1e-6)

    def unjudged(self, survey: Survey) -> Iterator[Text]:
        """That there is no hole saw to be had."""
        return not_listed(survey, saws_wanted(survey))


def saws_wanted(survey: Survey) -> list[Want]:
    """A saw for each size of hole, once, smallest first."""
    holes = (hole for line in survey.drawing.runs.values() if not line.later for hole in line.holes())
    parts = (survey.catalog.penetrations[hole.penetration] for hole in holes)
    return sorted({by_size(SundryKind.SAW, part.hole_m) for part in parts}, key=lambda want: int(want.size))
