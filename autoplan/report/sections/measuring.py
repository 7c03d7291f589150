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

LEAST_S = 5.0
"""Least time in which a jug may fill to be timed by hand [s]; common practice, no source."""


class By(StrEnum):
    """What is timed; the values are those of the JSON contract."""

    BUCKET = "bucket"
    JUG = "jug"
    RISE = "rise"


@dataclass(frozen=True, slots=True)
class Measure:
    """By what a flow into a vessel is measured.

    Attributes:
        by: what is timed.
        volume_m3: water that comes in meanwhile [m3].
        words: "10 L bucket", "1 L jug", "rise of 20 mm".
        runs: half a sentence, "10 L run", "1 L runs into a jug at the mouth", "tank rises 20 mm".
    """

    by: By
    volume_m3: float
    words: str
    runs: str

    def seconds(self, flow_m3_s: float) -> float | None:
        """How long it takes [s]; None where next to nothing flows."""
        return self.volume_m3 / flow_m3_s if flow_m3_s > LEAST_FLOW_M3_S else None

    def in_words(self, flow_m3_s: float) -> str:
        """The same in whole seconds."""
        seconds = self.seconds(flow_m3_s)
        return "never" if seconds is None else f"{fixed(seconds, 0)} s"


def measure_of(site: Site, design: Design, line: Line, flow_m3_s: float, units: Units) -> Measure:
    """By what the flow out of a run is measured [m3/s]; by a bucket where it ends in no vessel."""
    vessel = site.vessels.get(line.finish.at)
    if vessel is None:
        return _bucket(units)
    room = _room(design, line, vessel)
    if room >= BUCKET_TALL_M:
        return _bucket(units)
    if room >= 0 and units.jug_m3 >= LEAST_S * flow_m3_s:
        return Measure(By.JUG, units.jug_m3, f"{units.jug} jug", f"a jug of {units.jug} at the mouth fills")
    rise = units.piece.said(units.rise_m)
    volume = units.rise_m * vessel.water_area_m2
    return Measure(By.RISE, volume, f"rise of {rise}", f"the water in {vessel.name} rises {rise}")


def _bucket(units: Units) -> Measure:
    return Measure(By.BUCKET, units.bucket_m3, f"{units.bucket} bucket", f"{units.bucket} run")


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
