"""What runs back to a pumped vessel when its pump stops."""

from __future__ import annotations

import math
from itertools import accumulate, pairwise

from autoplan.fittings.wall import ThroughWall
from autoplan.problem.flows import drained_to, pumped_from, running_drains
from autoplan.rules.survey import Survey


def backdrain_volume(survey: Survey, vessel: str) -> float:
    """Water [m3] that comes back to a pumped vessel when the power fails, beyond that of beds that run empty.

    Every vessel that drains to it falls to the invert of its lowest outlet, every vessel that its pump feeds
    to what lets air into the inlet there, and every pressure run from it empties. Where a vessel can fall
    both ways the lower counts. A bed that stands full falls to the lip of its standpipe. Drains that water
    runs in all the time empty as `runs_out` says.
    """
    site = survey.site
    volume = 0.0
    for name, place in site.vessels.items():
        if (place.bed is not None and place.bed.by_turns) or name in site.pumped_vessels():
            continue
        volume += (survey.level(name) - falls_to(survey, name, vessel)) * place.water_area_m2
    for run, pumped in pumped_from(site).items():
        if pumped == vessel:
            volume += pipe_volume(survey, run)
    for run in running_drains(site):
        if vessel in drained_to(site, survey.run(run).finish):
            volume += runs_out(survey, run)
    return volume


def falls_to(survey: Survey, name: str, vessel: str) -> float:
    """Level [m] to which a vessel falls by its drains to a pumped one, and by what that one's pump feeds."""
    site, roots = survey.site, pumped_from(survey.site)
    lowest = [survey.level(name)]
    if vessel in drained_to(site, name):
        # A valve that sets a share lets the vessel fall to the hole all the same.
        drains = [run for run in survey.gravity_runs() if run.start == name and not run.idle]
        lowest += [survey.drilled_height(run.name) for run in drains]
    lowest += [
        survey.draws_down_to(run.name)
        for run in survey.pressure_runs()
        if run.finish == name and roots[run.name] == vessel
    ]
    return min(lowest)


def pipe_volume(survey: Survey, run: str) -> float:
    """Room in a run's pipe [m3]."""
    bore = survey.pipe(run).bore_m
    return math.pi / 4 * bore * bore * survey.drawn(run).length_m


def runs_out(survey: Survey, run: str) -> float:
    """Water [m3] that runs out of a drain once nothing comes to it, as if it had run full.

    What lies under the water it ends in, or under a higher piece further down, stays. Where its legs were
    measured nobody knows their heights, and all of it runs out.
    """
    drawn, whole = survey.drawn(run), pipe_volume(survey, run)
    if not drawn.legs or not isinstance(drawn.start, ThroughWall) or drawn.start.centre_m is None:
        return whole
    half = survey.pipe(run).bore_m / 2
    heights = list(accumulate((leg.rise_m for leg in drawn.legs), initial=drawn.start.centre_m))
    kept, holds = 0.0, _held_back(survey, run)
    for leg, (first, last) in reversed(list(zip(drawn.legs, pairwise(heights), strict=True))):
        holds = max(holds, last - half)
        kept += leg.length_m * _under(first, last, holds - half)
    return max(0.0, whole - math.pi * half * half * kept)


def _held_back(survey: Survey, run: str) -> float:
    """Lowest level [m] that a power cut leaves in the vessel that a drain ends in; none at a junction."""
    end, site = survey.run(run).finish, survey.site
    if end not in site.vessels or site.vessels[end].bed is not None:
        return -math.inf
    if end in site.pumped_vessels():
        return survey.level(end)
    return min(falls_to(survey, end, vessel) for vessel in site.pumped_vessels())


def _under(first_m: float, last_m: float, top_m: float) -> float:
    """Share of a straight leg whose middle lies no higher than that [-]."""
    low, high = sorted((first_m, last_m))
    if top_m >= high:
        return 1.0
    return max(0.0, (top_m - low) / (high - low)) if high > low else 0.0
