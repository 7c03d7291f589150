"""Legs of lines that are known on the plan, their lengths worked out on paper.

The site on paper, heights over the ground [mm]:

    sump    floor -500, depth 600: rim 100; wall 6
    tank    floor  200, depth 800: rim 1000; wall 6
    bed     floor  600, its floor 8 thick; wall 6

A pump's outlet is 150 over the floor and 150 inside the wall, a floor drain 150 inside the wall, a mouth
behind a rim 100 inside it, an upright 60 off a wall; a pipe crosses a rim 30 and half its outside over it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from autoplan.fittings.ends import LineEnd
from autoplan.line.route import Beside, Course, Descent, Leg, Toward, measured, upright
from autoplan.line.row import Line
from autoplan.problem.site import OnPlan
from tests.line.conftest import ELBOW, INTO_SUMP, STOPPED, Yard, over, swept
from tests.lines import line

ALONG, ACROSS, UP, DOWN, OVER = Toward.ALONG, Toward.ACROSS, Toward.UP, Toward.DOWN, Toward.OVER

IN_SUMP = Beside(inside_m=0.156, upright=True, beside_m=0.216, crest_m=0.146)
"""A pump in the sump: 6 of wall and 150; 60 more to an upright; 100 + 30 + 16 over its rim."""

UNDER_BED = Beside(inside_m=0.156, upright=True)
"""A drain in the bed's floor: 6 of wall and 150."""

HOLE = Beside(beside_m=0.150)
"""A hole in a wall, with room for a coupling and a turn before an upright."""

CREST = Beside(beside_m=0.150, crest_m=0.830, over_m=0.110)
"""The same beside a bed, with a crest outside and room over it for two turns."""

BEHIND_RIM = Beside(inside_m=0.106, over=True, beside_m=0.166)
"""A mouth behind a rim: 6 of wall and 100; 60 more from the upright before the wall."""

Told = Sequence[tuple[Toward, float, float]]

