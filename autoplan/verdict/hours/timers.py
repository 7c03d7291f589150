"""What a builder wants to know of each timed bed: its clock, its inflow, how soon it fills and empties."""

from __future__ import annotations

from autoplan.bed_facts import TimerFacts
from autoplan.fittings.valve import ValveSet
from autoplan.hydraulics.drain_hole import hole_flow
from autoplan.line.water import timed_watts
from autoplan.problem.site import BedTimer
from autoplan.rules.beds.timer_drain import time_to_empty
from autoplan.rules.beds.timer_fill import time_to_fill
from autoplan.rules.survey import Survey


def timer_facts(survey: Survey) -> dict[str, TimerFacts]:
    """Figures of every timed bed by its name."""
    feeds = survey.timed_feeds()
    return {bed: _facts(survey, bed, timer, feeds[bed]) for bed, timer in survey.site.timed_beds().items()}


def _facts(survey: Survey, bed: str, timer: BedTimer, feed: str) -> TimerFacts:
    water = survey.site.vessels[bed].bed
    assert water is not None
    depth = survey.level(bed) - survey.site.vessels[bed].floor_m
    leaks = [
        hole_flow(hole.hole_m, max(0.0, depth - hole.height_m))
        for _, end, hole in survey.drain_holes()
        if end.at == bed
    ]
    valve = survey.drawn(feed).one(ValveSet)
    return TimerFacts(
        bed=bed,
        feed=feed,
        valve=None if valve is None else valve.valve,
        on_s=timer.on_s,
        cycle_s=water.cycle_s,
        inflow_m3_s=survey.design_flow(feed),
        leak_m3_s=sum(leaks),
        filling_s=time_to_fill(survey, bed),
        emptying_s=time_to_empty(survey, bed),
        watts=timed_watts(survey.catalog, survey.site, survey.drawn(feed)),
    )
