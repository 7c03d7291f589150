"""Lines on the plan lead from height to height: both sides of each limit of the rule, and its two halves.

The plan on paper: tank (floor 200 mm), bed (floor 550, 8 thick) and sump (floor -550, rim 50) are 3 m and
2.5 m apart, with a wall of 6; a mouth behind a rim is 100 inside it, a floor drain and a pump 150.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest

import autoplan
from autoplan.catalog.parts import Catalog
from autoplan.drawing import Drawing, DrawnLevel
from autoplan.fittings.ends import AtVessel
from autoplan.fittings.lengths import Lengths
from autoplan.line.route import Beside, Course, Descent, Toward
from autoplan.line.row import Line
from autoplan.optimiser.model.draft import Draft
from autoplan.problem.site import Entry, OnPlan, Site
from autoplan.rules.book import read_rules
from autoplan.rules.candidate import Apart, Candidate
from autoplan.rules.heights import WaterOf
from autoplan.rules.survey import Survey
from autoplan.rules.water.route import Route
from tests.lines import ended
from tests.optimiser.conftest import cut_down, tank_and_sump
from tests.rules.conftest import Plan
from tests.words import by_place

DRAIN, BED, FEED, MAIN = "tank drain", "bed drain 1", "tank feed", "main"
ALONG = Toward.ALONG


def leg(plan: Plan, run: str, place: int, **by_m: float) -> Plan:
    """One leg of a run longer, or rising more, than it is drawn [m]."""
    legs = list(plan.drawing.runs[run].legs)
    changes = {field: getattr(legs[place], field) + by for field, by in by_m.items()}
    legs[place] = replace(legs[place], **changes)
    return plan.run(run, legs=tuple(legs))


def upright(plan: Plan, run: str) -> int:
    """Place of the first upright of a run."""
    ways = [each.toward for each in plan.drawing.runs[run].legs]
    return next(place for place, way in enumerate(ways) if way in (Toward.UP, Toward.DOWN))


def level(plan: Plan, run: str) -> int:
    """Place of the last level leg of a run."""
    ways = [each.toward for each in plan.drawing.runs[run].legs]
    return max(place for place, way in enumerate(ways) if way in (Toward.ALONG, Toward.ACROSS))


def off(plan: Plan, run: str) -> tuple[float, bool]:
    """How far the rule finds a run's legs off [mm], and whether it lets that pass."""
    found = plan.findings("route")[run]
    return found.value, found.ok


def test_as_drawn(plan: Plan) -> None:
    """Every run of the good plan leads where it should to a tenth of a millimetre."""
    assert all(off(plan, run)[0] < 0.11 for run in plan.site.runs)


@pytest.mark.parametrize("run", [DRAIN, BED, FEED, MAIN])
@pytest.mark.parametrize(("by_mm", "ok"), [(1.8, True), (-1.8, True), (2.2, False), (-2.2, False)])
def test_height_missed(plan: Plan, run: str, by_mm: float, ok: bool) -> None:
    """An upright that is 2 mm too long or too short still leads to the height of the end, more does not."""
    place = upright(plan, run)
    stretch = by_mm if plan.drawing.runs[run].legs[place].rise_m > 0 else -by_mm
    changed = leg(plan, run, place, rise_m=by_mm / 1000, length_m=stretch / 1000)
    assert off(changed, run)[1] is ok


@pytest.mark.parametrize(("by_mm", "ok"), [(1.8, True), (-1.8, True), (2.2, False), (-2.2, False)])
def test_distance_missed(plan: Plan, by_mm: float, ok: bool) -> None:
    """A level leg to a tee may be 2 mm too long or too short on the plan."""
    assert off(leg(plan, MAIN, level(plan, MAIN), length_m=by_mm / 1000), MAIN)[1] is ok


@pytest.mark.parametrize(("by_m", "ok"), [(-0.0022, False), (-0.0018, True), (0.3, True), (0.45, False)])
def test_distance_over_a_rim(plan: Plan, by_m: float, ok: bool) -> None:
    """Short of the mouth by 2 mm at most; further in by what a wide pipe needs, not past the middle.

    The sump of 600 L and 600 mm has 1 m2: 564 mm to its middle; 100 of them and the wall are asked for.
    """
    radius = plan.site.vessels["sump"].radius_m
    assert radius == pytest.approx(0.5642, abs=1e-4)
    past = by_m if by_m < 0.4 else radius + 0.003
    assert off(leg(plan, BED, level(plan, BED), length_m=past), BED)[1] is ok


