"""What a bed empties into does not run over while its siphon runs."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from itertools import product

from autoplan.drawing import DrawnRun
from autoplan.outcome import Finding
from autoplan.problem.graph import gravity_paths
from autoplan.problem.site import Run, Site, Vessel
from autoplan.rules.base import Draft, Rule, Setting
from autoplan.rules.circuit import inlet_line, line_of, site_water
from autoplan.rules.linear import Linear, Var
from autoplan.rules.siphon_break import fills_drain, running_flow
from autoplan.rules.survey import Survey
from autoplan.units import Dimension, tenth_mm_down

STEP = 1.05
"""Ratio between flows of siphons that the model tells apart; each counts as the next larger [-]."""


class Surge(Rule):
    """Every vessel below beds with siphons holds all of their floods at once, or passes them on as they come.

    Beds come and go as they like, so all of them may empty together. Of a vessel that the pump empties
    `sump-high` and `sump-low` speak. What passes one vessel comes to the next no faster.
    """

    id = "surge"
    sentence = "A vessel that siphons empty into stays below its rim while they run, all beds at once."
    source = "mass balance and energy equation; dry wall: common practice, no source"
    unit = "mm"
    negotiable = True
    settings = (
        Setting(
            "freeboard", Dimension.LENGTH, "10 mm", "common practice, no source", "dry wall left in a surge"
        ),
    )

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only sites where a bed with a siphon empties into what no pump empties."""
        return bool(surged(site))

    def encode(self, draft: Draft) -> None:
        """Overload levels that take the surge as well, for each way to build the siphons' drains."""
        site = draft.site
        for name, drains in surged(site).items():
            vessel = site.vessels[name]
            highest = vessel.rim_m - self.values["freeboard"]
            if vessel.water_max_m + _floods(site, drains) / vessel.water_area_m2 <= highest:
                continue
            draft.at_least(self.id, Linear(constant=tenth_mm_down(highest)), draft.overload_level(name))
            outlets = [path for path in draft.gravity_paths() if site.runs[path[0]].start == name]
            for factor, chosen in _cases(draft, vessel, drains).items():
                for path in outlets:
                    loss = draft.path_loss(path, factor)
                    asked = [below + loss for below in draft.receiving_levels(path, overloaded=True)]
                    asked.append(draft.level(name) + draft.inlet_rise(path[0], factor))
                    for level, var in product(asked, chosen):
                        draft.at_least(self.id, draft.overload_level(name), level, var)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per vessel; value is the dry wall left."""
        for name, top_m in surge_levels(survey).items():
            dry = survey.site.vessels[name].rim_m - top_m
            yield self.not_under(name, dry * 1000, self.values["freeboard"] * 1000, 0.051)


def surged(site: Site) -> dict[str, tuple[str, ...]]:
    """By vessel that no pump empties the drains of beds with siphons that come to it; the lowest first."""
    pumped, paths = site.pumped_vessels(), gravity_paths(site)
    found: dict[str, dict[str, None]] = {}

    def follow(drain: str, place: str) -> None:
        if place in pumped or drain in found.get(place, {}):
            return
        found.setdefault(place, {})[drain] = None
        for path in paths:
            if site.runs[path[0]].start == place:
                follow(drain, site.runs[path[-1]].finish)

    for path in paths:
        bed = site.vessels[site.runs[path[0]].start].bed
        if bed is not None and bed.siphon and not site.runs[path[0]].idle:
            follow(path[0], site.runs[path[-1]].finish)
    order = _downwards(site)
    return {name: tuple(found[name]) for name in reversed(order) if name in found}


def surge_levels(survey: Survey) -> dict[str, float]:
    """By vessel how high the water stands at most while the siphons above it run [m above the datum].

    As all their water would make it that comes at once on top of the design level, or as high as its own
    drains need to pass on what they bring, whichever is less.
    """
    site, found = survey.site, dict[str, float]()
    for name, drains in surged(site).items():
        vessel = site.vessels[name]
        flows = {drain: running_flow(survey, drain)(_flood_m(site, drain)) for drain in drains}
        factor = _factor(site, name, flows)
        passed = survey.level_at(name, survey.flows_at(factor), found)
        held = survey.level(name) + _floods(site, drains) / vessel.water_area_m2
        found[name] = min(passed, held)
    return found


def _downwards(site: Site) -> list[str]:
    """Vessels in an order in which water falls from each to later ones only."""
    left, order = list(site.vessels), list[str]()
    paths = [(site.runs[path[0]].start, site.runs[path[-1]].finish) for path in gravity_paths(site)]
    while left:
        free = next(name for name in left if not any(a in left and b == name for a, b in paths))
        left.remove(free)
        order.append(free)
    return order


def _flood_m(site: Site, drain: str) -> float:
    bed = site.vessels[site.runs[drain].start].bed
    assert bed is not None
    return bed.flood_m


def _floods(site: Site, drains: tuple[str, ...]) -> float:
    """Water of all beds' floods [m3]."""
    vessels = {site.runs[drain].start: site.vessels[site.runs[drain].start] for drain in drains}
    return sum(v.bed.flood_volume_m3(v.area_m2) for v in vessels.values() if v.bed is not None)


