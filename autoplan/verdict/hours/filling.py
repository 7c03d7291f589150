"""How much water the system holds, and between which levels each pumped vessel moves."""

from __future__ import annotations

from autoplan.outcome import Filling, MovingLevel
from autoplan.problem.flows import drained_to, running_drains
from autoplan.problem.site import RunKind
from autoplan.rules.balance import flood_drawdown
from autoplan.rules.siphoned import breaking
from autoplan.rules.survey import Survey
from autoplan.rules.water.run_back import backdrain_volume, pipe_volume


def filling(survey: Survey) -> Filling:
    """The water balance of a drawing: what to fill, and how low and how high each pumped vessel comes.

    All water stands in the vessels at their running levels, in the pressure pipes and in the drains that
    water runs in all the time, taken as full; beds that run empty are so, those that stand full are full.
    What fills beds comes out of the pumped vessel and goes back to it; with the power off it also gets what
    runs back from vessels and pipes. So the water at each of the three levels is the same in all.
    """
    site = survey.site
    held = {
        name: vessel.held_m3(survey.level(name)) if vessel.bed is None else vessel.flood_m3
        for name, vessel in site.vessels.items()
        if vessel.bed is None or not (vessel.bed.by_turns or vessel.spare)
    }
    running = running_drains(site)
    pipes = sum(
        pipe_volume(survey, run.name)
        for run in site.runs.values()
        if run.kind is RunKind.PRESSURE or run.name in running
    )
    for name, vessel in site.vessels.items():
        # A cone holds a third of what the upright wall does for as much of its height.
        if vessel.cone_m:
            held[name] += vessel.area_m2 * vessel.cone_m / 3
    return Filling(
        total_m3=sum(held.values()) + pipes,
        moving=tuple(_moving(survey, name) for name in site.pumped_vessels()),
        left_m3=sum(water_left(survey).values()),
    )


def water_left(survey: Survey) -> dict[str, float]:
    """Water that stays in each bed once it was flooded [m3]: void fraction x area x depth.

    A siphon breaks at the top of its bell's cut-outs, or at the mouth of its air tube; a drain hole runs on,
    more and more slowly, to its lower edge. Beds that are not built yet hold none, and of those that stand
    full it is no news.
    """
    depths = {bed: depth for run, bed, depth in breaking(survey) if not survey.drawn(run).later}
    for run, end, hole in survey.drain_holes():
        if not survey.drawn(run).later:
            depths[end.at] = max(0.0, hole.height_m - hole.hole_m / 2)
    return {bed: depth * survey.site.vessels[bed].water_area_m2 for bed, depth in depths.items()}


def _moving(survey: Survey, name: str) -> MovingLevel:
    left = sum(held for bed, held in water_left(survey).items() if name in drained_to(survey.site, bed))
    area, level = survey.site.vessels[name].area_m2, survey.level(name)
    return MovingLevel(
        vessel=name,
        low_m=level - flood_drawdown(survey.site, name),
        running_m=level,
        high_m=level + backdrain_volume(survey, name) / area,
        left_m=left / area,
    )
