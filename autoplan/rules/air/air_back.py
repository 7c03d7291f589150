"""Water cannot siphon back into an air pump."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.outcome import Finding
from autoplan.places import OfPart
from autoplan.problem.site import Site
from autoplan.rules.asked import AirLine
from autoplan.rules.base import Rule, answers
from autoplan.rules.survey import Survey


class AirBack(Rule):
    """When an air pump stops, its lines fill with water, which runs back into a pump below the water's level.

    A pump above the highest water is safe; below it each line has a check valve.
    """

    id = "air-back"
    sentence = "An air pump stands above the water, or each of its lines has a check valve."
    source = "common practice, no source"
    unit = "lines"
    negotiable = True

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only sites with air."""
        return site.air is not None

    @answers(AirLine)
    def keeps_dry(self, asked: AirLine) -> bool:
        """Whether a line may go without a check valve, or have this one."""
        return asked.wish.above_water or asked.check is not None

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per air pump; value is lines that could lead water back to it."""
        wish = survey.site.air
        if wish is None:
            return
        for pump in survey.drawing.air:
            open_lines = 0 if wish.above_water else sum(line.check is None for line in pump.lines)
            yield self.at_most(OfPart(pump.part), float(open_lines), 0.0)
