"""Water under pressure does not race."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.hydraulics.friction import velocity
from autoplan.outcome import Finding
from autoplan.places import OnRun
from autoplan.problem.site import RunKind
from autoplan.rules.asked import OfPipe
from autoplan.rules.base import Mend, Rule, Setting, answers
from autoplan.rules.survey import Survey
from autoplan.sentence import Amount, say
from autoplan.units import Dimension


class PressureVelocity(Rule):
    """Velocity at design flow in every pressure run is at most a comfortable limit."""

    id = "pressure-velocity"
    sentence = "Water in pressure pipes moves no faster than the comfortable limit."
    source = say("from memory ({} comfortable, {} absolute)", Amount(1.5, "m/s"), Amount(2.4, "m/s"))
    unit = "m/s"
    local = True
    negotiable = True
    mended_by = frozenset((Mend.FLOW,))
    of_taste = True
    settings = (
        Setting("most", Dimension.VELOCITY, "1.5 m/s", "from memory", "comfortable limit in pressure pipe"),
    )

    @answers(OfPipe)
    def is_wide(self, asked: OfPipe) -> bool:
        """Only pipes wide enough."""
        if asked.run.kind is not RunKind.PRESSURE:
            return True
        return (
            velocity(asked.site.flows[asked.run.name].design_m3_s, asked.pipe.bore_m)
            <= self.values["most"] + 1e-9
        )

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per pressure run."""
        for run in survey.pressure_runs():
            yield self.at_most(OnRun(run.name), survey.velocity(run.name), self.values["most"])
