"""The flow graph: what every run carries, and the ways that water takes."""

from __future__ import annotations

from itertools import count

import pytest
from hypothesis import given
from hypothesis import strategies as st

from autoplan.problem.checks.scene import Scene
from autoplan.problem.flows import (
    flows,
    gravity_graph,
    gravity_paths,
    outlet_shares,
    pressure_paths,
    pumped_from,
)
from autoplan.problem.site import BedWater, Flow, Junction, Run, RunKind, Vessel, VesselKind

G, P = RunKind.GRAVITY, RunKind.PRESSURE
PER_HOUR = 1 / 3.6e6  # L/h to m3/s


def vessel(name: str, kind: VesselKind, demand_l_h: float = 0.0, peak: float | None = None) -> Vessel:
    """A vessel that asks for a flow; a bed's drain peak makes it a bed of 1 m2 and 0.1 m flood."""
    bed = None
    if peak is not None:
        bed = BedWater(0.1, 0.4, demand_l_h * PER_HOUR / 0.04, peak)
    turnover = demand_l_h * PER_HOUR if bed is None else 0.0
    return Vessel(name, kind, 0.0, 1.0, 1.0, 0.006, 0.006, False, 0.5, 0.9, 1.0, turnover, bed)


def run(name: str, start: str, finish: str, kind: RunKind, share: float | None = None) -> Run:
    """A run of one metre."""
    return Run(name, start, finish, kind, (1.0,), (), name, share=share)


def site(vessels: list[Vessel], junctions: list[str], runs: list[Run]) -> Scene:
    """All of them by name."""
    return Scene(
        "garden.toml",
        {item.name: item for item in vessels},
        {name: Junction(name) for name in junctions},
        {item.name: item for item in runs},
    )


def solved(places: Scene) -> dict[str, Flow]:
    """Flows of all runs."""
    return flows(places)


def l_h(found: dict[str, Flow], name: str) -> tuple[float, float]:
    """Design and peak flow of a run in L/h, rounded to a millilitre."""
    return round(found[name].design_m3_s / PER_HOUR, 3), round(found[name].peak_m3_s / PER_HOUR, 3)


def parallel() -> Scene:
    """A tank of 2400 L/h with two drains, beds of 240 and 300 L/h whose drains join."""
    return site(
        [
            vessel("tank", VesselKind.TANK, 2400),
            vessel("settler", VesselKind.SETTLER),
            vessel("small", VesselKind.BED, 240, peak=3),
            vessel("large", VesselKind.BED, 300, peak=2),
            vessel("sump", VesselKind.SUMP),
        ],
        ["split", "tee", "wye"],
        [
            run("dirty", "tank", "settler", G, share=0.7),
            run("clear", "tank", "sump", G),
            run("on", "settler", "sump", G),
            run("main", "sump", "split", P),
            run("feed", "split", "tank", P),
            run("trunk", "split", "tee", P),
            run("small feed", "tee", "small", P),
            run("large feed", "tee", "large", P),
            run("small drain", "small", "wye", G),
            run("large drain", "large", "wye", G),
            run("shared", "wye", "sump", G),
        ],
    )


def test_parallel_circuit_by_hand() -> None:
    """Inner pressure runs carry sums, shares split a tank's outflow, bed drains peak, peaks add."""
    found = solved(parallel())
    assert list(found) == list(parallel().runs)
    assert l_h(found, "main") == (2940, 2940)
    assert l_h(found, "feed") == (2400, 2400)
    assert l_h(found, "trunk") == (540, 540)
    assert l_h(found, "dirty") == (1680, 1680)
    assert l_h(found, "clear") == (720, 720)
    assert l_h(found, "on") == (1680, 1680)
    assert l_h(found, "small drain") == (240, 720)
    assert l_h(found, "large drain") == (300, 600)
    assert l_h(found, "shared") == (540, 1320)


def test_paths_and_the_pump_behind_each_run() -> None:
    """Ways run from vessel to vessel through junctions, in the order of the site."""
    places = parallel()
    assert gravity_paths(places) == (
        ("dirty",),
        ("clear",),
        ("on",),
        ("small drain", "shared"),
        ("large drain", "shared"),
    )
    assert pressure_paths(places) == (
        ("main", "feed"),
        ("main", "trunk", "small feed"),
        ("main", "trunk", "large feed"),
    )
    assert pumped_from(places) == dict.fromkeys(["main", "feed", "trunk", "small feed", "large feed"], "sump")


def test_graph_has_every_run_by_gravity_as_an_edge_by_name() -> None:
    """Two between the same ends included, and places that only pumped water comes to."""
    places = parallel()
    graph = gravity_graph(places)
    ends = {key: (start, finish) for start, finish, key in graph.edges(keys=True)}
    assert ends == {run.name: (run.start, run.finish) for run in places.runs.values() if run.kind is G}
    assert set(graph.nodes) == {*places.vessels, *places.junctions}


