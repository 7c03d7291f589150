"""Nothing that the water touches poisons the fish."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.catalog.materials import Material
from autoplan.catalog.parts import AirKind, AirPart, Fixture, FixtureKind, Part, Sundry, SundryKind
from autoplan.outcome import Finding
from autoplan.places import OfAll, OfPart
from autoplan.rules.asked import OnShelf
from autoplan.rules.base import Rule, answers
from autoplan.rules.survey import Survey

POISONOUS = (Material.BRASS, Material.BRONZE, Material.COPPER, Material.GALVANISED)
"""Alloys that give off copper, and zinc."""

WET_SUNDRIES = (SundryKind.SCREW, SundryKind.WASHER)
"""The rest cures, stays outside the pipe, or is a tool."""

WET_AIR = (AirKind.DIFFUSER, AirKind.LINE, AirKind.CHECK)
"""Pumps, taps and manifolds hang above the water."""


class FishSafe(Rule):
    """No part that the circuit's water touches is of copper, of its alloys, or galvanised.

    Half of the fish die within 96 hours at 0.05 to 2 mg of copper in a litre (Boyd, checked against a
    faithful copy); water that comes round for years through one brass fitting gets there. A row of the price
    list that says nothing of its material counts as plastic sold for drinking water.
    """

    id = "fish-safe"
    sentence = "No part that the water touches is of copper, brass, bronze or galvanised."
    source = "copper is lethal in 96 h at 0.05 to 2 mg/L: Boyd; zinc: from memory"
    unit = "parts"

    @answers(OnShelf)
    def is_harmless(self, asked: OnShelf) -> bool:
        """Only what does no harm in the water, or stays out of it."""
        return not touches(asked.part) or asked.part.material not in POISONOUS

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per part that poisons fish, or a single one that there is none."""
        parts = dict.fromkeys([*survey.used_pieces(), *survey.used_pipe()])
        parts |= dict.fromkeys(line.part for line in survey.drawing.purchases)
        rows = [survey.catalog.part(part) for part in parts]
        bad = [row.id for row in rows if touches(row) and row.material in POISONOUS]
        for part in bad:
            yield self.at_most(OfPart(part), 1.0, 0.0)
        if not bad:
            yield self.at_most(OfAll("everything in the water"), 0.0, 0.0)


def touches(part: Part) -> bool:
    """Whether the circuit's water touches a part; what a hand pump lifts goes to the garden."""
    if isinstance(part, Sundry):
        return part.kind in WET_SUNDRIES
    if isinstance(part, AirPart):
        return part.kind in WET_AIR
    return not (isinstance(part, Fixture) and part.kind is FixtureKind.HAND_PUMP)
