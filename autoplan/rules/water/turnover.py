"""The fish tank's water is renewed as often as wished."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.outcome import Finding
from autoplan.places import InVessel
from autoplan.rules.base import Rule
from autoplan.rules.survey import Survey


class Turnover(Rule):
    """Inflow of each vessel is at least what it asks for; the flow graph gives it, so nothing is encoded."""

    id = "turnover"
    sentence = "Each vessel gets at least the inflow it asks for."
    source = "turnover of 1 to 2 an hour: common practice; FAO Fisheries and Aquaculture Technical Paper 589"
    unit = "L/h"

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per vessel with a demand of its own."""
        for name, vessel in survey.site.vessels.items():
            if vessel.demand_m3_s > 0:
                inflow = sum(
                    survey.design_flow(run.name) for run in survey.site.runs.values() if run.finish == name
                )
                yield self.not_under(InVessel(name), inflow, vessel.demand_m3_s, 1e-6)