def test_header_is_pumped_what_it_feeds_and_splits_it_by_need() -> None:
    """A header that feeds beds of 240 and 300 L/h gets 540 L/h and gives each what it asks for."""
    places = site(
        [
            vessel("header", VesselKind.HEADER),
            vessel("small", VesselKind.BED, 240, peak=3),
            vessel("large", VesselKind.BED, 300, peak=3),
            vessel("sump", VesselKind.SUMP),
        ],
        [],
        [
            run("main", "sump", "header", P),
            run("to small", "header", "small", G),
            run("to large", "header", "large", G),
            run("small drain", "small", "sump", G),
            run("large drain", "large", "sump", G),
        ],
    )
    found = solved(places)
    assert l_h(found, "main") == (540, 540)
    assert l_h(found, "to small") == (240, 240)
    assert l_h(found, "to large") == (300, 300)
    assert outlet_shares(places, "header") == pytest.approx([240 / 540, 300 / 540], rel=1e-12)


def test_series_beds_get_at_least_what_they_ask() -> None:
    """In series the tank passes on its turnover, or more where an even split would starve a bed."""

    def feed(bed_l_h: float) -> float:
        places = site(
            [
                vessel("tank", VesselKind.TANK, 1500),
                vessel("one", VesselKind.BED, 240, peak=3),
                vessel("two", VesselKind.BED, bed_l_h, peak=3),
                vessel("sump", VesselKind.SUMP),
            ],
            [],
            [
                run("main", "sump", "tank", P),
                run("to one", "tank", "one", G),
                run("to two", "tank", "two", G),
                run("drain one", "one", "sump", G),
                run("drain two", "two", "sump", G),
            ],
        )
        return l_h(solved(places), "main")[0]

    assert feed(750) == 1500
    assert feed(760) == 1520


def test_two_inlets_share_a_vessels_demand() -> None:
    """Two pressure runs into one tank carry half of its demand each."""
    places = site(
        [vessel("tank", VesselKind.TANK, 1000), vessel("sump", VesselKind.SUMP)],
        ["tee"],
        [
            run("main", "sump", "tee", P),
            run("left", "tee", "tank", P),
            run("right", "tee", "tank", P),
            run("drain", "tank", "sump", G),
        ],
    )
    found = solved(places)
    assert l_h(found, "left") == l_h(found, "right") == (500, 500)
    assert l_h(found, "main") == (1000, 1000)


@st.composite
def systems(draw: st.DrawFn) -> Scene:
    """Random circuits: a pump's tree to some vessels, each falling through a random chain to the sump."""
    number = count(1)
    vessels = [vessel("sump", VesselKind.SUMP)]
    junctions: list[str] = []
    runs: list[Run] = []

    def chain(top: str) -> None:
        for _ in range(draw(st.integers(0, 3))):
            below = vessel(f"filter {next(number)}", VesselKind.BIOFILTER)
            vessels.append(below)
            parts = draw(st.sampled_from([(None,), (0.3, None), (None, None), (0.25, 0.25, 0.5)]))
            runs.extend(run(f"drain {next(number)}", top, below.name, G, share) for share in parts)
            top = below.name
        runs.append(run(f"drain {next(number)}", top, "sump", G))

    def grow(start: str, depth: int) -> None:
        if depth and draw(st.booleans()):
            tee = f"tee {next(number)}"
            junctions.append(tee)
            runs.append(run(f"pipe {next(number)}", start, tee, P))
            grow(tee, depth - 1)
            grow(tee, depth - 1)
            return
        bed = draw(st.booleans())
        kind = VesselKind.BED if bed else VesselKind.TANK
        fed = vessel(f"fed {next(number)}", kind, draw(st.floats(1, 5000)), 3.0 if bed else None)
        vessels.append(fed)
        runs.append(run(f"pipe {next(number)}", start, fed.name, P))
        chain(fed.name)

    grow("sump", 4)
    return site(vessels, junctions, draw(st.permutations(runs)))


@given(systems())
def test_water_is_conserved(places: Scene) -> None:
    """What comes into any place goes out of it, to 1e-12 of the flow, whatever the order of runs."""
    found = solved(places)
    for place in (*places.vessels, *places.junctions):
        came = sum(found[item.name].design_m3_s for item in places.runs.values() if item.finish == place)
        goes = sum(found[item.name].design_m3_s for item in places.runs.values() if item.start == place)
        assert came == pytest.approx(goes, rel=1e-12)
    assert all(flow.peak_m3_s >= flow.design_m3_s > 0 for flow in found.values())


@given(systems())
def test_every_fed_vessel_gets_what_it_asks(places: Scene) -> None:
    """The pump's tree brings each vessel its demand, and every run lies on a way."""
    found = solved(places)
    for item in places.vessels.values():
        if item.demand_m3_s:
            came = sum(
                found[line.name].design_m3_s for line in places.runs.values() if line.finish == item.name
            )
            assert came == pytest.approx(item.demand_m3_s, rel=1e-12)
    ways = (*gravity_paths(places), *pressure_paths(places))
    assert {name for way in ways for name in way} == set(places.runs)
