"""Water's way, asked of a scene whose connections are right: round and round, and enough of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from autoplan.errors import Mistake
from autoplan.problem.checks.scene import ALIKE, Scene
from autoplan.problem.flows import flows, gravity_graph, pressure_paths
from autoplan.problem.site import Flow, RunKind
from autoplan.units import Dimension, write


def water_mistakes(scene: Scene) -> Iterator[Mistake]:
    """Vessels that fill or empty for ever, drains in a circle, runs that no water reaches."""
    circle = _circle(scene)
    if circle:
        problem = f"water cannot fall in a circle: {', '.join((*circle, circle[0]))}"
        yield scene.mistake(
            _first_run(scene, circle), "to", problem, "let a pump lift it somewhere on the way"
        )
    for name in scene.vessels:
        yield from _through_mistakes(scene, name)
    yield from _pump_mistakes(scene)


def _through_mistakes(scene: Scene, name: str) -> Iterator[Mistake]:
    into = [run for run in scene.ending(name) if not run.idle]
    out = [run for run in scene.starting(name) if not run.idle]
    if not into and not out:
        yield scene.mistake(name, "", f"no run leads to or from {name}", "connect it or take it out")
    elif not out:
        yield scene.mistake(
            name, "", f"water runs into {name} but no run leads out of it", "add a run from it"
        )
    elif not into:
        yield scene.mistake(name, "", f"water runs out of {name} but no run leads into it", "add a run to it")
    elif len({run.kind for run in out}) > 1:
        problem = f"both a pump and a drain take water from {name}, so nothing says how much falls"
        yield scene.mistake(name, "", problem, "take it by the pump alone or by gravity alone")
    elif out[0].kind is RunKind.PRESSURE and len(out) > 1:
        problem = f"{len(out)} pressure runs start at {name}, which has one pump"
        yield scene.mistake(name, "", problem, "let one run start there and divide at a junction")


def _pump_mistakes(scene: Scene) -> Iterator[Mistake]:
    """Pressure runs that lead round in a circle of junctions without a pump."""
    reached = {name for path in pressure_paths(scene) for name in path}
    for run in scene.runs.values():
        if run.kind is RunKind.PRESSURE and run.name not in reached and run.start in scene.junctions:
            problem = f"no pump feeds {run.name}"
            yield scene.mistake(run.name, "from", problem, "let a pressure run lead there from a vessel")


def flow_mistakes(scene: Scene, found: Mapping[str, Flow]) -> Iterator[Mistake]:
    """Runs that nothing asks to carry water, and pumped vessels that would run dry or over."""
    dry = [name for name, flow in found.items() if flow.design_m3_s <= 0 and not scene.runs[name].idle]
    for name in dry:
        problem = f"no water runs in {name}, since nothing that it feeds asks for any"
        yield scene.mistake(name, "", problem, "give the vessel it feeds a turnover, or take the run out")
    if dry:
        return
    for name in dict.fromkeys(run.start for run in scene.runs.values() if run.kind is RunKind.PRESSURE):
        if name not in scene.vessels:
            continue
        came = sum(found[run.name].design_m3_s for run in scene.ending(name))
        goes = sum(found[run.name].design_m3_s for run in scene.starting(name))
        if abs(came - goes) > ALIKE * max(came, goes):
            into, out = (write(float(f"{flow:.4g}"), Dimension.FLOW) for flow in (came, goes))
            problem = f"{into} run into {name} but its pump takes {out}"
            yield scene.mistake(name, "", problem, "lead back to it what its pump takes out")


def sound_flows(scene: Scene) -> tuple[dict[str, Flow], list[Mistake]]:
    """Flows of a scene that passed all other checks, and what is wrong with them."""
    found = flows(scene)
    return found, list(flow_mistakes(scene, found))


def _circle(scene: Scene) -> list[str]:
    """Vessels and junctions of one circle of drains, or nothing."""
    import networkx as nx

    try:
        edges = nx.find_cycle(gravity_graph(scene))
    except nx.NetworkXNoCycle:
        return []
    return [edge[0] for edge in edges]


def _first_run(scene: Scene, circle: Sequence[str]) -> str:
    return next(
        run.name
        for run in scene.runs.values()
        if run.start == circle[0] and run.finish == circle[1 % len(circle)] and run.kind is RunKind.GRAVITY
    )