BY_HAND: dict[str, tuple[Course, float, float, Told]] = {
    # A main of 32 mm on the ground at 60: up from -350 to 146, over, down to 60, 1.5 m and round a corner
    # 1 m, up to 1046 (rim 1000 + 30 + 16), over. Both uprights stand 60 before their walls.
    "pump, down again behind the rim": (
        Course(OnPlan((1.5, 1.0), (90,), 0.060), IN_SUMP, BEHIND_RIM, lands=True),
        *(-0.350, 1.046),
        [
            *[(UP, 496, 496), (OVER, 216, 0), (DOWN, 86, -86)],
            *[(ALONG, 1440, 0), (ACROSS, 940, 0), (UP, 986, 986), (OVER, 166, 0)],
        ],
    ),
    # The same high enough for both rims: 1396 up, then level; what lies inside the walls comes on top.
    "pump, over both rims at one height": (
        Course(OnPlan((1.5, 1.0), (90,), 1.046), IN_SUMP, BEHIND_RIM),
        *(-0.350, 1.046),
        [(UP, 1396, 1396), (ALONG, 1656, 0), (ACROSS, 1106, 0)],
    ),
    # Just as high as it needs to be: at 146 it goes over the sump's rim and does not come down.
    "pump, on the height of its rim": (
        Course(OnPlan((1.5,), (), 0.146), IN_SUMP, BEHIND_RIM, lands=True),
        *(-0.350, 1.046),
        [(UP, 496, 496), (ALONG, 1596, 0), (UP, 900, 900), (OVER, 166, 0)],
    ),
    # To a tee at 60: nothing lands.
    "pump, to a tee": (
        Course(OnPlan((0.8,), (), 0.060), IN_SUMP, Beside()),
        *(-0.350, 0.060),
        [(UP, 496, 496), (OVER, 216, 0), (DOWN, 86, -86), (ALONG, 740, 0)],
    ),
    # From the tee at 60 up to a hole at 850 in the tank, with 90 for its coupling and the turn.
    "level, then up to a hole": (
        Course(OnPlan((2.0,), (), 0.060), Beside(), Beside(beside_m=0.090), Descent.LEVEL, lands=True),
        *(0.060, 0.850),
        [(ALONG, 1910, 0), (UP, 790, 790), (ALONG, 90, 0)],
    ),
    # From the tank's hole at 800 to one at 50 in the sump: out 150, down 750, the rest of 1.5 m.
    "drop leg": (
        Course(OnPlan((1.5,)), HOLE, Beside(), Descent.DROP),
        *(0.800, 0.050),
        [(ALONG, 150, 0), (DOWN, 750, -750), (ALONG, 1350, 0)],
    ),
    # Over the sump's rim in place of that hole, 50 mm wide: crest at 100 + 30 + 25 = 155, 106 further in.
    "drop leg, over a rim": (
        Course(OnPlan((1.5,)), HOLE, BEHIND_RIM, Descent.DROP),
        *(0.800, 0.155),
        [(ALONG, 150, 0), (DOWN, 645, -645), (ALONG, 1456, 0)],
    ),
    # A siphon pipe from a hole at 640 beside the bed: out 150, up to a crest at 830, over it 110, down to 50.
    "over a crest": (
        Course(OnPlan((1.5, 0.4), (90,)), CREST, Beside(), Descent.CREST),
        *(0.640, 0.050),
        [
            (ALONG, 150, 0),
            (UP, 190, 190),
            (OVER, 110, 0),
            (DOWN, 780, -780),
            (ALONG, 1240, 0),
            (ACROSS, 400, 0),
        ],
    ),
    # Down to the ground at 60, along, up again behind the rim of the sump: crest at 155, 166 from there on.
    "over a crest, along the ground, up to a rim": (
        Course(OnPlan((1.5,), (), 0.060), CREST, BEHIND_RIM, Descent.CREST, lands=True),
        *(0.640, 0.155),
        [
            (ALONG, 150, 0),
            (UP, 190, 190),
            (OVER, 110, 0),
            (DOWN, 770, -770),
            (ALONG, 1180, 0),
            (UP, 95, 95),
            (OVER, 166, 0),
        ],
    ),
    # 100 down on a slant of 45 degrees: 100 times the root of 2 long, 100 of the level distance.
    "offset of two 45s": (
        Course(OnPlan((1.5,)), HOLE, Beside(), Descent.OFFSET),
        *(0.800, 0.700),
        [(ALONG, 150, 0), (DOWN, 141.4214, -100), (ALONG, 1250, 0)],
    ),
    # A pump's line from a tee may rise so.
    "offset of two 45s, upwards": (
        Course(OnPlan((1.0, 0.5), (90,)), HOLE, BEHIND_RIM, Descent.OFFSET),
        *(1.000, 1.046),
        [(ALONG, 150, 0), (UP, 65.0538, 46), (ALONG, 804, 0), (ACROSS, 606, 0)],
    ),
    # 30 down over 1 m and 0.5 m is 2 %: 20 and 10; root of 1000^2 + 20^2 and of 500^2 + 10^2.
    "tilt round a corner": (
        Course(OnPlan((1.0, 0.5), (90,)), HOLE, Beside(), Descent.TILT),
        *(0.800, 0.770),
        [(ALONG, 1000.2, -20), (ACROSS, 500.1, -10)],
    ),
    # Tilted over a rim: 30 down over the 1 m and the 106 behind; root of 1106^2 + 30^2.
    "tilt over a rim": (
        Course(OnPlan((1.0,)), HOLE, BEHIND_RIM, Descent.TILT),
        *(0.185, 0.155),
        [(ALONG, 1106.4068, -30)],
    ),
    # From under the bed (600 - 8) on the ground at 60, up again to the sump's rim.
    "floor, along the ground, up to a rim": (
        Course(OnPlan((1.5,), (), 0.060), UNDER_BED, BEHIND_RIM, lands=True),
        *(0.592, 0.155),
        [(DOWN, 532, -532), (ALONG, 1596, 0), (UP, 95, 95), (OVER, 166, 0)],
    ),
    # From under the bed straight down to the height of a hole at 50.
    "floor, at the height of its end": (
        Course(OnPlan((0.7, 0.4, 0.3), (90, 45)), UNDER_BED, Beside()),
        *(0.592, 0.050),
        [(DOWN, 542, -542), (ALONG, 856, 0), (ACROSS, 400, 0), (ALONG, 300, 0)],
    ),
    # Buried at -300 from a hole at 800, up to a hole at 50 that takes 120 with its turn.
    "drop leg, buried, up to a hole": (
        Course(OnPlan((1.5,), (), -0.300), HOLE, Beside(beside_m=0.120), Descent.DROP, lands=True),
        *(0.800, 0.050),
        [(ALONG, 150, 0), (DOWN, 1100, -1100), (ALONG, 1230, 0), (UP, 350, 350), (ALONG, 120, 0)],
    ),
}


