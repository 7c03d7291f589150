"""Lines on the plan by trying everything: over the rim or through the wall, tilted, offset, by a drop leg.

Every way is drawn by `tests/optimiser/routes.py` from heights and the plan alone, priced with all else as in
`tests/optimiser/test_enumeration.py`, and judged by the rules' checks; no choice is cheaper than the design.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

import pytest
from hypothesis import strategies as st

import autoplan
from autoplan.catalog.parts import Catalog
from autoplan.fittings.rim import OverRim
from autoplan.line.route import Toward
from autoplan.line.row import Line
from autoplan.outcome import Status
from autoplan.problem.site import Entry, Guard, Junction, OnPlan, Site
from autoplan.problem.toml.load import problem_from
from tests.bulk import few_and_many
from tests.optimiser.everything import Everything
from tests.optimiser.test_enumeration import checked
from tests.optimiser.ways import NothingHoldsError
from tests.short_list import from_shorter_list

CUT, SITE = Callable[[str], Catalog], Callable[..., Site]

SHELF = """
    drain-50-2m drain-50-3m drain-sweep-50-90 drain-bend-50-45 seal-50 bulkhead-50 drain-coupling-50
    pn10-32-3m pn10-32-metre elbow-32-90 union-female-32-1 pump-1600 pump-2200 pump-3000
"""

HIGH = OnPlan((1.2,), (), 0.900)
"""A main of the pump in the sump that is high enough for both rims."""


def planned(site: Site, drain: OnPlan, main: OnPlan = HIGH, entry: Entry = Entry.ANY) -> Site:
    """The site of tank and sump with its drain and main on the plan, the drain's end as asked."""
    runs = {
        "drain": replace(site.runs["drain"], plan=drain, legs_m=(), turns=(), entry=entry),
        "main": replace(site.runs["main"], plan=main, legs_m=(), turns=(), entry=Entry.OVER_RIM),
    }
    return replace(site, runs={**site.runs, **runs})


def shape(drawn: Line) -> str:
    """How a drain from a hole comes down."""
    ways = [leg.toward for leg in drawn.legs]
    if Toward.DOWN not in ways:
        return "tilt"
    return "offset" if any(turn.angle == 45 for turn in drawn.corners[:2]) else "drop"


def by_both(site: Site, shelf: Catalog) -> tuple[Line, Line]:
    """The drain as designed and as found by trying everything, alike in cost, way and legs."""
    outcome, drawing, _ = checked(site, shelf)
    assert outcome.solver.rejected == 0
    designed, found = outcome.designs[0].drawing.runs["drain"], drawing.runs["drain"]
    assert shape(designed) == shape(found)
    assert type(designed.finish) is type(found.finish)
    assert [leg.length_m for leg in designed.legs] == pytest.approx(
        [leg.length_m for leg in found.legs], abs=2e-4
    )
    return designed, found


def lifted(site: Site, by_m: float) -> Site:
    """The site with its tank stood so much higher."""
    tank = site.vessels["tank"]
    heights = ("floor_m", "water_min_m", "water_max_m")
    moved = replace(tank, **{height: getattr(tank, height) + by_m for height in heights})
    return replace(site, vessels={**site.vessels, "tank": moved})


@pytest.mark.parametrize(
    ("water_m", "level_m", "entry", "how"),
    [
        # Over the sump's rim at 300 two 45s reach down by 120 to 30 over it: their axis crosses at 450.
        (0.90, 1.5, Entry.OVER_RIM, "drop"),
        (0.65, 1.5, Entry.OVER_RIM, "offset"),
        pytest.param(0.50, 2.5, Entry.OVER_RIM, "tilt", marks=pytest.mark.long),
        # Through its wall under water at 100: at 75.
        pytest.param(0.40, 1.5, Entry.WALL, "drop", marks=pytest.mark.long),
        (0.30, 1.5, Entry.WALL, "offset"),
        (0.15, 2.9, Entry.WALL, "tilt"),
        # High through its wall, 30 and more of fall: at 248.
        (0.65, 1.5, Entry.WALL, "drop"),
        pytest.param(0.90, 1.5, Entry.ANY, "drop", marks=pytest.mark.long),
        pytest.param(0.65, 1.5, Entry.ANY, "offset", marks=pytest.mark.long),
        (0.50, 2.5, Entry.ANY, "tilt"),
    ],
    ids=str,
)
def test_down_from_the_tank(
    site_of: SITE, shelf_of: CUT, water_m: float, level_m: float, entry: Entry, how: str
) -> None:
    """As tank and end come nearer a drop leg gives way to two 45s and these to a tilt, to the cent."""
    lift = max(0.0, water_m - 0.65)
    site = lifted(site_of(tank_water_m=(water_m - lift, water_m - lift)), lift)
    drain, _ = by_both(planned(site, OnPlan((level_m,)), entry=entry), shelf_of(SHELF))
    assert shape(drain) == how
    assert isinstance(drain.finish, OverRim) is (entry is not Entry.WALL)


