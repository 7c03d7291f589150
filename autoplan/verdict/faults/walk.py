"""What comes of each thing that can go wrong, walked through a night on the finished drawing.

Each fault starts from the system running as designed, lasts a night without anyone about, and ends in
figures: litres lost, the highest water against a rim, the lowest water over a pump, what is left for the
fish, minutes until trouble.
These are calculated first passes on the safe side; a test with water comes before fish.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from autoplan.hydraulics.basins import History, Watch, walk
from autoplan.outcome import Fault, FishWater
from autoplan.problem.flows import drained_to
from autoplan.problem.site import RunKind, VesselKind
from autoplan.verdict.faults.scenarios import NIGHT_S, Mood, Scenario, Scenarios
from autoplan.verdict.hours.waterworks import Waterworks
from autoplan.verdict.steady.supplies import Supplies

RISE_M = 0.001
"""A rise over the running system that counts as one [m]."""

DROP_L = 0.05
"""Less than this is not called spilled [L]."""

FISH_SHARE = 0.75
"""Share of its lowest design depth under which a fish tank is said to have too little left [-]: fish a third
more crowded; assumed, no source."""

SHORT = 0.97
"""Share of its design flow under which an outlet is said to get less [-]."""


def faults(works: Waterworks, supplies: Supplies) -> tuple[Fault, ...]:
    """Every fault of a drawing, the worst first; alike faults of alike runs once, by the worst of them.

    Args:
        works: the drawing as basins and passages.
        supplies: its pumps.
    """
    judge = Judge(Scenarios(works, supplies))
    worst: dict[tuple[str, str], Fault] = {}
    for trial in judge.trials.all():
        fault, key = judge.worst(trial), (trial.what, trial.group)
        known = worst.get(key)
        if known is not None:
            first = _among_alike(fault) > _among_alike(known)
            fault = replace(fault if first else known, alike=known.alike + 1)
        worst[key] = fault
    return tuple(sorted(worst.values(), key=_badness, reverse=True))


@dataclass(frozen=True, slots=True)
class Night:
    """What came of a fault with the beds in one mood; see `Fault` for the units.

    Attributes:
        history: how the water moved.
        spilled_l, minutes, dry_minutes: as told of the fault.
        cover_m: the smallest over a running pump; None where none runs.
    """

    history: History
    spilled_l: float
    minutes: float | None
    dry_minutes: float | None
    cover_m: float | None

    @property
    def dry(self) -> bool:
        """Whether a pump drew air."""
        return _is_dry(self.cover_m)


class Judge:
    """What comes of the faults of one drawing."""

    def __init__(self, trials: Scenarios) -> None:
        self.trials = trials
        self.works = trials.works
        self.normal = [self._normal(mood) for mood in trials.moods]
        self._walked: dict[tuple[str, str, bool], Night] = {}

    @cached_property
    def fish_m(self) -> dict[str, float]:
        """Level under which each fish tank has too little left [m]."""
        tanks = [self.works.site.vessels[name] for name in self.works.fish_tanks]
        return {tank.name: tank.floor_m + FISH_SHARE * tank.least_depth_m for tank in tanks}

    def _normal(self, mood: Mood) -> History:
        """The same night with nothing wrong."""
        links = self.trials.nothing_wrong.links(mood)
        return walk(self.works.basins, links, mood.running, NIGHT_S)

    def worst(self, trial: Scenario) -> Fault:
        """A fault with the beds as is worst: most litres lost, least cover and wall, earliest trouble."""
        nights = [self.night(trial, mood) for mood in self.trials.moods]
        left = self._walls_left([night.history for night in nights])
        where = min(left, key=left.__getitem__)
        worst = max(nights, key=lambda one: (one.spilled_l, one.dry, one.history.highest_m[where]))
        fault = Fault(
            name=f"{trial.place} {trial.what}".lstrip(),
            spilled_l=worst.spilled_l,
            margin_m=left[where],
            minutes=_least(one.minutes for one in nights),
            lowest_cover_m=_least(one.cover_m for one in nights),
            where=where,
            dry_minutes=_least(one.dry_minutes for one in nights),
            fish=self._fish(trial, nights, worst),
            water_celsius=trial.water_celsius,
        )
        saved = self._saved(trial, fault, worst.history)
        return replace(fault, saved_by=saved, cure=self._cure(trial, fault, worst.history))

    def night(self, trial: Scenario, mood: Mood) -> Night:
        """What comes of a fault with the beds in one mood; walked once, also for what follows on it."""
        asked = trial.what, trial.place, mood.shut
        if asked not in self._walked:
            self._walked[asked] = self._night(trial, mood)
        return self._walked[asked]

    def _night(self, trial: Scenario, mood: Mood) -> Night:
        """Walk a fault through a night, from where what went before it has left the water."""
        before = None if trial.after is None else self.night(trial.after, mood).history.waters
        basins, covers_m = self.works.basins, self.works.covers_m
        rims = [Watch(basin.name, basin.rim_m, rising=True) for basin in basins]
        dry = [Watch(name, covers_m[name], rising=False) for name in trial.powered]
        fish = [Watch(name, level, rising=False) for name, level in self.fish_m.items()]
        links = trial.links(mood)
        night = walk(basins, links, trial.start(mood, before), NIGHT_S, [*rims, *dry, *fish])
        covers = [night.lowest_m[watch.basin] - watch.level_m for watch in dry]
        outside = sum(night.moved_m3[link.name] for link in links if link.target is None)
        lost = 1000.0 * (sum(night.spilled_m3.values()) + outside)
        return Night(
            history=night,
            spilled_l=lost if lost >= DROP_L else 0.0,
            minutes=self._minutes(night, outside),
            dry_minutes=_least(night.crossed_s[watch] / 60.0 for watch in dry if watch in night.crossed_s),
            cover_m=_least(covers),
        )

    def _fish(self, trial: Scenario, nights: Sequence[Night], worst: Night) -> FishWater | None:
        """What is left in the fish tank that falls furthest under what it needs, if any falls far."""
        left = {name: min(night.history.lowest_m[name] for night in nights) for name in self.fish_m}
        short = [name for name, level in left.items() if level < self.fish_m[name]]
        if not short:
            return None
        name = min(short, key=lambda tank: left[tank] - self.fish_m[tank])
        tank = self.works.site.vessels[name]
        lacking = max(0.0, tank.water_min_m - worst.history.lowest_m[name]) * tank.area_m2
        return FishWater(
            vessel=name,
            depth_m=left[name] - tank.floor_m,
            volume_m3=tank.held_m3(left[name]),
            needed_m=tank.least_depth_m,
            # A pump that stops there leaves in the tank what it would have lifted out of it.
            spilled_l=max(0.0, worst.spilled_l - 1000.0 * lacking)
            if name in trial.powered and not self._own(trial)
            else None,
        )

    def _own(self, trial: Scenario) -> bool:
        """Whether a drain came apart that empties a pumped vessel by itself, whatever its pump does."""
        return any(self.works.site.runs[run].start in self.works.pumped for run in trial.apart)

    @staticmethod
    def _minutes(night: History, outside_m3: float) -> float | None:
        """Until the first trouble [min]; what runs outside is lost from the start."""
        if outside_m3 * 1000.0 >= DROP_L:
            return 0.0
        return min(night.crossed_s.values()) / 60.0 if night.crossed_s else None

    def _walls_left(self, nights: Sequence[History]) -> dict[str, float]:
        """Wall left over the highest water in any mood [m]: of basins that rise unusually in one, if any.

        Whatever the beds do in a fault, they may do something else before someone sees it: so water that the
        running system has in any mood counts too.
        """
        moods = zip(nights, self.normal, strict=True)
        risen = set().union(*(self._risen(night, normal) for night, normal in moods))
        by_night = [self._walls(night, risen) for night in (*nights, *self.normal)]
        return {name: min(left[name] for left in by_night) for name in by_night[0]}

    def _risen(self, night: History, normal: History) -> set[str]:
        """Basins that spill, or rise over what is usual in that mood."""
        return {
            name
            for name, high in night.highest_m.items()
            if night.spilled_m3[name] * 1000.0 >= DROP_L or high > normal.highest_m[name] + RISE_M
        }

    def _walls(self, night: History, risen: set[str]) -> dict[str, float]:
        """Wall over the highest water of a night [m]: of some basins, or of all where there are none."""
        return {
            basin.name: basin.rim_m - night.highest_m[basin.name]
            for basin in self.works.basins
            if basin.name in risen or not risen
        }

    # --- the words ---------------------------------------------------------------------------------------

    def _saved(self, trial: Scenario, fault: Fault, night: History) -> str:
        """A sentence or two on what saves it, or what would."""
        outside = trial.kind in _SECURED and fault.spilled_l > 0.0
        rest = _OWN if self._own(trial) else _REST.get(trial.kind, "")
        if fault.fish is None:
            return rest if outside else self._mended(trial, fault, night)
        pumped = fault.fish.spilled_l is not None
        fish = (_FISH_PUMPED if pumped else _FISH).format(fault.fish.vessel)
        if outside:
            return f"{_SECURED[trial.kind]}{fish}; {_RECKONED}." if pumped else f"{fish}. {rest}"
        if pumped and not fault.spilled_l:
            return f"{fish}."
        return f"{self._mended(trial, fault, night)} {fish}."

    def _cure(self, trial: Scenario, fault: Fault, night: History) -> str:
        """What would save it, in a few words; "" where nothing needs to."""
        if trial.kind in _SECURED and fault.spilled_l > 0.0:
            secured = "straps" if trial.kind == "apart" else ""
            # With the pump stopped a drain still empties the vessel that it leaves.
            return secured if self._own(trial) else " and ".join(filter(None, (secured, "a float switch")))
        if sum(night.spilled_m3.values()) * 1000.0 >= DROP_L:
            most = max(night.spilled_m3, key=night.spilled_m3.__getitem__)
            if trial.kind == "top-up":
                return f"an overflow from {most}"
            sump = self.works.site.vessels[most].kind is VesselKind.SUMP
            return f"a larger {most}" if sump else f"an emergency overflow from {most}"
        if fault.fish is not None:
            return "a float switch" if fault.fish.spilled_l is not None else "a low-water alarm"
        return "a float switch" if _is_dry(fault.lowest_cover_m) else ""

    def _mended(self, trial: Scenario, fault: Fault, night: History) -> str:
        """One sentence on what saves all but the fish, or what would."""
        if sum(night.spilled_m3.values()) * 1000.0 >= DROP_L:
            most = max(night.spilled_m3, key=night.spilled_m3.__getitem__)
            if trial.kind == "top-up":
                return _TOPPED.format(most, self._full_after_h(trial))
            return _OVER[self.works.site.vessels[most].kind].format(most)
        if _is_dry(fault.lowest_cover_m):
            return "A float switch that stops the pump at low water would save the pump."
        over = [path[0] for path in self.works.overflows if night.moved_m3[path[0]] * 1000.0 >= DROP_L]
        if over:
            return f"The emergency overflow takes it ({', '.join(over)})."
        return self._harmless(trial, fault)

    def _harmless(self, trial: Scenario, fault: Fault) -> str:
        if trial.kind in _KEPT:
            words = {"where": fault.where, "place": self._vessel(trial)}
            hours = self._full_after_h(trial) if trial.kind == "top-up" else 0.0
            return _KEPT[trial.kind].format(**words, hours=hours)
        thirsty = self._thirsty(trial)
        if thirsty and min(thirsty.values()) <= 0.0:
            dry = ", ".join(name for name, share in thirsty.items() if share <= 0.0)
            return f"Nothing runs over, but {dry} gets no water until someone sees it."
        if thirsty:
            least = min(thirsty, key=thirsty.__getitem__)
            mend = "Setting" if trial.kind == "pump" else "Opening"
            return f"{mend} the valves again mends it: {least} gets {100 * thirsty[least]:.0f} % of its flow."
        return f"The free wall of {fault.where} takes it."

    def _full_after_h(self, trial: Scenario) -> float:
        """Running time after which what a top-up brings reaches the first rim below it, no bed full [h]."""
        site, survey = self.works.site, self.works.survey
        times = [
            (site.vessels[below].rim_m - survey.level(below)) * site.vessels[below].area_m2 / more
            for name, more in trial.more_m3_s.items()
            for below in drained_to(site, name)
        ]
        return min(times, default=0.0) / 3600.0

    def _vessel(self, trial: Scenario) -> str:
        """The vessel that a fault befalls: what a drain drains, what a feed feeds."""
        run = self.works.site.runs.get(trial.place)
        if run is None:
            return trial.place
        return run.start if run.kind is RunKind.GRAVITY else run.finish

    def _thirsty(self, trial: Scenario) -> dict[str, float]:
        """Vessels that get less than their design flow from a pump, and what share of it they get [-]."""
        if trial.supply is None:
            return {}
        found = {}
        for vessel, targets in self.works.as_designed().flows_m3_s.items():
            for target, (wished,) in targets.items():
                got = trial.supply.flows_m3_s[vessel].get(target, (0.0,))
                share = got[len(got) // 2] / wished
                if target is not None and share < SHORT:
                    found[target] = share
        return found


_SECURED = {"burst": "", "apart": "Strap the pipe so that no joint can slip. "}
"""What keeps it from happening, by the kinds of faults that lose water out of a pipe."""

_RECKONED = "reckoned at its first joint in the open, the worst place"

_TOPPED = (
    "It runs over after about {1:.0f} hours: an overflow from {0} to where water may go would save it, or a "
    "valve that lets in no more than is lost in a day."
)

_SWITCH = "A float switch just under the pump's lowest running water would keep the rest"

_REST = {kind: f"{secured}{_SWITCH}; {_RECKONED}." for kind, secured in _SECURED.items()}

_OWN = (
    f"{_SECURED['apart']}Its valve close to the wall leaves little that can come apart; stopping the pump "
    f"keeps nothing; {_RECKONED}."
)

_FISH_PUMPED = (
    "A float switch just under {0}'s lowest design water, or a pump raised until it draws no lower, would "
    "leave the fish enough"
)
_FISH = "A low-water alarm in {0} would call someone in time for the fish"

_OVERFLOW = "An emergency overflow from {} would save it."

_OVER = {
    VesselKind.TANK: _OVERFLOW,
    VesselKind.SETTLER: _OVERFLOW,
    VesselKind.BIOFILTER: _OVERFLOW,
    VesselKind.HEADER: _OVERFLOW,
    VesselKind.BED: _OVERFLOW,
    VesselKind.SUMP: "A larger {}, or less water in it, would save it.",
}

_KEPT = {
    "power": "The free wall of {where} takes what runs back; a battery air pump keeps the fish.",
    "siphons back": "Nothing runs over: {place} falls to its inlet's mouth, and {where} takes its water.",
    "back": "The system starts again by itself.",
    "top-up": "Nothing runs over in a night: {where} is full after about {hours:.0f} hours.",
    "siphon never starts": "Nothing runs over: {place} stands full, and its roots want air.",
    "siphon never stops": "Nothing runs over: {place} stays empty, and its roots want water.",
    "timed valve stuck open": "Nothing runs over: the standpipe of {place} takes it, and its roots want air.",
    "timed valve stuck shut": "Nothing runs over: {place} stays empty, and its roots want water.",
    "weep hole clogged": "Nothing runs over, but {place} no longer runs empty when the pump stops.",
    "drain hole clogged": "Nothing runs over: {place} stands full, and its roots want air.",
}


def _badness(fault: Fault) -> tuple[bool, float, bool, float]:
    """Fish left too little first, then litres lost, a pump that draws air, how near water comes to a rim."""
    return fault.fish is not None, fault.spilled_l, _is_dry(fault.lowest_cover_m), -fault.margin_m


def _among_alike(fault: Fault) -> tuple[float, ...]:
    """The same as far as a walk can tell it, then how soon there is trouble and a pump draws air.

    So it is not a computer's rounding that picks the worst of those that come to the same.
    """
    fish, spilled, dry, rise = _badness(fault)
    soon = [math.inf if at is None else round(at, 1) for at in (fault.minutes, fault.dry_minutes)]
    return fish, round(spilled, 1), dry, round(rise, 4), -soon[0], -soon[1]


def _least(values: Iterable[float | None]) -> float | None:
    """The least of what there is; None where there is nothing."""
    return min((value for value in values if value is not None), default=None)


def _is_dry(cover_m: float | None) -> bool:
    """Whether a pump draws air at that least cover [m]; None where none runs."""
    return cover_m is not None and cover_m < 0.0
