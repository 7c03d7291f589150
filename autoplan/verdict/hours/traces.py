"""Levels to be drawn against time: pumped vessels through floods and a power cut; and water at rest."""

from __future__ import annotations

from dataclasses import replace

from autoplan.hydraulics.basins import walk
from autoplan.hydraulics.tracing import Point, Tracer, thinned
from autoplan.outcome import LevelTrace, TraceOf
from autoplan.verdict.faults.scenarios import NIGHT_S, Scenario, Scenarios
from autoplan.verdict.hours.clockwork import Clockwork
from autoplan.verdict.hours.filling import water_left
from autoplan.verdict.hours.through_time import clocks
from autoplan.verdict.hours.waterworks import Waterworks
from autoplan.verdict.steady.supplies import Supplies

MOST_POINTS = 100
"""Most points of a trace."""

FLOODS = 2.2
"""Floods of the slowest bed that a trace shows [-]."""

BEFORE_S, OFF_S, BACK_S = 600.0, 5400.0, 3600.0
"""How long a trace shows the running system, the power away, and the power back [s]; assumed, no source."""


def floods(works: Waterworks, supplies: Supplies) -> tuple[LevelTrace, ...]:
    """How each pumped vessel's water moves while the beds flood in step; nothing where none floods by turns.

    Beds under bell siphons begin empty, as the system is started; timed ones as a cycle begins.

    Args:
        works: the drawing as basins and passages.
        supplies: its pumps.
    """
    timers = clocks(works)
    slowest = max([_flood_s(works), *(clock.cycle_s for clock in timers)])
    if not slowest:
        return ()
    settled = 0.0 if works.siphons else max(clock.cycle_s for clock in timers)
    tracer = Tracer()
    clockwork = Clockwork(works, supplies.with_shut, timers, tracer)
    clockwork.walk(works.at_design(), settled + FLOODS * slowest)
    return tuple(
        LevelTrace(TraceOf.FLOODS, name, _drawn(tracer.points[name], settled)) for name in works.pumped
    )


def _flood_s(works: Waterworks) -> float:
    """How long the slowest bed under a bell siphon fills [s]; 0 where there is none."""
    beds = {run: works.site.vessels[works.survey.run(run).start] for run in works.siphons}
    return max(
        (bed.flood_m3 / works.survey.design_flow(run) for run, bed in beds.items() if bed.bed is not None),
        default=0.0,
    )


def power_cut(works: Waterworks, supplies: Supplies) -> tuple[tuple[LevelTrace, ...], dict[str, float]]:
    """How each pumped vessel's water moves through a power cut, and where the water rests hours later.

    It begins with the beds empty, when the most water comes back to where it is pumped.

    Args:
        works: the drawing as basins and passages.
        supplies: its pumps.

    Returns:
        A trace for each pumped vessel; level at rest by vessel, above the datum [m], of a bed that floods by
        turns as its siphon or drain hole leaves it.
    """
    trials, cut = Scenarios(works, supplies), Scenario("power cut", "", "", works, None, pipes=1)
    mood, tracer = trials.moods[-1], Tracer()
    on, off = trials.nothing_wrong.links(mood), cut.links(mood)
    tracer(works.basins, on, mood.running, BEFORE_S)
    stopped = tracer(works.basins, off, cut.start(mood), OFF_S).waters
    back = dict(stopped.volumes_m3)
    for vessel, held in works.in_pipes_m3.items():
        back[vessel] -= held
    tracer(works.basins, on, replace(stopped, volumes_m3=back), BACK_S)
    found = (
        LevelTrace(TraceOf.POWER_CUT, name, _drawn(tracer.points[name]), BEFORE_S, BEFORE_S + OFF_S)
        for name in works.pumped
    )
    left = water_left(works.survey)
    rest = walk(works.basins, off, stopped, NIGHT_S).waters.volumes_m3
    return tuple(found), {
        basin.name: basin.level(left.get(basin.name, rest[basin.name])) for basin in works.basins
    }


def _drawn(points: list[Point], from_s: float = 0.0) -> tuple[Point, ...]:
    """The points to draw of a trace, from a time on, which then counts as its beginning."""
    later = [(seconds - from_s, level) for seconds, level in points if seconds >= from_s]
    return tuple(thinned(later, MOST_POINTS))
