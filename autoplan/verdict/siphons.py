"""What a builder wants to know of each bell siphon: when it starts, how fast it runs, how often it floods."""

from __future__ import annotations

from autoplan.hydraulics.siphon import emptying_time, floods_per_second, start_flow
from autoplan.outcome import SiphonFacts
from autoplan.rules.survey import Survey


def siphon_facts(survey: Survey) -> dict[str, SiphonFacts]:
    """Figures of every bell siphon by the name of its drain."""
    return {name: _facts(survey, name) for name, _, _ in survey.siphons()}


def _facts(survey: Survey, name: str) -> SiphonFacts:
    end = survey.drawn(name).start
    vessel = survey.site.vessels[end.at]
    assert vessel.bed is not None
    assert end.siphon is not None
    bed, low = vessel.bed, end.siphon.cut_out_m
    inflow = survey.design_flow(name)
    filling = vessel.water_area_m2 * (bed.flood_m - low) / inflow
    emptying = emptying_time(
        vessel.water_area_m2,
        bed.flood_m,
        low,
        inflow,
        lambda depth: survey.siphon_flow(name, vessel.floor_m + depth),
    )
    return SiphonFacts(
        bed=end.at,
        bore_m=survey.standpipe(name).bore_m,
        inflow_m3_s=inflow,
        starts_m3_s=start_flow(survey.standpipe(name).bore_m),
        fastest_m3_s=survey.siphon_flow(name, vessel.floor_m + bed.flood_m),
        slowest_m3_s=survey.siphon_flow(name, vessel.floor_m + low),
        filling_s=filling,
        emptying_s=emptying,
        floods_per_s=floods_per_second(filling, emptying),
    )
