"""A siphon's drain ends free of the water, or only a little under it."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from autoplan.fittings.ends import AtVessel
from autoplan.outcome import Finding
from autoplan.places import OnRun
from autoplan.problem.flows import gravity_paths, vented
from autoplan.problem.site import Site
from autoplan.rules.asked import DrawnSo
from autoplan.rules.base import FAR, Given, Mend, ModelView, Rule, Setting, answers
from autoplan.rules.heights import STEPS_IN_A_M, WHOLE_MM
from autoplan.rules.linear import weighted
from autoplan.rules.quantities import OUTLET, drains, more
from autoplan.rules.survey import Survey
from autoplan.units import Dimension, tenth_mm_down


class FreeOutlet(Rule):
    """A long outlet that is drowned must push its water out before the siphon pulls, and starts late.

    Over a rim the mouth hangs in the air over the highest water that the vessel may hold. One that is to
    hang below water, and an end in a wall, may lie a little under it as it runs, every bed empty. A drain
    that comes to a junction which is open to the air has its outlet free there.
    """

    id = "free-outlet"
    sentence = "The drain of a siphon ends over the water that it falls to, or not far under it."
    source = "common practice, no source"
    unit = "mm"
    negotiable = True
    mended_by = frozenset((Mend.HEIGHTS,))
    settings = (
        Setting(
            "air",
            Dimension.LENGTH,
            "50 mm",
            "common practice, no source",
            "air under a drain's mouth over a rim, with the vessel as full as it may be",
            Given.FREE_OUTLET,
        ),
        Setting(
            "depth",
            Dimension.LENGTH,
            "100 mm",
            "common practice, no source",
            "depth of a siphon's outlet under the water it falls to, at most",
        ),
    )
    reads = (more(OUTLET, drains),)

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only beds with a siphon."""
        return any(vessel.bed is not None and vessel.bed.siphon for vessel in site.vessels.values())

    @answers(DrawnSo)
    def little_under(self, asked: DrawnSo) -> bool:
        """No mouth that is to hang in the water deeper than that."""
        rim, site = asked.drawn.rim, asked.site
        if rim is None or not rim.under_m or asked.drawn.run not in _outlets(site, vented(site)):
            return True
        # It is hung at a whole millimetre.
        return rim.under_m + WHOLE_MM / STEPS_IN_A_M <= self.values["depth"]

    def encode(self, draft: ModelView) -> None:
        """Level below <= outlet + depth, for outlets at a height of their own."""
        for last in _outlets(draft.site, vented(draft.site)):
            options = draft.each(OUTLET, last)
            highest = [
                (var, FAR if outlet is None else tenth_mm_down(outlet + self.values["depth"]))
                for var, outlet in options
            ]
            if any(outlet is not None for _, outlet in options):
                draft.at_least(self.id, weighted(highest), draft.level(draft.site.runs[last].finish))

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per outlet; value is how deep it lies under the running water, negative over it."""
        for last in _outlets(survey.site, survey.falls.in_air):
            end = survey.drawn(last).finish
            if isinstance(end, AtVessel) and end.centre_m is not None:
                rim = survey.drawn(last).rim
                mouth = end.centre_m if rim is None or rim.mouth_m is None else rim.mouth_m
                depth = survey.level(end.at) - mouth
                yield self.at_most(OnRun(last), depth, self.values["depth"], 0.11)


def _outlets(site: Site, in_air: Collection[str]) -> list[str]:
    """The last runs of the ways by which siphons empty and no air comes in, in the order of the site."""
    found: dict[str, None] = {}
    for path in gravity_paths(site):
        bed = site.vessels[site.runs[path[0]].start].bed
        free = any(site.runs[name].finish in in_air for name in path)
        if bed is not None and bed.siphon and not free:
            found[path[-1]] = None
    return list(found)
