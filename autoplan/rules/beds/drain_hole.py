"""The drain hole of a bed does not clog, and its standpipe and guard have room for it."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.catalog.parts import Catalog, Pipe
from autoplan.fittings.floor import ThroughFloor
from autoplan.outcome import Finding
from autoplan.places import InVessel
from autoplan.problem.site import Site, Vessel
from autoplan.problem.tables.defaults import TIMER
from autoplan.rules.asked import Starting
from autoplan.rules.base import Rule, Setting, answers
from autoplan.rules.survey import Survey
from autoplan.units import Dimension


class DrainHole(Rule):
    """The hole is wide enough for grit and roots, its standpipe twice as wide, and a guard goes round both.

    A standpipe drilled through half its width and more breaks there.
    """

    id = "drain-hole"
    sentence = "Each drain hole is wide enough not to clog, in a wider standpipe, with its guard round it."
    source = "common practice, no source; limits: from memory"
    unit = "mm"
    local = True
    hint = ", or ask for another hole: of a timed bed by on_time and floods, of a weep hole by within"
    settings = (
        Setting("least", Dimension.LENGTH, TIMER["least"].text, TIMER["least"].mark, TIMER["least"].why),
        Setting(
            "share", Dimension.NUMBER, "50 %", "from memory", "drain hole over its standpipe's bore, at most"
        ),
        Setting("guard_gap", Dimension.LENGTH, "10 mm", "from memory", "room between standpipe and guard"),
        Setting("headroom", Dimension.LENGTH, "25 mm", "from memory", "guard over the standpipe's lip"),
    )

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only beds with a timer or a weep hole."""
        return bool(site.drilled_beds())

    @answers(Starting)
    def suits_the_hole(self, asked: Starting) -> bool:
        """Only standpipes and guards that suit the hole."""
        measures = self._measures(asked.catalog, asked.pipe, asked.end, asked.site.vessels[asked.run.start])
        return all(value >= least - 1e-9 for _, value, least in measures)

    def _measures(
        self, catalog: Catalog, pipe: Pipe, end: ThroughFloor, vessel: Vessel
    ) -> Iterator[tuple[str, float, float]]:
        """Each measure in words, what it is and what it must be at least [m]."""
        hole = end.drain_hole
        if hole is None:
            return
        stood = end.stood(catalog, pipe)
        yield "drain hole", hole.hole_m, self.values["least"]
        yield "bore of the standpipe", stood.bore_m, hole.hole_m / self.values["share"]
        if hole.guard is not None:
            guard = catalog.siphons[hole.guard]
            lip = end.top_m(vessel)
            yield "inside of the guard", guard.inside_m, stood.outside_m + 2 * self.values["guard_gap"]
            yield "height of the guard", guard.tallest_m, lip + self.values["headroom"]

    def check(self, survey: Survey) -> Iterator[Finding]:
        """A finding for each measure of each bed with a drain hole."""
        for name, end, _ in survey.drain_holes():
            vessel = survey.site.vessels[end.at]
            for what, value, least in self._measures(survey.catalog, survey.pipe(name), end, vessel):
                yield self.not_under(InVessel(end.at, what), value, least, 1e-6)
