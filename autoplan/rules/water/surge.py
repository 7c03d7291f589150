"""What a bed empties into does not run over while its siphon runs."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from itertools import product

from autoplan.hydraulics.gravity import self_venting_flow
from autoplan.line.water import site_water
from autoplan.outcome import Finding
from autoplan.places import InVessel
from autoplan.problem.flows import gravity_paths
from autoplan.problem.site import Run, Site
from autoplan.rules.base import Mend, ModelView, Rule, Setting
from autoplan.rules.beds.siphon_break import running_flow
from autoplan.rules.heights import AtLeast, at_overload, under_rim
from autoplan.rules.linear import Linear, Var, weighted
from autoplan.rules.quantities import CROWN, INLET, LOSS, STANDPIPE, less, more
from autoplan.rules.survey import Survey
from autoplan.units import Dimension, tenth_mm_down, tenth_mm_up

STEP = 1.05
"""Ratio between inflows that the model tells apart; each counts as the next larger [-]."""

A_LITTLE_MORE = 1.01
"""On the most that a siphon brings [-]: its lip, under the highest water, leaves a shorter standpipe."""

OUT_OF_FORCE = 300_000
"""More than any row here can lack [0.1 mm]: 30 m."""


def passes_on(site: Site, run: Run) -> bool:
    """Whether a run is on a way out of a vessel that siphons empty into."""
    return any(run.name in path for name in surged(site) for path in _outlets(site, name))


def surges(site: Site, run: Run) -> bool:
    """Whether a run drains a bed by a siphon into what no pump empties."""
    return any(run.name in drains for drains in surged(site).values())


class Surge(Rule):
    """Every vessel below beds with siphons holds all of their floods at once, or passes them on as they come.

    Beds come and go as they like, so all of them may empty together. Of a vessel that the pump empties
    `sump-high` and `sump-low` speak; a bed with a siphon passes on no more than that carries. What passes one
    vessel comes to the next no faster. In the model a vessel that passes the surge on has the siphons of
    other classes bring the most that any way to build them does.
    """

    id = "surge"
    sentence = "A vessel that siphons empty into stays below its rim while they run, all beds at once."
    source = "mass balance and energy equation; dry wall: from memory"
    unit = "mm"
    negotiable = True
    mended_by = frozenset((Mend.HEIGHTS,))
    spares = True
    hint = ", or give a larger vessel below the bed, or a smaller flood"
    settings = (Setting("freeboard", Dimension.LENGTH, "20 mm", "from memory", "dry wall left in a surge"),)
    reads = (
        *(less(quantity, passes_on) for quantity in (LOSS, INLET, CROWN)),
        # What brings less to the vessel below may be welcome.
        *(more(quantity, surges) for quantity in (LOSS, STANDPIPE)),
    )

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only sites where a bed with a siphon empties into what no pump empties."""
        return bool(surged(site))

    def levels_at_once(self, site: Site) -> Iterator[AtLeast]:
        """The dry wall that is left in a surge."""
        for name in surged(site):
            yield under_rim(self.id, site.vessels[name], at_overload(site, name), self.values["freeboard"])

    def encode(self, draft: ModelView) -> None:
        """Overload levels that take the surge too: held, or passed on for each way to build the siphons."""
        site = draft.site
        for name, drains in surged(site).items():
            vessel, over = site.vessels[name], draft.overload_level(name)
            highest = tenth_mm_down(vessel.rim_m - self.values["freeboard"]) - draft.reserve
            floods = tenth_mm_up(_floods(site, drains) / vessel.water_area_m2)
            draft.at_least(self.id, Linear(constant=highest), over)
            if tenth_mm_up(vessel.water_max_m) + floods <= highest:
                draft.at_least(self.id, over, draft.level(name) + floods)
                continue
            holds, _ = draft.one_of(f"{name} holds the surge", f"{name} passes the surge on")
            draft.at_least(self.id, over, draft.level(name) + floods, holds)
            loose = over + weighted([(holds, OUT_OF_FORCE)])
            for factor, chosen in _cases(draft, name, drains).items():
                for asked, var in product(_asked(draft, name, factor), chosen):
                    draft.at_least(self.id, loose, asked, var)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per vessel; value is the dry wall left."""
        for name, top_m in surge_levels(survey).items():
            dry = survey.site.vessels[name].rim_m - top_m
            yield self.not_under(InVessel(name), dry, self.values["freeboard"], 0.051)


def surged(site: Site) -> dict[str, tuple[str, ...]]:
    """By vessel that no pump empties the drains of beds with siphons that come to it; the lowest first."""
    pumped, paths = site.pumped_vessels(), gravity_paths(site)
    found: dict[str, dict[str, None]] = {}

    for first in paths:
        bed, drain = site.vessels[site.runs[first[0]].start].bed, first[0]
        places = [site.runs[first[-1]].finish] if bed is not None and bed.siphon else []
        while places:
            place = places.pop()
            bed = site.vessels[place].bed
            if place in pumped or (bed is not None and bed.siphon) or drain in found.get(place, {}):
                continue
            found.setdefault(place, {})[drain] = None
            places += [site.runs[path[-1]].finish for path in paths if site.runs[path[0]].start == place]
    return {name: tuple(found[name]) for name in reversed(_downwards(site)) if name in found}


def surge_levels(survey: Survey) -> dict[str, float]:
    """By vessel how high the water stands at most while the siphons above it run [m above the datum].

    As all their water would make it that comes at once on top of the design level, or as high as its own
    drains need to pass on what they bring, whichever is less.
    """
    site, found = survey.site, dict[str, float]()
    for name, drains in surged(site).items():
        brought, water = 0.0, 0.0
        for drain in drains:
            bed = site.vessels[site.runs[drain].start]
            brought += running_flow(survey, drain)(_flood_m(site, drain)) - survey.design_flow(drain)
            water += bed.water_area_m2 * _flood_m(site, drain)
        passed = survey.level_at(name, _surging_flows(survey, name, max(0.0, brought)), found, clogged=True)
        found[name] = min(passed, survey.level(name) + water / site.vessels[name].water_area_m2)
    return found


def _surging_flows(survey: Survey, vessel: str, more_m3_s: float) -> dict[str, float]:
    """Flow of every run [m3/s] where a vessel's drains share what comes more by what each takes at design."""
    flows, outlets = survey.flows_at(), _outlets(survey.site, vessel)
    own = sum(survey.design_flow(run) for run in {path[0] for path in outlets})
    for path in outlets:
        for run in path:
            flows[run] += more_m3_s * survey.design_flow(path[0]) / own
    return flows


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


