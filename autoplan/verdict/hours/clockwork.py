"""Water walked through hours while timers open and shut the feeds of their beds.

Between two switchings the water runs as any other; at each the flows of every outlet are those of the network
with just the open valves, so what stays open gets more while others are shut.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from math import ceil
from typing import TypeAlias

from autoplan.hydraulics.basins import Channel, History, Switch, Watch, Waters, walk
from autoplan.verdict.hours.waterworks import PumpSupply, Waterworks

SupplyOf: TypeAlias = Callable[[frozenset[str]], PumpSupply]
"""What the pumps deliver with the valves of some runs shut."""

AT_ONCE_S = 1e-6
"""Switchings closer than that happen together [s]."""


@dataclass(frozen=True, slots=True)
class BedClock:
    """The timer on one bed's feed.

    Attributes:
        bed, feed: the bed, and the run whose valve it opens.
        on_s, cycle_s: how long it opens it, how often [s].
        first_s: when it first opens it, 0 up to `cycle_s` [s].
    """

    bed: str
    feed: str
    on_s: float
    cycle_s: float
    first_s: float = 0.0

    def switchings(self, until_s: float) -> list[tuple[float, bool]]:
        """When it opens (True) and shuts, in order, from the beginning [s].

        A valve that is open at the beginning, from a cycle before, counts as opened then.
        """
        last = self.first_s - self.cycle_s
        opens = [last + number * self.cycle_s for number in range(ceil((until_s - last) / self.cycle_s))]
        found = sorted([(at, True) for at in opens] + [(at + self.on_s, False) for at in opens])
        at_first = max(switch for switch in found if switch[0] <= AT_ONCE_S)
        return [(0.0, at_first[1]), *(switch for switch in found if AT_ONCE_S < switch[0] < until_s)]


@dataclass(frozen=True, slots=True)
class Cycle:
    """What a timed bed did: when it was full [s], how long each filling and emptying took [s]."""

    full_s: list[float] = field(default_factory=list)
    filling_s: list[float] = field(default_factory=list)
    emptying_s: list[float] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Hours:
    """A walk by the clock: the history from `from_s` on, and the cycles of timed beds in that time."""

    history: History
    cycles: Mapping[str, Cycle]


class Clockwork:
    """A drawing with its timers.

    Args:
        works: the drawing as basins and passages.
        supply_of: what the pumps deliver with the valves of some runs shut.
        clocks: a timer for each timed bed.
        walking: how the water is let run, `basins.walk` or what answers like it.
    """

    def __init__(
        self,
        works: Waterworks,
        supply_of: SupplyOf,
        clocks: Sequence[BedClock] = (),
        walking: Callable[..., History] = walk,
    ) -> None:
        self.works = works
        self.supply_of = supply_of
        self.clocks = clocks
        self.walking = walking

    def links(self, shut: frozenset[str]) -> list[Channel]:
        """How the water runs with the valves of some feeds shut."""
        return [*self.works.drains(), *self.supply_of(shut).passages(self.works.covers_m)]

    def walk(self, start: Waters, seconds: float, from_s: float = 0.0) -> Hours:
        """Let the water run by the clock.

        Args:
            start: where it is as the clocks begin.
            seconds: how long [s].
            from_s: from when on what happens counts [s].
        """
        times = {0.0, from_s, seconds}
        state: dict[str, list[tuple[float, bool]]] = {}
        for clock in self.clocks:
            state[clock.bed] = clock.switchings(seconds)
            times |= {at for at, _ in state[clock.bed]}
        marks = _apart(sorted(times))
        cycles = {clock.bed: Cycle() for clock in self.clocks}
        parts: list[tuple[float, History]] = []
        waters, pending = start, dict[str, tuple[float, bool]]()
        for begin, end in pairwise(marks):
            middle = 0.5 * (begin + end)
            now = {bed: max(s for s in found if s[0] <= middle) for bed, found in state.items()}
            pending |= {bed: switch for bed, switch in now.items() if _switched(begin, switch)}
            shut = frozenset(clock.feed for clock in self.clocks if not now[clock.bed][1])
            watches = {bed: self._watch(bed, opened=switch[1]) for bed, switch in pending.items()}
            links = self.links(shut)
            seen = self.walking(self.works.basins, links, waters, end - begin, list(watches.values()))
            for bed, watch in watches.items():
                if watch in seen.crossed_s:
                    since, opened = pending.pop(bed)
                    if since >= from_s - AT_ONCE_S:
                        _note(cycles[bed], begin + seen.crossed_s[watch], since, opened=opened)
            if begin >= from_s - AT_ONCE_S:
                parts.append((begin - from_s, seen))
            waters = seen.waters
        return Hours(_joined(parts), cycles)

    def _watch(self, bed: str, *, opened: bool) -> Watch:
        """The level that a bed comes to: its standpipe's lip, or the top edge of its drain hole."""
        survey = self.works.survey
        for run, end, hole in survey.drain_holes():
            if end.at == bed:
                empty = self.works.site.vessels[bed].floor_m + hole.height_m + hole.hole_m / 2
                return Watch(bed, survey.control_height(run) if opened else empty, rising=opened)
        raise ValueError(f"{bed} has no drain hole")


def _switched(begin: float, switch: tuple[float, bool]) -> bool:
    return abs(switch[0] - begin) <= AT_ONCE_S


def _apart(times: Sequence[float]) -> list[float]:
    """Rising times of which none is closer to the one before than `AT_ONCE_S`."""
    kept = [times[0]]
    for time in times[1:]:
        if time - kept[-1] > AT_ONCE_S:
            kept.append(time)
    return kept


def _note(cycle: Cycle, at: float, since: float, *, opened: bool) -> None:
    if opened:
        cycle.full_s.append(at)
        cycle.filling_s.append(at - since)
    else:
        cycle.emptying_s.append(at - since)


def _joined(parts: Sequence[tuple[float, History]]) -> History:
    """Histories one after the other as one, each with when it began [s]; water is conserved in their sum."""
    histories = [history for _, history in parts]
    moved: dict[str, float] = {}
    spilled: dict[str, float] = {}
    switches: list[Switch] = []
    for begin, history in parts:
        for link, volume in history.moved_m3.items():
            moved[link] = moved.get(link, 0.0) + volume
        for basin, volume in history.spilled_m3.items():
            spilled[basin] = spilled.get(basin, 0.0) + volume
        switches += [Switch(begin + at.seconds, at.link, at.running) for at in history.switches]
    basins = histories[0].highest_m
    return History(
        seconds=sum(history.seconds for history in histories),
        waters=histories[-1].waters,
        moved_m3=moved,
        spilled_m3=spilled,
        highest_m={name: max(history.highest_m[name] for history in histories) for name in basins},
        lowest_m={name: min(history.lowest_m[name] for history in histories) for name in basins},
        crossed_s={},
        switches=tuple(switches),
    )
