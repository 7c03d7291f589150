"""An inlet's down-leg behind the rim runs full, so that it hangs on the crest and saves its lift."""

from __future__ import annotations

import math
from collections.abc import Iterator

from autoplan.catalog.parts import Way
from autoplan.hydraulics.friction import velocity
from autoplan.hydraulics.water import GRAVITY
from autoplan.outcome import Finding
from autoplan.places import OnRun
from autoplan.problem.site import Guard, Site
from autoplan.rules.asked import Guarded
from autoplan.rules.base import Rule, Setting, answers
from autoplan.rules.survey import Survey
from autoplan.units import Dimension


class OverRimFill(Rule):
    """Froude number V / sqrt(g D) at design flow >= limit.

    Water carries the air out of a level or upright pipe once it runs faster than a long bubble can stand in
    it: 0.54 sqrt(g D) in a level pipe (Benjamin, J. Fluid Mech. 31, 1968), 0.35 sqrt(g D) in an upright one
    (Davies and Taylor 1950); both from memory. The limit is twice 0.6, since no more than half of the design
    flow is sure as the pump starts (over-rim-start). A slower inlet is drawn with an air gap.
    """

    id = "over-rim-fill"
    sentence = "An inlet that goes over a rim and down under water runs fast enough to carry its air out."
    source = "Benjamin 1968; Davies and Taylor 1950, from memory; doubled for the start"
    unit = "-"
    local = True
    settings = (
        Setting("froude", Dimension.NUMBER, "1.2", "from memory", "least Froude number at design flow"),
    )

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Whether any inlet may open under water."""
        return any(set(site.guards(run)) - {Guard.AIR_GAP} for run in site.runs.values())

    @answers(Guarded)
    def fills(self, asked: Guarded) -> bool:
        """Only fast pipes go over a rim and down under water."""
        if asked.way is not Way.OVER_RIM or asked.guard is Guard.AIR_GAP:
            return True
        return (
            froude(asked.site.flows[asked.run.name].design_m3_s, asked.pipe.bore_m) >= self.values["froude"]
        )

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per such inlet; value is its Froude number."""
        for run in survey.pressure_runs():
            end = survey.drawn(run.name).rim
            if end is not None and end.guard is not Guard.AIR_GAP:
                number = froude(survey.design_flow(run.name), survey.pipe(run.name).bore_m)
                yield self.not_under(OnRun(run.name), number, self.values["froude"])


def froude(flow_m3_s: float, bore_m: float) -> float:
    """Pipe Froude number V / sqrt(g D) [-] of a flow [m3/s] in a bore [m]."""
    return velocity(flow_m3_s, bore_m) / math.sqrt(GRAVITY * bore_m)
