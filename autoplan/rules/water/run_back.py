"""What runs back to a pumped vessel when its pump stops."""

from __future__ import annotations

import math

from autoplan.problem.flows import drained_to, pumped_from
from autoplan.rules.survey import Survey


def backdrain_volume(survey: Survey, vessel: str) -> float:
    """Water [m3] that comes back to a pumped vessel when the power fails, beyond the beds' own.

    Every vessel that drains to it falls to the invert of its lowest outlet, every vessel that its pump feeds
    to what lets air into the inlet there, and every pressure run from it empties. Where a vessel can fall
    both ways the lower counts.
    """
    site = survey.site
    roots = pumped_from(site)
    volume = 0.0
    for name, place in site.vessels.items():
        if place.bed is not None or name in site.pumped_vessels():
            continue
        drains = [run for run in survey.gravity_runs() if run.start == name and not run.idle]
        lowest = [survey.level(name)]
        if vessel in drained_to(site, name):
            # A valve that sets a share lets the vessel fall to the hole all the same.
            lowest += [survey.drilled_height(run.name) for run in drains]
        lowest += [
            survey.draws_down_to(run.name)
            for run in survey.pressure_runs()
            if run.finish == name and roots[run.name] == vessel
        ]
        volume += (survey.level(name) - min(lowest)) * place.area_m2
    for run in survey.pressure_runs():
        if roots[run.name] == vessel:
            bore = survey.pipe(run.name).bore_m
            volume += math.pi / 4 * bore * bore * survey.drawn(run.name).length_m
    return volume
