"""Which assumptions change nothing on their site."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

from autoplan.problem.brief import Assumption
from autoplan.problem.checks.scene import Scene
from autoplan.problem.flows import flows
from autoplan.problem.layouts.overflows import KEY
from autoplan.problem.site import Flow, Vessel

SELDOM = 1e-3
"""Share of the assumed floods at which a bed asks for next to nothing [-]."""


def with_effect(
    scene: Scene, found: Mapping[str, Flow], kept: Mapping[str, Assumption]
) -> tuple[Assumption, ...]:
    """The assumptions, those moot that have no effect: the floods of beds that get more anyway.

    A bed's floods ask for an inflow. Where something else sets the flow, as a tank's turnover does where the
    tank's pump feeds the beds, every run carries the same with hardly any floods asked for.

    Args:
        scene: vessels and runs of the site.
        found: its flows.
        kept: every assumption by its key path.
    """
    vessels, idle = dict(scene.vessels), set()
    for place in dict.fromkeys(scene.places[name] for name in vessels):
        beds = [name for name in vessels if scene.places[name] == place]
        if f"{place}.floods" not in kept or any(_timed(vessels[name]) for name in beds):
            continue
        fewer = vessels | {name: _seldom(vessels[name]) for name in beds}
        if _same(found, flows(replace(scene, vessels=fewer))):
            idle.add(f"{place}.floods")
            vessels = fewer
    # Where the tank's overflow goes matters only where it is built.
    offered = {f"{table}.{KEY}" for table in ("distances", "corners") if scene.offered}
    return tuple(replace(assumed, moot=place in idle | offered) for place, assumed in kept.items())


def _timed(vessel: Vessel) -> bool:
    """Whether a clock floods it, as often as it is told, whatever the flow."""
    return vessel.bed is not None and vessel.bed.timer is not None


def _seldom(vessel: Vessel) -> Vessel:
    """A bed that hardly ever floods; another vessel as it is."""
    if vessel.bed is None:
        return vessel
    return replace(vessel, bed=replace(vessel.bed, floods_per_s=SELDOM * vessel.bed.floods_per_s))


def _same(found: Mapping[str, Flow], other: Mapping[str, Flow]) -> bool:
    """Whether every run carries as much at design."""
    return all(
        math.isclose(flow.design_m3_s, other[name].design_m3_s, rel_tol=1e-9) for name, flow in found.items()
    )
