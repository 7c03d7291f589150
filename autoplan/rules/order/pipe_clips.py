"""Pipe is clipped every so far."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping

from autoplan.catalog.parts import SundryKind
from autoplan.line.needs import Want, by_size, is_listed
from autoplan.line.route import measured
from autoplan.outcome import Finding
from autoplan.places import OfWant
from autoplan.rules.base import Rule, Setting
from autoplan.rules.order.supply import had_of, not_listed
from autoplan.rules.survey import Survey
from autoplan.sentence import Text
from autoplan.units import Dimension

SMALL_M, MEDIUM_M = 0.036, 0.066
"""Outsides up to which pipe is small, 32 mm or 1 in, and medium, 63 mm or 2 in [m]."""

MARK = "0.8 to 1.2 m up to 32 mm, 1.2 to 1.5 m up to 63 mm: from memory"


class PipeClips(Rule):
    """Pipe that hangs from its joints creeps, sags where the water stands, and works the joints loose.

    On each leg a clip for each spacing begun; a leg shorter than half of it is held by those beside it. What
    the model needs is written by the orders, for legs at their longest.
    """

    id = "pipe-clips"
    sentence = "Along each leg clips hold the pipe every so far."
    source = MARK
    unit = "clips"
    negotiable = True
    of_money = True
    of_taste = True
    counts = frozenset((SundryKind.CLIP,))
    settings = (
        Setting("small", Dimension.LENGTH, "1 m", MARK, "from clip to clip on pipe up to 36 mm outside"),
        Setting("medium", Dimension.LENGTH, "1.4 m", MARK, "from clip to clip on wider pipe, up to 66 mm"),
        Setting("large", Dimension.LENGTH, "1.5 m", "from memory", "from clip to clip on pipe that is wider"),
    )

    def spacing_m(self, outside_m: float) -> float:
        """From clip to clip on pipe of an outside [m]; 0 for none at all."""
        size = "small" if outside_m <= SMALL_M else "medium" if outside_m <= MEDIUM_M else "large"
        return self.values[size]

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per size of pipe."""
        if not is_listed(survey.catalog, SundryKind.CLIP):
            return
        for want, had, asked in had_of(survey, self._wanted(survey)):
            yield self.not_under(OfWant(want), had, asked, 1e-6)

    def unjudged(self, survey: Survey) -> Iterator[Text]:
        """That there is no clip to be had."""
        return not_listed(survey, self._wanted(survey))

    def _wanted(self, survey: Survey) -> Mapping[Want, float]:
        """By size of pipe the clips on all legs."""
        wanted: Counter[Want] = Counter()
        for name, drawn in survey.drawing.runs.items():
            outside_m = survey.pipe(name).outside_m
            apart_m = self.spacing_m(outside_m)
            legs = [leg.length_m for leg in drawn.legs or measured(survey.run(name).legs_m)]
            # Legs are as drilled, to whole millimetres: one that is so much too long takes no clip more.
            held = [length for length in legs if length >= apart_m / 2 + 1e-3]
            if apart_m > 0 and held and not drawn.later:
                wanted[by_size(SundryKind.CLIP, outside_m)] += sum(
                    math.ceil((length - 1e-3) / apart_m) for length in held
                )
        return wanted
