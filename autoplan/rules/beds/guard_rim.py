"""A media guard reaches to its bed's rim."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.catalog.parts import Catalog
from autoplan.fittings.floor import ThroughFloor
from autoplan.outcome import Finding
from autoplan.places import InVessel
from autoplan.problem.siphons import under_bells
from autoplan.problem.site import Site, Vessel
from autoplan.rules.asked import Starting
from autoplan.rules.base import Rule, Setting, answers
from autoplan.rules.survey import Survey
from autoplan.units import Dimension


class GuardRim(Rule):
    """Gravel lies above the highest water, so that the bed's top stays dry: a lower guard is buried by it.

    Nobody then gets at the bell, and gravel falls in.
    """

    id = "guard-rim"
    sentence = "Each media guard reaches to the rim of its bed, over the gravel."
    source = "geometry"
    unit = "mm"
    local = True
    settings = (
        Setting(
            "share",
            Dimension.NUMBER,
            "100 %",
            "common practice, no source",
            "height of a media guard over that of its bed",
        ),
    )

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only beds with a bell siphon or a guarded drain hole."""
        siphons = under_bells(site)
        return siphons or bool(site.drilled_beds())

    def _least_m(self, vessel: Vessel) -> float:
        """How tall a bed's guard must be [m]."""
        return self.values["share"] * (vessel.rim_m - vessel.floor_m)

    @answers(Starting)
    def reaches(self, asked: Starting) -> bool:
        """Only guards that can be cut so high."""
        tall = _tallest_m(asked.catalog, asked.end)
        return tall is None or tall >= self._least_m(asked.site.vessels[asked.run.start]) - 1e-9

    def check(self, survey: Survey) -> Iterator[Finding]:
        """A finding for each guard; value is how high it can be cut, limit how high it is cut."""
        for drawn in survey.drawing.runs.values():
            end = drawn.floor
            if end is None or end.guard_part is None:
                continue
            vessel = survey.site.vessels[end.at]
            tall = survey.catalog.siphons[end.guard_part].tallest_m
            yield self.not_under(InVessel(end.at, "height of the guard"), tall, self._least_m(vessel), 1e-6)


def _tallest_m(catalog: Catalog, end: ThroughFloor) -> float | None:
    """How high a floor outlet's guard can be cut [m], None without one."""
    return None if end.guard_part is None else catalog.siphons[end.guard_part].tallest_m
