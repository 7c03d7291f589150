"""Where pipe lies lower than everything round it, so that water stays in it when all is off."""

from __future__ import annotations

from collections.abc import Mapping

from autoplan.problem.site import Run, RunKind, Site

APART_M = 0.005
"""Heights no further apart are one height, for pipe laid by hand [m]; common practice, no source."""


def low_pools(site: Site) -> tuple[tuple[str, ...], ...]:
    """Runs that hold water when all is off, in groups in which it is the same water.

    Only runs whose height is said (`OnPlan.height_m`) are looked at: what is not said runs on at the height
    of its end. A run holds water where both of its ends are higher, or join another that does at one height.

    Returns:
        Names of runs, in the order of the file.
    """
    import networkx as nx

    low = {
        name: run.plan.height_m
        for name, run in site.runs.items()
        if run.plan is not None and run.plan.height_m is not None and not run.spare and not run.idle
    }
    low = {name: height for name, height in low.items() if _ends_rise(site, site.runs[name], height)}
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from(low)
    for junction in site.junctions:
        level = [name for name in _at(site, junction) if name in low and _meets(site, junction, low[name])]
        nx.add_path(graph, level)
    pools = nx.connected_components(graph)
    held = [pool for pool in pools if not any(_runs_off(site, low, name) for name in pool)]
    return tuple(tuple(name for name in site.runs if name in pool) for pool in held)


def _ends_rise(site: Site, run: Run, height_m: float) -> bool:
    """Whether neither end of a run is lower than it lies."""
    ends = (_end_height(site, run, name) for name in (run.start, run.finish))
    return all(end is not None and end >= height_m - APART_M for end in ends)


def _end_height(site: Site, run: Run, name: str) -> float | None:
    """Height of an end above the datum [m], of one at a vessel the least that it can be."""
    vessel = site.vessels.get(name)
    if vessel is None:
        return site.junctions[name].at_m
    # A pump's line leaves over the rim.
    return vessel.rim_m if name == run.start and run.kind is RunKind.PRESSURE else vessel.floor_m


def _at(site: Site, junction: str) -> list[str]:
    return [name for name, run in site.runs.items() if junction in (run.start, run.finish)]


def _meets(site: Site, junction: str, height_m: float) -> bool:
    """Whether a run joins a junction at the height at which it lies."""
    at = site.junctions[junction].at_m
    return at is not None and abs(at - height_m) <= APART_M


def _runs_off(site: Site, low: Mapping[str, float], name: str) -> bool:
    """Whether a run's water falls away at a junction, into another that lies lower."""
    return any(
        _meets(site, junction, low[name]) and _lower(site, junction, other)
        for junction in (site.runs[name].start, site.runs[name].finish)
        if junction in site.junctions
        for other in _at(site, junction)
    )


def _lower(site: Site, junction: str, name: str) -> bool:
    """Whether a run at a junction lies lower than that, or may end lower."""
    run, at = site.runs[name], site.junctions[junction].at_m
    assert at is not None
    lies = None if run.plan is None else run.plan.height_m
    far = _end_height(site, run, run.finish if run.start == junction else run.start)
    return any(height is not None and height < at - APART_M for height in (lies, far))