@pytest.mark.parametrize("water_m", [0.505, 0.515, 0.53])
def test_between_a_tilt_and_two_45s(site_of: SITE, shelf_of: CUT, water_m: float) -> None:
    """Over 1 m a tilt makes up 38 mm; two 45s need 72 for their sockets: what lies between has no way."""
    site = planned(site_of(tank_water_m=(water_m, water_m)), OnPlan((1.0,)), entry=Entry.OVER_RIM)
    shelf = shelf_of(SHELF)
    everything = Everything(site, shelf)
    found = [drawing for _, drawing in everything.by_cost() if everything.holds(drawing)]
    assert (autoplan.design(site, shelf, top=1).status is Status.PROVEN) is bool(found)


@pytest.mark.parametrize(
    ("over_mm", "holds"), [(-70, False), (-30, False), (-5, False), (1, True), (40, True)]
)
def test_a_height_just_over_the_rim(site_of: SITE, shelf_of: CUT, over_mm: float, holds: bool) -> None:
    """Over a rim at 300 a sweep's mouth is at 330; a line that runs lower than its corner has no way over.

    Nor is there room to go up those few millimetres, with two turns and a stub between them. None of that is
    tried first and then refused.
    """
    shelf = shelf_of(SHELF)
    sweep, size = shelf.turns["drain-sweep-50-90"], shelf.systems["metric"]["50"]
    corner_m = 0.330 + sweep.radius_over_bore * sweep.bore_m + (size.socket_m or 0.0)
    site = lifted(site_of(tank_water_m=(0.60, 0.60)), 0.4)
    site = planned(site, OnPlan((1.5,), (), corner_m + over_mm / 1000), entry=Entry.OVER_RIM)
    if holds:
        by_both(site, shelf)
        return
    outcome = autoplan.design(site, shelf, top=1)
    assert outcome.status is Status.NONE
    assert outcome.solver.rejected == 0
    with pytest.raises(NothingHoldsError):
        Everything(site, shelf).cheapest()


@pytest.mark.parametrize(
    ("drain", "main"),
    [
        # Round a corner, over the rim or not.
        (OnPlan((0.9, 0.7), (90,)), HIGH),
        (OnPlan((0.9, 0.7), (45,)), OnPlan((0.7, 0.6), (90,), 0.900)),
        # Buried: down, along under the ground, up again to the rim or a hole.
        (OnPlan((1.6,), (), -0.100), HIGH),
        # The main on the ground: over the sump's rim, down behind it, up to the tank's.
        (OnPlan((1.5,)), OnPlan((1.4,), (), 0.050)),
        (OnPlan((1.5,)), OnPlan((0.8, 0.9), (90,), 0.050)),
        # A main just as high as the sump's rim asks for: 300 + 30 + 16.
        (OnPlan((1.5,)), OnPlan((1.4,), (), 0.346)),
        # So long that two sticks are joined.
        (OnPlan((3.6,)), OnPlan((4.4,), (), 0.900)),
    ],
    ids=str,
)
def test_along_the_plan(site_of: SITE, shelf_of: CUT, drain: OnPlan, main: OnPlan) -> None:
    """Corners, uprights at either end, heights that are stated: to the cent, with the same legs."""
    shelf = shelf_of(SHELF + " coupling-32 elbow-32-45")
    by_both(planned(site_of(tank_water_m=(0.62, 0.62)), drain, main), shelf)


BED = """
    drain-50-2m drain-50-3m drain-sweep-50-90 drain-bend-50-45 seal-50 drain-coupling-50 pn10-32-3m
    pn10-32-metre pn16-25-3m elbow-32-90 elbow-25-90 elbow-25-45 bulkhead-25 union-female-32-1 tee-32
    tee-32-25 bush-32-25 ball-32 ball-25 pump-1600 pump-2200 pump-3000
"""


@pytest.mark.parametrize(
    ("bed_drain", "feed_m"),
    [
        pytest.param(OnPlan((1.0,)), 0.500, marks=pytest.mark.long),
        (OnPlan((1.3,), (), 0.250), 0.500),
        # Up, and down, from the tee by an upright; by two 45s; by a tilt of 10 over 600.
        *((OnPlan((1.0,)), feed_m) for feed_m in (0.680, 0.430)),
        *(pytest.param(OnPlan((1.0,)), feed_m, marks=pytest.mark.long) for feed_m in (0.300, 0.570, 0.510)),
    ],
    ids=str,
)
def test_a_bed_on_the_plan(site_of: SITE, shelf_of: CUT, bed_drain: OnPlan, feed_m: float) -> None:
    """A tee at 500 between sump, bed and tank: feeds go up from it, the bed drains through its floor.

    The bed's feed runs at the tee's height or leaves it for another.
    """
    site = site_of(beds=1, bed_flow_l_h=300.0, entry=Entry.OVER_RIM)
    plans = {
        "drain": OnPlan((1.5,)),
        "main 1": OnPlan((0.8,), (), 0.500),
        "tank feed": OnPlan((0.9,), (), 0.500),
        "bed 1 feed": OnPlan((0.6,), (), feed_m),
        "bed 1 drain": bed_drain,
    }
    runs = {
        name: replace(run, plan=plans[name], legs_m=(), turns=(), entry=Entry.OVER_RIM)
        if run.finish in site.vessels
        else replace(run, plan=plans[name], legs_m=(), turns=())
        for name, run in site.runs.items()
    }
    site = replace(
        site,
        runs=runs,
        junctions={"tee 1": Junction("tee 1", height_m=0.500)},
        # One pump is all that does it, and it is far too strong.
        rule_settings={"valve-head": {"most": "80 %"}},
    )
    outcome, drawing, _ = checked(site, shelf_of(BED))
    assert outcome.solver.rejected == 0
    for name, drawn in outcome.designs[0].drawing.runs.items():
        ways = [leg.toward for leg in drawn.legs]
        assert ways == [leg.toward for leg in drawing.runs[name].legs]


