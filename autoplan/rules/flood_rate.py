"""A bed with a bell siphon floods as often as wished."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from autoplan.hydraulics.siphon import emptying_time, floods_per_second
from autoplan.outcome import Finding
from autoplan.problem.site import BedWater, Vessel
from autoplan.rules.base import Draft, Rule, Setting
from autoplan.rules.linear import Linear
from autoplan.rules.survey import Survey
from autoplan.units import Dimension, tenth_mm_down, tenth_mm_up

PER_HOUR = 3600.0


class FloodRate(Rule):
    """Floods an hour, filling and emptying both counted, lie in the wished range.

    A siphon that empties slowly keeps its bed wet and floods less often than the inflow alone would make it.
    """

    id = "flood-rate"
    sentence = "Each bed with a siphon floods as often in an hour as it should."
    source = "water balance; one to four floods an hour: common practice, no source"
    unit = "1/h"
    negotiable = True
    settings = (
        Setting("least", Dimension.RATE, "1/hour", "common practice, no source", "fewest floods"),
        Setting("most", Dimension.RATE, "4/hour", "common practice, no source", "most floods"),
    )

    def encode(self, draft: Draft) -> None:
        """The siphon is fast enough for the fewest floods and slow enough for the most."""
        for path in draft.gravity_paths():
            bed = draft.site.vessels[draft.site.runs[path[0]].start]
            if bed.bed is not None and bed.bed.siphon:
                self._least(draft, path, bed, bed.bed)
                self._most(draft, path, bed, bed.bed)

    def _least(self, draft: Draft, path: Sequence[str], bed: Vessel, water: BedWater) -> None:
        """The siphon out-runs the inflow by as much, at its lowest water, as the fewest floods ask for.

        At f times the inflow the bed floods q/V (f - 1)/f times, so f >= 1 / (1 - least V/q).
        """
        fills = draft.site.flows[path[0]].design_m3_s / water.flood_volume_m3(bed.area_m2)
        if fills <= self.values["least"] * (1 + 1e-9):
            draft.at_least(self.id, Linear(constant=-1), 0)
            return
        drive = Linear(constant=tenth_mm_down(bed.floor_m + draft.cut_out_m))
        loss = draft.path_loss(path, 1 / (1 - self.values["least"] / fills))
        for below in draft.receiving_levels(path):
            draft.at_least(self.id, drive - below - loss, 0)

    def _most(self, draft: Draft, path: Sequence[str], bed: Vessel, water: BedWater) -> None:
        """The siphon out-runs the inflow by no more, at half its depth, than the most floods let it.

        A siphon's flow is concave in the depth of water, so that it empties its bed no faster than at the
        flow of half the depth throughout: f <= 1 / (1 - most V/q) there, V without what stays under the
        cut-outs.
        """
        deep = water.flood_m - draft.cut_out_m
        fills = draft.site.flows[path[0]].design_m3_s / (water.void_fraction * bed.area_m2 * deep)
        if fills <= self.values["most"] * (1 + 1e-9):
            return
        drive = Linear(constant=tenth_mm_up(bed.floor_m + draft.cut_out_m + deep / 2))
        loss = draft.path_loss(path, 1 / (1 - self.values["most"] / fills))
        # Losses are rounded up run by run and joint by joint, and here that is not the safe side.
        water_below = draft.receiving_levels(path)[0]
        draft.at_least(self.id, loss + water_below - drive, 2 * len(path))

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per bell siphon; value is its floods an hour, against the nearer limit."""
        for name, end, siphon in survey.siphons():
            rate = flood_rate(survey, name, siphon.cut_out_m)
            least, most = self.values["least"], self.values["most"]
            if rate - least <= most - rate:
                yield self.not_under(end.at, rate * PER_HOUR, least * PER_HOUR, 1e-6)
            else:
                yield self.at_most(end.at, rate * PER_HOUR, most * PER_HOUR, 1e-6)


def flood_rate(survey: Survey, name: str, cut_out_m: float) -> float:
    """Floods in a second [1/s] of the bed that a drain empties by its siphon; 0 where it never breaks."""
    vessel = survey.site.vessels[survey.run(name).start]
    assert vessel.bed is not None
    water_area = vessel.area_m2 * vessel.bed.void_fraction
    inflow, top = survey.design_flow(name), vessel.bed.flood_m
    emptying = emptying_time(
        water_area, top, cut_out_m, inflow, lambda depth: survey.siphon_flow(name, vessel.floor_m + depth)
    )
    return floods_per_second(water_area * (top - cut_out_m) / inflow, emptying)
