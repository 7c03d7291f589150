"""Heads at either end of drains, for each way to build them."""

from __future__ import annotations

from collections.abc import Sequence

from autoplan.catalog.parts import Catalog
from autoplan.hydraulics.friction import velocity, velocity_head
from autoplan.line.water import head_at_wall, throttled
from autoplan.optimiser.options.lip import head_on_lip, lip_under_water
from autoplan.problem.site import Draw, Site
from autoplan.rules.candidate import Candidate
from autoplan.rules.heights import STEPS_IN_A_M, WHOLE_MM
from autoplan.rules.linear import Linear, Var, weighted
from autoplan.units import tenth_mm_down, tenth_mm_up


def head_in_air(
    site: Site, drain: str, flow_m3_s: float, ways: Sequence[tuple[Var, Candidate]], *, up: bool
) -> Linear:
    """Crown of a drain that leaves an open junction, with its velocity head [0.1 mm].

    It is that of the pipe, whatever stands on it: ways of one pipe, which alone are weighed against each
    other, have the same.

    Args:
        site: has the height of the junction.
        drain: the run.
        flow_m3_s: what it carries [m3/s].
        ways: the ways to build its class.
        up: whether it is rounded up, as what is run against, or down, as what drives.
    """
    at, rounded = site.junctions[site.runs[drain].start].height_m or 0.0, tenth_mm_up if up else tenth_mm_down
    bores = [(var, way.pipe.bore_m) for var, way in ways]
    return weighted(
        (var, rounded(at + bore / 2 + velocity_head(velocity(flow_m3_s, bore)))) for var, bore in bores
    )


def inlet_rise(
    site: Site,
    catalog: Catalog,
    run: str,
    ways: Sequence[tuple[Var, Candidate]],
    factor: float,
    trim_m: float,
) -> Linear:
    """How much higher an inlet holds its vessel at `factor` x design flow than at design [0.1 mm, up].

    Args:
        site, catalog: the problem and its price list.
        run: a drain that starts at a vessel.
        ways: the ways to build its class.
        factor: multiple of the design flow [-].
        trim_m: how much lower a hole is drilled whose drain a valve throttles [m].
    """
    asked, flow, pairs = site.runs[run], site.flows[run].design_m3_s, list[tuple[Var, int]]()
    for var, candidate in ways:
        drawn = candidate.drawn[run]
        if asked.draw is Draw.STANDPIPE:
            # At overload a drain hole counts as clogged. A bed with one has one depth, its flood.
            bed = site.vessels[asked.start]
            rise = head_on_lip(catalog, drawn, flow * factor)
            rise -= lip_under_water(catalog, drawn, flow, bed.water_depth_m)
        else:
            rise = head_at_wall(catalog, site, drawn, flow * factor)
            rise -= head_at_wall(catalog, site, drawn, flow)
            if throttled(site, drawn):
                rise += (trim_m + WHOLE_MM / STEPS_IN_A_M) * (factor * factor - 1.0)
        pairs.append((var, tenth_mm_up(rise)))
    return weighted(pairs)
