"""A siphon's air tube is neither so narrow that it clogs nor so wide that the siphon cannot start."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.catalog.parts import Catalog
from autoplan.fittings.floor import ThroughFloor
from autoplan.outcome import Finding
from autoplan.places import InVessel
from autoplan.problem.site import Site
from autoplan.rules.asked import OfAirTube, Starting
from autoplan.rules.base import Rule, Setting, answers
from autoplan.rules.siphoned import outside_siphons
from autoplan.rules.survey import Survey
from autoplan.units import Dimension


class AirTube(Rule):
    """A thin tube holds a plug of water or slime and lets no air in, and the siphon trickles for ever.

    A wide one lets in air while the siphon still has to draw.
    """

    id = "air-tube"
    sentence = "Each air tube is wide enough to let air in and break the siphon, and no wider."
    source = "common practice, no source"
    unit = "mm"
    as_sold = True
    local = True
    settings = (
        Setting(
            "least", Dimension.LENGTH, "6 mm", "common practice, no source", "least inside of an air tube"
        ),
        Setting("most", Dimension.LENGTH, "8 mm", "common practice, no source", "most inside of an air tube"),
    )

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only beds with a siphon."""
        return any(vessel.bed is not None and vessel.bed.siphon for vessel in site.vessels.values())

    @answers(Starting)
    def lets_air_in(self, asked: Starting) -> bool:
        """Only air tubes between the limits."""
        inside = _inside_m(asked.catalog, asked.end)
        return inside is None or self._wide_enough(inside)

    @answers(OfAirTube)
    def lets_air_to_a_crest(self, asked: OfAirTube) -> bool:
        """The same at the crest of a siphon pipe outside."""
        return self._wide_enough(asked.catalog.siphons[asked.part].inside_m)

    def _wide_enough(self, inside_m: float) -> bool:
        return self.values["least"] - 1e-9 <= inside_m <= self.values["most"] + 1e-9

    def check(self, survey: Survey) -> Iterator[Finding]:
        """A finding for each air tube, against the limit that it is nearer to."""
        least, most = self.values["least"], self.values["most"]
        tubes = [(end.at, siphon.snorkel) for _, end, siphon in survey.siphons()]
        tubes += [(start.at, start.air_tube) for _, start in outside_siphons(survey)]
        for bed, tube in tubes:
            if tube is None:
                continue
            inside = survey.catalog.siphons[tube].inside_m
            place = InVessel(bed, "inside of the air tube")
            if inside - least < most - inside:
                yield self.not_under(place, inside, least, 1e-6)
            else:
                yield self.at_most(place, inside, most, 1e-6)


def _inside_m(catalog: Catalog, end: ThroughFloor) -> float | None:
    """Inside of a siphon's air tube [m], None without one."""
    if end.siphon is None or end.siphon.snorkel is None:
        return None
    return catalog.siphons[end.siphon.snorkel].inside_m
