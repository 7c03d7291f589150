"""The system running for hours: how far the pumped water goes up and down, how often each bed floods."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from autoplan.hydraulics.basins import Switch, Waters
from autoplan.outcome import BedCycle, Running, SumpRange
from autoplan.verdict.hours.clockwork import BedClock, Clockwork, Cycle, SupplyOf
from autoplan.verdict.hours.waterworks import Waterworks

WARM_UP_S = 3600.0
"""Running time before anything counts, where no flood is to be caught in step [s]."""

WATCHED_S = 2 * 3600.0
"""Least running time over which levels and floods are watched [s]."""

FLOODS = 3.5
"""Floods of the slowest bed that are watched [-]."""

IN_STEP, IN_TURN, STEADY = "every bed full at once", "beds in turn", "every bed full all the time"


def running(works: Waterworks, supply_of: SupplyOf) -> tuple[Running, ...]:
    """The running system in the phases that matter.

    Beds under bell siphons drift into every step in the end, for no two fill alike, and those with timers are
    in the step that their clocks are set to. All full at once is when the pumped water is lowest, and is how
    siphons start after all were empty; one after the other it moves least. Other beds stay full.

    Args:
        works: the drawing as basins and passages.
        supply_of: what the pumps deliver with the valves of some runs shut.
    """
    beds = list(dict.fromkeys(works.survey.run(run).start for run in works.siphons))
    timed = works.survey.timed_feeds()
    if not beds and not timed:
        return (_watched(Clockwork(works, supply_of), works.at_design(), STEADY, WARM_UP_S),)
    in_step = Clockwork(works, supply_of, clocks(works))
    settled = 2 * max((clock.cycle_s for clock in in_step.clocks), default=0.0)
    # Siphons are in step only as they start.
    found = [_watched(in_step, works.at_design(), IN_STEP, 0.0 if beds else settled)]
    if len(beds) + len(timed) > 1:
        turns = {bed: number / len(beds) for number, bed in enumerate(beds)}
        by_turns = Clockwork(works, supply_of, clocks(works, in_turn=True))
        found.append(_watched(by_turns, works.at_design(turns), IN_TURN, max(WARM_UP_S, settled)))
    return tuple(found)


def clocks(works: Waterworks, *, in_turn: bool = False) -> list[BedClock]:
    """The timers of a drawing, set to open together, or each a share of its cycle after the one before."""
    feeds, found = works.survey.timed_feeds(), []
    for number, (bed, feed) in enumerate(feeds.items()):
        water = works.site.vessels[bed].bed
        if water is not None and water.timer is not None:
            first = water.cycle_s * number / len(feeds) if in_turn else 0.0
            found.append(BedClock(bed, feed, water.timer.on_s, water.cycle_s, first))
    return found


def _watched(clockwork: Clockwork, start: Waters, phase: str, warm_up_s: float = 0.0) -> Running:
    works = clockwork.works
    hours = clockwork.walk(start, warm_up_s + _watch_time(works), warm_up_s)
    seen = hours.history
    sumps = tuple(
        SumpRange(
            vessel=name,
            lowest_m=seen.lowest_m[name],
            highest_m=seen.highest_m[name],
            cover_m=seen.lowest_m[name] - works.covers_m[name],
            reserve_m3=(seen.lowest_m[name] - works.needed_m[name]) * works.site.vessels[name].area_m2,
        )
        for name in works.pumped
    )
    names = {" + ".join(path): works.survey.run(path[0]).start for path in works.paths}
    beds = tuple(
        _cycle(bed, [switch for switch in seen.switches if switch.link == link])
        for link, bed in names.items()
        if link.split(" + ")[0] in works.siphons
    )
    return Running(phase, sumps, (*beds, *(_timed(bed, cycle) for bed, cycle in hours.cycles.items())))


def _timed(bed: str, cycle: Cycle) -> BedCycle:
    """Floods an hour of a timed bed, and the mean times of filling and emptying, as they came about."""
    if len(cycle.full_s) < 2:
        return BedCycle(bed, 0.0, None, None)
    return BedCycle(
        bed,
        3600.0 * (len(cycle.full_s) - 1) / (cycle.full_s[-1] - cycle.full_s[0]),
        sum(cycle.filling_s) / len(cycle.filling_s),
        sum(cycle.emptying_s) / len(cycle.emptying_s) if cycle.emptying_s else None,
    )


def _watch_time(works: Waterworks) -> float:
    """Long enough to see the slowest bed flood a few times [s]."""
    slowest = 0.0
    for run in works.siphons:
        vessel = works.site.vessels[works.survey.run(run).start]
        if vessel.bed is not None:
            flood = vessel.flood_m3
            slowest = max(slowest, flood / works.survey.design_flow(run))
    slowest = max([slowest, *(clock.cycle_s for clock in clocks(works))])
    return max(WATCHED_S, FLOODS * slowest)


def _cycle(bed: str, switches: Sequence[Switch]) -> BedCycle:
    """Floods an hour, and the mean times of filling and emptying, from when a siphon primed and broke."""
    primed = [switch.seconds for switch in switches if switch.running]
    if len(primed) < 2:
        return BedCycle(bed, 0.0, None, None)
    return BedCycle(
        bed,
        3600.0 * (len(primed) - 1) / (primed[-1] - primed[0]),
        _mean(switches, running=True),
        _mean(switches, running=False),
    )


def _mean(switches: Sequence[Switch], *, running: bool) -> float | None:
    """Mean time [s] from a switch to the next, of those that end with it running or not."""
    gaps = [
        after.seconds - before.seconds for before, after in pairwise(switches) if after.running == running
    ]
    return sum(gaps) / len(gaps) if gaps else None