@pytest.mark.parametrize("kind", BY_HAND)
def test_legs_by_hand(kind: str) -> None:
    """Which way each leg goes, how long it is and how far it rises, to a thousandth of a millimetre."""
    course, start, finish, told = BY_HAND[kind]
    found = [(leg.toward, leg.length_m * 1000, leg.rise_m * 1000) for leg in course.legs(start, finish)]
    assert [way for way, _, _ in found] == [way for way, _, _ in told]
    assert [length for _, length, _ in found] == pytest.approx([length for _, length, _ in told], abs=1e-3)
    assert [rise for _, _, rise in found] == pytest.approx([rise for _, _, rise in told], abs=1e-3)


TURNS = {
    "pump, down again behind the rim": (90, 90, 90, 90, 90, 90),
    "pump, over both rims at one height": (90, 90),
    "pump, on the height of its rim": (90, 90, 90),
    "pump, to a tee": (90, 90, 90),
    "level, then up to a hole": (90, 90),
    "drop leg": (90, 90),
    "drop leg, over a rim": (90, 90),
    "over a crest": (90, 90, 90, 90, 90),
    "over a crest, along the ground, up to a rim": (90, 90, 90, 90, 90, 90),
    "offset of two 45s": (45, 45),
    "offset of two 45s, upwards": (45, 45, 90),
    "tilt round a corner": (90,),
    "tilt over a rim": (),
    "floor, along the ground, up to a rim": (90, 90, 90),
    "floor, at the height of its end": (90, 90, 45),
    "drop leg, buried, up to a hole": (90, 90, 90, 90),
}
"""Turns between the legs of each on paper [degrees]; the one down behind a rim is the rim's own."""


@pytest.mark.parametrize("kind", BY_HAND)
def test_turns_by_hand(kind: str) -> None:
    """Between two legs there is a turn; fittings stand in the first leg that goes along the plan."""
    course, start, finish, told = BY_HAND[kind]
    assert course.angles == TURNS[kind]
    assert len(course.angles) == len(told) - 1
    # The legs that go along the plan are as many as it has level distances, one after the other from there.
    plan = course.plan.level_m
    legs = course.legs(start, finish)[course.runs : course.runs + len(plan)]
    assert [leg.toward for leg in legs] == [ALONG, ACROSS, ALONG][: len(plan)]
    assert course.crosses is (kind in ("pump, down again behind the rim", "pump, to a tee"))


@pytest.mark.parametrize(("height_m", "crosses"), [(0.1461, False), (0.146, False), (0.1459, True)])
def test_where_it_comes_down_behind_the_rim(height_m: float, crosses: bool) -> None:
    """A tenth of a millimetre under the crest it comes down again; at it and over it, it does not."""
    course = Course(OnPlan((1.5,), (), height_m), IN_SUMP, Beside())
    assert course.crosses is crosses
    assert [leg.toward for leg in course.legs(-0.350, height_m)] == (
        [UP, OVER, DOWN, ALONG] if crosses else [UP, ALONG]
    )