@pytest.mark.parametrize("run", [DRAIN, BED])
@pytest.mark.parametrize(("moved_mm", "ok"), [(1.8, True), (-1.8, True), (2.2, False), (-2.2, False)])
def test_an_end_that_was_moved(plan: Plan, run: str, moved_mm: float, ok: bool) -> None:
    """With the end over the rim hung higher or lower the legs as drawn do not lead to it any more."""
    assert off(plan.raised(run, "finish", moved_mm), run)[1] is ok


def test_what_legs_cannot_say(plan: Plan) -> None:
    """A measured run is taken as it is, one to come later is not there; ends without a height are faults."""
    runs = plan.site.runs
    measured = replace(runs[DRAIN], plan=None, legs_m=(1.0,), turns=())
    site = replace(plan.site, runs={**runs, DRAIN: measured})
    assert DRAIN not in replace(plan, site=site).findings("route")
    assert BED not in plan.run(BED, later=True).findings("route")
    nowhere = plan.end(DRAIN, "start", centre_m=None)
    with pytest.raises(ValueError, match=f"{DRAIN}: nobody knows at what height it begins"):
        nowhere.findings("route")
    with pytest.raises(ValueError, match=f"{DRAIN}: nobody knows at what height it ends"):
        plan.end(DRAIN, "finish", centre_m=None).findings("route")


# --- falling and rising -----------------------------------------------------------------------------------


def tilted(plan: Plan, fall_m: float, setting: str = "3.5 %") -> Plan:
    """The tank's drain as one tilt over 3 m to a mouth 106 mm behind the sump's rim, falling by so much."""
    drain = plan.drawing.runs[DRAIN]
    assert isinstance(drain.start, AtVessel)
    assert drain.start.centre_m is not None
    end = ended(drain, "finish", centre_m=drain.start.centre_m - fall_m)
    course = Course(OnPlan((3.0,)), Beside(), Beside(0.106, over=True), Descent.TILT)
    legs = course.legs(drain.start.centre_m, drain.start.centre_m - fall_m)
    return plan.rules({"route": {"tilt": setting}}).line(replace(end, legs=legs))


@pytest.mark.parametrize(
    ("fall_mm", "setting", "ok"),
    [
        # 3106 mm on the plan: 3.5 % of it are 108.71, 1 % 31.06.
        (108.7, "3.5 %", True),
        (108.8, "3.5 %", False),
        (31.05, "1 %", True),
        (31.07, "1 %", False),
        (0.0, "1 %", True),
    ],
)
def test_both_sides_of_the_tilt(plan: Plan, fall_mm: float, setting: str, ok: bool) -> None:
    """A pipe laid askew falls by the tilt that is allowed, and a hair more is too much."""
    found = tilted(plan, fall_mm / 1000, setting).findings("route")
    assert found[DRAIN].ok
    assert found[f"{DRAIN}: tilt"].ok is ok
    # Told as it is set, not as a bare 0.04.
    assert found[f"{DRAIN}: tilt"].value == pytest.approx(100 * fall_mm / 3106)
    assert found[f"{DRAIN}: tilt"].limit == pytest.approx(float(setting.removesuffix(" %")))
    assert found[f"{DRAIN}: tilt"].unit == "%"


@pytest.mark.parametrize(("rise_mm", "ok"), [(1.9, True), (2.1, False)])
def test_no_drain_rises(plan: Plan, rise_mm: float, ok: bool) -> None:
    """A drain that runs at the height of its end may rise by 2 mm in no leg, however it falls elsewhere."""
    place = level(plan, DRAIN)
    legs = list(plan.drawing.runs[DRAIN].legs)
    down = upright(plan, DRAIN)
    legs[place] = replace(legs[place], rise_m=rise_mm / 1000)
    legs[down] = replace(legs[down], rise_m=legs[down].rise_m - rise_mm / 1000)
    found = plan.run(DRAIN, legs=tuple(legs)).findings("route")
    assert found[DRAIN].ok
    assert found[f"{DRAIN}: tilt"].ok is ok