def _floods(site: Site, drains: Sequence[str]) -> float:
    """Water of all beds' floods [m3]."""
    vessels = {site.runs[drain].start: site.vessels[site.runs[drain].start] for drain in drains}
    return sum(v.flood_m3 for v in vessels.values() if v.bed is not None)


def _outlets(site: Site, vessel: str) -> list[tuple[str, ...]]:
    return [path for path in gravity_paths(site) if site.runs[path[0]].start == vessel]


def _factor(site: Site, vessel: str, brought: Mapping[str, float]) -> float:
    """Inflow with siphons running over design inflow [-]: what they bring [m3/s], not their beds' own."""
    firsts = {path[0] for path in _outlets(site, vessel)}
    design = sum(site.flows[run].design_m3_s for run in firsts)
    more = sum(flow - site.flows[drain].design_m3_s for drain, flow in brought.items())
    return max(1.0, 1.0 + more / design)


def _flows(site: Site, vessel: str, factor: float) -> dict[str, float]:
    """Flow of every run [m3/s] where a vessel's own water grows by a factor, and no other's."""
    flows = {name: flow.design_m3_s for name, flow in site.flows.items()}
    more: dict[str, float] = {}
    for path in _outlets(site, vessel):
        for run in path:
            more.setdefault(run, 0.0)
            more[run] += (factor - 1.0) * site.flows[path[0]].design_m3_s
    return {name: flow + more.get(name, 0.0) for name, flow in flows.items()}


def _asked(draft: ModelView, vessel: str, factor: float) -> list[Linear]:
    """The levels that a vessel's drains ask for where its own water grows by a factor."""
    flows, asked = _flows(draft.site, vessel, factor), []
    for path in draft.open_paths():
        if draft.site.runs[path[0]].start != vessel:
            continue
        loss = draft.loss_at(path, flows)
        asked += [below + loss for below in draft.against(path, flows, overloaded=True)]
        asked.append(draft.level(vessel) + draft.inlet_rise(path[0], factor))
    return asked


def _cases(draft: ModelView, vessel: str, drains: Sequence[str]) -> dict[float, list[Var]]:
    """By how much comes, over the design inflow, the ways to build the drains of one class that bring it.

    The drains of other classes bring their most.
    """
    site = draft.site
    classes = {site.runs[drain].run_class: None for drain in drains}
    flows: dict[str, list[tuple[Var, dict[str, float]]]] = {}
    for name in classes:
        mine = [drain for drain in drains if site.runs[drain].run_class == name]
        brought = [_most_flows(draft, vessel, drain) for drain in mine]
        flows[name] = [
            (ways[0][0], dict(zip(mine, (flow for _, flow in ways), strict=True)))
            for ways in zip(*brought, strict=True)
        ]
    most = {
        name: {drain: max(made[drain] for _, made in ways) for drain in ways[0][1]}
        for name, ways in flows.items()
    }
    cases: dict[float, list[Var]] = {}
    for name, ways in flows.items():
        others = {drain: flow for other in most if other != name for drain, flow in most[other].items()}
        for var, made in ways:
            factor = A_LITTLE_MORE * _factor(site, vessel, {**others, **made})
            cases.setdefault(STEP ** math.ceil(math.log(factor, STEP) - 1e-9), []).append(var)
    return cases


def _most_flows(draft: ModelView, vessel: str, drain: str) -> list[tuple[Var, float]]:
    """The most that a siphon brings through each way to build its drain [m3/s].

    Its bed full, the water below low. All of the fall pulls where its first water, with the bed full, carries
    the air away; else the standpipe alone passes no more.
    """
    site, water = draft.site, site_water(draft.site)
    run = site.runs[drain]
    bed, below = site.vessels[run.start], site.vessels.get(run.finish, site.vessels[vessel])
    flood, inflow = _flood_m(site, drain), site.flows[drain].design_m3_s
    falls, flows = max(0.0, bed.floor_m - below.water_min_m + flood), []
    for (var, line), (_, standpipe) in zip(
        draft.each(LOSS, drain), draft.each(STANDPIPE, drain), strict=True
    ):
        most, venting = line.flow(falls, water), self_venting_flow(line.bore_m)
        if inflow < venting and standpipe.loss(venting, water) > flood:
            most = min(most, standpipe.flow(flood, water))
        flows.append((var, most))
    return flows
