"""Every hole in a wall lies between floor and rim, clear of both, and an inlet's clear of the water."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.fittings.floor import ThroughFloor
from autoplan.outcome import Finding
from autoplan.places import AtEnd
from autoplan.rules.base import FAR, Given, Mend, ModelView, Rule, Setting
from autoplan.rules.heights import ROUNDED
from autoplan.rules.linear import Linear, weighted
from autoplan.rules.quantities import HOLES, less
from autoplan.rules.survey import Survey
from autoplan.units import Dimension, tenth_mm_down, tenth_mm_up


class HolePlace(Rule):
    """The hole's edge keeps a strip of sound wall to the floor and to the rim."""

    id = "hole-place"
    sentence = "Each hole leaves a strip of sound wall above and below it."
    source = "from memory"
    unit = "mm"
    mended_by = frozenset((Mend.HEIGHTS,))
    of_one_vessel = True
    settings = (
        Setting(
            "strip",
            Dimension.LENGTH,
            "20 mm",
            "from memory",
            "wall left between a hole and floor or rim",
            Given.STRIP,
        ),
    )
    reads = tuple(less(hole) for hole in HOLES.values())

    def encode(self, draft: ModelView) -> None:
        """Governing level + offset -+ (half the hole + strip) inside floor and rim, for each candidate."""
        for members in draft.site.classes().values():
            for run in members:
                for side, at in (("start", run.start), ("finish", run.finish)):
                    for over in (False, True) if at in draft.site.vessels else ():
                        self._encode_end(draft, run.name, side, at, over=over)

    def _encode_end(self, draft: ModelView, run: str, side: str, at: str, *, over: bool) -> None:
        """The holes that the design level places, or those that the overload level does."""
        vessel = draft.site.vessels[at]
        level = draft.overload_level(at) if over else draft.level(at)
        low, high = [], []
        for var, place in draft.each(HOLES[side, over], run):
            if place is None:
                low.append((var, FAR))
                high.append((var, -FAR))
            else:
                edge = place.hole_m / 2 + self.values["strip"]
                # Drilled at a whole millimetre it lies a little lower, or over the overload level higher.
                low.append((var, tenth_mm_down(place.offset_m - edge) - (0 if over else ROUNDED)))
                high.append((var, tenth_mm_up(place.offset_m + edge) + (ROUNDED if over else 0)))
        if any(abs(coef) != FAR for _, coef in low):
            floor, rim = tenth_mm_up(vessel.floor_m), tenth_mm_down(vessel.rim_m)
            draft.at_least(self.id, level + weighted(low), floor)
            draft.at_least(self.id, Linear(constant=rim), level + weighted(high))

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per hole in a wall, but for a cone's tip; value is the narrower strip."""
        for name, drawn in survey.drawing.runs.items():
            for end in drawn.holes():
                vessel = survey.site.vessels[end.at]
                tip = vessel.cone_m > 0 and survey.run(name).waste
                if isinstance(end, ThroughFloor) or end.centre_m is None or tip:
                    continue
                half = survey.catalog.penetrations[end.penetration].hole_m / 2
                strip = min(end.centre_m - half - vessel.floor_m, vessel.rim_m - end.centre_m - half)
                yield self.not_under(AtEnd(name, end.at), strip, self.values["strip"], 0.11)