def _factor(site: Site, vessel: str, flows: Mapping[str, float]) -> float:
    """Inflow with siphons running, over the design inflow [-]: theirs [m3/s] in place of their beds' own."""
    outlets = [run for run in site.runs.values() if run.start == vessel and not run.idle]
    design = sum(site.flows[run.name].design_m3_s for run in outlets)
    more = sum(flow - site.flows[drain].design_m3_s for drain, flow in flows.items())
    return max(1.0, 1.0 + more / design)


def _cases(draft: Draft, vessel: Vessel, drains: tuple[str, ...]) -> dict[float, list[Var]]:
    """By how much comes, over the design inflow, the ways to build the drains of one class that bring it.

    The drains of other classes bring their most.
    """
    site = draft.site
    classes = {site.runs[drain].run_class: None for drain in drains}
    flows: dict[str, list[tuple[Var, dict[str, float]]]] = {}
    for name in classes:
        mine = [drain for drain in drains if site.runs[drain].run_class == name]
        flows[name] = [
            (var, {drain: _most_flow(draft, vessel, candidate.drawn[drain]) for drain in mine})
            for var, candidate in draft.candidates(name)
        ]
    most = {
        name: {drain: max(made[drain] for _, made in ways) for drain in ways[0][1]}
        for name, ways in flows.items()
    }
    cases: dict[float, list[Var]] = {}
    for name, ways in flows.items():
        others = {drain: flow for other in most if other != name for drain, flow in most[other].items()}
        for var, made in ways:
            factor = _factor(site, vessel.name, {**others, **made})
            cases.setdefault(STEP ** math.ceil(math.log(factor, STEP) - 1e-9), []).append(var)
    return cases


def _most_flow(draft: Draft, vessel: Vessel, drawn: DrawnRun) -> float:
    """The most that a siphon brings through a drain built so [m3/s]: its bed full, the water below low."""
    site, catalog, water = draft.site, draft.catalog, site_water(draft.site)
    run: Run = site.runs[drawn.run]
    bed = site.vessels[run.start]
    assert bed.bed is not None
    first = site.vessels.get(run.finish, vessel)
    line = line_of(catalog, run, drawn)
    whole = line.flow(max(0.0, bed.water_max_m - first.water_min_m), water)
    standpipe = inlet_line(catalog, catalog.pipes[drawn.pipe], drawn.start, bed, drawn.screen)
    inflow = site.flows[run.name].design_m3_s
    if fills_drain(catalog.pipes[drawn.pipe], standpipe, bed.bed.flood_m, inflow, water):
        return whole
    return min(whole, standpipe.flow(bed.bed.flood_m, water))
