"""How high a standpipe's lip holds its vessel's water; a drain hole lower down takes part of the flow.

Over the lip goes what the hole leaves of the inflow: with the water at its design level in a bed on a clock
that is a good deal less than the inflow. Without a hole, and with a clogged one, all of it goes over the lip.
"""

from __future__ import annotations

from autoplan.catalog.parts import Catalog
from autoplan.fittings.floor import SideHole
from autoplan.hydraulics.drain_hole import head_over_hole, hole_flow
from autoplan.hydraulics.gravity import standpipe_head
from autoplan.hydraulics.search import crossing
from autoplan.line.row import Line
from autoplan.line.water import inlet_bore, screen_head


def head_over_lip(catalog: Catalog, drawn: Line, flow_m3_s: float) -> float:
    """Head [m] that a flow [m3/s] needs over the lip of a run's standpipe, with its screen."""
    return standpipe_head(flow_m3_s, inlet_bore(catalog, drawn)) + screen_head(catalog, drawn, flow_m3_s)


def held_depth(catalog: Catalog, drawn: Line, flow_m3_s: float, lip_m: float) -> float:
    """Depth [m] at which a standpipe with its drain hole open takes a flow away.

    Where the hole lets out as much before water reaches the lip, that.

    Args:
        catalog: the price list.
        drawn: the run that starts at the standpipe.
        flow_m3_s: what it takes away in all [m3/s].
        lip_m: height of the lip over the vessel's floor [m].
    """
    hole = _hole(drawn)

    def depth(over_m3_s: float) -> float:
        return lip_m + head_over_lip(catalog, drawn, over_m3_s)

    def short(over_m3_s: float) -> bool:
        return over_m3_s + _by_hole(hole, flow_m3_s, depth(over_m3_s)) < flow_m3_s

    if hole is None:
        return depth(flow_m3_s)
    if not short(0.0):
        return hole.height_m + head_over_hole(hole.hole_m, flow_m3_s)
    return depth(crossing(short, 0.0, flow_m3_s)[1])


def _hole(drawn: Line) -> SideHole | None:
    return None if drawn.floor is None else drawn.floor.drain_hole


def _by_hole(hole: SideHole | None, flow_m3_s: float, depth_m: float) -> float:
    """What a drain hole takes of a flow [m3/s] at a depth of water over the vessel's floor [m]."""
    if hole is None:
        return 0.0
    return min(flow_m3_s, hole_flow(hole.hole_m, max(0.0, depth_m - hole.height_m)))
