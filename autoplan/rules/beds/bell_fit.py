"""Bell, guard and standpipe go into one another with room for the water."""

from __future__ import annotations

import math
from collections.abc import Iterator

from autoplan.catalog.parts import Catalog, Pipe
from autoplan.fittings.floor import ThroughFloor
from autoplan.outcome import Finding
from autoplan.places import InVessel
from autoplan.problem.siphons import under_bells
from autoplan.problem.site import Site, Vessel
from autoplan.rules.asked import Starting
from autoplan.rules.base import Rule, Setting, answers
from autoplan.rules.survey import Survey
from autoplan.units import Dimension


class BellFit(Rule):
    """The ring between bell and standpipe is wide enough, the bell tall enough, the guard wider still.

    Water comes in by the cut-outs, rises in the ring and turns over the lip: each way is no narrower than the
    ring must be. With room of one bore over the lip what it turns through is four times the bore's area.
    FAO Fisheries and Aquaculture Technical Paper 589, appendix 8, puts a 75 mm bell and a 110 mm guard round
    a 25 mm standpipe with a 40 mm flare, which is wider than is asked here.
    """

    id = "bell-fit"
    sentence = "Bell and guard leave room for the water round the standpipe and reach over its top."
    source = "FAO Fisheries and Aquaculture Technical Paper 589, app. 8, is wider; limits: from memory"
    unit = "mm"
    local = True
    hint = ', or write drain = "standpipe" for a bed whose inflow suits no siphon'
    settings = (
        Setting("ring", Dimension.NUMBER, "2", "from memory", "ring's area over the standpipe's bore area"),
        Setting(
            "headroom", Dimension.LENGTH, "25 mm", "from memory", "least room from the lip to the bell's top"
        ),
        Setting(
            "bores",
            Dimension.NUMBER,
            "1",
            "common practice, no source",
            "the same room over the standpipe's bore, at least",
        ),
        Setting(
            "cut", Dimension.NUMBER, "50 %", "common practice, no source", "share of the bell's foot cut out"
        ),
        Setting("guard_gap", Dimension.LENGTH, "10 mm", "from memory", "room between bell and guard"),
    )

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only beds with a bell siphon."""
        return under_bells(site)

    @answers(Starting)
    def goes_together(self, asked: Starting) -> bool:
        """Only bells and guards that fit."""
        measures = self._measures(asked.catalog, asked.pipe, asked.end, asked.site.vessels[asked.run.start])
        return all(value >= least - 1e-9 for _, value, least in measures)

    def _measures(
        self, catalog: Catalog, pipe: Pipe, end: ThroughFloor, vessel: Vessel
    ) -> Iterator[tuple[str, float, float]]:
        """Each measure in words, what it is and what it must be at least [m]."""
        siphon = end.siphon
        if siphon is None or siphon.bell is None:
            return
        bell = catalog.siphons[siphon.bell]
        bore = end.stood(catalog, pipe).bore_m
        outside = end.outside_m(catalog, pipe)
        yield "inside of the bell", bell.inside_m, math.sqrt(outside**2 + self.values["ring"] * bore**2)
        tall = end.top_m(vessel) + max(self.values["headroom"], self.values["bores"] * bore)
        yield "height of the bell", bell.tallest_m, tall
        # Both as the diameter of one round opening.
        cut_out = math.sqrt(4 * self.values["cut"] * bell.inside_m * siphon.cut_out_m)
        yield "opening of the cut-outs", cut_out, math.sqrt(self.values["ring"]) * bore
        if siphon.guard is not None:
            guard = catalog.siphons[siphon.guard]
            yield "inside of the guard", guard.inside_m, bell.outside_m + 2 * self.values["guard_gap"]
            yield "height of the guard", guard.tallest_m, tall

    def check(self, survey: Survey) -> Iterator[Finding]:
        """A finding for each measure of each siphon."""
        for name, end, _ in survey.siphons():
            vessel = survey.site.vessels[end.at]
            for what, value, least in self._measures(survey.catalog, survey.pipe(name), end, vessel):
                yield self.not_under(InVessel(end.at, what), value, least, 1e-6)