def test_a_pump_lifts_and_a_stated_height_may_rise(plan: Plan) -> None:
    """A pump's line goes up, and so does a drain whose height the builder states, on its way to a rim."""
    assert plan.findings("route")[FEED].ok
    runs = plan.site.runs
    low = replace(runs[DRAIN], plan=replace(runs[DRAIN].plan, height_m=-0.3))
    site = replace(plan.site, runs={**runs, DRAIN: low})
    drain = plan.drawing.runs[DRAIN]
    assert isinstance(drain.start, AtVessel)
    assert drain.rim is not None
    course = Course(
        OnPlan((3.0,), (), -0.3),
        Beside(beside_m=0.2),
        Beside(0.106, over=True, beside_m=0.3),
        Descent.DROP,
        lands=True,
    )
    legs = course.legs(drain.start.centre_m or 0.0, drain.rim.centre_m or 0.0)
    assert any(each.rise_m > 0.3 for each in legs)
    found = replace(plan, site=site).run(DRAIN, legs=legs).findings("route")
    assert found[DRAIN].ok
    assert found[f"{DRAIN}: tilt"].ok


@pytest.mark.parametrize("place", [0, 2])
def test_room_for_what_stands_between_corners(plan: Plan, place: int) -> None:
    """Made as short as the rule finds spare, a leg of the drain just holds its fittings; a hair more, not.

    The level leg at the wall is drawn as short as it may be: a hair is too much at once.
    """
    drain = plan.drawing.runs[DRAIN]
    lengths = Lengths(plan.catalog, plan.catalog.pipes[drain.pipe])
    spare = gap(lengths, drain, place)
    assert spare >= -1e-9
    for shorter, ok in ((spare - 1e-5, True), (spare + 1e-4, False)):
        legs = list(drain.legs)
        legs[place] = replace(legs[place], length_m=legs[place].length_m - shorter)
        # What one leg lacks another has, so that the drain still leads to its end.
        legs[-1] = replace(legs[-1], length_m=legs[-1].length_m + shorter)
        found = plan.run(DRAIN, legs=tuple(legs)).findings("route")
        assert found[DRAIN].ok
        assert found[f"{DRAIN}: room"].ok is ok


# --- the model's half against the check's -----------------------------------------------------------------

SHELF = """
    drain-50-3m drain-sweep-50-90 drain-bend-50-45 seal-50 bulkhead-50 drain-coupling-50 pn10-32-3m
    elbow-32-90 union-female-32-1 pump-3000
"""


def routed(entry: Entry, level_m: float) -> Site:
    """Tank and sump on the plan, the tank's water at 100 to 700 mm."""
    site = tank_and_sump(tank_water_m=(0.10, 0.70), sump_water_m=(0.05, 0.25))
    plans = {"drain": OnPlan((level_m,)), "main": OnPlan((1.2,), (), 0.9)}
    entries = {"drain": entry, "main": Entry.OVER_RIM}
    runs = {
        name: replace(run, plan=plans[name], entry=entries[name], legs_m=(), turns=())
        for name, run in site.runs.items()
    }
    return replace(site, runs=runs)


@pytest.fixture(scope="module")
def shelf() -> Catalog:
    """A drain, a main, a pump."""
    return cut_down(autoplan.load_catalog("metric"), SHELF)


Way = tuple[Site, Candidate, Apart]


def ways(shelf: Catalog, entry: Entry, level_m: float) -> Iterator[Way]:
    """Every way to build the drain, with what it asks of the tank's level over its end or the sump's."""
    site = routed(entry, level_m)
    for _, candidate in Draft(site, shelf, read_rules(site)).candidates("drain"):
        for apart in candidate.apart["drain"]:
            yield site, candidate, apart


SUMP_M = 0.15
"""Where the sump's water stands [m]."""


