"""The system running for hours: how far the pumped water goes up and down, how often each bed floods."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from autoplan.hydraulics.basins import Link, Switch, Waters, walk
from autoplan.outcome import BedCycle, Running, SumpRange
from autoplan.verdict.waterworks import Supply, Waterworks

WARM_UP_S = 3600.0
"""Running time before anything counts, where no flood is to be caught in step [s]."""

WATCHED_S = 2 * 3600.0
"""Least running time over which levels and floods are watched [s]."""

FLOODS = 3.5
"""Floods of the slowest bed that are watched [-]."""

IN_STEP, IN_TURN, STEADY = "every bed full at once", "beds in turn", "every bed full all the time"


def running(works: Waterworks, supply: Supply) -> tuple[Running, ...]:
    """The running system in the phases that matter.

    Beds under bell siphons drift into every step in the end, for no two fill alike. All full at once is when
    the pumped water is lowest, and is how they start after all were empty; one after the other it moves
    least. Without siphons the beds stay full.

    Args:
        works: the drawing as basins and passages.
        supply: what the pumps deliver.
    """
    links = [*works.drains(), *supply.passages(works.covers_m)]
    beds = list(dict.fromkeys(works.survey.run(run).start for run in works.siphons))
    if not beds:
        return (_watched(works, links, _warm(works, links, works.at_design()), STEADY),)
    turns = {bed: number / len(beds) for number, bed in enumerate(beds)}
    found = [_watched(works, links, works.at_design(), IN_STEP)]
    if len(beds) > 1:
        found.append(_watched(works, links, _warm(works, links, works.at_design(turns)), IN_TURN))
    return tuple(found)


def _warm(works: Waterworks, links: Sequence[Link], start: Waters) -> Waters:
    return walk(works.basins, links, start, WARM_UP_S).waters


def _watched(works: Waterworks, links: Sequence[Link], start: Waters, phase: str) -> Running:
    seen = walk(works.basins, links, start, _watch_time(works))
    sumps = tuple(
        SumpRange(
            vessel=name,
            lowest_m=seen.lowest_m[name],
            highest_m=seen.highest_m[name],
            cover_m=seen.lowest_m[name] - works.covers_m[name],
        )
        for name in works.pumped
    )
    names = {" + ".join(path): works.survey.run(path[0]).start for path in works.paths}
    beds = tuple(
        _cycle(names[link.name], [switch for switch in seen.switches if switch.link == link.name])
        for link in links
        if link.name.split(" + ")[0] in works.siphons
    )
    return Running(phase, sumps, beds)


def _watch_time(works: Waterworks) -> float:
    """Long enough to see the slowest bed flood a few times [s]."""
    slowest = 0.0
    for run in works.siphons:
        vessel = works.site.vessels[works.survey.run(run).start]
        if vessel.bed is not None:
            flood = vessel.bed.flood_volume_m3(vessel.area_m2)
            slowest = max(slowest, flood / works.survey.design_flow(run))
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