@pytest.mark.parametrize("guard", [Guard.HOLE, Guard.ANY])
def test_a_guarded_main_on_the_plan(site_of: SITE, shelf_of: CUT, guard: Guard) -> None:
    """An inlet that hangs under water, over the rim at the height that the main runs at or at its own."""
    for height in (0.900, 0.700):
        site = site_of(flow_l_h=950.0, tank_water_m=(0.60, 0.60), guard=guard)
        site = planned(site, OnPlan((1.5,)), OnPlan((1.2,), (), height))
        by_both(site, shelf_of(SHELF + "pn16-25-3m pn16-25-metre elbow-25-90 union-female-25-34 check-25"))


# --- moving a vessel --------------------------------------------------------------------------------------


def only(site_of: SITE, shelf_of: CUT, level_m: float, lift_m: float) -> Mapping[str, Line]:
    """The one way that a short shelf leaves, the tank so far from the sump and stood so much higher."""
    site = lifted(site_of(tank_water_m=(0.60, 0.60)), 0.2 + lift_m)
    site = planned(site, OnPlan((level_m,)), OnPlan((level_m,), (), 0.050), Entry.OVER_RIM)
    shelf = shelf_of(
        "drain-50-3m drain-sweep-50-90 seal-50 drain-coupling-50 pn10-32-metre elbow-32-90 union-female-32-1"
        " pump-3000"
    )
    outcome = autoplan.design(site, shelf, top=1)
    assert outcome.status is Status.PROVEN
    return outcome.designs[0].drawing.runs


def changes_just_these_lengths(site_of: SITE, shelf_of: CUT, level: int, lift: int, by: int) -> None:
    """Whole designs: 100 mm on the plan or up change one leg of each line by as much, and one piece of it."""
    before = only(site_of, shelf_of, level / 1000, lift / 1000)
    away = only(site_of, shelf_of, (level + by) / 1000, lift / 1000)
    up = only(site_of, shelf_of, level / 1000, (lift + by) / 1000)
    # Of the drain: out, drop, along to the mouth. Of the main: up, over, down, along, up, over, and its drop.
    for name, along, lifted_leg in (("drain", 2, 1), ("main", 3, 4)):
        for after, place in ((away, along), (up, lifted_leg)):
            legs = zip(before[name].legs, after[name].legs, strict=True)
            changes = [new.length_m - old.length_m for old, new in legs]
            assert changes == pytest.approx([by / 1000 * (number == place) for number in range(len(changes))])
            cuts = sum(after[name].pieces_m) - sum(before[name].pieces_m)
            assert cuts == pytest.approx(by / 1000, abs=2e-4)


test_moving_the_tank_changes_just_these_lengths, test_moving_it_often = few_and_many(
    changes_just_these_lengths,
    2,
    60,
    level=st.integers(1500, 2400),
    lift=st.integers(0, 300),
    by=st.sampled_from([-100, 100]),
)


LONG_WAY_DOWN = """name = "A tilt as steep as may be"
[tank]
volume = "1500 L"
depth = "750 mm"
floor = "500 mm"
[settler]
volume = "120 L"
depth = "700 mm"
floor = "200 mm"
[biofilter]
volume = "120 L"
depth = "700 mm"
floor = "50 mm"
[sump]
volume = "800 L"
depth = "800 mm"
floor = "-300 mm"
[distances]
tank_to_settler = "1.22 m"
settler_to_biofilter = "3.85 m"
biofilter_to_sump = "3.11 m"
"""
"""The settler's drain falls by 135 mm to the biofilter, whose own outlet says where its water stands."""


def test_a_hole_beside_water_that_gives_way_itself() -> None:
    """An inlet gives way to a whole millimetre, and so does its water: yet no tilt is too steep."""
    outcome = autoplan.design(
        problem_from(from_shorter_list(LONG_WAY_DOWN), "down.toml"), autoplan.load_catalog("metric"), top=1
    )
    assert outcome.status is Status.PROVEN
    assert outcome.solver.rejected == 0
    drain = outcome.designs[0].drawing.runs["settler drain"]
    assert all(leg.rise_m >= -0.035 * leg.level_m - 1e-9 for leg in drain.legs if leg.level_m > 0)