def test_a_leg_that_has_no_room_is_negative() -> None:
    """An offset of 300 with 150 before it does not fit into 400: it lacks 50."""
    course = Course(OnPlan((0.4,)), HOLE, Beside(), Descent.OFFSET)
    assert course.legs(0.8, 0.5)[-1].length_m == pytest.approx(-0.050)


def test_single_legs() -> None:
    """Up, down, and measured, of which nobody knows the way; a slant of 500 that rises 300 goes on 400."""
    assert upright(0.3) == Leg(0.3, UP, 0.3)
    assert upright(-0.3) == Leg(0.3, DOWN, -0.3)
    assert measured((1.0, 0.7)) == (Leg(1.0), Leg(0.7))
    assert Leg(0.5, ALONG, 0.3).level_m == pytest.approx(0.4)


# --- moving a vessel by 100 mm ----------------------------------------------------------------------------


@dataclass(frozen=True)
class Lying:
    """A course and the heights of its ends."""

    course: Course
    start_m: float
    finish_m: float

    @property
    def legs(self) -> tuple[Leg, ...]:
        """Its legs."""
        return self.course.legs(self.start_m, self.finish_m)

    def raised(self, *, start_m: float = 0.0, finish_m: float = 0.0) -> Lying:
        """The vessel at its start moved up, with its rim; or that at its finish."""
        course, crest = self.course, self.course.start.crest_m
        if crest is not None:
            course = replace(course, start=replace(course.start, crest_m=crest + start_m))
        return Lying(course, self.start_m + start_m, self.finish_m + finish_m)

    def moved(self, place: int, by_m: float) -> Lying:
        """The vessel at its finish moved along one of its level pieces."""
        level = list(self.course.plan.level_m)
        level[place] += by_m
        return replace(
            self, course=replace(self.course, plan=replace(self.course.plan, level_m=tuple(level)))
        )


def told(before: Lying, after: Lying) -> dict[int, float]:
    """By place of a leg how much longer it came to be [mm], those left out that stayed as they were."""
    pairs = zip(before.legs, after.legs, strict=True)
    changes = {place: (new.length_m - old.length_m) * 1000 for place, (old, new) in enumerate(pairs)}
    return {place: change for place, change in changes.items() if abs(change) > 1e-6}


@st.composite
def lying(draw: st.DrawFn, *descents: Descent, pump: bool = False, floor: bool = False) -> Lying:
    """A line with 300 mm of room to move up or down at either end and in every level piece."""

    def metres(low: float, high: float) -> float:
        return draw(st.integers(int(low * 1e4), int(high * 1e4))) / 1e4

    level = tuple(metres(1.2, 4.0) for _ in range(draw(st.integers(1, 3))))
    corners = tuple(draw(st.sampled_from([45, 90])) for _ in level[1:])
    over = draw(st.booleans())
    end = (
        Beside(metres(0.05, 0.2), over=True, beside_m=metres(0.2, 0.4))
        if over
        else Beside(beside_m=metres(0.05, 0.3))
    )
    height = metres(-0.5, 0.2) if pump or floor or draw(st.booleans()) else None
    if not (pump or floor) and descents != (Descent.DROP,):
        height = None
    begin = Beside(beside_m=metres(0.1, 0.3))
    if pump:
        begin = Beside(metres(0.1, 0.2), upright=True, beside_m=metres(0.2, 0.3), crest_m=metres(0.6, 1.0))
    if floor:
        begin = Beside(metres(0.1, 0.2), upright=True)
    descent = draw(st.sampled_from(descents or (Descent.LEVEL,)))
    course = Course(OnPlan(level, corners, height), begin, end, descent, lands=height is not None)
    finish = metres(0.6, 1.2) if height is not None else metres(-0.5, 0.2)
    fall = {Descent.OFFSET: (0.32, 0.5), Descent.TILT: (0.0, 0.05)}.get(descent, (0.32, 1.5))
    start = finish + metres(*fall) if height is None else height + metres(0.32, 1.5)
    return Lying(course, -1.2 if pump else start, finish)


BY_MM = st.sampled_from([-100.0, 100.0])


