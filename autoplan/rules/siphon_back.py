"""A pressure inlet ends above the water, so that a power cut cannot siphon the vessel back."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.outcome import Finding
from autoplan.rules.base import FAR, Draft, Rule, Setting
from autoplan.rules.linear import weighted
from autoplan.rules.survey import Survey
from autoplan.units import Dimension, tenth_mm_down


class SiphonBack(Rule):
    """The bottom of every pressure inlet stays above the overload level by an air gap.

    The selection draws inlets through the wall at the overload level plus the gap, or over the rim: turned
    down by a plain elbow, the crest as high as keeps the elbow's mouth over the highest water that the wall
    may hold. A longer piece would only save splashing, and hang in the water.
    """

    id = "siphon-back"
    sentence = "Every pressure inlet opens above the highest water, so nothing siphons back."
    source = "common practice, no source"
    unit = "mm"
    settings = (
        Setting(
            "air_gap", Dimension.LENGTH, "30 mm", "from memory", "air between the highest water and an inlet"
        ),
    )

    def encode(self, draft: Draft) -> None:
        """Overload level <= mouth - gap, where the mouth is at a fixed height, over a rim."""
        for path in draft.pressure_paths():
            last = draft.site.runs[path[-1]]
            highest = []
            for var, candidate in draft.candidates(last.run_class):
                mouth = candidate.drawn[last.name].finish.mouth_m
                height = FAR if mouth is None else tenth_mm_down(mouth - self.values["air_gap"])
                highest.append((var, height))
            if any(height != FAR for _, height in highest):
                draft.at_least(self.id, weighted(highest), draft.overload_level(last.finish))

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per pressure run into a vessel; value is the air gap."""
        factor = survey.overload_factor()
        for run in survey.pressure_runs():
            if survey.drawn(run.name).finish.way is not None:
                gap = survey.mouth_height(run.name) - survey.standing_level(run.finish, factor)
                yield self.not_under(run.name, gap * 1000, self.values["air_gap"] * 1000, 0.11)
