"""Each guard against siphoning back in turn is the cheapest, by the program and by trying everything."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

import autoplan
from autoplan.catalog.parts import Catalog, Offer, Way
from autoplan.fittings import valve
from autoplan.fittings.ends import AtVessel
from autoplan.outcome import Outcome, Status
from autoplan.problem.site import Entry, Guard, Site
from tests.optimiser.everything import checked

SITE = Callable[..., Site]
CUT = Callable[[str], Catalog]
CHANGE = Callable[..., Catalog]

SHELF = """
    drain-50-2m drain-50-3m pn10-32-3m pn16-25-3m drain-sweep-50-90 elbow-32-90 elbow-25-90
    seal-50 drain-coupling-50 coupling-32 coupling-25 bulkhead-25 bulkhead-32 thread-female-25-34
    thread-female-32-1 union-female-32-1 union-female-25-34 check-25 check-32 pump-1600 pump-2200 pump-3000
"""


@pytest.fixture(scope="module")
def shelf(shelf_of: CUT) -> Catalog:
    """Two sizes of pipe, three pumps, check valves."""
    return shelf_of(SHELF)


def guard_of(outcome: Outcome) -> tuple[Guard, Way]:
    """How the main of the cheapest design is guarded, and how it comes in."""
    end = outcome.designs[0].drawing.runs["main"].finish
    assert isinstance(end, AtVessel)
    return end.guard, end.way


@pytest.mark.parametrize("guard", list(Guard))
@pytest.mark.parametrize("flow_l_h", [750.0, 1000.0])
def test_as_asked(site_of: SITE, shelf: Catalog, guard: Guard, flow_l_h: float) -> None:
    """Whatever is asked for and however much flows, nothing that holds is cheaper."""
    outcome, _, _ = checked(site_of(flow_l_h=flow_l_h, guard=guard), shelf)
    assert guard in (Guard.ANY, guard_of(outcome)[0])


def test_a_hole_asked_for_where_none_fills(site_of: SITE, shelf: Catalog) -> None:
    """500 L/h in 25 mm pipe is a Froude number of 0.86: no hole can be had, and there is no design."""
    assert autoplan.design(site_of(flow_l_h=500.0, guard=Guard.HOLE), shelf, top=1).status is Status.NONE
    assert autoplan.design(site_of(flow_l_h=500.0, guard=Guard.ANY), shelf, top=1).status is Status.PROVEN


def test_an_air_gap_where_all_cost_the_same(site_of: SITE, shelf: Catalog) -> None:
    """A stick is long enough with or without a piece that hangs down: what cannot fail is taken."""
    costs = {}
    for guard in (Guard.ANY, Guard.AIR_GAP, Guard.HOLE):
        outcome, _, _ = checked(site_of(flow_l_h=850.0, guard=guard), shelf)
        costs[guard] = outcome.designs[0].objective
        assert guard_of(outcome)[0] is (Guard.AIR_GAP if guard is Guard.ANY else guard)
    assert len(set(costs.values())) == 1


LONG = {"flow_l_h": 950.0, "tank_water_m": (0.55, 0.55), "main_legs_m": (3.0, 3.0, 3.0)}
"""So long a main that the smallest pump does not lift its flow over the rim, but does to the water."""


def test_a_hole_saves_the_larger_pump(site_of: SITE, shelf: Catalog) -> None:
    """The down-leg hangs on the crest: the smaller pump does, though a stick more goes into the piece."""
    hole, _, _ = checked(site_of(guard=Guard.ANY, **LONG), shelf)
    gap, _, _ = checked(site_of(guard=Guard.AIR_GAP, **LONG), shelf)
    assert guard_of(hole) == (Guard.HOLE, Way.OVER_RIM)
    assert hole.designs[0].objective < gap.designs[0].objective
    pumps = [outcome.designs[0].drawing.pumps["sump"].part for outcome in (hole, gap)]
    assert pumps == ["pump-1600", "pump-2200"]


@pytest.mark.parametrize("most_m", [0.55, 0.60])
def test_what_hangs_in_the_water_is_told_as_long_as_it_is(
    site_of: SITE, shelf: Catalog, most_m: float
) -> None:
    """A piece behind the rim is laid for the lowest water, 500 mm, and is shorter where that stands higher.

    Three legs of 3 m and that piece, from the crest to the mouth: with the hole 30 mm under the water, half
    its width and 50 mm below it the mouth is less than 90 mm under the water.
    """
    site = site_of(guard=Guard.HOLE, **{**LONG, "tank_water_m": (0.50, most_m)})
    design = autoplan.design(site, shelf, top=1).designs[0]
    main, water = design.drawing.runs["main"], design.drawing.levels["tank"].design_m
    assert main.rim is not None
    assert main.rim.mouth_m is not None
    assert water > 0.50 + 0.010
    assert water - 0.090 < main.rim.mouth_m < water - 0.080
    assert main.length_m == pytest.approx(9.0 + main.rim.drop_m, abs=1e-6)


@pytest.mark.parametrize(
    ("sump_water_m", "guard"), [(0.10, Guard.HOLE), (0.16, Guard.CHECK_VALVE)], ids=["room", "no room"]
)
def test_a_check_valve_where_the_sump_has_no_room(
    monkeypatch: pytest.MonkeyPatch,
    site_of: SITE,
    shelf: Catalog,
    changed: CHANGE,
    sump_water_m: float,
    guard: Guard,
) -> None:
    """A hole 150 mm deep draws 0.153 m x 0.8 m2 = 122 L into 0.9 m2, 136 mm: 180 mm take it, 120 do not.

    The check valve's flap weighs nothing here: its weight takes more head than a way over the rim.
    """
    monkeypatch.setattr(valve, "CHECK_LIFT_M_S", 0.0)
    cheap = changed(shelf, {"check-25": replace(shelf.part("check-25"), offers=(Offer("weir", 400),))})
    site = site_of(guard=Guard.ANY, sump_water_m=(sump_water_m, sump_water_m), **LONG)
    site = replace(site, rule_settings={"siphon-back": {"hole_depth": "150 mm"}})
    outcome, _, _ = checked(site, cheap)
    assert guard_of(outcome) == (guard, Way.OVER_RIM)


def test_a_check_valve_through_the_wall(
    monkeypatch: pytest.MonkeyPatch, site_of: SITE, shelf_of: CUT, changed: CHANGE
) -> None:
    """In pipe too wide to fill behind the rim it saves a dear pump what the way over the water would cost.

    Its flap weighs nothing here, as above. With legs of 13.0 m an air gap would do by 0.2 mm of head, if its
    hole could be drilled at 604.4 mm; at 605 mm it does not.
    """
    wide = shelf_of(
        " ".join(part for part in SHELF.split() if "25" not in part and part != "pump-3000")
        + " union-female-32-34"
    )
    monkeypatch.setattr(valve, "CHECK_LIFT_M_S", 0.0)
    wide = changed(wide, {"pump-2200": replace(wide.part("pump-2200"), offers=(Offer("weir", 12_000),))})
    given = {"flow_l_h": 950.0, "tank_water_m": (0.55, 0.55), "sump_water_m": (-0.25, -0.25)}
    guards = {}
    for leg in (12.0, 13.0):
        site = site_of(guard=Guard.ANY, main_legs_m=(leg, leg), entry=Entry.ANY, **given)
        outcome, _, _ = checked(site, wide)
        guards[leg] = guard_of(outcome)
    assert guards == {12.0: (Guard.AIR_GAP, Way.BULKHEAD), 13.0: (Guard.CHECK_VALVE, Way.BULKHEAD)}
