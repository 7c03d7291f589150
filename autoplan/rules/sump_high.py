"""When the power fails, what runs back stays in the sump."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from itertools import product

from autoplan.outcome import Finding
from autoplan.places import InVessel
from autoplan.problem.flows import drained_to, pumped_from
from autoplan.problem.site import Run, RunKind, Site, Vessel
from autoplan.rules.base import Candidate, Draft, Rule, Setting
from autoplan.rules.linear import Linear, total, weighted
from autoplan.rules.run_back import backdrain_volume
from autoplan.rules.survey import Survey
from autoplan.units import Dimension, tenth_mm_down, tenth_mm_up


class SumpHigh(Rule):
    """Running level (beds empty) plus what runs back from vessels and pipes stays under the rim."""

    id = "sump-high"
    sentence = "With the power off and everything run back, the sump does not run over."
    source = "water balance"
    unit = "mm"
    negotiable = True
    settings = (
        Setting("freeboard", Dimension.LENGTH, "20 mm", "from memory", "dry wall left with the power off"),
    )

    def encode(self, draft: Draft) -> None:
        """Level + rise of each candidate's share of the run-back <= rim - freeboard."""
        roots = pumped_from(draft.site)
        for name in draft.site.pumped_vessels():
            vessel = draft.site.vessels[name]
            dry = tenth_mm_down(vessel.rim_m - self.values["freeboard"])
            highest = Linear(constant=dry - draft.reserve)
            pipes = total(
                self._rise(draft, run, vessel, _held)
                for run in draft.site.runs.values()
                if roots.get(run.name) == name
            )
            # A vessel that falls through its drains and through its inlet falls as far as the lower lets it.
            ways = [list(self._falls(draft, vessel, above)) for above in draft.site.vessels.values()]
            for falls in product(*(way for way in ways if way)):
                draft.at_least(self.id, highest, draft.level(name) + pipes + total(falls))

    def _falls(self, draft: Draft, vessel: Vessel, above: Vessel) -> Iterator[Linear]:
        """What one vessel adds to a pumped one, through its drains or through its inlets."""
        site = draft.site
        if above.bed is not None or above.name in site.pumped_vessels():
            return
        drains, roots = vessel.name in drained_to(site, above.name), pumped_from(site)
        for kind in RunKind:
            rises = [
                self._rise(draft, run, vessel, _drained if kind is RunKind.GRAVITY else _siphoned)
                for run in site.runs.values()
                if run.kind is kind
                and (
                    (run.start == above.name and drains and not run.idle)
                    if kind is RunKind.GRAVITY
                    else (run.finish == above.name and roots[run.name] == vessel.name)
                )
            ]
            if any(rise.terms for rise in rises):
                yield total(rises)

    @staticmethod
    def _rise(
        draft: Draft, run: Run, vessel: Vessel, volume: Callable[[Site, Candidate, Run], float]
    ) -> Linear:
        return weighted(
            (var, tenth_mm_up(volume(draft.site, candidate, run) / vessel.area_m2))
            for var, candidate in draft.candidates(run.run_class)
        )

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per pumped vessel; value is the dry wall left."""
        for name in survey.site.pumped_vessels():
            vessel = survey.site.vessels[name]
            highest = survey.level(name) + backdrain_volume(survey, name) / vessel.area_m2
            dry = vessel.rim_m - highest
            yield self.not_under(InVessel(name), dry, self.values["freeboard"], 1e-6)


def _held(_: Site, candidate: Candidate, run: Run) -> float:
    """Water in a run's pipe [m3]."""
    bore = candidate.pipe.bore_m
    return math.pi / 4 * bore * bore * candidate.drawn[run.name].length_m


def _drained(site: Site, candidate: Candidate, run: Run) -> float:
    """What a drain's vessel holds over its invert [m3]."""
    place = candidate.places.get((run.name, "start"))
    return 0.0 if place is None else (place.bore_m / 2 - place.offset_m) * site.vessels[run.start].area_m2


def _siphoned(site: Site, candidate: Candidate, run: Run) -> float:
    """What an inlet's vessel holds over its siphon-break hole [m3], which is drawn for its lowest water."""
    end, vessel = candidate.drawn[run.name].rim, site.vessels[run.finish]
    if end is None or end.air_hole_m is None:
        return 0.0
    return (vessel.water_min_m - end.air_hole_m + end.air_hole_width_m / 2) * vessel.area_m2
