"""A printed siphon by arithmetic of this file's own: what it carries, and how often it floods its bed."""

from __future__ import annotations

import math
from typing import Any

from autoplan.catalog.parts import Catalog
from autoplan.drawing import Drawing
from autoplan.fittings.ends import AtVessel
from autoplan.fittings.floor import BellSiphon
from autoplan.fittings.rim import OverRim
from autoplan.line.row import Line
from autoplan.problem.site import BedWater, Site, Vessel

G, VISCOSITY, L_H = 9.80665, 1.004e-6, 3.6e6
RE_ENTRANT, EXIT, BELL = 1.0, 1.0, 3.5
FORTY_FIVE_FT, SWEPT_FT = 16.0, 20.0
"""Crane TP-410, from memory: a 45 degree elbow 16 fT, a 90 degree bend of r/D 1 20 fT."""

STEEL_M = 0.046e-3
"""Roughness of the pipe that Crane's fT is of."""


def friction(speed: float, bore_m: float) -> float:
    """Factor of Swamee and Jain for drawn tube, 1.5 um; laminar 64 / Re below 2000."""
    reynolds = speed * bore_m / VISCOSITY
    if reynolds < 2000:
        return 64 / reynolds
    return 0.25 / math.log10(1.5e-6 / bore_m / 3.7 + 5.74 / reynolds**0.9) ** 2


def head(flow_m3_s: float, bore_m: float) -> float:
    """Velocity head [m]."""
    return (flow_m3_s / (math.pi / 4 * bore_m**2)) ** 2 / (2 * G)


def narrowing(flow_m3_s: float, before_m: float, narrow_m: float, after_m: float) -> float:
    """Contraction 0.5 (1 - b^2) and Borda-Carnot (1 - b^2)^2, both on the narrow velocity [m]."""
    narrow = min(before_m, narrow_m, after_m)
    into, out = (1 - (narrow / wide) ** 2 for wide in (before_m, after_m))
    return (0.5 * into + out**2) * head(flow_m3_s, narrow)


def pipe_loss(flow_m3_s: float, bore_m: float, length_m: float) -> float:
    """Darcy and Weisbach [m]."""
    speed = flow_m3_s / (math.pi / 4 * bore_m**2)
    return friction(speed, bore_m) * length_m / bore_m * head(flow_m3_s, bore_m)


class Siphon:
    """One printed siphon with its bed.

    Args:
        site, catalog, drawing: what was printed.
        name: its drain.
    """

    def __init__(self, site: Site, catalog: Catalog, drawing: Drawing, name: str) -> None:
        self.catalog, self.name = catalog, name
        self.drawn: Line = drawing.runs[name]
        assert self.drawn.floor is not None
        assert self.drawn.floor.siphon is not None
        assert isinstance(self.drawn.finish, AtVessel)
        self.start, self.finish = self.drawn.floor, self.drawn.finish
        self.made: BellSiphon = self.drawn.floor.siphon
        self.bed: Vessel = site.vessels[self.start.at]
        self.water: BedWater = self.bed.bed  # type: ignore[assignment]
        self.inflow = site.flows[name].design_m3_s
        self.pipe = catalog.pipes[self.drawn.pipe]
        self.stood = catalog.pipes[self.start.standpipe or self.drawn.pipe]
        measured = sum(site.runs[name].legs_m)
        self.legs = measured or sum(leg.length_m for leg in self.drawn.legs) + self.drop()
        self.bottom = max(
            drawing.levels[self.finish.at].design_m,
            (self.finish.centre_m or 0.0) + self.pipe.outside_m / 2,
        )

    def drop(self) -> float:
        """How far it turns down behind a rim [m]; 0 through a wall."""
        end = self.finish
        return (end.centre_m or 0.0) - (end.mouth_m or 0.0) if isinstance(end, OverRim) else 0.0

    def passages(self, end: Any) -> float:
        """The narrowest adaptor or wall part at an end [m]; none over a rim."""
        if isinstance(end, OverRim):
            assert end.chain == ()
            return math.inf
        parts = [self.catalog.adaptors[part].bore_m for part in (*end.chain, *end.inner_chain)]
        own = self.catalog.penetrations[end.penetration].bore_m
        return min([own or math.inf, *parts])

    def loss(self, flow: float) -> float:
        """Everything from the bell to where the drain ends [m]."""
        bell = self.catalog.siphons[self.made.bell]  # type: ignore[index]
        outside, bore = self.stood.outside_m, self.pipe.bore_m
        if self.made.flare is not None:
            outside = 1.15 * 0.050
        ring = flow / (math.pi / 4 * (bell.inside_m**2 - outside**2))
        lost = BELL * ring**2 / (2 * G) + RE_ENTRANT * head(flow, self.stood.bore_m)
        lost += pipe_loss(flow, self.stood.bore_m, self.start.standpipe_top_m - self.bed.floor_m)  # type: ignore[operator]
        lost += narrowing(flow, self.stood.bore_m, self.passages(self.start), bore)
        lost += pipe_loss(flow, bore, self.legs)
        full = 0.25 / math.log10(STEEL_M / bore / 3.7) ** 2
        for turn in self.drawn.turns:
            forty_five = turn.angle == 45 or len(turn.pieces) == 2
            factors = FORTY_FIVE_FT * len(turn.pieces) if forty_five else SWEPT_FT
            lost += factors * full * head(flow, min(bore, self.catalog.turns[turn.pieces[0]].bore_m))
        out = min(bore, self.passages(self.finish))
        return lost + narrowing(flow, bore, out, out) + EXIT * head(flow, out)

    def flow(self, depth_m: float) -> float:
        """Flow with so much water over the floor [m3/s], by bisection."""
        fall = self.bed.floor_m + depth_m - self.bottom
        low, high = 1e-9, 1e-2
        for _ in range(40):
            middle = (low + high) / 2
            low, high = (middle, high) if self.loss(middle) < fall else (low, middle)
        return low

    def floods_per_hour(self, cut_out_m: float) -> float:
        """An hour over the time to fill from the cut-outs and to empty again, in 100 slices."""
        slice_m = (self.water.flood_m - cut_out_m) / 100
        litres = self.bed.area_m2 * self.water.void_fraction * slice_m
        seconds = 0.0
        for number in range(100):
            gains = self.flow(cut_out_m + (number + 0.5) * slice_m) - self.inflow
            seconds += litres / self.inflow + litres / gains
        return 3600 / seconds
