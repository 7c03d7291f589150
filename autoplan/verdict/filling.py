"""How much water the system holds, and between which levels each pumped vessel moves."""

from __future__ import annotations

from math import pi

from autoplan.outcome import Filling, MovingLevel
from autoplan.rules.balance import flood_drawdown
from autoplan.rules.run_back import backdrain_volume
from autoplan.rules.survey import Survey


def filling(survey: Survey) -> Filling:
    """The water balance of a drawing: what to fill, and how low and how high each pumped vessel comes.

    All water stands in the vessels at their running levels, beds empty, and in the pressure pipes. What fills
    beds comes out of the pumped vessel and goes back to it; with the power off it also gets what runs back
    from vessels and pipes. So the water at each of the three levels is the same in all.
    """
    site = survey.site
    held = {
        name: (survey.level(name) - vessel.floor_m) * vessel.area_m2
        for name, vessel in site.vessels.items()
        if vessel.bed is None or not vessel.bed.by_turns
    }
    pipes = sum(
        pi / 4 * survey.pipe(run.name).bore_m ** 2 * survey.drawn(run.name).length_m
        for run in survey.pressure_runs()
    )
    held |= {
        name: bed.bed.void_fraction * amount
        for name, amount in held.items()
        if (bed := site.vessels[name]).bed is not None
    }
    return Filling(
        total_m3=sum(held.values()) + pipes,
        moving=tuple(_moving(survey, name) for name in site.pumped_vessels()),
    )


def _moving(survey: Survey, name: str) -> MovingLevel:
    area, level = survey.site.vessels[name].area_m2, survey.level(name)
    return MovingLevel(
        vessel=name,
        low_m=level - flood_drawdown(survey.site, name),
        running_m=level,
        high_m=level + backdrain_volume(survey, name) / area,
    )
