"""An inlet that opens under water without a siphon-break hole has a check valve on its own leg."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.fittings.ends import AtVessel
from autoplan.fittings.valve import CheckValveSet
from autoplan.outcome import Finding
from autoplan.places import OnRun
from autoplan.problem.site import Guard, Site
from autoplan.rules.base import Rule
from autoplan.rules.survey import Survey


class CheckValve(Rule):
    """On the last run, behind the last branch: further back it would leave the branches joined.

    Nothing is encoded: the optimiser offers such an inlet with a check valve only.
    """

    id = "check-valve"
    sentence = "Each inlet that a check valve guards has one on its own leg, behind the last branch."
    source = "common practice, no source"
    unit = "valves"
    local = True

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Whether any inlet may have one."""
        return any(Guard.CHECK_VALVE in site.guards(run) for run in site.runs.values())

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per inlet so guarded; value is the check valves on its last run."""
        for run in survey.pressure_runs():
            drawn = survey.drawn(run.name)
            if not isinstance(drawn.finish, AtVessel) or drawn.finish.guard is not Guard.CHECK_VALVE:
                continue
            check = drawn.one(CheckValveSet)
            there = check is not None and survey.catalog.valves[check.valve].style == "check"
            yield self.not_under(OnRun(run.name), 1.0 if there else 0.0, 1.0)