def built(way: Way, shelf: Catalog, apart_m: float) -> tuple[Any, Any, Line]:
    """What the check says of the way with levels so far apart, and the line as it is then."""
    site, candidate, apart = way
    line, places = candidate.drawn["drain"], candidate.places
    assert isinstance(line.finish, AtVessel)
    assert apart.higher == WaterOf("tank")
    under, end = 0.0, line.finish.centre_m
    if isinstance(apart.lower, WaterOf):
        assert apart.lower == WaterOf("sump")
        under = SUMP_M
        end = SUMP_M + places["drain", "finish"].offset_m
    begin = under + apart_m + places["drain", "start"].offset_m
    legs = candidate.courses["drain"].legs(begin, end or 0.0)
    line = replace(ended(ended(line, "start", centre_m=begin), "finish", centre_m=end), legs=legs)
    levels = {"tank": DrawnLevel("tank", under + apart_m, 0.0), "sump": DrawnLevel("sump", SUMP_M, SUMP_M)}
    site = replace(site, runs={"drain": site.runs["drain"]})
    survey = Survey(site, shelf, Drawing({"drain": line}, {}, {}, levels, (), ()))
    found = by_place(Route({"tilt": 0.035}).check(survey))
    return found["drain"], found["drain: tilt"], line


MARK_MM = 1.0
"""By so much the model keeps away from each bound: a hole is drilled at a whole millimetre."""


@pytest.mark.parametrize(
    ("entry", "level_m"), [(Entry.OVER_RIM, 1.5), (Entry.OVER_RIM, 2.9), (Entry.WALL, 1.5)]
)
def test_the_model_is_as_strict_as_the_check(shelf: Catalog, entry: Entry, level_m: float) -> None:
    """At the highest level that the model allows a tilt the check passes, a millimetre and a hair on not."""
    seen = 0
    for way in ways(shelf, entry, level_m):
        _, candidate, apart = way
        if candidate.courses["drain"].descent is not Descent.TILT:
            continue
        seen += 1
        for over_mm, ok in ((0.0, True), (MARK_MM - 0.01, True), (MARK_MM + 0.01, False)):
            leads, tilt, _ = built(way, shelf, apart.most_m + over_mm / 1000)
            assert leads.ok
            assert tilt.ok is ok
        # And level at the lowest: lower it would rise, which no tilt of a drain does.
        for under_mm, ok in ((0.0, True), (MARK_MM, True), (MARK_MM + 2.1, False)):
            leads, tilt, line = built(way, shelf, apart.least_m - under_mm / 1000)
            assert leads.ok
            assert tilt.ok is ok
            assert any(each.rise_m > 0.002 for each in line.legs) is not ok
    assert seen > 0


def gaps(shelf: Catalog, line: Line) -> float:
    """The least that any leg of the line leaves between its fittings, over two sockets and 8 mm [m].

    Each corner takes what its part does, by the price list; the walls take their couplings.
    """
    lengths = Lengths(shelf, shelf.pipes[line.pipe])
    return min(gap(lengths, line, place) for place in range(len(line.legs)))


def gap(lengths: Lengths, line: Line, place: int) -> float:
    """What a leg leaves between its fittings, over two sockets and 8 mm [m]."""
    takes = [line.start.takes_m(lengths), *(corner.takes_m(lengths) for corner in line.corners)]
    if line.rim is None:
        takes.append(line.finish.takes_m(lengths))
    size = lengths.catalog.systems[lengths.pipe.end.system][lengths.pipe.end.size]
    between = 2 * (size.socket_m or 0.0) + 0.008
    return line.legs[place].length_m - takes[place] - takes[place + 1] - between


@pytest.mark.parametrize("descent", [Descent.OFFSET, Descent.DROP])
@pytest.mark.parametrize("entry", [Entry.OVER_RIM, Entry.WALL])
def test_the_model_leaves_room_for_the_fittings(shelf: Catalog, entry: Entry, descent: Descent) -> None:
    """At the lowest level for two 45s or a drop leg fittings just fit, a millimetre and a hair lower not."""
    seen = 0
    for way in ways(shelf, entry, 1.5):
        _, candidate, apart = way
        if candidate.courses["drain"].descent is not descent:
            continue
        seen += 1
        for under_mm, fits in ((0.0, True), (MARK_MM - 0.01, True), (MARK_MM + 0.01, False)):
            line = built(way, shelf, apart.least_m - under_mm / 1000)[-1]
            assert (gaps(shelf, line) >= 0) is fits
    assert seen > 0
