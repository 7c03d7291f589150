"""A pressure inlet ends above the water, so that a power cut cannot siphon the vessel back."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.outcome import Finding
from autoplan.rules.base import Rule, Setting
from autoplan.rules.survey import Survey
from autoplan.units import Dimension


class SiphonBack(Rule):
    """The bottom of every pressure inlet stays above the overload level by an air gap.

    The selection draws inlets over the rim, or through the wall at the overload level plus the gap.
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

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per pressure run into a vessel; value is the air gap."""
        factor = survey.overload_factor()
        for run in survey.pressure_runs():
            end = survey.drawn(run.name).finish
            if end.way is not None and end.centre_m is not None:
                bottom = end.centre_m - survey.pipe(run.name).outside_m / 2
                gap = bottom - survey.standing_level(run.finish, factor)
                yield self.not_under(run.name, gap * 1000, self.values["air_gap"] * 1000, 0.11)
