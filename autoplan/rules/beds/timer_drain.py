"""A timed bed runs empty while its valve is shut."""

from __future__ import annotations

import math
from collections.abc import Iterator

from autoplan.hydraulics.drain_hole import running_empty_time
from autoplan.outcome import Finding
from autoplan.places import InVessel
from autoplan.problem.site import Site
from autoplan.problem.tables.defaults import TIMER
from autoplan.rules.asked import Starting
from autoplan.rules.base import Rule, Setting, answers
from autoplan.rules.survey import Survey
from autoplan.units import Dimension


class TimerDrain(Rule):
    """Time from full down to the drain hole's top edge <= (1 - margin) x the time that the valve is shut.

    Roots get air only once the water is gone, and the next flood would find the bed half full.
    """

    id = "timer-drain"
    sentence = "Each timed bed runs empty by its drain hole while its valve is shut, with time to spare."
    source = "t = 2 A (sqrt(h1) - sqrt(h2)) / (Cd a sqrt(2 g)), Torricelli; margin: from memory"
    unit = "min"
    local = True
    hint = ", or give a larger hole, a shorter on_time or fewer floods"
    settings = (
        Setting("margin", Dimension.NUMBER, TIMER["drain"].text, TIMER["drain"].mark, TIMER["drain"].why),
    )

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only beds that a timer floods."""
        return bool(site.timed_beds())

    @answers(Starting)
    def empties(self, asked: Starting) -> bool:
        """Only holes that empty the bed in time."""
        bed, hole = asked.site.vessels[asked.run.start].bed, asked.end.drain_hole
        if bed is None or bed.timer is None or hole is None:
            return True
        wet = asked.site.vessels[asked.run.start].water_area_m2
        time = running_empty_time(wet, hole.hole_m, max(hole.hole_m / 2, bed.flood_m - hole.height_m))
        return time <= (1 - self.values["margin"]) * (bed.cycle_s - bed.timer.on_s)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per timed bed; value is the time in which it runs empty."""
        for name, timer in survey.site.timed_beds().items():
            bed = survey.site.vessels[name].bed
            assert bed is not None
            limit = (1 - self.values["margin"]) * (bed.cycle_s - timer.on_s)
            yield self.at_most(InVessel(name), time_to_empty(survey, name), limit, 1e-6)


def time_to_empty(survey: Survey, bed: str) -> float:
    """Time in which a timed bed runs empty from its design level [s]; infinite without a drain hole."""
    vessel, time = survey.site.vessels[bed], math.inf
    for _, end, hole in survey.drain_holes():
        if end.at == bed:
            wet, depth = vessel.water_area_m2, survey.level(bed) - vessel.floor_m
            time = running_empty_time(wet, hole.hole_m, max(hole.hole_m / 2, depth - hole.height_m))
    return time
