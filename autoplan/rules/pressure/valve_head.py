"""Where a balancing valve burns much of what its pump gives, say so."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from autoplan.fittings.valve import ValveSet
from autoplan.outcome import Finding
from autoplan.places import OnRun
from autoplan.problem.flows import pressure_paths
from autoplan.problem.site import RunKind, Site
from autoplan.rules.base import Rule, Setting
from autoplan.rules.survey import Survey
from autoplan.units import Dimension


class ValveHead(Rule):
    """A valve that must take most of the pump's head is nearly shut: touchy to set, and the first to clog.

    What it takes at design flow is the pump's head less lift and losses of its way, from the water that the
    pump stands in as it runs. A warning: the weakest pump of a shop may be too strong, and beds far below
    their tank leave head over whatever is built.
    """

    id = "valve-head"
    sentence = "No balancing valve burns more than the stated share of its pump's head."
    source = "from memory"
    unit = "m"
    hard = False
    settings = (
        Setting(
            "most",
            Dimension.NUMBER,
            "50 %",
            "from memory",
            "share of its pump's head that a balancing valve may burn",
        ),
    )

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only sites with a valve on a run under pressure."""
        return any(run.kind is RunKind.PRESSURE and run.valve for run in site.runs.values())

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per way with a valve, at the run of its last one; value is the head that this burns."""
        flows = survey.flows_at()
        for path in pressure_paths(survey.site):
            valved = [name for name in path if survey.drawn(name).one(ValveSet)]
            vessel = survey.run(path[0]).start
            curve, flow = survey.pump_curve(vessel), survey.pump_flow(vessel)
            if not valved or flow > curve.run_out_m3_s:
                continue
            gives, lift = curve.head(flow), survey.discharge_height(path[-1]) - survey.level(vessel)
            burnt = max(0.0, gives - lift - survey.path_loss(path, flows))
            found = self.at_most(OnRun(valved[-1]), burnt, self.values["most"] * gives, 1e-6)
            yield replace(found, warning=_warning(valved[-1]))


def _warning(run: str) -> str:
    """What is wrong with a valve that is nearly shut, and what to do."""
    return (
        f"the valve on {run} burns {{value}} of its pump's head, more than {{limit}}: nearly shut, it is "
        "touchy to set and the first to clog. A weaker pump, a slowed one or narrower pipe mends it."
    )
