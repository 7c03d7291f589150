"""Beds on a timer by trying everything: nothing that the rules allow is cheaper than the design.

As in `test_enumeration`; timed valves, standpipes with their holes and guards are read from the price list.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from autoplan.catalog.parts import Catalog
from autoplan.fittings.valve import ValveSet
from autoplan.problem.site import BedDrain, BedTimer, BedWater, Entry, Site
from tests.lines import the
from tests.optimiser.everything import checked

CUT = Callable[..., Catalog]
SITE = Callable[..., Site]

SHELF = """
    drain-50-3m pn16-25-3m drain-sweep-50-90 elbow-25-45 seal-50 drain-coupling-50 coupling-25
    union-female-25-34 tee-25 ball-25 bulkhead-25 pump-1600 pump-2200 pump-3000 pump-4500 timed-25
    timed-thread-34 thread-male-25-34 guard-100 guard-110 guard-110-ready
"""

WIDER = "drain-32-3m drain-40-3m elbow-32-45 drain-bend-40-45 bulkhead-40 bulkhead-32 bush-40-32 bush-40-25"


def on_a_clock(site: Site, inflow_l_h: float, hole_mm: float, on_min: float = 24.0) -> Site:
    """The site's beds flooded once an hour by a timer, their flows left as they are.

    Of 0.5 m2, two fifths water, flooded 250 mm: 50 L, which 7 mm let out in 26 of 36 minutes.
    """
    flooded = {}
    for name, vessel in site.vessels.items():
        if vessel.bed is not None:
            timer = BedTimer(on_min * 60, hole_mm / 1000, 0.040, inflow_l_h / 3.6e6)
            bed = BedWater(0.25, 0.4, 1 / 3600, 1.0, BedDrain.TIMER, None, timer)
            flooded[name] = replace(vessel, area_m2=0.5, bed=bed)
    return replace(site, vessels={**site.vessels, **flooded})


@pytest.fixture(scope="session")
def timed(site_of: SITE) -> SITE:
    """Builds a tank, a sump and timed beds, by the inflow of each bed while its valve is open [L/h]."""

    def build(inflow_l_h: float = 320.0, hole_mm: float = 7.0, *, beds: int = 1, **given: object) -> Site:
        given = {"sump_water_m": (0.15, 0.15), "entry": Entry.OVER_RIM, **given}
        return on_a_clock(site_of(beds, inflow_l_h, **given), inflow_l_h, hole_mm)

    return build


@pytest.mark.parametrize(("inflow", "hole_mm", "widest_m"), [(320.0, 7.0, 0.0213), (500.0, 11.0, 1.0)])
def test_the_cheapest_timed_bed(
    timed: SITE, shelf_of: CUT, inflow: float, hole_mm: float, widest_m: float
) -> None:
    """Two timed valves, three guards, drains for a small hole and for a wide one: nothing is cheaper."""
    catalog = shelf_of(SHELF + WIDER)
    outcome, drawing, refused = checked(timed(inflow, hole_mm), catalog)
    for drawn in (outcome.designs[0].drawing, drawing):
        drain, feed = drawn.runs["bed 1 drain"], drawn.runs["bed 1 feed"]
        assert drain.floor is not None
        assert drain.floor.drain_hole is not None
        assert drain.floor.drain_hole.guard == "guard-100"
        assert 2 * hole_mm / 1000 <= catalog.pipes[drain.pipe].bore_m <= widest_m
        assert catalog.valves[the(feed, ValveSet).valve].style == "timed"
    assert refused > 0


def test_without_guards_on_the_list(timed: SITE, shelf_of: CUT) -> None:
    """Where the list has no guards the hole is drilled all the same, and none is counted."""
    outcome, drawing, _ = checked(timed(), shelf_of(SHELF.partition("guard-100")[0]))
    for drawn in (outcome.designs[0].drawing, drawing):
        floor = drawn.runs["bed 1 drain"].floor
        assert floor is not None
        assert floor.drain_hole is not None
        assert (floor.drain_hole.hole_m, floor.drain_hole.guard) == (0.007, None)


def test_two_timed_beds(timed: SITE, shelf_of: CUT) -> None:
    """Both may be open at once: the main carries both, and each drain has its guard."""
    outcome, _, _ = checked(timed(beds=2, flow_l_h=400.0), shelf_of(SHELF))
    bought = {line.part: line.quantity for line in outcome.designs[0].drawing.purchases}
    assert bought["guard-100"] == 2


def test_what_stays_open_forces_another_pump(timed: SITE, shelf_of: CUT) -> None:
    """The tank, allowed 600 L/h, would get 629 while the valve is shut: another pump."""
    pumps, costs = [], []
    for overload in (1.8, 1.2):
        outcome, drawing, _ = checked(timed(flow_l_h=500.0, overload=overload), shelf_of(SHELF))
        pumps.append(outcome.designs[0].drawing.pumps["sump"].part)
        assert pumps[-1] == drawing.pumps["sump"].part
        costs.append(outcome.designs[0].objective)
    assert pumps == ["pump-1600", "pump-2200"]
    assert costs[0] < costs[1]
