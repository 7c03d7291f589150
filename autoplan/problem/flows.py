"""The flow graph: which water goes where, and how much.

A pump's tree divides and never joins; drains join and never divide at a junction. Each vessel that no pump
empties passes its inflow on by gravity. All flows then follow from what the vessels ask for.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from enum import Enum
from typing import TYPE_CHECKING, Any, Protocol

from autoplan.problem.site import BedWater, Draw, Flow, Junction, Run, RunKind, Site, Vessel, VesselKind

if TYPE_CHECKING:
    import networkx as nx


SIPHONED = (Draw.STANDPIPE, Draw.OUTSIDE)
"""From where a drain takes water that siphons run in."""


class SiteLike(Protocol):
    """Anything with the vessels, junctions and runs of a site."""

    @property
    def vessels(self) -> Mapping[str, Vessel]:
        """Vessels by name."""

    @property
    def junctions(self) -> Mapping[str, Junction]:
        """Junctions by name."""

    @property
    def runs(self) -> Mapping[str, Run]:
        """Runs by name."""


class Flowing(Protocol):
    """Anything with the flows of a site."""

    @property
    def flows(self) -> Mapping[str, Flow]:
        """Design and peak flow by run name."""


def gravity_graph(site: SiteLike) -> nx.MultiDiGraph[Any]:
    """The site's runs by gravity as a directed graph, without a cycle where it is sound.

    Returns:
        Nodes are names of vessels and junctions; an edge per run in the direction of flow, with its name as
        key.
    """
    import networkx as nx

    graph: nx.MultiDiGraph[Any] = nx.MultiDiGraph()
    graph.add_nodes_from((*site.vessels, *site.junctions))
    runs = (run for run in site.runs.values() if run.kind is RunKind.GRAVITY)
    graph.add_edges_from((run.start, run.finish, run.name) for run in runs)
    return graph


def gravity_paths(site: SiteLike) -> tuple[tuple[str, ...], ...]:
    """Every way by gravity from a vessel through junctions to the next vessel.

    Returns:
        Run names from upstream to downstream, in the order in which the first runs stand on the site.
    """
    return _paths(site, RunKind.GRAVITY)


def vented(site: SiteLike) -> tuple[str, ...]:
    """The junctions of drains that stand open to the air, in the order of the file.

    Their height is known, and air comes in by a vent behind them or, where drains come together, down the
    standpipe of a bed that rests. What is above such a junction falls to it and no further.
    """
    return tuple(
        name
        for name, junction in site.junctions.items()
        if junction.height_m is not None and _lets_air_in(site, name)
    )


def _lets_air_in(site: SiteLike, junction: str) -> bool:
    """Whether air comes to a junction of drains."""
    if any(run.vent_m is not None for run in _outlets(site, junction)):
        return True
    into = _inflows(site, junction, RunKind.GRAVITY)
    return len(into) > 1 and any(rests(site, run) for run in into)


def rests(site: SiteLike, run: Run) -> bool:
    """Whether a run is a bed's drain, whose standpipe lets air in while the bed rests."""
    start = site.vessels.get(run.start)
    return start is not None and start.bed is not None and run.draw is Draw.STANDPIPE


def open_paths(site: SiteLike) -> tuple[tuple[str, ...], ...]:
    """Every way by gravity from a vessel to where water is open to the air: each `vented` junction, a vessel.

    Returns:
        Run names as of `gravity_paths`, of each of those first the shortest beginning that ends so.
    """
    air = vented(site)
    return tuple(
        path[:number]
        for path in gravity_paths(site)
        for number, name in enumerate(path, 1)
        if number == len(path) or site.runs[name].finish in air
    )


def open_pieces(site: SiteLike) -> tuple[tuple[str, ...], ...]:
    """Every way by gravity from a vessel or `vented` junction to the next of them, each once."""
    air, found = vented(site), dict[tuple[str, ...], None]()
    for path in gravity_paths(site):
        begin = 0
        for number, name in enumerate(path, 1):
            if number == len(path) or site.runs[name].finish in air:
                found[path[begin:number]] = None
                begin = number
    return tuple(found)


def under_suction(site: SiteLike) -> tuple[str, ...]:
    """The drains at which a siphon sucks: from its bed on to where water is open to the air."""
    found: dict[str, None] = {}
    for path in open_paths(site):
        bed = site.vessels[site.runs[path[0]].start].bed
        if bed is not None and bed.siphon and site.runs[path[0]].draw in SIPHONED:
            found.update(dict.fromkeys(path))
    return tuple(found)


def leaving(site: SiteLike, path: Sequence[str]) -> str | None:
    """The drain that leaves the junction at which a way by gravity ends; None at a vessel."""
    end = site.runs[path[-1]].finish
    return None if end in site.vessels else next((run.name for run in _outlets(site, end)), None)


