"""No vessel runs over at overload."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.outcome import Finding
from autoplan.places import InVessel
from autoplan.problem.flows import flows_at, gravity_paths
from autoplan.problem.site import Draw, Site
from autoplan.rules.base import Given, Mend, ModelView, Rule, Setting, Shared
from autoplan.rules.heights import DOWN, AtLeast, WaterOf, at_overload, under_rim
from autoplan.rules.linear import Linear
from autoplan.rules.quantities import CROWN, INLET, LOSS, drains, less
from autoplan.rules.survey import Survey
from autoplan.units import Dimension, tenth_mm_down


class OverloadRule(Rule):
    """At overload each vessel rises until it passes its inflow on, and stays under its rim.

    Overload is a multiple of the design flow, or the chosen pump flat out against no losses at all. A timed
    bed's drain hole counts as clogged, so all of it goes over the standpipe's lip.
    """

    id = "overload"
    sentence = "At overload the water in every vessel stays below its rim by the freeboard."
    source = "common practice, no source (1.5 x design)"
    unit = "mm"
    negotiable = True
    mended_by = frozenset(
        (
            Mend.HEIGHTS,
            Mend.FLOW,
        )
    )
    spares = True
    shares = Shared.RIMS
    of_one_vessel = True
    settings = (
        Setting(
            "freeboard",
            Dimension.LENGTH,
            "20 mm",
            "from memory",
            "dry wall left at overload",
            Given.FREEBOARD,
        ),
    )
    reads = (
        less(LOSS, drains),
        less(INLET, drains),
        less(CROWN, drains),
    )

    def levels_at_once(self, site: Site) -> Iterator[AtLeast]:
        """Overload levels under their rims, running downwards, and over the levels at design flow."""
        for vessel in site.vessels.values():
            yield under_rim(self.id, vessel, at_overload(site, vessel.name), self.values["freeboard"])
        for path in gravity_paths(site):
            first, above = site.runs[path[0]], at_overload(site, site.runs[path[0]].start)
            if above.overloaded:
                yield AtLeast(self.id, above, at_overload(site, site.runs[path[-1]].finish), 0, DOWN)
                if first.draw is not Draw.STANDPIPE and site.wishes.overload_factor >= 1:
                    yield AtLeast(self.id, above, WaterOf(first.start), 0, "more water")

    def encode(self, draft: ModelView) -> None:
        """Overload levels rise up the chain of drains, and each stays under its rim."""
        runs = draft.site.runs
        pumped = draft.site.pumped_vessels()
        for case in draft.overloads():
            flows = flows_at(draft.site, case.factor)
            for path in draft.open_paths():
                start = runs[path[0]].start
                if start in pumped:
                    continue
                level = draft.overload_level(start)
                loss = draft.path_loss(path, case.factor)
                for below in draft.against(path, flows, overloaded=True):
                    draft.at_least(self.id, level, below + loss, case.when)
                held = draft.level(start) + draft.inlet_rise(path[0], case.factor)
                draft.at_least(self.id, level, held, case.when)
        for name, vessel in draft.site.vessels.items():
            highest = tenth_mm_down(vessel.rim_m - self.values["freeboard"]) - draft.reserve
            draft.at_least(self.id, Linear(constant=highest), draft.overload_level(name))

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per vessel; value is the dry wall left."""
        factor = survey.overload_factor()
        for name, vessel in survey.site.vessels.items():
            dry = vessel.rim_m - survey.standing_level(name, factor, clogged=True)
            yield self.not_under(InVessel(name), dry, self.values["freeboard"], 1e-6)