@given(lying(pump=True), BY_MM)
def test_a_pump_moved_up_or_down(line_: Lying, by: float) -> None:
    """With its sump goes the rim: only the leg down behind the rim changes, by as much."""
    assert told(line_, line_.raised(start_m=by / 1000)) == {2: pytest.approx(by)}


@given(lying(floor=True), BY_MM)
def test_a_bed_moved_up_or_down(line_: Lying, by: float) -> None:
    """Only the leg down from its floor changes."""
    assert told(line_, line_.raised(start_m=by / 1000)) == {0: pytest.approx(by)}


@given(st.one_of(lying(pump=True), lying(floor=True)), BY_MM)
def test_what_is_fed_moved_up_or_down(line_: Lying, by: float) -> None:
    """Of a line that runs at a height of its own only the leg up to its end changes."""
    end = len(line_.legs) - 2
    assert told(line_, line_.raised(finish_m=by / 1000)) == {end: pytest.approx(by)}


@given(lying(Descent.DROP), BY_MM)
def test_a_drop_leg_from_a_vessel_moved_up_or_down(line_: Lying, by: float) -> None:
    """Only the drop leg changes; from below it does so where the line runs at the height of its end."""
    assert told(line_, line_.raised(start_m=by / 1000)) == {1: pytest.approx(by)}
    below = told(line_, line_.raised(finish_m=by / 1000))
    own = line_.course.plan.height_m is not None
    assert below == ({len(line_.legs) - 2: pytest.approx(by)} if own else {1: pytest.approx(-by)})


@given(lying(Descent.OFFSET), BY_MM)
def test_an_offset_from_a_vessel_moved_up_or_down(line_: Lying, by: float) -> None:
    """The slant grows by the root of 2 times as much, and takes as much of the level leg behind it."""
    changes = {1: pytest.approx(by * math.sqrt(2)), 2: pytest.approx(-by)}
    assert told(line_, line_.raised(start_m=by / 1000)) == changes
    assert told(line_, line_.raised(finish_m=-by / 1000)) == changes


@given(
    st.one_of(
        *(lying(Descent.DROP), lying(Descent.OFFSET), lying(Descent.LEVEL), lying(pump=True)),
        lying(floor=True),
    ),
    st.integers(0, 2),
    BY_MM,
)
def test_a_vessel_moved_on_the_plan(line_: Lying, place: int, by: float) -> None:
    """Only the leg along that piece of the plan changes, whatever the heights."""
    place = min(place, len(line_.course.plan.level_m) - 1)
    if line_.course.descent is Descent.LEVEL and not line_.course.start.upright:
        line_ = replace(line_, start_m=line_.finish_m)
    assert told(line_, line_.moved(place, by / 1000)) == {line_.course.runs + place: pytest.approx(by)}


@given(lying(Descent.TILT), st.integers(0, 2), BY_MM)
def test_a_tilted_line_moved(line_: Lying, place: int, by: float) -> None:
    """Every leg lies at the new slope; on the plan only the one that was moved is longer."""
    place = min(place, len(line_.course.plan.level_m) - 1)
    for after in (line_.moved(place, by / 1000), line_.raised(start_m=by / 1000)):
        plan = [*after.course.plan.level_m]
        plan[-1] += after.course.finish.inside_m
        slope = (after.finish_m - after.start_m) / sum(plan)
        assert [leg.level_m for leg in after.legs] == pytest.approx(plan)
        assert [leg.rise_m for leg in after.legs] == pytest.approx([length * slope for length in plan])


@given(
    st.one_of(
        *(lying(Descent.DROP), lying(Descent.OFFSET), lying(Descent.TILT), lying(pump=True)),
        lying(floor=True),
    )
)
def test_legs_lead_from_end_to_end(line_: Lying) -> None:
    """Whatever is drawn: as high at its end as asked, and as far on the plan as from inside to inside."""
    course, legs = line_.course, line_.legs
    assert len(course.angles) == len(legs) - 1
    assert sum(leg.rise_m for leg in legs) == pytest.approx(line_.finish_m - line_.start_m)
    inside = course.start.inside_m + course.finish.inside_m
    assert sum(leg.level_m for leg in legs) == pytest.approx(course.plan.distance_m + inside)
    assert all(leg.length_m > 0 for leg in legs)


