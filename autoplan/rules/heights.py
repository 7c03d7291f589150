"""What a rule asks of water levels whatever is built, all losses left out: differences of heights."""

from __future__ import annotations

from dataclasses import dataclass

from autoplan.problem.site import Site, Vessel
from autoplan.sentence import Amount, Text, joined, say
from autoplan.units import tenth_mm_down, tenth_mm_up

DATUM = ""
"""What heights are counted from."""

DOWN = "water runs downwards"

STEPS_IN_A_M = 10_000
"""Steps of 0.1 mm."""


WHOLE_MM = 10
"""Steps of 0.1 mm in what a builder marks."""

ROUNDED = WHOLE_MM - 1
"""How much lower water may stand than worked out, its hole drilled at a whole millimetre [0.1 mm]."""


def in_whole_mm(vessel: Vessel) -> bool:
    """Whether the water of a vessel may give way so that its holes come to whole millimetres over its floor.

    A bed's stands at the lip of its standpipe; where the builder leaves it no room it stands as asked.
    """
    room = tenth_mm_down(vessel.water_max_m) - tenth_mm_up(vessel.water_min_m)
    return vessel.bed is None and room >= 2 * WHOLE_MM


@dataclass(frozen=True, slots=True)
class WaterOf:
    """One water level: of a vessel as it runs, or as it stands at overload."""

    vessel: str
    overloaded: bool = False

    def __str__(self) -> str:
        return f"water in {self.vessel} at overload" if self.overloaded else f"water in {self.vessel}"


Place = WaterOf | str
"""A water level, or the datum."""


def height(steps: int) -> Amount:
    """A height [0.1 mm] to be told."""
    return Amount(steps / STEPS_IN_A_M, "mm")


@dataclass(frozen=True, slots=True)
class AtLeast:
    """Something stands at least so much over something else.

    Attributes:
        rule: id of the rule that asks it; empty for what no rule can change.
        higher, lower: a water level or the datum.
        by: how much [0.1 mm].
        because: half a sentence on where it comes from, or nothing.
    """

    rule: str
    higher: Place
    lower: Place
    by: int
    because: Text = ""

    def said(self) -> Text:
        """It in words, with its number and whose it is."""
        if self.lower == DATUM:
            text = say("{} stands at {} at least", str(self.higher), height(self.by))
        elif self.higher == DATUM:
            text = say("{} stands at {} at most", str(self.lower), height(-self.by))
        else:
            text = say("{} stands {} over {} at least", str(self.higher), height(self.by), str(self.lower))
        asked = [part for part in (self.rule, self.because) if part]
        return say("{} ({})", text, joined(", ", asked)) if asked else text


def under_rim(rule: str, vessel: Vessel, level: WaterOf, dry_m: float) -> AtLeast:
    """A level that leaves so much dry wall [m]."""
    highest = tenth_mm_down(vessel.rim_m - dry_m)
    return AtLeast(rule, DATUM, level, -highest, say("{} under its rim", Amount(dry_m, "mm")))


def at_overload(site: Site, vessel: str) -> WaterOf:
    """A vessel's level at overload; a pumped one stays as it runs."""
    return WaterOf(vessel, vessel not in site.pumped_vessels())
