"""When the power fails, what runs back stays in the sump."""

from __future__ import annotations

import math
from collections.abc import Iterator

from autoplan.outcome import Finding
from autoplan.problem.graph import drained_to, pumped_from
from autoplan.problem.site import RunKind
from autoplan.rules.base import Draft, Rule, Setting
from autoplan.rules.linear import Linear, weighted
from autoplan.rules.survey import Survey, backdrain_volume
from autoplan.units import Dimension, tenth_mm_down, tenth_mm_up


class SumpHigh(Rule):
    """Running level (beds empty) plus what runs back from vessels and pipes stays under the rim."""

    id = "sump-high"
    sentence = "With the power off and everything run back, the sump does not run over."
    source = "water balance"
    unit = "mm"
    negotiable = True
    settings = (
        Setting("freeboard", Dimension.LENGTH, "20 mm", "from memory", "dry wall left with the power off"),
    )

    def encode(self, draft: Draft) -> None:
        """Level + rise of each candidate's share of the run-back <= rim - freeboard."""
        roots = pumped_from(draft.site)
        for name in draft.site.pumped_vessels():
            vessel = draft.site.vessels[name]
            rise = Linear()
            for run in draft.site.runs.values():
                start = draft.site.vessels.get(run.start)
                pairs = []
                for var, candidate in draft.candidates(run.run_class):
                    volume = 0.0
                    if run.kind is RunKind.PRESSURE and roots.get(run.name) == name:
                        bore = candidate.pipe.bore_m
                        volume = math.pi / 4 * bore * bore * candidate.drawn[run.name].length_m
                    elif run.kind is RunKind.GRAVITY and start is not None and start.bed is None:
                        place = candidate.places.get((run.name, "start"))
                        drains = name in drained_to(draft.site, start.name) and not run.idle
                        if place is not None and drains:
                            volume = (place.bore_m / 2 - place.offset_m) * start.area_m2
                    pairs.append((var, tenth_mm_up(volume / vessel.area_m2)))
                rise = rise + weighted(pairs)
            highest = tenth_mm_down(vessel.rim_m - self.values["freeboard"]) - draft.reserve
            draft.at_least(self.id, Linear(constant=highest), draft.level(name) + rise)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per pumped vessel; value is the dry wall left."""
        for name in survey.site.pumped_vessels():
            vessel = survey.site.vessels[name]
            highest = survey.level(name) + backdrain_volume(survey, name) / vessel.area_m2
            dry = (vessel.rim_m - highest) * 1000
            yield self.not_under(name, dry, self.values["freeboard"] * 1000, 1e-6)