# --- as cut -----------------------------------------------------------------------------------------------

SWEEP = swept("sweep-50-90")


def fed(yard: Yard, level_m: Sequence[float], tank_m: float = 0.0) -> tuple[float, ...]:
    """Pieces of a main of 32 mm from a pump in the sump over the rim of the tank, at -50 between them [m]."""
    course = Course(
        OnPlan(tuple(level_m), (90,) * (len(level_m) - 1), -0.050),
        Beside(0.160, upright=True, beside_m=0.220, crest_m=-0.054),
        Beside(0.106, over=True, beside_m=0.166),
        lands=True,
    )
    end = over(ELBOW, 0.65 + tank_m)
    end = replace(end, centre_m=0.8 + tank_m)
    legs = course.legs(-0.750, 0.8 + tank_m)
    drawn = line("feed", "pn10-32-3m", LineEnd("sump"), end, *[ELBOW] * len(course.angles), legs=legs)
    return yard.run("feed", start="sump", valve=False).laid(drawn).needed_m


def drained(yard: Yard, level_m: float, hole_m: float) -> tuple[float, ...]:
    """Pieces of a drain of 50 mm from a hole in the tank down a drop leg to one in the sump [m]."""
    course = Course(OnPlan((level_m,)), Beside(beside_m=0.25), Beside(), Descent.DROP)
    drawn: Line = line("drain", "pn10-50-3m", STOPPED, INTO_SUMP, SWEEP, SWEEP, legs=course.legs(hole_m, 0.1))
    return yard.laid(drawn).needed_m


TIGHT, NIPPLE, SWEPT = 0.6 * 0.0272, 0.031 + 0.020, 1.5 * 0.0426
"""What an elbow takes of a leg, a seal's piece outside its wall, what a sweep takes, by the rows [m]."""


def test_pieces_by_hand(yard: Yard) -> None:
    """Pump at -750, crest at -54, run at -50: no coming down; 1.3 m on the plan; 166 over, 150 down.

    Up 700 to -50; along 1300 + 160 - 60; up 850 to 800; over 166; an elbow takes 0.6 of its bore at each end.
    """
    assert fed(yard, [1.3]) == pytest.approx(
        [0.700 - TIGHT, 1.400 - 2 * TIGHT, 0.850 - 2 * TIGHT, 0.166 - 2 * TIGHT, 0.150 - TIGHT]
    )
    # Out of the wall 250, down 520, along 1150, with a coupling of 3 mm at either wall.
    assert drained(yard, 1.4, 0.62)[1:4] == pytest.approx(
        [0.250 - NIPPLE - 0.003 - SWEPT, 0.520 - 2 * SWEPT, 1.150 - SWEPT - 0.003 - NIPPLE]
    )


@pytest.mark.parametrize("by", [-0.1, 0.1])
def test_moving_the_tank_changes_what_is_cut(yard: Yard, by: float) -> None:
    """100 mm further along, across or up: one piece of the main is 100 mm longer, and of the drain one."""

    def change(before: Sequence[float], after: Sequence[float]) -> dict[int, float]:
        pairs = enumerate(zip(before, after, strict=True))
        return {place: new - old for place, (old, new) in pairs if abs(new - old) > 1e-9}

    main, drain = fed(yard, [1.3, 0.9]), drained(yard, 1.4, 0.62)
    assert change(main, fed(yard, [1.3 + by, 0.9])) == {1: pytest.approx(by)}
    assert change(main, fed(yard, [1.3, 0.9 + by])) == {2: pytest.approx(by)}
    assert change(main, fed(yard, [1.3, 0.9], by)) == {3: pytest.approx(by)}
    assert change(drain, drained(yard, 1.4 + by, 0.62)) == {3: pytest.approx(by)}
    assert change(drain, drained(yard, 1.4, 0.62 + by)) == {2: pytest.approx(by)}
