"""Everything that can go wrong with a drawing, each as a change to how its water runs."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, fields, replace
from functools import cached_property, partial
from typing import Any

from autoplan.catalog.parts import Catalog
from autoplan.fittings.ends import AtVessel
from autoplan.fittings.rim import OverRim
from autoplan.fittings.valve import ValveSet
from autoplan.hydraulics.basins import Channel, Waters, walk
from autoplan.hydraulics.passage import Inflow
from autoplan.hydraulics.water import water_at
from autoplan.outcome import FAULT_HOURS
from autoplan.problem.site import Guard
from autoplan.rules.survey import Survey
from autoplan.verdict.hours.waterworks import BedSiphon, PumpSupply, Waterworks, link_name
from autoplan.verdict.steady.supplies import Supplies

NIGHT_S = FAULT_HOURS * 3600.0

SETTLING_S = 4 * 3600.0
"""Running time after which the system counts as running [s]."""

HALF = 0.5
"""What a half blocked drain passes of its flow at any level [-]; worst plausible, no source."""

SWAMPED = 2.5
"""Inflow over a bed's design inflow at which a bed that is taken as full primes its siphon [-]: over what a
half blocked drain makes of it, so that no fault but a flood of its own starts it."""

TIGHT = 0.95
"""Bore of pipe and fittings at their tightest, over the price list's [-]: walls may be 0.4 to 0.5 mm thicker
than their least by EN ISO 1452-2 and ASTM D1785, which is a twentieth of a 20 mm bore; from memory."""

COLD_C, WARM_C = 5.0, 30.0
"""Water in a cold and in a hot season [C]."""


@dataclass(frozen=True, slots=True)
class Mood:
    """What the beds do meanwhile: how their siphons behave, and where the water is as a fault begins.

    Beds under bell siphons come and go in any step. Two standstills bound what they do: every bed full, which
    leaves the pump the least water, and every bed empty, which leaves it the most to lose. A full bed primes
    its siphon all the same once it gets far more than it should. Beds with timers are bounded alike: their
    valves open all the time, or (`shut`) shut all the time, when what else is fed gets the most.
    """

    siphons: Mapping[str, BedSiphon]
    running: Waters
    shut: bool = False


@dataclass(frozen=True, slots=True)
class Scenario:
    """One fault to be tried.

    Attributes:
        what: what goes wrong, in words.
        place: run or vessel that it befalls; "" for the whole system.
        group: alike places share it.
        works: the drawing as basins and passages.
        supply: what the pumps deliver from then on, or None without power.
        blocked: share of its flow that a blocked run still passes [-].
        siphons: siphons that behave otherwise.
        failed: inlets whose check valve is stuck open, or whose siphon-break hole is blocked.
        pipes: 1 where the pressure pipes have just emptied, -1 where they have just been filled again.
        after: what went before, for as long.
        kind: what the words on what saves it go by.
        quiet: what the pumps deliver with the timed valves shut, where there are any.
        clogged: drains whose drain holes let nothing through.
        apart: drains that came apart outside, where they leave their vessel or junction.
        more_m3_s: what comes into vessels from outside, by vessel [m3/s].
        water_celsius: temperature of the water, where that is otherwise [C].
    """

    what: str
    place: str
    group: str
    works: Waterworks
    supply: PumpSupply | None
    blocked: Mapping[str, float] = field(default_factory=dict)
    siphons: Mapping[str, BedSiphon] = field(default_factory=dict)
    failed: tuple[str, ...] = ()
    pipes: int = 0
    after: Scenario | None = None
    kind: str = ""
    quiet: PumpSupply | None = None
    clogged: tuple[str, ...] = ()
    apart: tuple[str, ...] = ()
    more_m3_s: Mapping[str, float] = field(default_factory=dict)
    water_celsius: float | None = None

    @property
    def powered(self) -> tuple[str, ...]:
        """Vessels whose pumps run."""
        return () if self.supply is None else self.works.pumped

    def links(self, mood: Mood) -> list[Channel]:
        """How the water runs from then on."""
        siphons = {**mood.siphons, **self.siphons}
        links = self.works.drains(self.blocked, siphons, self.clogged, self.apart)
        links += [
            Channel(f"top-up of {name}", None, name, Inflow(flow)) for name, flow in self.more_m3_s.items()
        ]
        supply = self.quiet if mood.shut and self.quiet is not None else self.supply
        if supply is None:
            return [*links, *self.works.running_back(self.failed)]
        return [*links, *supply.passages(self.works.covers_m)]

    def start(self, mood: Mood, before: Waters | None = None) -> Waters:
        """Where the water is as it begins.

        Args:
            mood: what the beds do meanwhile.
            before: where it was until then, if that is known; else what went before is walked for it.
        """
        if before is None:
            before = mood.running
            if self.after is not None:
                links, start = self.after.links(mood), self.after.start(mood)
                before = walk(self.works.basins, links, start, NIGHT_S).waters
        volumes = dict(before.volumes_m3)
        for vessel, held in self.works.in_pipes_m3.items():
            volumes[vessel] += self.pipes * held
        return replace(before, volumes_m3=volumes)


class Scenarios:
    """The faults of one drawing.

    Args:
        works: the drawing as basins and passages.
        supplies: its pumps.
    """

    def __init__(self, works: Waterworks, supplies: Supplies) -> None:
        self.works = works
        self.survey = works.survey
        self.supplies = supplies

    @cached_property
    def moods(self) -> tuple[Mood, ...]:
        """What the beds may do meanwhile; one thing only where no siphon and no timer is."""
        siphons = self.works.siphons
        full = {
            run: replace(siphon, start_m3_s=SWAMPED * self.survey.design_flow(run))
            for run, siphon in siphons.items()
        }
        settled = [self._settled(Mood(full, self.works.at_design()))]
        if siphons or self.timed:
            empty = {run: replace(siphon, stops=False) for run, siphon in siphons.items()}
            settled.append(self._settled(Mood(empty, self.works.at_design(), shut=True)))
        return tuple(settled)

    @cached_property
    def timed(self) -> dict[str, str]:
        """The run that feeds each timed bed, by the bed."""
        return self.survey.timed_feeds()

    @cached_property
    def nothing_wrong(self) -> Scenario:
        """The system as it should run."""
        return self._pumped("as it should be", "", "", _as_set)

    def _settled(self, mood: Mood) -> Mood:
        """A mood with the water where it comes to."""
        siphons = mood.siphons
        at_work = (path for path in self.works.paths if path[0] in siphons and not siphons[path[0]].stops)
        start = replace(mood.running, running=frozenset(map(link_name, at_work)))
        links = self.nothing_wrong.links(mood)
        return replace(mood, running=walk(self.works.basins, links, start, SETTLING_S).waters)

    def _pumped(
        self, what: str, place: str, group: str, supply: Callable[[Supplies], PumpSupply], **otherwise: Any
    ) -> Scenario:
        """A fault with power: what the pumps deliver with the timed valves open, and with all shut."""
        quiet = supply(self.supplies.quiet) if self.timed else None
        return Scenario(what, place, group, self.works, supply(self.supplies), quiet=quiet, **otherwise)

    def all(self) -> Iterator[Scenario]:
        """Every fault."""
        cut = Scenario("power cut", "", "", self.works, None, pipes=1, kind="power")
        yield cut
        yield self._pumped("power back", "", "", _as_set, pipes=-1, after=cut, kind="back")
        yield from self._guards()
        yield from self._blocked("half blocked", HALF)
        yield from self._blocked("fully blocked", 0.0)
        yield from self._siphons()
        yield from self._timers()
        yield self._pumped("pump flat out, valves open", "", "", Supplies.flat_out, kind="pump")
        yield from self._valves()
        yield from self._bursts()
        yield from self._apart()
        yield from self._top_ups()
        yield from self._otherwise()

    def _guards(self) -> Iterator[Scenario]:
        """What guards an inlet fails as the power does; its down-leg behind the rim never fills."""
        for run in self.survey.pressure_runs():
            end, group = self.survey.drawn(run.name).finish, run.run_class
            if not isinstance(end, AtVessel) or end.guard is Guard.AIR_GAP:
                continue
            valve = end.guard is Guard.CHECK_VALVE
            what = "check valve stuck open" if valve else "siphon-break hole blocked"
            failed = f"{what} in a power cut"
            yield Scenario(
                failed, run.name, group, self.works, None, failed=(run.name,), pipes=1, kind="siphons back"
            )
            if isinstance(end, OverRim):
                what, supply = "never fills behind the rim", partial(Supplies.unfilled, run=run.name)
                yield self._pumped(what, run.name, group, supply, kind="flow")

    def _blocked(self, what: str, open_share: float) -> Iterator[Scenario]:
        drains = [run for run in self.survey.gravity_runs() if not run.idle]
        for run in drains:
            shares = {run.name: open_share}
            yield self._pumped(what, run.name, run.run_class, _as_set, blocked=shares, kind="drain")
        for vessel in dict.fromkeys(self.survey.run(path[0]).start for path in self.works.overflows):
            shares = {run.name: open_share for run in drains if run.start == vessel}
            every = f"with every drain {what}"
            yield self._pumped(every, vessel, vessel, _as_set, blocked=shares, kind="drain")

    def _siphons(self) -> Iterator[Scenario]:
        for run, siphon in self.works.siphons.items():
            group = self.survey.run(run).run_class
            never = {run: replace(siphon, start_m3_s=math.inf)}
            always = {run: replace(siphon, stops=False)}
            for what, siphons in (("siphon never starts", never), ("siphon never stops", always)):
                yield self._pumped(what, run, group, _as_set, siphons=siphons, kind=what)

    def _timers(self) -> Iterator[Scenario]:
        """A timed valve that no longer shuts, while the others do; a drain hole that lets nothing through."""
        everyone = frozenset(self.timed.values())
        for feed in self.timed.values():
            what, group = "timed valve stuck open", self.survey.run(feed).run_class
            quiet = self.supplies.with_shut(everyone - {feed})
            yield Scenario(what, feed, group, self.works, self.supplies.as_set, kind=what, quiet=quiet)
        for run, end, _ in self.survey.drain_holes():
            what = "drain hole clogged" if end.at in self.timed else "weep hole clogged"
            group = self.survey.run(run).run_class
            yield self._pumped(what, run, group, _as_set, clogged=(run,), kind=what)

    def _valves(self) -> Iterator[Scenario]:
        for run in self.survey.pressure_runs():
            if self.survey.drawn(run.name).one(ValveSet) is not None:
                timed = run.name in self.timed.values()
                what = "timed valve stuck shut" if timed else "valve shut"
                kind = what if timed else "valve"
                yield self._pumped(
                    what, run.name, run.run_class, partial(Supplies.shut, runs=(run.name,)), kind=kind
                )

    def _bursts(self) -> Iterator[Scenario]:
        for run in self.survey.pressure_runs():
            yield self._pumped(
                "bursts",
                run.name,
                run.run_class,
                partial(Supplies.burst, run=run.name),
                kind="burst",
            )

    def _apart(self) -> Iterator[Scenario]:
        """A drain comes apart outside: what stands or lifts inside the vessel stays, and holds its water.

        Also one whose valve at the far end is shut, but no overflow, which holds no water.
        """
        for run in self.survey.gravity_runs():
            if not run.overflow and not self.survey.drawn(run.name).later:
                yield self._pumped(
                    "comes apart", run.name, run.run_class, _as_set, apart=(run.name,), kind="apart"
                )

    def _top_ups(self) -> Iterator[Scenario]:
        """A float valve that sticks open lets in all that it can, whatever stands in its vessel."""
        for name, vessel in self.survey.site.vessels.items():
            if vessel.top_up_m3_s:
                more = {name: vessel.top_up_m3_s}
                yield self._pumped("top-up stuck open", name, name, _as_set, more_m3_s=more, kind="top-up")

    def _otherwise(self) -> Iterator[Scenario]:
        """The same drawing with tighter bores, and with other water."""
        for celsius in (COLD_C, WARM_C):
            site = self.survey.site
            wishes = replace(site.wishes, water_celsius=celsius)
            survey = Survey(replace(site, wishes=wishes), self.survey.catalog, self.survey.drawing)
            works = Waterworks(survey, self.works.siphons)
            trial = self._pumped(
                f"water at {celsius:.0f} C",
                "",
                "",
                partial(Supplies.at, water=water_at(celsius)),
                kind="flow",
            )
            yield replace(trial, works=works, water_celsius=celsius)
        survey = Survey(self.survey.site, tighter(self.survey.catalog, TIGHT), self.survey.drawing)
        works = Waterworks(survey, self.works.siphons)
        tight = Scenarios(works, Supplies(works, self.supplies.settings))
        yield tight._pumped(f"every bore {100 * (1 - TIGHT):.0f} % less", "", "", _as_set, kind="flow")


def _as_set(pumps: Supplies) -> PumpSupply:
    """What pumps deliver with their valves as set."""
    return pumps.as_set


def tighter(catalog: Catalog, share: float) -> Catalog:
    """A price list whose parts all have a bore of that share [-]."""
    groups: dict[str, Any] = {}
    for name in (entry.name for entry in fields(catalog)):
        rows = getattr(catalog, name)
        if isinstance(rows, Mapping) and any(hasattr(row, "bore_m") for row in rows.values()):
            groups[name] = {
                part: _narrower(row, share) if hasattr(row, "bore_m") else row for part, row in rows.items()
            }
    return replace(catalog, **groups)


def _narrower(row: Any, share: float) -> Any:
    """A part with all its bores of that share [-]."""
    told = [name for name in ("bore_m", "branch_bore_m") if getattr(row, name, None) is not None]
    return replace(row, **{name: getattr(row, name) * share for name in told})
