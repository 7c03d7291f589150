"""A bed with a weep hole runs empty once its pump stops."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.hydraulics.drain_hole import running_empty_time
from autoplan.outcome import Finding
from autoplan.places import InVessel
from autoplan.problem.site import Site
from autoplan.problem.tables.defaults import WEEP
from autoplan.rules.asked import Starting
from autoplan.rules.base import Rule, Setting, answers
from autoplan.rules.beds.timer_drain import time_to_empty
from autoplan.rules.survey import Survey
from autoplan.units import Dimension


class WeepEmpty(Rule):
    """Time from full down to the weep hole's top edge, nothing coming in, <= a time.

    Standing water without flow goes foul, and roots in it get no air.
    """

    id = "weep-empty"
    sentence = "Each bed with a weep hole runs empty by it within a time after the pump stops."
    source = "t = 2 A (sqrt(h1) - sqrt(h2)) / (Cd a sqrt(2 g)), Torricelli; time: from memory"
    unit = "min"
    local = True
    hint = ", or give a larger hole"
    settings = (
        Setting("within", Dimension.TIME, WEEP["within"].text, WEEP["within"].mark, WEEP["within"].why),
    )

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only beds with a weep hole."""
        return bool(site.weep_beds())

    @answers(Starting)
    def empties(self, asked: Starting) -> bool:
        """Only holes that empty the bed in time."""
        vessel, hole = asked.site.vessels[asked.run.start], asked.end.drain_hole
        if vessel.bed is None or vessel.bed.weep is None or hole is None:
            return True
        head = max(hole.hole_m / 2, vessel.bed.flood_m - hole.height_m)
        return running_empty_time(vessel.water_area_m2, hole.hole_m, head) <= self.values["within"]

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per such bed; value is the time in which it runs empty."""
        for name in survey.site.weep_beds():
            yield self.at_most(InVessel(name), time_to_empty(survey, name), self.values["within"], 1e-6)
