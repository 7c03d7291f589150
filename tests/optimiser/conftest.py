"""Small sites and cut-down price lists, small enough for every choice to be tried."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

import pytest

from autoplan.catalog.load import load_catalog
from autoplan.catalog.materials import Grade
from autoplan.catalog.parts import Catalog
from autoplan.problem.brief import Overload, Wishes
from autoplan.problem.site import (
    BedWater,
    Draw,
    Entry,
    Flow,
    Guard,
    Junction,
    Run,
    RunKind,
    Site,
    Vessel,
    VesselKind,
)
from tests.lists import GROUPS, rewritten

METRIC = Path(__file__).parents[2] / "catalogs" / "metric"

CORNER_SHELF = """
    drain-50-2m drain-50-3m drain-75-2m drain-75-3m pn10-32-3m pn10-32-metre pn16-25-3m hose-25-metre
    drain-sweep-50-90 drain-bend-50-45 drain-sweep-75-90 elbow-32-90 sweep-32-90 elbow-25-90 elbow-25-45
    seal-50 seal-75 bulkhead-50 bulkhead-32 bulkhead-25
    drain-coupling-50 drain-coupling-75 coupling-32 coupling-25
    thread-female-32-1 thread-female-25-34 union-female-32-1 thread-female-32-34 hose-nut-1-25
    thread-bush-1-34
    union-female-25-34 union-female-32-34
    tee-32 tee-25 tee-32-25 bush-32-25 ball-32 ball-25
    pump-1600 pump-2200 pump-3000
