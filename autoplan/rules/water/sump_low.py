"""The pump stays covered with every bed full at once."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from autoplan.catalog.parts import Pump
from autoplan.outcome import Finding
from autoplan.places import InVessel
from autoplan.problem.site import Site, VesselKind
from autoplan.rules.balance import flood_drawdown, held_at_once
from autoplan.rules.base import Concern, Mend, ModelView, Rule, Shared
from autoplan.rules.heights import DATUM, AtLeast, WaterOf, height
from autoplan.rules.linear import weighted
from autoplan.rules.survey import Survey
from autoplan.sentence import Amount, Text, say
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
    role = Concern.COVER
    mended_by = frozenset(
        (
            Mend.HEIGHTS,
            Mend.SUMP,
        )
    )
    spares = True
    shares = Shared.ALL
    of_one_vessel = True

    def pumps_at_once(self, site: Site, vessel: str, pumps: Sequence[Pump]) -> Iterator[AtLeast]:
        """The least cover, and the fish's water, with what stands in full beds."""
        place, drawdown = site.vessels[vessel], tenth_mm_up(flood_drawdown(site, vessel))
        cover, beds = min(tenth_mm_up(pump.cover_m) for pump in pumps), _held(site, vessel)
        low = tenth_mm_up(place.floor_m) + drawdown + cover
        yield AtLeast(
            self.id, WaterOf(vessel), DATUM, low, say("{} to cover the pump{}", height(cover), beds)
        )
        if place.kind is VesselKind.TANK:
            low = tenth_mm_up(place.water_min_m) + drawdown
            yield AtLeast(self.id, WaterOf(vessel), DATUM, low, say("water for the fish{}", beds))

    def encode(self, draft: ModelView) -> None:
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


def _held(site: Site, name: str) -> Text:
    """The beds' part of a sump's fall in words."""
    held = held_at_once(site, name)
    if not held:
        return ""
    fall = Amount(flood_drawdown(site, name), "mm", 1)
    return say(", {} for the {} that stand in full beds", fall, Amount(sum(held), "L", 0))
