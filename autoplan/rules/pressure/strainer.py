"""Where a problem asks for one, the line from a pump has a strainer."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.fittings.strainer import Strainer
from autoplan.outcome import Finding
from autoplan.places import OnRun
from autoplan.problem.site import Run, RunKind, Site
from autoplan.rules.asked import Fitted
from autoplan.rules.base import Rule, Setting, answers
from autoplan.rules.survey import Survey
from autoplan.units import Dimension


class StrainerRule(Rule):
    """Water that is not filtered clogs the narrow seats of valves; a strainer at the pump saves them.

    Asked for by `[rules.strainer]` in a problem. Nothing is encoded: a strainer's loss is the line's.
    """

    id = "strainer"
    sentence = "Where asked for, the line from each pump has a strainer, its mesh no wider than asked."
    source = "common practice, no source"
    unit = "mm"
    negotiable = True
    settings = (
        Setting(
            "mesh",
            Dimension.LENGTH,
            "0.5 mm",
            "common practice, no source",
            "widest opening of the strainer at each pump",
        ),
    )

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only sites whose problem speaks of it."""
        return cls.id in site.rule_settings

    def asks(self, site: Site, run: Run) -> bool:
        """Whether this run needs one."""
        at_pump = run.kind is RunKind.PRESSURE and run.start in site.pumped_vessels()
        return self.concerns(site) and at_pump

    @answers(Fitted)
    def holds_back(self, asked: Fitted) -> bool:
        """None where none is asked for, else one that is fine enough."""
        if asked.kind is not Strainer:
            return True
        if not isinstance(asked.fitting, Strainer):
            return not self.asks(asked.site, asked.run)
        return asked.catalog.strainers[asked.fitting.part].mesh_m <= self.values["mesh"] + 1e-9

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per line from a pump; value is the widest opening that water passes there."""
        for run in survey.pressure_runs():
            if self.asks(survey.site, run):
                there = survey.drawn(run.name).one(Strainer)
                bore = survey.pipe(run.name).bore_m
                mesh = bore if there is None else survey.catalog.strainers[there.part].mesh_m
                yield self.at_most(OnRun(run.name), mesh, self.values["mesh"], 1e-6)


def strained(site: Site) -> bool:
    """Whether every line from a pump has a strainer, since the problem asks for one."""
    return StrainerRule.concerns(site) and site.rule_settings[StrainerRule.id].get("off") is not True
