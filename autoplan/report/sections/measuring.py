"""By what an outlet is measured: a bucket where one fits under it, else a jug or the water's rise."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from autoplan.fittings.ends import AtVessel
from autoplan.fittings.rim import OverRim
from autoplan.line.row import Line
from autoplan.outcome import Design
from autoplan.problem.site import Site, Vessel
from autoplan.report.units import LEAST_FLOW_M3_S, Units, fixed

BUCKET_TALL_M = 0.30
"""Height of a bucket, which needs that much room under a mouth [m]; common practice, no source."""

MOST_M3_S = 0.0002
"""Most flow that a jug is held under and timed by hand, which fills a litre in 5 s [m3/s]; common practice,
no source."""


class By(StrEnum):
    """What is timed; the values are those of the JSON contract."""

    BUCKET = "bucket"
    JUG = "jug"
    RISE = "rise"


@dataclass(frozen=True, slots=True)
class Timing:
    """By what a flow out of a run is measured.

    Attributes:
        by: what is timed, a word of `By`.
        area_m2: area that the water has in the vessel that it ends in, as it rises [m2]; 0 where it ends in
            none.
    """

    by: str
    area_m2: float

    def let_in_m3(self, units: Units) -> float:
        """Water that comes in meanwhile [m3]."""
        if self.by == By.RISE:
            return units.rise_m * self.area_m2
        return units.jug_m3 if self.by == By.JUG else units.bucket_m3

    def words(self, units: Units) -> str:
        """What is timed: "10 L bucket", "1 L jug", "rise of 20 mm"."""
        if self.by == By.RISE:
            return f"rise of {units.piece.said(units.rise_m)}"
        return f"{units.jug} jug" if self.by == By.JUG else f"{units.bucket} bucket"

    def seconds(self, flow_m3_s: float, units: Units) -> float | None:
        """How long it takes [s]; None where next to nothing flows."""
        return self.let_in_m3(units) / flow_m3_s if flow_m3_s > LEAST_FLOW_M3_S else None

    def in_words(self, flow_m3_s: float, units: Units) -> str:
        """The same in whole seconds."""
        seconds = self.seconds(flow_m3_s, units)
        return "never" if seconds is None else f"{fixed(seconds, 0)} s"

    def set_to(self, flow_m3_s: float, units: Units, vessel: str) -> str:
        """What happens in which time where a valve is set right: "10 L run in 20 s"."""
        what = f"{units.bucket} run"
        if self.by == By.RISE:
            what = f"the water in {vessel} rises {units.piece.said(units.rise_m)}"
        elif self.by == By.JUG:
            what = f"a jug of {units.jug} at the mouth fills"
        return f"{what} in {self.in_words(flow_m3_s, units)}"


def measure_of(site: Site, design: Design, line: Line, flow_m3_s: float) -> Timing:
    """By what a flow out of a run is measured [m3/s]; by a bucket where it ends in no vessel."""
    vessel = site.vessels.get(line.finish.at)
    if vessel is None:
        return Timing(By.BUCKET, 0.0)
    room = _room(design, line, vessel)
    if room >= BUCKET_TALL_M:
        return Timing(By.BUCKET, vessel.water_area_m2)
    jug = room >= 0 and flow_m3_s <= MOST_M3_S
    return Timing(By.JUG if jug else By.RISE, vessel.water_area_m2)


def _room(design: Design, line: Line, vessel: Vessel) -> float:
    """Between a mouth and the water under it, in a bed its rim, up to which there may be gravel [m]."""
    end = line.finish
    mouth = end.mouth_m if isinstance(end, OverRim) else None
    if mouth is None and isinstance(end, AtVessel):
        mouth = end.centre_m
    if mouth is None:
        return 0.0
    below = design.drawing.levels[vessel.name].design_m
    return mouth - (below if vessel.bed is None else vessel.rim_m)
