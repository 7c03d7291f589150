"""What flows in flows out."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.outcome import Finding
from autoplan.places import InVessel
from autoplan.rules.base import Rule
from autoplan.rules.streams import streams_of
from autoplan.rules.survey import Survey


class FlowBalance(Rule):
    """Water is conserved at every vessel and junction: drains take what they take, the level follows.

    Nothing is encoded.
    """

    id = "flow-balance"
    sentence = "At every vessel and junction as much water leaves as arrives."
    source = "conservation of mass"
    unit = "L/h"

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per vessel and junction; value is inflow less outflow."""
        flows = streams_of(survey).flows
        for name in (*survey.site.vessels, *survey.site.junctions):
            runs = survey.site.runs.values()
            arrives = sum(flows[run.name] for run in runs if run.finish == name)
            leaves = sum(flows[run.name] for run in runs if run.start == name)
            yield self.at_most(InVessel(name), abs(arrives - leaves), 0.0, tolerance=1e-6)
