"""Beds with a weep hole: the cheapest is the cheapest of every way, tried one by one."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import pytest

from autoplan.catalog.parts import Catalog
from autoplan.fittings.valve import ValveSet
from autoplan.problem.site import BedDrain, BedWater, Entry, Site
from autoplan.problem.weep import WeepHole
from tests.lines import the
from tests.optimiser.everything import checked

CUT = Callable[[str], Catalog]
SITE = Callable[..., Site]

SHELF = """
    drain-50-3m pn16-25-3m drain-sweep-50-90 elbow-25-45 seal-50 drain-coupling-50 coupling-25
    union-female-25-34 tee-25 ball-25 bulkhead-25 pump-1600 pump-2200 pump-3000 pump-4500 timed-25
    timed-thread-34 thread-male-25-34 guard-100 guard-110 guard-110-ready
    drain-32-3m drain-40-3m elbow-32-45 drain-bend-40-45 bulkhead-40 bulkhead-32 bush-40-32 bush-40-25
"""


@pytest.mark.parametrize(("hole_mm", "widest_m"), [(7.0, 0.0213), (11.0, 1.0)])
def test_the_cheapest_bed_with_a_weep_hole(
    site_of: SITE, shelf_of: CUT, hole_mm: float, widest_m: float
) -> None:
    """A drain for a small hole and a wider one for a wide hole, its guard, a valve by hand: none is cheaper.

    Of 0.5 m2, two fifths water, flooded 250 mm: 50 L; what the hole leaks of it full is what comes besides.
    """
    leak = 0.6 * math.pi / 4 * (hole_mm / 1000) ** 2 * math.sqrt(2 * 9.80665 * 0.21)
    inflow_l_h = 110.0 + leak * 3.6e6
    site = site_of(1, inflow_l_h, sump_water_m=(0.15, 0.15), entry=Entry.OVER_RIM)
    water = BedWater(0.25, 0.4, 2.2 / 3600, 1.0, BedDrain.WEEP, weep=WeepHole(hole_mm / 1000, 0.040, leak))
    beds = {
        name: replace(vessel, area_m2=0.5, bed=water)
        for name, vessel in site.vessels.items()
        if vessel.bed is not None
    }
    catalog = shelf_of(SHELF)
    outcome, drawing, refused = checked(replace(site, vessels={**site.vessels, **beds}), catalog)
    for drawn in (outcome.designs[0].drawing, drawing):
        drain, feed = drawn.runs["bed 1 drain"], drawn.runs["bed 1 feed"]
        assert drain.floor is not None
        assert drain.floor.drain_hole is not None
        assert drain.floor.drain_hole.guard == "guard-100"
        assert 2 * hole_mm / 1000 <= catalog.pipes[drain.pipe].bore_m <= widest_m
        assert catalog.valves[the(feed, ValveSet).valve].style == "ball"
    assert refused > 0
