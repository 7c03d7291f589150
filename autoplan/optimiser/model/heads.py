"""Heads at either end of drains, for each way to build them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from autoplan.catalog.parts import Catalog
from autoplan.hydraulics.friction import velocity, velocity_head
from autoplan.line.water import head_at_wall
from autoplan.optimiser.options.lip import head_on_lip, lip_under_water
from autoplan.problem.site import Draw, Site
from autoplan.rules.base import ModelView
from autoplan.rules.candidate import Candidate
from autoplan.rules.linear import Linear, Var, weighted
from autoplan.rules.quantities import BORE, CROWN_AT_START
from autoplan.units import tenth_mm_up


def head_in_air(
    draft: ModelView, goes: str, flows: Mapping[str, float], rounded: Callable[[float], int]
) -> Linear:
    """Crown of a drain that leaves an open junction, with its velocity head [0.1 mm, rounded as told].

    Args:
        draft: the model.
        goes: the drain.
        flows: by run [m3/s].
        rounded: heights [m] to tenths of a millimetre.
    """
    ways = zip(draft.each(CROWN_AT_START, goes), draft.each(BORE, goes), strict=True)
    return weighted(
        (var, rounded((crown or 0.0) + velocity_head(velocity(flows[goes], bore))))
        for (var, crown), (_, bore) in ways
    )


def inlet_rise(
    site: Site, catalog: Catalog, run: str, ways: Sequence[tuple[Var, Candidate]], factor: float
) -> Linear:
    """How much higher an inlet holds its vessel at `factor` x design flow than at design [0.1 mm, up].

    Args:
        site, catalog: the problem and its price list.
        run: a drain that starts at a vessel.
        ways: the ways to build its class.
        factor: multiple of the design flow [-].
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
        pairs.append((var, tenth_mm_up(rise)))
    return weighted(pairs)