"""
"""A shelf for a tank, a sump and a bed: two drains, two pressure pipes and a hose, three pumps."""


def cut_down(catalog: Catalog, kept: str) -> Catalog:
    """The same price list with only the named parts, all of which it must have, and every sundry.

    It does not say what the parts are sold for: drain parts are among them.
    """
    names = frozenset(kept.split())
    missing = names - {part for group in catalog.groups() for part in group}
    assert not missing, missing
    groups = ("pipes", "turns", "tees", "adaptors", "valves", "penetrations", "pumps", "siphons")
    silent = rewritten(catalog, lambda row: replace(row, grade=Grade.UNKNOWN))
    return rewritten(silent, lambda row: row if row.id in names else None, groups)


def tank_and_sump(
    *,
    flow_l_h: float = 750.0,
    tank_water_m: tuple[float, float] = (0.60, 0.60),
    sump_water_m: tuple[float, float] = (0.10, 0.10),
    main_legs_m: tuple[float, ...] = (1.2, 1.4),
    drain_legs_m: tuple[float, ...] = (0.9, 0.8),
    entry: Entry = Entry.ANY,
    overload: float = 1.5,
    guard: Guard = Guard.AIR_GAP,
) -> Site:
    """A fish tank that drains into a sump, and a main back; levels are given unless a range is."""
    flow = flow_l_h / 3.6e6
    tank = Vessel(
        "tank", VesselKind.TANK, 0.0, 0.75, 0.8, 0.006, 0.006, False, *tank_water_m, 0.5, flow / 0.5
    )
    sump = Vessel("sump", VesselKind.SUMP, -0.3, 0.6, 0.9, 0.006, 0.006, False, *sump_water_m)
    runs = [
        Run("drain", "tank", "sump", RunKind.GRAVITY, drain_legs_m, (90,) * (len(drain_legs_m) - 1), "drain"),
        Run(
            "main",
            "sump",
            "tank",
            RunKind.PRESSURE,
            main_legs_m,
            (90,) * (len(main_legs_m) - 1),
            "main",
            entry=entry,
            siphon_back=guard,
        ),
    ]
    return Site(
        name="corner",
        file="corner.toml",
        catalog="metric",
        vessels={"tank": tank, "sump": sump},
        junctions={},
        runs={run.name: run for run in runs},
        flows={run.name: Flow(flow, flow) for run in runs},
        wishes=Wishes(Overload.FACTOR, overload, 20.0, None, 0.30, 3.0),
    )


def with_beds(site: Site, beds: int, bed_flow_l_h: float = 300.0) -> Site:
    """The same site with up to two beds fed from a tee on the main, each drained into the sump."""
    if not beds:
        return site
    share = bed_flow_l_h / 3.6e6
    tank_flow = site.flows["drain"].design_m3_s
    vessels, runs = dict(site.vessels), {"drain": site.runs["drain"]}
    flows = {"drain": site.flows["drain"]}
    junctions: dict[str, Junction] = {}
    at, left = "sump", tank_flow + beds * share
    old = site.runs["main"]
    for i in range(beds):
        bed, tee = f"bed {i + 1}", f"tee {i + 1}"
        junctions[tee] = Junction(tee)
        vessels[bed] = _bed(bed, share)
        line = f"main {i + 1}"
        legs, turns = (old.legs_m, old.turns) if i == 0 else ((0.7,), ())
        runs[line] = Run(line, at, tee, RunKind.PRESSURE, legs, turns, "main" if i == 0 else "second main")
        runs[bed + " feed"] = Run(
            bed + " feed", tee, bed, RunKind.PRESSURE, (0.6,), (), "bed feed", True, entry=Entry.OVER_RIM
        )
        runs[bed + " drain"] = Run(
            bed + " drain", bed, "sump", RunKind.GRAVITY, (0.5, 0.6), (90,), "bed drain", draw=Draw.STANDPIPE
        )
        flows[line] = Flow(left, left)
        flows[bed + " feed"] = Flow(share, share)
        flows[bed + " drain"] = Flow(share, 2 * share)
        at, left = tee, left - share
    runs["tank feed"] = Run(
        "tank feed",
        at,
        "tank",
        RunKind.PRESSURE,
        (0.8,),
        (),
        "tank feed",
        True,
        entry=old.entry,
        siphon_back=old.siphon_back,
    )
    flows["tank feed"] = Flow(tank_flow, tank_flow)
    return replace(site, vessels=vessels, junctions=junctions, runs=runs, flows=flows)


def _bed(name: str, flow_m3_s: float) -> Vessel:
    """A gravel bed 320 mm deep that holds its water at 250 mm, its floor 500 mm over the sump's rim."""
    area, flood, void = 0.3, 0.25, 0.4
    water = BedWater(flood, void, flow_m3_s / (area * flood * void), 2.0)
    return Vessel(name, VesselKind.BED, 0.8, 0.32, area, 0.006, 0.006, False, 1.05, 1.05, bed=water)


@pytest.fixture(scope="session")
def metric() -> Catalog:
    """The whole metric price list."""
    return load_catalog(METRIC)


@pytest.fixture(scope="session")
def corner_shelf(metric: Catalog) -> Catalog:
    """The metric price list cut down to some forty parts."""
    return cut_down(metric, CORNER_SHELF)


@pytest.fixture(scope="session")
def shelf_of(metric: Catalog) -> Callable[[str], Catalog]:
    """Cuts the metric price list down to the given parts."""
    return lambda kept: cut_down(metric, kept)


@pytest.fixture(scope="session")
def site_of() -> Callable[..., Site]:
    """Builds a site of a tank and a sump (`tank_and_sump`), with `beds` beds."""

    def build(beds: int = 0, bed_flow_l_h: float = 300.0, **given: object) -> Site:
        return with_beds(tank_and_sump(**given), beds, bed_flow_l_h)  # type: ignore[arg-type]

    return build


@pytest.fixture(scope="session")
def changed() -> Callable[[Catalog, Mapping[str, object]], Catalog]:
    """Replaces parts or shops of a price list by id."""

    def change(catalog: Catalog, new: Mapping[str, object]) -> Catalog:
        return rewritten(catalog, lambda row: new.get(row.id, row), (*GROUPS, "shops"))  # type: ignore[arg-type, return-value]

    return change