def flows_at(site: Flowing, factor: float) -> dict[str, float]:
    """Flow of every run [m3/s] at so many times the design flow."""
    return {name: flow.design_m3_s * factor for name, flow in site.flows.items()}


def peaks(site: Flowing) -> dict[str, float]:
    """Peak flow of every run [m3/s]."""
    return {name: flow.peak_m3_s for name, flow in site.flows.items()}


def pressure_paths(site: SiteLike) -> tuple[tuple[str, ...], ...]:
    """Every way under pressure from a pumped vessel through junctions to a vessel; as `gravity_paths`."""
    return _paths(site, RunKind.PRESSURE)


def pumped_from(site: SiteLike) -> dict[str, str]:
    """The pumped vessel behind each pressure run, by run name in the order of the paths."""
    return {name: site.runs[path[0]].start for path in pressure_paths(site) for name in path}


def drained_to(site: SiteLike, vessel: str) -> frozenset[str]:
    """The pumped vessels that a vessel's water comes to by gravity."""
    pumped = {run.start for run in site.runs.values() if run.kind is RunKind.PRESSURE}
    found, left = set(), [vessel]
    while left:
        place = left.pop()
        if place in pumped and place in site.vessels:
            found.add(place)
        else:
            left += [run.finish for run in _outlets(site, place)]
    return frozenset(found)


def running_drains(site: SiteLike) -> frozenset[str]:
    """The drains that water runs in all the time.

    What beds that flood and empty in turn let go comes out of the pumped vessel and is back in it once they
    are empty: of that no more runs back in a power cut. A bed with a weep hole is fed all the time. Overflows
    and waste drains carry nothing.
    """
    beds = {name: vessel.bed for name, vessel in site.vessels.items()}
    return frozenset(
        name
        for path in gravity_paths(site)
        for bed in (beds[site.runs[path[0]].start],)
        if bed is None or not floods_in_turn(bed)
        for name in path
    )


def floods_in_turn(bed: BedWater) -> bool:
    """Whether a bed floods and runs empty while the pump runs, and does not stand full meanwhile."""
    return bed.by_turns and bed.weep is None


def shared_outlets(site: Site) -> dict[str, tuple[str, ...]]:
    """Vessels whose water runs out by several drains at once, so that the heights of these part it.

    A bed that floods and empties in turn is none: its drains do not run all the time.

    Returns:
        By vessel its drains that run at design, the widest stream first, which holds the level.
    """
    pumped, found = site.pumped_vessels(), {}
    for name, vessel in site.vessels.items():
        if name not in pumped and not (vessel.bed is not None and vessel.bed.by_turns):
            out = [run.name for run in _outlets(site, name) if site.flows[run.name].design_m3_s > 0]
            if len(out) > 1:
                found[name] = tuple(sorted(out, key=lambda run: -site.flows[run].design_m3_s))
    return found


def least_kept(site: Site, outlet: str) -> float:
    """Share of its design flow that an outlet must keep so that vessels below it get what they ask for [-].

    Of all vessels on the way to the next pump the one that asks for most of its inflow counts.
    """
    left, kept = [_below(site, site.runs[outlet])], 0.0
    while left:
        place = left.pop()
        inflow = sum(site.flows[run.name].design_m3_s for run in site.runs.values() if run.finish == place)
        kept = max(kept, site.vessels[place].demand_m3_s / inflow)
        if place not in site.pumped_vessels():
            left += [_below(site, run) for run in _outlets(site, place)]
    return min(1.0, kept)


class Reach(Enum):
    """How far along a run the pump's head against closed valves can reach."""

    NOWHERE = 0
    TO_VALVE = 1
    WHOLE = 2


def reaches(site: SiteLike) -> dict[str, Reach]:
    """How far each run can come under the pump's shut-off head.

    Pressure builds up only where something downstream can be closed: from the pump to the last valve of each
    leg. Past it, and on a leg without a valve, the end is always open (common practice, no source).
    """
    closable = {
        name
        for path in pressure_paths(site)
        for number, name in enumerate(path)
        if any(site.runs[later].valve for later in path[number + 1 :])
    }
    found = {}
    for run in site.runs.values():
        # The capped start of a feed to come later is a dead end under whatever the pump gives.
        if run.name in closable or (run.spare and run.kind is RunKind.PRESSURE):
            found[run.name] = Reach.WHOLE
        else:
            closes = run.valve and run.kind is RunKind.PRESSURE
            found[run.name] = Reach.TO_VALVE if closes else Reach.NOWHERE
    return found


