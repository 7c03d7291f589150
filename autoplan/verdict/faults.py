"""What comes of each thing that can go wrong, walked through a night on the finished drawing.

Each fault starts from the system running as designed, lasts a night without anyone about, and ends in
figures: litres lost, the highest water against a rim, the lowest water over a pump, minutes until trouble.
These are calculated first passes on the safe side; a test with water comes before fish.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from autoplan.hydraulics.basins import History, Link, Watch, Waters, walk
from autoplan.outcome import FAULT_HOURS, Fault
from autoplan.problem.site import VesselKind
from autoplan.verdict.waterworks import Supply, Waterworks

NIGHT_S = FAULT_HOURS * 3600.0

SETTLING_S = 4 * 3600.0
"""Running time after which the system counts as running [s]."""

RISE_M = 0.001
"""A rise that counts as one [m]."""

DROP_L = 0.05
"""Less than this is not called spilled [L]."""

HALF = 0.5
"""What a half blocked drain passes of its flow at any level [-]; worst plausible, no source."""


def faults(works: Waterworks, supply: Supply) -> tuple[Fault, ...]:
    """Every fault of a drawing, the worst first; alike faults of alike runs once, by the worst of them.

    Args:
        works: the drawing as basins and passages.
        supply: what the pumps deliver as the system runs.
    """
    trials = Trials(works, supply)
    worst: dict[tuple[str, str], tuple[Fault, str, int]] = {}
    for trial in trials.all():
        fault = trials.judged(trial)
        key = (trial.what, trial.group)
        known = worst.get(key)
        alike = 0 if known is None else known[2]
        if known is None or _badness(fault) > _badness(known[0]):
            worst[key] = (fault, trial.place, alike + 1)
        else:
            worst[key] = (*known[:2], alike + 1)
    found = [
        replace(fault, name=_named(what, place, count)) for (what, _), (fault, place, count) in worst.items()
    ]
    return tuple(sorted(found, key=_badness, reverse=True))


@dataclass(frozen=True, slots=True)
class Trial:
    """One fault to be tried.

    Attributes:
        what: what goes wrong, in words.
        place: run or vessel that it befalls; "" for the whole system.
        group: alike places share it.
        start: where the water is as it begins.
        links: how the water runs from then on.
        powered: vessels whose pumps run.
        mends: what saves it where nothing happens, or would where something does; "" for the usual words.
    """

    what: str
    place: str
    group: str
    start: Waters
    links: Sequence[Link]
    powered: tuple[str, ...]
    mends: str = ""


class Trials:
    """The faults of one drawing."""

    def __init__(self, works: Waterworks, supply: Supply) -> None:
        self.survey = works.survey
        self.works = works
        self.supply = supply

    def all(self) -> Iterator[Trial]:
        """Every fault."""
        yield self._power_cut()
        yield self._power_back()
        yield from self._blocked("half blocked", HALF)
        yield from self._blocked("fully blocked", 0.0)

    # --- each kind ---------------------------------------------------------------------------------------

    def _power_cut(self) -> Trial:
        return Trial("power cut", "", "", self.cut, self.works.drains(), ())

    def _power_back(self) -> Trial:
        after = walk(self.works.basins, self.works.drains(), self.cut, NIGHT_S).waters
        refilled = self._poured(after, -1.0)
        return Trial("power back", "", "", refilled, self._links(), self.works.pumped)

    def _blocked(self, what: str, open_share: float) -> Iterator[Trial]:
        for run in self.survey.gravity_runs():
            links = self._links(blocked={run.name: open_share})
            yield Trial(what, run.name, run.run_class, self.running, links, self.works.pumped)

    # --- states and passages -----------------------------------------------------------------------------

    @cached_property
    def running(self) -> Waters:
        """The system running as designed, after it has settled."""
        return walk(self.works.basins, self._links(), self.works.at_design(), SETTLING_S).waters

    @cached_property
    def cut(self) -> Waters:
        """The moment after the power fails: pressure pipes have run back."""
        return self._poured(self.running, 1.0)

    def _poured(self, waters: Waters, share: float) -> Waters:
        """With the water of the pressure pipes added to what they are pumped from, or taken from it."""
        volumes = dict(waters.volumes_m3)
        for vessel, held in self.works.in_pipes_m3.items():
            volumes[vessel] += share * held
        return replace(waters, volumes_m3=volumes)

    def _links(self, supply: Supply | None = None, blocked: Mapping[str, float] | None = None) -> list[Link]:
        supply = self.supply if supply is None else supply
        return [*self.works.drains(blocked), *supply.passages(self.works.covers_m)]

    # --- the judgement -----------------------------------------------------------------------------------

    def judged(self, trial: Trial) -> Fault:
        """Walk a fault through a night and put what happens in figures."""
        rims = [Watch(basin.name, basin.rim_m, rising=True) for basin in self.works.basins]
        dry = [Watch(name, self.works.covers_m[name], rising=False) for name in trial.powered]
        night = walk(self.works.basins, trial.links, trial.start, NIGHT_S, [*rims, *dry])
        over = self._walls_left(trial, night)
        where = min(over, key=over.__getitem__)
        covers = [night.lowest_m[watch.basin] - watch.level_m for watch in dry]
        lost = 1000.0 * (sum(night.spilled_m3.values()) + _outside(trial.links, night))
        fault = Fault(
            name=_named(trial.what, trial.place, 1),
            spilled_l=lost if lost >= DROP_L else 0.0,
            margin_m=over[where],
            minutes=min(night.crossed_s.values()) / 60.0 if night.crossed_s else None,
            lowest_cover_m=min(covers, default=None),
            where=where,
        )
        return replace(fault, saved_by=self._saved(trial, fault, night))

    def _walls_left(self, trial: Trial, night: History) -> dict[str, float]:
        """Wall left over the highest water [m], of those basins whose water rises at all if one does."""
        left = {basin.name: basin.rim_m - night.highest_m[basin.name] for basin in self.works.basins}
        risen = {
            basin.name: left[basin.name]
            for basin in self.works.basins
            if night.highest_m[basin.name] > basin.level(trial.start.volumes_m3[basin.name]) + RISE_M
        }
        return risen or left

    def _saved(self, trial: Trial, fault: Fault, night: History) -> str:
        """One sentence on what saves it, or what would."""
        if trial.mends:
            return trial.mends
        if fault.spilled_l:
            most = max(night.spilled_m3, key=night.spilled_m3.__getitem__)
            return _OVER[self.survey.site.vessels[most].kind].format(most)
        if fault.lowest_cover_m is not None and fault.lowest_cover_m < 0.0:
            return "A float switch that stops the pump at low water would save the pump."
        return f"The free wall of {fault.where} takes it."


def _outside(links: Sequence[Link], night: History) -> float:
    """What ran outside through links [m3]."""
    return sum(night.moved_m3[link.name] for link in links if link.target is None)


_OVERFLOW = "An emergency overflow from {} to the sump would save it."

_OVER = {
    VesselKind.TANK: _OVERFLOW,
    VesselKind.SETTLER: _OVERFLOW,
    VesselKind.BIOFILTER: _OVERFLOW,
    VesselKind.HEADER: _OVERFLOW,
    VesselKind.BED: _OVERFLOW,
    VesselKind.SUMP: "A larger {}, or less water in it, would save it.",
}


def _named(what: str, place: str, count: int) -> str:
    """A fault in words, with how many alike places it speaks of."""
    if not place:
        return what
    return f"{place} {what}" + (f" (or {count - 1} alike)" if count > 1 else "")


def _badness(fault: Fault) -> tuple[float, bool, float]:
    """Litres lost first, then a pump that draws air, then how near the water comes to a rim."""
    dry = fault.lowest_cover_m is not None and fault.lowest_cover_m < 0.0
    return fault.spilled_l, dry, -fault.margin_m
