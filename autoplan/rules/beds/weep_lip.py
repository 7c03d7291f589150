"""A bed with a weep hole stands at its lip while it is fed."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.hydraulics.drain_hole import hole_flow
from autoplan.outcome import Finding
from autoplan.places import InVessel
from autoplan.problem.site import Site
from autoplan.problem.tables.defaults import WEEP
from autoplan.rules.asked import Starting
from autoplan.rules.base import Rule, Setting, answers
from autoplan.rules.survey import Survey
from autoplan.units import Dimension


class WeepLip(Rule):
    """Design inflow less a share that is to go over the lip >= what the weep hole lets out of the full bed.

    Else the bed stands lower once the pump has worn, its strainer is dirty or the sump is low: where less
    comes than leaks, the water stays under the lip.
    """

    id = "weep-lip"
    sentence = "Each bed with a weep hole gets so much more than the hole lets out that it stands at its lip."
    source = "Q = Cd a sqrt(2 g h), Torricelli; share: from memory"
    unit = "L/h"
    local = True
    hint = ", or give a smaller hole or more floods"
    settings = (
        Setting("spare", Dimension.NUMBER, WEEP["spare"].text, WEEP["spare"].mark, WEEP["spare"].why),
    )

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only beds with a weep hole."""
        return bool(site.weep_beds())

    @answers(Starting)
    def stands_at_the_lip(self, asked: Starting) -> bool:
        """Only holes that leave enough for the lip."""
        vessel, hole = asked.site.vessels[asked.run.start], asked.end.drain_hole
        if vessel.bed is None or vessel.bed.weep is None or hole is None:
            return True
        inflow = asked.site.flows[asked.run.name].design_m3_s
        leak = hole_flow(hole.hole_m, max(0.0, vessel.bed.flood_m - hole.height_m))
        return leak <= (1 - self.values["spare"]) * inflow

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per such bed; value is its inflow, limit the least that keeps it at its lip."""
        for run, end, hole in survey.drain_holes():
            if end.at in survey.site.weep_beds():
                head = max(0.0, survey.level(end.at) - survey.site.vessels[end.at].floor_m - hole.height_m)
                least = hole_flow(hole.hole_m, head) / (1 - self.values["spare"])
                yield self.not_under(InVessel(end.at), survey.design_flow(run), least, 1e-12)
