"""A timed bed fills to its standpipe's lip while its valve is open."""

from __future__ import annotations

import math
from collections.abc import Iterator

from autoplan.hydraulics.drain_hole import filling_time
from autoplan.outcome import Finding
from autoplan.places import InVessel
from autoplan.problem.site import Site
from autoplan.problem.tables.defaults import TIMER
from autoplan.rules.asked import Starting
from autoplan.rules.base import Rule, Setting, answers
from autoplan.rules.survey import Survey
from autoplan.units import Dimension


class TimerFill(Rule):
    """Filling time, the drain hole leaking all the while, <= (1 - margin) x the time that the valve is open.

    The problem's inflow counts the leak of a full bed all along, so there is time to spare; a larger hole or
    a smaller inflow takes it.
    """

    id = "timer-fill"
    sentence = (
        "Each timed bed fills to its standpipe's lip while its valve is open, though its drain hole leaks."
    )
    source = "A dh/dt = q - Cd a sqrt(2 g h); margin: from memory"
    unit = "min"
    local = True
    hint = ", or give a longer on_time or a smaller hole"
    settings = (
        Setting("margin", Dimension.NUMBER, TIMER["fill"].text, TIMER["fill"].mark, TIMER["fill"].why),
    )

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only beds that a timer floods."""
        return bool(site.timed_beds())

    @answers(Starting)
    def fills(self, asked: Starting) -> bool:
        """Only holes that let the bed fill to its flood in time, which is over the lip."""
        bed, hole = asked.site.vessels[asked.run.start].bed, asked.end.drain_hole
        if bed is None or bed.timer is None or hole is None:
            return True
        wet = asked.site.vessels[asked.run.start].water_area_m2
        inflow, head = asked.site.flows[asked.run.name].design_m3_s, bed.flood_m - hole.height_m
        return filling_time(wet, hole.hole_m, inflow, head) <= (1 - self.values["margin"]) * bed.timer.on_s

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per timed bed; value is the time to its lip."""
        for name, timer in survey.site.timed_beds().items():
            time, limit = time_to_fill(survey, name), (1 - self.values["margin"]) * timer.on_s
            yield self.at_most(InVessel(name), time, limit, 1e-6)


def time_to_fill(survey: Survey, bed: str) -> float:
    """Time to the lip of a timed bed's standpipe [s], from empty; infinite where it never gets there."""
    vessel, time = survey.site.vessels[bed], math.inf
    for run, end, hole in survey.drain_holes():
        if end.at == bed and end.standpipe_top_m is not None:
            wet, head = vessel.water_area_m2, end.standpipe_top_m - vessel.floor_m
            time = filling_time(wet, hole.hole_m, survey.design_flow(run), max(0.0, head - hole.height_m))
    return time
