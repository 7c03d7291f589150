"""What a builder wants to know of each bed with a weep hole: its inflow, how soon it fills and runs empty."""

from __future__ import annotations

from autoplan.bed_facts import WeepFacts
from autoplan.hydraulics.drain_hole import hole_flow
from autoplan.rules.beds.timer_drain import time_to_empty
from autoplan.rules.beds.timer_fill import time_to_fill
from autoplan.rules.survey import Survey


def weep_facts(survey: Survey) -> dict[str, WeepFacts]:
    """Figures of every such bed by its name."""
    weeps = survey.site.weep_beds()
    return {
        end.at: WeepFacts(
            bed=end.at,
            inflow_m3_s=survey.design_flow(run),
            leak_m3_s=hole_flow(hole.hole_m, max(0.0, _depth(survey, end.at) - hole.height_m)),
            filling_s=time_to_fill(survey, end.at),
            emptying_s=time_to_empty(survey, end.at),
        )
        for run, end, hole in survey.drain_holes()
        if end.at in weeps
    }


def _depth(survey: Survey, bed: str) -> float:
    """Design water over a bed's floor [m]."""
    return survey.level(bed) - survey.site.vessels[bed].floor_m
