"""The pump stays covered with every bed full at once."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.outcome import Finding
from autoplan.places import InVessel
from autoplan.problem.site import VesselKind
from autoplan.rules.balance import flood_drawdown
from autoplan.rules.base import Draft, Rule
from autoplan.rules.linear import weighted
from autoplan.rules.survey import Survey
from autoplan.units import tenth_mm_up


class SumpLow(Rule):
    """Running level, less what fills the beds that may be full at once, covers the pump as its row asks.

    Where the pump stands in a fish tank, that level is also no lower than the tank's lowest water: it is the
    fish's.
    """

    id = "sump-low"
    sentence = "With every bed full at once, or as many as the problem says, the pump is still covered."
    source = "water balance; cover from the pump's row"
    unit = "mm"
    negotiable = True

    def encode(self, draft: Draft) -> None:
        """Level - drawdown - cover of the chosen pump >= floor."""
        for name in draft.site.pumped_vessels():
            cover = weighted((var, -tenth_mm_up(choice.pump.cover_m)) for var, choice in draft.pumps(name))
            drawdown = tenth_mm_up(flood_drawdown(draft.site, name))
            floor = tenth_mm_up(draft.site.vessels[name].floor_m) + draft.reserve
            draft.at_least(self.id, draft.level(name) - drawdown + cover, floor)
            vessel = draft.site.vessels[name]
            if vessel.kind is VesselKind.TANK:
                lowest = tenth_mm_up(vessel.water_min_m) + draft.reserve
                draft.at_least(self.id, draft.level(name) - drawdown, lowest)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per pumped vessel, two if it is a fish tank; value is the water over its floor."""
        for name in survey.site.pumped_vessels():
            pump = survey.catalog.pumps[survey.drawing.pumps[name].part]
            vessel = survey.site.vessels[name]
            water = survey.low_level(name) - vessel.floor_m
            yield self.not_under(InVessel(name), water, pump.cover_m, 1e-6)
            if vessel.kind is VesselKind.TANK:
                yield self.not_under(InVessel(name, "water for the fish"), water, vessel.least_depth_m, 1e-6)