def flows(site: SiteLike) -> dict[str, Flow]:
    """Design and peak flow of every run, by conservation of water.

    Args:
        site: a sound one (no cycle by gravity, each vessel with a way out).

    Returns:
        Flow [m3/s] by run name in the order of `runs`. A pressure run carries the sum of what it feeds. A
        vessel that no pump empties passes its inflow on, split by `outlet_shares`. A bed empties faster than
        it fills: the peak of its drain is `drain_peak` times the design flow; peaks add where drains join, of
        as many beds as may run empty at once (`Junction.at_once`) beside the design flow of the others. An
        overflow carries nothing at design and at its peak the whole inflow of its vessel.
        A pump gives more than is needed where what comes to it, or what its own vessel asks for, is more.
    """
    needs = _needs(site)
    return _spread(site, needs, _pump_factors(site, needs))


def _spread(site: SiteLike, needs: Mapping[str, float], pumps: Mapping[str, float]) -> dict[str, Flow]:
    """Flow of every run where each pump gives so many times what its vessels need."""
    import networkx as nx

    vessels, junctions, runs = site.vessels, site.junctions, site.runs
    design: dict[str, float] = {run.name: 0.0 for run in runs.values() if run.idle}
    peak: dict[str, float] = dict(design)
    drained: dict[str, list[Flow]] = {}
    for path in pressure_paths(site):
        target = runs[path[-1]].finish
        part = needs[target] / len(_inflows(site, target, RunKind.PRESSURE)) * pumps[runs[path[0]].start]
        for name in path:
            design[name] = peak[name] = design.get(name, 0.0) + part
    for place in nx.topological_sort(gravity_graph(site)):
        out = _outlets(site, place)
        came = [run.name for run in runs.values() if run.finish == place]
        inflow = sum(design[name] for name in came)
        peak |= {run.name: inflow for run in runs.values() if run.overflow and run.start == place}
        if place in junctions:
            every = _at_once(junctions[place], [flow for name in came for flow in drained.get(name, ())])
            more = sum(flow.peak_m3_s - flow.design_m3_s for flow in every)
            for run in out:
                design[run.name], peak[run.name], drained[run.name] = inflow, inflow + more, every
            continue
        bed = vessels[place].bed
        for run, share in zip(out, outlet_shares(site, place, needs), strict=True):
            design[run.name] = inflow * share
            peak[run.name] = design[run.name] * (bed.drain_peak if bed is not None else 1.0)
            drained[run.name] = [Flow(design[run.name], peak[run.name])] if bed is not None else []
    return {name: Flow(design[name], peak[name]) for name in runs}


def _at_once(junction: Junction, drained: list[Flow]) -> list[Flow]:
    """The drains of beds that come to a junction, as many at their peak as may run at once: the largest."""
    if junction.at_once is None:
        return drained
    ranked = sorted(drained, key=lambda flow: flow.design_m3_s - flow.peak_m3_s)
    rest = (Flow(flow.design_m3_s, flow.design_m3_s) for flow in ranked[junction.at_once :])
    return [*ranked[: junction.at_once], *rest]


def _pump_factors(site: SiteLike, needs: Mapping[str, float]) -> dict[str, float]:
    """How many times what the vessels that it feeds need each pump must give, 1 or more.

    What comes to a pumped vessel must leave it, and such a vessel may ask for more inflow itself than those
    that it feeds: a fish tank with a pump in it. The least flows that keep both are those of the stationary
    circulation, scaled up. Where two pumps feed one vessel nothing says how much each gives, and where water
    does not come back there is no circulation: there the pumps give what is needed.
    """
    import networkx as nx

    pumped = [run.start for run in site.runs.values() if run.kind is RunKind.PRESSURE]
    pumped = [name for name in dict.fromkeys(pumped) if name in site.vessels]
    factors = dict.fromkeys(pumped, 1.0)
    gives: dict[str, float] = {}
    circuits: nx.DiGraph[str] = nx.DiGraph()
    for name in pumped:
        alone = _spread(site, needs, {**dict.fromkeys(pumped, 0.0), name: 1.0})
        gives[name] = sum(alone[run.name].design_m3_s for run in site.runs.values() if run.start == name)
        for other in pumped:
            came = sum(alone[run.name].design_m3_s for run in site.runs.values() if run.finish == other)
            if came > 0:
                circuits.add_edge(name, other, share=came / gives[name])
    sources: dict[str, set[str]] = {}
    for path in pressure_paths(site):
        sources.setdefault(site.runs[path[-1]].finish, set()).add(site.runs[path[0]].start)
    if any(len(pumps) > 1 for pumps in sources.values()):
        return factors
    for circle in nx.strongly_connected_components(circuits):
        names = [name for name in pumped if name in circle]
        if not circuits.subgraph(names).edges:
            continue
        flow = _stationary(circuits, names, gives)
        scale = max(max(gives[name], site.vessels[name].demand_m3_s) / flow[name] for name in names)
        factors.update({name: scale * flow[name] / gives[name] for name in names})
    return factors


