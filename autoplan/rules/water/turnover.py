"""The fish tank's water is renewed as often as wished."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import permutations

from autoplan.outcome import Finding
from autoplan.places import InVessel
from autoplan.problem.flows import shared_outlets
from autoplan.rules.base import ModelView, Rule
from autoplan.rules.heights import ROUNDED, STEPS_IN_A_M, in_whole_mm
from autoplan.rules.linear import Linear, weighted
from autoplan.rules.quantities import IN_HAND, TRIMMED, more, parts_water
from autoplan.rules.streams import streams_of
from autoplan.rules.survey import Survey


class Turnover(Rule):
    """Inflow of each vessel is at least what it asks for, with the streams as the drains above part them.

    Pumped water is set by valves, and so is a drain's share that has a trim. Drains that share by the height
    of their holes take what they take: in the model each may find the water lower by as much as another hole
    may come lower in being drilled at a whole millimetre.
    """

    id = "turnover"
    sentence = "Each vessel gets at least the inflow it asks for."
    source = "turnover of 1 to 2 an hour: common practice; FAO Fisheries and Aquaculture Technical Paper 589"
    unit = "L/h"
    reads = (more(IN_HAND, parts_water), more(TRIMMED, parts_water))

    def encode(self, draft: ModelView) -> None:
        """Of drains that share by height each keeps what is asked of it with its water so much lower."""
        for vessel, outlets in shared_outlets(draft.site).items():
            off = (ROUNDED if in_whole_mm(draft.site.vessels[vessel]) else 0) + 1
            for one, other in permutations(outlets, 2):
                runs = draft.site.runs[one], draft.site.runs[other]
                flows = draft.site.flows[one], draft.site.flows[other]
                if runs[0].run_class != runs[1].run_class or flows[0] != flows[1]:
                    self._keeps(draft, one, other, off / STEPS_IN_A_M)

    def _keeps(self, draft: ModelView, one: str, other: str, lower_m: float) -> None:
        """A drain by itself takes enough with its water lower by so much [m], or another is set by hand."""
        set_by_hand = {name: dict(draft.each(TRIMMED, name)) for name in (one, other)}
        short = [
            var
            for var, in_hand in draft.each(IN_HAND, one)
            if in_hand < lower_m and not set_by_hand[one][var]
        ]
        plain = [var for var, by_hand in set_by_hand[other].items() if not by_hand]
        alike = draft.site.runs[one].run_class == draft.site.runs[other].run_class
        if alike:
            short = [var for var in short if var in plain]
        if short:
            both = [(var, -1) for var in (short if alike else (*short, *plain))]
            draft.at_least(self.id, Linear(constant=0 if alike else 1) + weighted(both), 0)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per vessel with a demand of its own."""
        flows = streams_of(survey).flows
        for name, vessel in survey.site.vessels.items():
            if vessel.demand_m3_s > 0:
                inflow = sum(flows[run.name] for run in survey.site.runs.values() if run.finish == name)
                yield self.not_under(InVessel(name), inflow, vessel.demand_m3_s, 1e-6)
