"""How a siphon pipe outside a bed begins: its wall part, its air tube, its crest where the bed fills to."""

from __future__ import annotations

from dataclasses import fields, replace

from autoplan.catalog.parts import SiphonKind
from autoplan.fittings.outside import OutsideSiphon
from autoplan.fittings.wall import ThroughWall
from autoplan.line.row import Line
from autoplan.line.water import head_at_wall
from autoplan.optimiser.options.making import Making, Offered
from autoplan.rules.asked import OfAirTube
from autoplan.units import TENTH_MM, tenth_mm_down


def begun(wall: ThroughWall, tube: str | None, air_m: float) -> OutsideSiphon:
    """A wall part as the start of a siphon pipe outside, with an air tube whose mouth is so high [m]."""
    own = {one.name: getattr(wall, one.name) for one in fields(wall)}
    return OutsideSiphon(**own, air_tube=tube, air_m=air_m)


def air_tubes(making: Making) -> list[str | None]:
    """Air tubes that the rules allow, none dearer and shorter than another; None if the list has none."""
    rows = making.catalog.siphons
    known = [part.id for part in rows.values() if part.kind is SiphonKind.SNORKEL]
    if not known:
        return [None]
    fit = [
        Offered((part,), (-rows[part].tallest_m,))
        for part in known
        if part not in making.shelf.gone and making.allows("air tube", [OfAirTube(making.catalog, part)])
    ]
    return [offered.parts[0] for offered in making.pareto(fit)]


def crested(making: Making, line: Line, start: OutsideSiphon) -> Line:
    """A siphon pipe outside a bed with its crest where the bed's inflow runs over it at the flood's level."""
    flow, vessel = making.site.flows[line.run].design_m3_s, making.site.vessels[start.at]
    head = head_at_wall(making.catalog, making.site, line, flow)
    over = tenth_mm_down(vessel.water_max_m - head - vessel.floor_m) * TENTH_MM
    return line.with_ends(replace(start, lip_m=vessel.floor_m + over), line.finish)
