"""A drain that is to end below water does so at the lowest that its vessel runs with."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.outcome import Finding
from autoplan.places import OnRun
from autoplan.problem.site import Site
from autoplan.rules.base import Given, Mend, ModelView, Rule, Setting
from autoplan.rules.heights import ROUNDED, in_whole_mm
from autoplan.rules.linear import weighted
from autoplan.rules.quantities import LEAST_WATER, drowned, less
from autoplan.rules.survey import Survey
from autoplan.units import Dimension, tenth_mm_down, tenth_mm_up


class DrownedMouth(Rule):
    """Over a rim the pipe goes on down inside, so that the water comes without noise, splash and foam.

    It stays covered with as many beds full as may be, and clear of the floor. It counts against the drain
    only as pipe that the water passes: what is over the rim must be reached all the same. Whether the vessel
    above can be siphoned by it, its inlet there decides: air comes in at that as it falls bare.
    """

    id = "drowned-mouth"
    sentence = "A drain that is to end below water hangs under its vessel's lowest, clear of the floor."
    source = "common practice, no source"
    unit = "mm"
    negotiable = True
    mended_by = frozenset((Mend.HEIGHTS, Mend.SUMP))
    settings = (
        Setting(
            "depth",
            Dimension.LENGTH,
            "50 mm",
            "common practice, no source",
            "lowest water over a drain's mouth that is to hang below it",
            Given.MOUTH_DEPTH,
        ),
        Setting(
            "floor",
            Dimension.LENGTH,
            "50 mm",
            "common practice, no source",
            "from the floor to such a mouth",
            Given.MOUTH_OFF_FLOOR,
        ),
    )
    reads = (less(LEAST_WATER, drowned),)

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only sites with a drain that may hang in water."""
        return any(drowned(site, run) for run in site.runs.values())

    def encode(self, draft: ModelView) -> None:
        """Level as it runs >= the least water that the pipe inside reaches down for."""
        for run in (run for run in draft.site.runs.values() if drowned(draft.site, run)):
            asked, vessel = draft.each(LEAST_WATER, run.name), draft.site.vessels[run.finish]
            if all(water is None for _, water in asked):
                continue
            floor, lower = tenth_mm_down(vessel.floor_m), ROUNDED if in_whole_mm(vessel) else 0
            least = weighted(
                (var, floor if water is None else tenth_mm_up(water) + lower) for var, water in asked
            )
            draft.at_least(self.id, draft.level(run.finish), least)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """Two findings per mouth; values are the lowest water over it, and it over the floor."""
        for run in survey.gravity_runs():
            rim = survey.drawn(run.name).rim
            if not drowned(survey.site, run) or rim is None or rim.mouth_m is None:
                continue
            water = survey.low_level(run.finish) - rim.mouth_m
            yield self.not_under(OnRun(run.name), water, self.values["depth"], 1e-6)
            clear = rim.mouth_m - survey.site.vessels[run.finish].floor_m
            yield self.not_under(OnRun(run.name, "clear of the floor"), clear, self.values["floor"], 1e-6)
