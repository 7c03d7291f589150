"""What a builder wants to know of each siphon: when it starts, how fast it runs, how often it floods."""

from __future__ import annotations

from collections.abc import Mapping

from autoplan.hydraulics.siphon import emptying_time, floods_per_second
from autoplan.outcome import SiphonFacts
from autoplan.rules.beds.siphon_break import running_flow
from autoplan.rules.siphoned import breaking
from autoplan.rules.survey import Survey
from autoplan.verdict.hours.waterworks import BedSiphon


def siphon_facts(survey: Survey, siphons: Mapping[str, BedSiphon]) -> dict[str, SiphonFacts]:
    """Figures of siphons by the name of their drain.

    Args:
        survey: the drawing measured.
        siphons: its siphons by the name of their drain, which say when each starts.
    """
    return {
        name: _facts(survey, name, bed, low, siphons[name].start_m3_s)
        for name, bed, low in breaking(survey)
        if name in siphons
    }


def _facts(survey: Survey, name: str, at: str, low: float, starts_m3_s: float) -> SiphonFacts:
    vessel = survey.site.vessels[at]
    assert vessel.bed is not None
    bed = vessel.bed
    inflow, flow = survey.design_flow(name), running_flow(survey, name)
    filling = vessel.water_area_m2 * (bed.flood_m - low) / inflow
    emptying = emptying_time(vessel.water_area_m2, bed.flood_m, low, inflow, flow)
    return SiphonFacts(
        bed=at,
        bore_m=survey.standpipe(name).bore_m,
        inflow_m3_s=inflow,
        starts_m3_s=starts_m3_s,
        fastest_m3_s=flow(bed.flood_m),
        slowest_m3_s=flow(low),
        filling_s=filling,
        emptying_s=emptying,
        floods_per_s=floods_per_second(filling, emptying),
    )
