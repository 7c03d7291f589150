"""A bed that floods and runs empty in turn does so as often as wished."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, ClassVar

from autoplan.hydraulics.siphon import emptying_time, floods_per_second
from autoplan.line.water import inlet_line, site_water
from autoplan.outcome import Finding
from autoplan.places import InVessel
from autoplan.problem.flows import flows_at
from autoplan.problem.site import BedDrain, BedWater, Run, Site
from autoplan.rules.asked import LetIn
from autoplan.rules.base import PER_SI, Given, ModelView, Rule, Setting, answers
from autoplan.rules.beds.siphon_break import fills_drain, running_flow
from autoplan.rules.linear import Linear
from autoplan.rules.quantities import CROWN, LOSS, Better, Quantity, drains, less
from autoplan.rules.siphoned import breaking
from autoplan.rules.survey import Survey
from autoplan.sentence import Amount, Text, say
from autoplan.units import Dimension, tenth_mm_down, tenth_mm_up

FASTEST = 50
"""Times its inflow that no siphon carries; common practice, no source [-]."""


class FloodRate(Rule):
    """Floods an hour, filling and emptying both counted, lie in the wished range.

    A siphon that empties slowly keeps its bed wet and floods less often than the inflow alone would make it.
    A timer floods its bed as often as its clock says.
    """

    id = "flood-rate"
    sentence = "Each bed with a siphon or a timer floods as often in an hour as it should."
    source = "water balance; one to four floods an hour: common practice, no source"
    unit = "1/h"
    negotiable = True
    borrows: ClassVar[Mapping[str, Given]] = {"cut_out": Given.CUT_OUT, "air": Given.AIR_MOUTH}
    so_that = "so that a siphon floods its bed neither too seldom nor too often"
    hint = ', or write drain = "standpipe" for a bed whose inflow suits no siphon'
    settings = (
        Setting("least", Dimension.RATE, "1/hour", "common practice, no source", "fewest floods"),
        Setting("most", Dimension.RATE, "4/hour", "common practice, no source", "most floods"),
    )
    reads = (less(LOSS, drains), less(CROWN, drains))

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only beds that flood and run empty in turn."""
        return any(
            vessel.bed is not None and (vessel.bed.siphon or vessel.bed.timer is not None)
            for vessel in site.vessels.values()
        )

    def limits(self, bed: BedWater) -> tuple[float, float]:
        """Fewest and most floods [1/s]: the problem's own range for the bed, if it gives one."""
        return bed.floods_range or (self.values["least"], self.values["most"])

    def told_at_once(self, site: Site) -> Iterator[Text]:
        """How often each bed's inflow fills it, where that is oftener than most, and what would not."""
        for run in site.runs.values():
            bed = site.vessels[run.start].bed if run.start in site.vessels else None
            if bed is None or not bed.siphon or run.idle or self._slowest(site, run, bed) is None:
                continue
            inflow, fills, (_, most) = (
                site.flows[run.name].design_m3_s,
                self._fills(site, run),
                self.limits(bed),
            )
            yield say(
                "{} gets {}, which fills the {} of its flood {} times an hour; it is to flood {} times at "
                "most, which only a slow siphon keeps to. With a flood of {} (a larger bed or a higher "
                "flood), or an inflow of {}, any would.",
                run.start,
                Amount(inflow, "L/h", 0),
                Amount(inflow / fills, "L", 0),
                f"{fills * PER_SI[self.unit]:.2g}",
                f"{most * PER_SI[self.unit]:g}",
                Amount(inflow / most, "L", 0),
                Amount(inflow * most / fills, "L/h", 0),
            )

    @answers(LetIn)
    def empties_in_time(self, asked: LetIn) -> bool:
        """Not a drain that its siphon does not fill, unless the standpipe alone is quick enough."""
        bed = asked.site.vessels[asked.run.start]
        if asked.end.siphon is None or bed.bed is None:
            return True
        inflow, low, water = (
            asked.site.flows[asked.run.name].design_m3_s,
            asked.end.siphon.cut_out_m,
            site_water(asked.site),
        )
        if low >= bed.bed.flood_m:
            return False
        line = inlet_line(asked.catalog, asked.pipe, asked.end, bed, asked.screen)
        if fills_drain(asked.pipe, line, bed.bed.flood_m, inflow, water):
            return True
        fills = inflow / (bed.water_area_m2 * (bed.bed.flood_m - low))
        least, _ = self.limits(bed.bed)
        return fills > least and line.loss(inflow / (1 - least / fills), water) <= low

    def declares(self, site: Site, run: Run) -> Iterator[tuple[Quantity[Any], Better]]:
        """And more loss where a bed fills oftener than most."""
        yield from super().declares(site, run)
        bed = site.vessels.get(run.start)
        if bed is not None and bed.bed is not None and bed.bed.siphon and self._slowest(site, run, bed.bed):
            yield LOSS, Better.MORE

    def encode(self, draft: ModelView) -> None:
        """The siphon out-runs the inflow enough for the fewest floods, and not too much for the most.

        At f times the inflow the bed floods q/V (f - 1)/f times, so f >= 1 / (1 - least V/q); V is the water
        over its lowest, and f here that of the lowest water. A clock out of the range leaves no design.
        """
        for bed in _timed(draft.site):
            least, most = self.limits(bed)
            if not least * (1 - 1e-9) <= bed.floods_per_s <= most * (1 + 1e-9):
                draft.at_least(self.id, Linear(constant=-1), 0)
        for path in draft.open_paths():
            run = draft.site.runs[path[0]]
            vessel = draft.site.vessels[run.start]
            if vessel.bed is None or not vessel.bed.siphon:
                continue
            least, _ = self.limits(vessel.bed)
            fills = self._fills(draft.site, run)
            if fills <= least * (1 + 1e-9):
                draft.at_least(self.id, Linear(constant=-1), 0)
                continue
            factor = 1 / (1 - least / fills)
            drive = Linear(constant=tenth_mm_down(vessel.floor_m + self._low(vessel.bed)))
            loss = draft.path_loss(path, factor)
            for below in draft.against(path, flows_at(draft.site, factor)):
                draft.at_least(self.id, drive - below - loss, 0)
            slowest = self._slowest(draft.site, run, vessel.bed)
            if slowest is not None and draft.site.runs[path[-1]].finish in draft.site.vessels:
                loss, top = draft.path_loss(path[:1], slowest) - 2, vessel.floor_m + vessel.bed.flood_m
                below = draft.level(draft.site.runs[path[-1]].finish)
                draft.at_least(self.id, loss - tenth_mm_up(top) + below, 0)

    def _low(self, bed: BedWater) -> float:
        """Depth of water at which a bed's siphon breaks [m]."""
        return self.values["air" if bed.drain is BedDrain.OUTSIDE else "cut_out"]

    def _fills(self, site: Site, run: Run) -> float:
        """Fillings in a second [1/s] of the water over the lowest, which comes and goes with each flood.

        None of a bed whose siphon would break over its flood.
        """
        bed = site.vessels[run.start]
        assert bed.bed is not None
        volume = bed.water_area_m2 * (bed.bed.flood_m - self._low(bed.bed))
        return site.flows[run.name].design_m3_s / volume if volume > 0.0 else 0.0

    def _slowest(self, site: Site, run: Run, bed: BedWater) -> float | None:
        """Where a bed fills oftener than most: the most times the inflow that its full siphon may carry.

        f <= 1 / (1 - most V/q), V the water over its lowest, f the ratio at the highest water over the
        water it falls to; of the path only the bed's own run counts, and of its loss what is left once no
        length is rounded up.
        """
        _, most = self.limits(bed)
        fills = self._fills(site, run)
        return None if fills <= most * FASTEST / (FASTEST - 1) else 1 / (1 - most / fills)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per bed that floods in turn; value is its floods an hour, against the nearer limit."""
        for name, at, low in breaking(survey):
            bed = survey.site.vessels[at].bed
            assert bed is not None
            yield self._nearer(InVessel(at), flood_rate(survey, name, low), bed)
        for name in survey.site.timed_beds():
            bed = survey.site.vessels[name].bed
            assert bed is not None
            yield self._nearer(InVessel(name), bed.floods_per_s, bed)

    def _nearer(self, place: InVessel, rate: float, bed: BedWater) -> Finding:
        """Floods [1/s] against the nearer of their limits."""
        least, most = self.limits(bed)
        if rate - least <= most - rate:
            return self.not_under(place, rate, least, 1e-6)
        return self.at_most(place, rate, most, 1e-6)


def _timed(site: Site) -> Iterator[BedWater]:
    """The water side of each bed that a timer floods."""
    for name in site.timed_beds():
        bed = site.vessels[name].bed
        if bed is not None:
            yield bed


def flood_rate(survey: Survey, name: str, low_m: float) -> float:
    """Floods in a second [1/s] of the bed that a drain empties by its siphon; 0 where it never breaks."""
    vessel = survey.site.vessels[survey.run(name).start]
    assert vessel.bed is not None
    water_area = vessel.water_area_m2
    inflow, top = survey.design_flow(name), vessel.bed.flood_m
    emptying = emptying_time(water_area, top, low_m, inflow, running_flow(survey, name))
    return floods_per_second(water_area * (top - low_m) / inflow, emptying)