def _stationary(circuits: nx.DiGraph[str], names: list[str], gives: Mapping[str, float]) -> dict[str, float]:
    """Flows [m3/s] of which each pump passes on what comes to it, up to one common factor.

    Args:
        circuits: an edge for each pump whose water comes to another, with the `share` of it that does.
        names: pumps whose water all comes round to each other.
        gives: a flow for a pump that stands alone.
    """
    if len(names) == 1:
        return {name: gives[name] for name in names}
    import numpy as np

    shares = np.array([[circuits.get_edge_data(a, b, {"share": 0.0})["share"] for b in names] for a in names])
    balance = np.vstack([shares.T - np.eye(len(names)), np.ones(len(names))])
    whole = np.append(np.zeros(len(names)), sum(gives[name] for name in names))
    flow = np.linalg.lstsq(balance, whole, rcond=None)[0]
    return {name: float(value) for name, value in zip(names, flow, strict=True)}


def outlet_shares(site: SiteLike, vessel: str, needs: Mapping[str, float] | None = None) -> list[float]:
    """Share of a vessel's outflow that each of its gravity runs takes, in the order of the site.

    Runs with a `share` take it. The others split what is left: evenly, but from a header tank in proportion
    to what the vessels below them need.
    """
    out = _outlets(site, vessel)
    given = [run.share for run in out]
    left = max(0.0, 1.0 - sum(share for share in given if share is not None))
    weights = [0.0 if run.share is not None else 1.0 for run in out]
    if site.vessels[vessel].kind is VesselKind.HEADER:
        known = needs if needs is not None else _needs(site)
        wished = [known[_below(site, run)] if run.share is None else 0.0 for run in out]
        weights = wished if sum(wished) > 0 else weights
    whole = sum(weights)
    return [
        share if share is not None else left * weight / whole
        for share, weight in zip(given, weights, strict=True)
    ]


def _needs(site: SiteLike) -> dict[str, float]:
    """Inflow [m3/s] that every vessel must have for itself and for all that it feeds by gravity.

    What a pump feeds asks nothing of the vessels above it, and a pumped vessel asks nothing at all.
    """
    import networkx as nx

    pressed = {run.finish for run in site.runs.values() if run.kind is RunKind.PRESSURE}
    pumped = {run.start for run in site.runs.values() if run.kind is RunKind.PRESSURE}
    needs: dict[str, float] = {}
    for place in reversed(list(nx.topological_sort(gravity_graph(site)))):
        if place not in site.vessels:
            continue
        if place in pumped:
            needs[place] = 0.0
            continue
        out = _outlets(site, place)
        below = [_below(site, run) for run in out]
        asked = {name: 0.0 if name in pressed else needs[name] for name in below}
        own = site.vessels[place].demand_m3_s
        if site.vessels[place].kind is VesselKind.HEADER and all(run.share is None for run in out):
            own = max(own, sum(asked.values()))
        else:
            taken = dict.fromkeys(below, 0.0)
            for name, share in zip(below, outlet_shares(site, place, asked), strict=True):
                taken[name] += share
            own = max([own, *(asked[name] / share for name, share in taken.items() if share > 0)])
        needs[place] = own
    return needs


def _paths(site: SiteLike, kind: RunKind) -> tuple[tuple[str, ...], ...]:
    by_start: dict[str, list[Run]] = {}
    for run in site.runs.values():
        if run.kind is kind:
            by_start.setdefault(run.start, []).append(run)

    first = [
        run for run in site.runs.values() if run.kind is kind and run.start in site.vessels and not run.idle
    ]
    return tuple(path for run in first for path in _onward(site, by_start, run))


def _onward(site: SiteLike, by_start: Mapping[str, Sequence[Run]], run: Run) -> Iterator[tuple[str, ...]]:
    """Every way on from the start of a run to the next vessel."""
    if run.finish in site.vessels:
        yield (run.name,)
    else:
        for after in by_start.get(run.finish, ()):
            yield from ((run.name, *rest) for rest in _onward(site, by_start, after))


def _outlets(site: SiteLike, place: str) -> list[Run]:
    """Gravity runs that leave a place at design."""
    runs = site.runs.values()
    return [run for run in runs if run.start == place and run.kind is RunKind.GRAVITY and not run.idle]


def _inflows(site: SiteLike, place: str, kind: RunKind) -> list[Run]:
    return [run for run in site.runs.values() if run.finish == place and run.kind is kind]


def _below(site: SiteLike, run: Run) -> str:
    """The vessel that a drain ends in; drains do not divide at a junction."""
    while run.finish in site.junctions:
        run = _outlets(site, run.finish)[0]
    return run.finish
