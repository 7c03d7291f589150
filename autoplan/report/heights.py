"""The site seen from the side, in plain characters: every vessel's floor, water and rim to one scale."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterator
from dataclasses import dataclass, replace

from autoplan.fittings.ends import AtVessel
from autoplan.fittings.floor import ThroughFloor
from autoplan.outcome import Design, Outcome
from autoplan.problem.graph import gravity_paths
from autoplan.problem.site import RunKind, Site, VesselKind
from autoplan.report.alike import shortly
from autoplan.report.blocks import Block, Heading, Para, Picture, Points
from autoplan.report.units import FOOT_M, INCH_M, Units

MOST_ROWS = 32
"""Most lines that the heights may take."""

ABREAST = 8
"""Most vessels side by side; more stand in a second picture on the same scale."""

AXIS, GAP, NARROWEST, WIDEST = 7, 1, 10, 13
"""Characters: the scale on the left, between two vessels, and a vessel at least and at most."""

STEPS_M = {
    "mm": (0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0),
    "in": (INCH_M, 2 * INCH_M, 3 * INCH_M, 6 * INCH_M, FOOT_M, 2 * FOOT_M, 5 * FOOT_M, 10 * FOOT_M),
}
"""What one line may stand for [m], by the unit of heights."""


@dataclass(frozen=True, slots=True)
class _Stand:
    """A vessel in the picture; heights in lines above the datum, `said` its water in figures."""

    name: str
    floor: int
    water: int
    rim: int
    said: str
    body: str
    pump: bool
    comes_in: frozenset[int]
    goes_out: frozenset[int]

    def row(self, row: int, width: int) -> str:
        """What this vessel shows in one line."""
        if not self.floor <= row <= self.rim:
            return " " * width
        room = width - 2
        if row == self.floor:
            return f"+{'-' * room}+"
        inside = " " * room
        if row == self.water:
            inside = self.said.center(room, "~") if len(self.said) < room else "~" * room
        elif row < self.water:
            pump = self.pump and row == self.floor + 1
            inside = "pump".center(room, self.body) if pump else self.body * room
        left = ">" if row in self.comes_in else "|"
        right = ">" if row in self.goes_out else "|"
        return f"{left}{inside}{right}"


def heights(outcome: Outcome, design: Design, units: Units) -> Iterator[Block]:
    """The picture, and the fall from water to water along every drain."""
    site = outcome.site
    step = _step(site, units)
    stands = _alike([_stand(site, design, name, step, units) for name in design.drawing.levels])
    if not stands:
        return
    top, bottom = max(stand.rim for stand in stands), min(stand.floor for stand in stands)
    yield Heading("Heights")
    yield Para(
        f"Each line is {units.piece.said(step)}, counted from 0. ~ is the water's surface "
        "with its height, . water, : gravel and water; > in a wall is where a drain leaves or arrives."
    )
    for first in range(0, len(stands), ABREAST):
        yield Picture(tuple(_lines(stands[first : first + ABREAST], top, bottom, step, units)))
    yield Points(tuple(falls(site, design, units)))


def _alike(stands: list[_Stand]) -> list[_Stand]:
    """Vessels that look the same, drawn once."""
    grouped: dict[_Stand, list[str]] = {}
    for stand in stands:
        grouped.setdefault(replace(stand, name=""), []).append(stand.name)
    return [replace(stand, name=shortly(names)) for stand, names in grouped.items()]


def _step(site: Site, units: Units) -> float:
    """The finest scale on which the whole site fits [m per line]."""
    spread = max(v.rim_m for v in site.vessels.values()) - min(v.floor_m for v in site.vessels.values())
    steps = STEPS_M[units.piece.unit]
    return next((step for step in steps if spread / step < MOST_ROWS), math.ceil(spread / MOST_ROWS) + 1.0)


def _stand(site: Site, design: Design, name: str, step: float, units: Units) -> _Stand:
    vessel, water = site.vessels[name], design.drawing.levels[name].design_m

    def line(height_m: float) -> int:
        return math.floor(height_m / step + 0.5)

    floor = line(vessel.floor_m)
    surface = max(floor + 1, line(water))
    drains = [run for run in site.runs.values() if run.kind is RunKind.GRAVITY]
    starts = [design.drawing.runs[run.name].start for run in drains if run.start == name]
    ends = [design.drawing.runs[run.name].finish for run in drains if run.finish == name]
    leaving = [
        end.standpipe_top_m if isinstance(end, ThroughFloor) else end.centre_m
        for end in starts
        if isinstance(end, AtVessel)
    ]
    return _Stand(
        name=name,
        floor=floor,
        water=surface,
        rim=max(surface, line(vessel.rim_m)),
        said=units.piece.text(water),
        body=":" if vessel.kind is VesselKind.BED else ".",
        pump=name in design.drawing.pumps,
        comes_in=frozenset(
            line(end.centre_m) for end in ends if isinstance(end, AtVessel) and end.centre_m is not None
        ),
        goes_out=frozenset(line(height) for height in leaving if height is not None),
    )


def _lines(stands: list[_Stand], top: int, bottom: int, step: float, units: Units) -> Iterator[str]:
    room = (100 - AXIS) // ABREAST - GAP
    longest = max(len(stand.name) for stand in stands)
    width = max(NARROWEST, min(WIDEST, room, longest))
    names = [textwrap.wrap(stand.name, width) or [""] for stand in stands]
    tallest = max(map(len, names))
    for row in range(tallest):
        titles = (name[row - tallest + len(name)] if row >= tallest - len(name) else "" for name in names)
        yield " " * AXIS + "".join(title.center(width) + " " * GAP for title in titles)
    for row in range(top, bottom - 1, -1):
        scale = units.piece.text(row * step).rjust(AXIS - 1) + " "
        yield scale + "".join(stand.row(row, width) + " " * GAP for stand in stands)


def falls(site: Site, design: Design, units: Units) -> Iterator[str]:
    """From water to water along every way by gravity; alike falls between alike runs once."""
    grouped: dict[tuple[tuple[str, ...], str, str], list[str]] = {}
    for path in gravity_paths(site):
        start, finish = site.runs[path[0]].start, site.runs[path[-1]].finish
        fall = design.drawing.levels[start].design_m - design.drawing.levels[finish].design_m
        alike = tuple(site.runs[name].run_class for name in path)
        grouped.setdefault((alike, finish, units.height.said(fall)), []).append(start)
    for (_, finish, said), starts in grouped.items():
        named = starts[0] if len(starts) == 1 else f"{shortly(starts)}, each"
        yield f"{named} to {finish}: a fall of {said} from water to water."
