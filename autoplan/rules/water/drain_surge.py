"""Where a drain would gulp air and has no vent, say so."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from autoplan.fittings.vent import Vent
from autoplan.hydraulics.gravity import pipe_froude
from autoplan.outcome import Finding
from autoplan.places import OnRun
from autoplan.problem.site import Site
from autoplan.rules.base import Rule
from autoplan.rules.survey import Survey
from autoplan.rules.water.drain_vent import MARK, UP_TO, may_gulp


class DrainSurge(Rule):
    """What is left of `drain-vent` for a builder who wants no vents: a warning, never a refusal."""

    id = "drain-surge"
    sentence = "Drains from walls vent themselves or have a vent; where not, they gulp."
    source = MARK
    unit = "V/sqrt(gD)"
    hard = False
    settings = (UP_TO,)

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only sites with drains from walls."""
        return any(may_gulp(site, run) for run in site.runs.values())

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per drain from a wall without a vent."""
        for run in survey.gravity_runs():
            if may_gulp(survey.site, run) and survey.drawn(run.name).one(Vent) is None:
                number = pipe_froude(survey.design_flow(run.name), survey.pipe(run.name).bore_m)
                found = self.at_most(OnRun(run.name), number, self.values["froude"])
                said = f"{run.name} runs at {{value}}, and lets air past up to {{limit}}: it gulps and surges"
                yield replace(found, warning=f"{said}; vents = true below [wishes] adds a vent.")
