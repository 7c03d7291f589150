"""Printed designs of random beds: their siphons start, out-run and flood by arithmetic of the tests' own."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import assume
from hypothesis import strategies as st

import autoplan
from autoplan.catalog.parts import Catalog
from autoplan.problem.site import BedDrain, BedWater, Site
from tests.bulk import few_and_many
from tests.optimiser.conftest import cut_down, tank_and_sump, with_beds
from tests.rules.siphon_by_hand import G, Siphon

TOLERANCE = 0.02
"""Between two readings of what a handful of fittings lose."""

SHELF = """
    drain-50-3m pn16-25-3m pn16-20-3m drain-32-3m drain-40-3m drain-sweep-50-90 elbow-25-45 elbow-32-45
    drain-bend-40-45 seal-50 drain-coupling-50 coupling-25 union-female-25-34 tee-25 ball-25 pump-1600
    pump-2200 pump-3000 bulkhead-25 bulkhead-32 bulkhead-40 bush-25-20
    bush-32-25 bush-32-20 bush-40-32 bush-40-25 bush-40-20 reducer-50-32 bell-63 bell-75 bell-90 guard-100
    guard-110 guard-125 snorkel-6
"""


@pytest.fixture(scope="module")
def shelf() -> Catalog:
    """A shelf of drains, standpipes, bells and guards."""
    return cut_down(autoplan.load_catalog("metric"), SHELF)


def every_printed_siphon_starts_out_runs_and_floods(
    shelf: Catalog, inflow: int, per_hour: int, floor: int, legs: tuple[int, int]
) -> None:
    """V >= 1.1 x 0.51 sqrt(g D), flared 0.7 of it; 1.5 x the inflow at its lowest; one to four floods."""
    site = bed_site(inflow, per_hour / 10, floor / 100, (legs[0] / 100, legs[1] / 100))
    outcome = autoplan.design(site, shelf, top=1)
    assume(outcome.designs)
    (design,) = outcome.designs
    siphon = Siphon(site, shelf, design.drawing, "bed 1 drain")
    made = siphon.made
    bore = siphon.stood.bore_m
    share = 1.0 if made.flare is None else 0.7
    speed = siphon.inflow / (math.pi / 4 * bore**2)
    assert speed >= share * 1.1 * 0.51 * math.sqrt(G * bore) * (1 - 1e-9)
    lowest = siphon.flow(made.cut_out_m)
    assert lowest >= 1.5 * siphon.inflow * (1 - TOLERANCE)
    assert 1 - TOLERANCE <= siphon.floods_per_hour(made.cut_out_m) <= 4 * (1 + TOLERANCE)
    facts = design.verdict.siphons["bed 1 drain"]
    assert facts.slowest_m3_s == pytest.approx(lowest, rel=0.1)


test_every_printed_siphon, test_every_printed_siphon_at_length = few_and_many(
    every_printed_siphon_starts_out_runs_and_floods,
    4,
    40,
    inflow=st.integers(190, 480),
    per_hour=st.integers(13, 38),
    floor=st.integers(20, 80),
    legs=st.tuples(st.integers(30, 250), st.integers(30, 250)),
)


def bed_site(inflow_l_h: int, per_hour: float, floor_m: float, legs: tuple[float, float]) -> Site:
    """A tank over a sump with one bed on a siphon, its area what that inflow floods so often."""
    site = with_beds(tank_and_sump(flow_l_h=500.0, sump_water_m=(0.1, 0.15)), 1, float(inflow_l_h))
    area = inflow_l_h / 1000 / per_hour / (0.25 * 0.4)
    bed = site.vessels["bed 1"]
    water = BedWater(0.25, 0.4, per_hour / 3600, 2.0, BedDrain.SIPHON)
    bed = replace(
        bed,
        area_m2=area,
        floor_m=floor_m,
        water_min_m=floor_m + 0.24,
        water_max_m=floor_m + 0.25,
        bed=water,
    )
    drain = replace(site.runs["bed 1 drain"], legs_m=legs)
    return replace(site, vessels={**site.vessels, bed.name: bed}, runs={**site.runs, drain.name: drain})
