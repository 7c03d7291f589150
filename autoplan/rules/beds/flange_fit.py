"""What stands on a bed's floor stands on the floor, not on the flange of the part in it."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.catalog.naming import name_of
from autoplan.catalog.parts import Catalog
from autoplan.fittings.floor import ThroughFloor
from autoplan.outcome import Finding
from autoplan.places import InVessel
from autoplan.problem.siphons import under_bells
from autoplan.problem.site import Site
from autoplan.rules.asked import OverPart
from autoplan.rules.base import Rule, Setting, answers
from autoplan.rules.survey import Survey
from autoplan.sentence import Text, say
from autoplan.units import Dimension


class FlangeFit(Rule):
    """A bell or guard on a flange rocks, and leaves a gap by which air and gravel get in.

    Of a part whose flange the price list does not tell nothing is refused; a builder is told to look.
    """

    id = "flange-fit"
    sentence = "Bell and guard go over the flange of the part in the bed's floor and stand on the floor."
    source = "geometry; room: from memory"
    unit = "mm"
    as_sold = True
    local = True
    settings = (
        Setting("room", Dimension.LENGTH, "4 mm", "from memory", "inside of bell and guard over the flange"),
    )

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only beds with a bell siphon or a guarded drain hole."""
        siphons = under_bells(site)
        return siphons or bool(site.drilled_beds())

    @answers(OverPart)
    def goes_over(self, asked: OverPart) -> bool:
        """Only bells and guards that go over the part's flange."""
        return all(
            value >= least - 1e-9 for _, value, least in self._measures(asked.catalog, asked.part, asked.end)
        )

    def _measures(
        self, catalog: Catalog, penetration: str, end: ThroughFloor
    ) -> Iterator[tuple[str, float, float]]:
        """What stands over the part, its inside and what that must be at least [m]."""
        flange = catalog.penetrations[penetration].flange_m
        if flange is None:
            return
        for what, part in (("bell", end.bell), ("guard", end.guard_part)):
            if part is not None:
                what = f"inside of the {what} over the flange"
                yield what, catalog.siphons[part].inside_m, flange + self.values["room"]

    def check(self, survey: Survey) -> Iterator[Finding]:
        """A finding for each bell and each guard that stands over a part of known flange."""
        for drawn in survey.drawing.runs.values():
            end = drawn.floor
            if end is not None:
                for what, value, least in self._measures(survey.catalog, end.penetration, end):
                    yield self.not_under(InVessel(end.at, what), value, least, 1e-6)

    def unjudged(self, survey: Survey) -> Iterator[Text]:
        """Each part that something stands over and whose flange the price list does not tell."""
        floors = (drawn.floor for drawn in survey.drawing.runs.values())
        under = dict.fromkeys(
            end.penetration for end in floors if end is not None and (end.bell or end.guard_part)
        )
        for part in under:
            if survey.catalog.penetrations[part].flange_m is None:
                yield say(
                    "whether bell and guard go over the flange of {}: measure both",
                    name_of(survey.catalog, part),
                )
