"""Places on the plan: ways that follow from them, and what they are the same as."""

from __future__ import annotations

import cmath
import math
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from autoplan.errors import InputError
from autoplan.problem.detours import detours
from autoplan.problem.plan import ASKEW_DEG, BEND_DEG, Outline, gap_m, least_apart_m, overlap, way_between
from autoplan.problem.site import Site
from autoplan.problem.toml.load import problem_from
from autoplan.problem.toml.write import expand_to_toml
from autoplan.report.units import SI

PLACED = """
[tank]
volume = "1000 L"
depth = "1 m"
area = "2 m x 500 mm"
wall = "10 mm"
shape = "square"
side = "2 m"
at = ["0 m", "0 m"]
[settler]
volume = "200 L"
area = "3.1415926535898 m2"
depth = "1 m"
floor = "200 mm"
wall = "10 mm"
at = ["0 m", "3 m"]
[beds]
count = 3
area = "1 m2"
wall = "10 mm"
at = ["3 m", "0 m"]
step = ["1.5 m", "0 m"]
[sump]
volume = "800 L"
area = "640000 mm2"
wall = "10 mm"
at = ["3 m", "3 m"]
"""
"""With its walls the tank is 2.02 m long and 520 mm wide; the settler is round with 1.01 m to its outside;
the beds' walls are 510 mm from their middles and the sump's 410 mm."""

SAID = """
[distances]
tank_to_settler = "1.73 m"
settler_to_sump = "1.58 m"
bed_to_sump = "2.08 m"
sump_to_split = "600 mm"
sump_to_tank = ["2.59 m", "1.99 m"]
sump_to_first_bed = "1.58 m"
between_beds = "1.5 m"
[corners]
tank_to_settler = 0
settler_to_sump = 0
"""
"""What of it can be said of all beds at once by distances, worked out by hand.

Tank to settler along y: 3 - 0.26 - 1.01 m. Settler to sump along x: 3 - 1.01 - 0.41 m. Bed 1 to sump along
y: 3 - 0.51 - 0.41 m. From the sump 3 - 0.41 m along y and 3 - 1.01 m along x to the tank's end, which is
shorter than first along x: 3 - 0.41 m and 3 - 0.26 m. The split is 600 mm before the sump, at y = 1.99 m;
the first bed's feed leaves 510 + 500 mm before the middle of the bed, 980 mm further.
"""


def load(text: str) -> Site:
    """The site of a problem text."""
    return problem_from(text, "yard.toml").outline


def plan(site: Site, run: str) -> tuple[list[float], tuple[int, ...]]:
    """Level pieces [mm] and corners of a run."""
    found = site.runs[run].plan
    assert found is not None
    return [round(piece * 1000, 3) for piece in found.level_m], found.corners


def without_places(text: str) -> str:
    """A problem text that does not say where anything is."""
    keys = ("at =", "step =", "side =")
    return "\n".join(line for line in text.splitlines() if not line.startswith(keys))


def test_ways_follow_from_places() -> None:
    """As worked out by hand beside the text; every other bed is 1.5 m further along x."""
    site = load(PLACED)
    assert plan(site, "tank drain") == ([1730], ())
    assert plan(site, "settler drain") == ([1580], ())
    assert plan(site, "main") == ([600], ())
    assert plan(site, "tank feed") == ([1990, 1990], (90,))
    assert plan(site, "trunk 1") == ([980], ())
    assert plan(site, "trunk 2") == ([1500], ())
    assert plan(site, "bed feed 1") == plan(site, "bed feed 2") == ([500], ())
    assert plan(site, "bed feed 3") == ([1500, 500], (90,))
    assert plan(site, "bed drain 1") == ([2080], ())
    # Along as the bed faces, and then across to the sump.
    assert plan(site, "bed drain 2") == ([990, 2590], (90,))
    assert plan(site, "bed drain 3") == ([2490, 2590], (90,))
    spots = [(round(at.spot.x_m, 6), round(at.spot.y_m, 6)) for at in site.junctions.values() if at.spot]
    assert spots == [(3.0, 1.99), (3.0, 1.01), (4.5, 1.01)]


def test_the_same_said_by_places_and_by_distances() -> None:
    """Each line has the same pieces and corners, and nothing else differs but what knows places."""
    one_bed = PLACED.replace("count = 3", "count = 1").replace('step = ["1.5 m", "0 m"]\n', "")
    # A single bed is at the end of its trunk, as far from the split as a bed in a row.
    said = SAID.replace('between_beds = "1.5 m"\n', "") + "bed_to_sump = 0\n"
    by_places = load(one_bed)
    by_distances = load(without_places(one_bed) + said)
    assert {name: plan(by_places, name) for name in by_places.runs} == {
        name: plan(by_distances, name) for name in by_distances.runs
    }
    bare = {name: replace(vessel, spot=None) for name, vessel in by_places.vessels.items()}
    assert bare == dict(by_distances.vessels)
    assert by_places.flows == by_distances.flows


def test_rows_are_the_same_by_places_and_by_distances() -> None:
    """Of beds in a row the trunk and its tees; a drain's further way is in its first piece."""
    placed = PLACED.replace('at = ["3 m", "0 m"]', 'at = ["4 m", "0 m"]')
    # The first bed is 1 m further: its tee, and 1 - 0.51 m along before 3 - 0.41 m across to the sump.
    said = SAID.replace('"1.58 m"\nbetween', '["1.58 m", "1 m"]\nbetween')
    said = said.replace('bed_to_sump = "2.08 m"', 'bed_to_sump = ["490 mm", "2.59 m"]')
    by_places, by_distances = load(placed), load(without_places(placed) + said)
    assert {name: plan(by_places, name) for name in by_places.runs} == {
        name: plan(by_distances, name) for name in by_distances.runs
    }


def test_what_is_given_wins_over_places() -> None:
    """A longer distance stands whatever the places are; without it corners must be those of the places."""
    site = load(PLACED + '[distances]\ntank_to_settler = "2 m"\nbetween_beds = "2 m"\n')
    assert plan(site, "tank drain") == ([2000], ())
    assert plan(site, "trunk 2") == ([2000], ())
    assert plan(site, "settler drain") == ([1580], ())
    same = load(PLACED + "[corners]\nsump_to_tank = [90]\n")
    assert plan(same, "tank feed") == ([1990, 1990], (90,))
    other = '[distances]\nsump_to_tank = "5 m"\n[corners]\nsump_to_tank = [45, 45]\n'
    assert plan(load(PLACED + other), "tank feed")[1] == (45, 45)


def test_ways_from_places_are_told() -> None:
    """What follows from places is written down with that, and what is given is not."""
    site = load(PLACED + '[distances]\ntank_to_settler = "2 m"\n')
    told = {assumed.place: assumed for assumed in site.assumptions}
    assert "distances.tank_to_settler" not in told
    assert told["distances.sump_to_tank"].text == "[2.59 m, 1.99 m]"
    assert told["distances.sump_to_tank"].mark == "follows from the other values"
    assert told["distances.trunk_to_bed"].mark == "from memory"


@pytest.mark.parametrize(
    ("given_mm", "wrong", "told"),
    [(1629, True, False), (1631, False, False), (1829, False, False), (1831, False, True)],
)
def test_a_distance_that_places_contradict(given_mm: int, wrong: bool, told: bool) -> None:
    """Tank and settler are 1.73 m apart: 100 mm less is a tape's, below that wrong, 100 mm more a detour."""
    text = PLACED + f'[distances]\ntank_to_settler = "{given_mm} mm"\n'
    if wrong:
        with pytest.raises(InputError, match=r"by their places tank and settler are 1\.73 m apart"):
            load(text)
        return
    said = [SI.told(sentence) for sentence in detours(load(text))]
    longer = [
        "Level distances count as given, longer than places ask for: tank drain 1.83 m (1.73 m by places)."
    ]
    assert said == (longer if told else [])


def test_beds_are_no_nearer_than_a_step() -> None:
    """Beds stand 1.5 m apart, so that the trunk from one to the next cannot be 1 m long."""
    with pytest.raises(InputError, match=r"trunk 2 goes 1 m on the plan.+are 1\.5 m apart"):
        load(PLACED + '[distances]\nbetween_beds = "1 m"\n')


@given(st.data())
def test_no_way_is_shorter_than_the_gap(data: st.DataObject) -> None:
    """Whatever stands how, the way from wall to wall is no shorter than what a distance is held against."""
    one, other = (
        Outline(
            complex(data.draw(st.integers(-50, 50)) / 10, data.draw(st.integers(-50, 50)) / 10),
            cmath.rect(1.0, math.radians(data.draw(st.integers(0, 179)))),
            (data.draw(st.integers(1, 15)) / 10,) * 2
            if curved
            else (data.draw(st.integers(1, 15)) / 10, data.draw(st.integers(1, 15)) / 10),
            curved,
        )
        for curved in (data.draw(st.booleans()), data.draw(st.booleans()))
    )
    way = None if overlap(one, other, other.middle - one.middle) else way_between(one, other)
    if way is not None:
        assert sum(way.level_m) >= gap_m(one, other) - 1e-6


@given(st.integers(1, 500))
def test_a_moved_vessel_changes_the_ways_to_it(moved_mm: int) -> None:
    """The settler moved away from the tank: that way is as much longer, its own drain askew, and no other."""
    before = load(PLACED)
    after = load(PLACED.replace('"0 m", "3 m"', f'"0 m", "{3000 + moved_mm} mm"'))
    changed = {name for name in before.runs if before.runs[name].plan != after.runs[name].plan}
    # Moved by little, its own drain is as long to a tenth of a millimetre.
    assert {"tank drain"} <= changed <= {"tank drain", "settler drain"}
    assert plan(after, "tank drain") == ([1730 + moved_mm], ())
    straight = math.hypot(3000, moved_mm)
    level, corners = plan(after, "settler drain")
    assert corners == ()
    assert level == pytest.approx([straight - 1010 - 410 * straight / 3000], abs=0.06)


def test_a_split_further_off_than_the_way_is_straight_is_told() -> None:
    """The way to the tank goes 2.59 m straight from the sump."""
    load(PLACED + '[distances]\nsump_to_split = "2.58 m"\n')
    with pytest.raises(Exception, match=r"2\.59 m straight, and the split is at 2\.59 m; give a shorter one"):
        load(PLACED + '[distances]\nsump_to_split = "2.59 m"\n')


LONG = """
[[vessel]]
name = "tank"
kind = "tank"
volume = "1000 L"
area = "1 m2"
depth = "1 m"
wall = "10 mm"
shape = "square"
at = ["0 m", "0 m"]
facing = 30
[[vessel]]
name = "sump"
kind = "sump"
volume = "800 L"
area = "1 m2"
wall = "10 mm"
shape = "round"
at = ["3 m", "0 m"]
[[junction]]
name = "tee"
height = "600 mm"
at = ["0 m", "3 m"]
[[run]]
name = "drain"
kind = "gravity"
from = "tank"
to = "tee"
[[run]]
name = "joint"
kind = "gravity"
from = "tee"
to = "sump"
[[run]]
name = "main"
kind = "pressure"
from = "sump"
to = "tank"
"""


def test_the_long_form_knows_places_too() -> None:
    """Between vessels and junctions; as the tank faces, 30 degrees from x to y.

    The line of the middles is 30 degrees askew to the tank's wall, so the way turns: from the sump 3 cos 30
    and 3 sin 30 as the tank faces. A tee is a point, from which it is straight to the round sump.
    """
    site = load(LONG)
    long, short = 3 * math.cos(math.radians(30)), 3 * math.sin(math.radians(30))
    round_m = math.sqrt(1 / math.pi) + 0.01
    main = site.runs["main"].plan
    joint = site.runs["joint"].plan
    assert main is not None
    assert joint is not None
    assert sum(main.level_m) == pytest.approx(long + short - round_m - 0.51, abs=1e-4)
    assert main.corners == (90,)
    assert joint.level_m == pytest.approx((3 * math.sqrt(2) - round_m,), abs=1e-4)
    again = load(expand_to_toml(site))
    assert (again.vessels, again.junctions, again.runs) == (site.vessels, site.junctions, site.runs)


SQUARE = Outline(0, 1, (0.5, 0.3), curved=False)


@pytest.mark.parametrize(("degrees", "corners"), [(9.9, ()), (10.1, (90,))])
def test_straight_where_nearly_square_to_the_wall(degrees: float, corners: tuple[int, ...]) -> None:
    """Within 10 degrees the way is the line of the middles, beyond it has a corner."""
    far = Outline(cmath.rect(8.0, math.radians(degrees)), half_m=(0.2, 0.2))
    way = way_between(SQUARE, far)
    assert way is not None
    assert way.corners == corners


@pytest.mark.parametrize(("at", "first"), [(3 + 0j, 1j), (1 + 4j, 1)])
def test_of_two_ways_the_one_that_is_free(at: complex, first: complex) -> None:
    """Along first is as long as across first; what stands on one of them leaves the other."""
    far, between = Outline(4 + 4j, 1, (0.5, 0.3), curved=False), Outline(at, half_m=(0.3, 0.3))
    way = way_between(SQUARE, far, others=[between])
    assert way is not None
    assert way.toward == first
    assert not way.crosses(between)
    assert sum(way.level_m) == pytest.approx(sum(_free(SQUARE, far)))


def _free(one: Outline, other: Outline) -> tuple[float, ...]:
    """Pieces of the way where nothing stands in it."""
    way = way_between(one, other)
    assert way is not None
    return way.level_m


@pytest.mark.parametrize(("floor", "level"), [("599 mm", [2490, 1090]), ("600 mm", [990, 2590])])
def test_a_bed_drains_under_what_stands_as_high(floor: str, level: list[float]) -> None:
    """A settler is in the way along, as the bed faces, and across; one lower than the bed is passed by."""
    yard = PLACED.replace('at = ["0 m", "3 m"]', f'at = ["3 m", "1.5 m"]\nground = "{floor}"')
    yard = yard.replace('floor = "200 mm"', 'floor = "0 mm"').replace("3.1415926535898 m2", "0.07 m2")
    assert plan(load(yard), "bed drain 2") == (level, (90,))


@pytest.mark.parametrize("aside", [0.25, -0.29])
def test_straight_from_wall_to_wall_where_a_corner_has_no_room(aside: float) -> None:
    """Two that stand side by side are joined beside the middle: here 1 m less half of each length."""
    other = Outline(complex(1.4, aside), 1, (0.5, 0.3), curved=False)
    way = way_between(SQUARE, other)
    assert way is not None
    assert way.level_m == pytest.approx((0.4,))
    assert way.begins.imag == pytest.approx(aside)


def kept(one: Outline, corner_m: float = 0.11) -> Outline:
    """One whose pipes keep off its corners."""
    return replace(one, corner_m=corner_m)


def spots_in(one: Outline, at: complex) -> complex:
    """A place seen from its middle, along its length."""
    return (at - one.middle) / one.facing


def corner_far_m(one: Outline, at: complex) -> float:
    """How far a place is from the nearest corner of one that is not round [m]."""
    near = spots_in(one, at)
    return abs(complex(one.half_m[0] - abs(near.real), one.half_m[1] - abs(near.imag)))


@pytest.mark.parametrize(
    ("facing", "level", "corners"), [("0", [2490, 2590], (90,)), ("45", [314.3, 2967.0], (45,))]
)
def test_no_drain_ends_in_the_corner_of_a_turned_sump(
    facing: str, level: list[float], corners: tuple[int, ...]
) -> None:
    """Bed 3 stands 3 m along and 3 m across from the sump; turned, that shows it a corner either way.

    The wall that faces the bed is met square, 100 mm off an inside corner and so 300 mm beside its middle,
    at 3 + (0.41 - 0.30) m by the root of 1/2 along and 3 - (0.41 + 0.30) m by it across. From the bed's end,
    510 mm off its middle and 400 mm aside, the slant takes 2.098 m both along and across.
    """
    yard = PLACED.replace('at = ["3 m", "3 m"]', f'at = ["3 m", "3 m"]\nfacing = {facing}')
    pieces, found = plan(load(yard), "bed drain 3")
    assert (pieces, found) == (pytest.approx(level, abs=0.5), corners)


@pytest.mark.parametrize("at", [3 + 3j, -3 - 3j, 3, 3 + 1j, 0.4 + 4j])
@pytest.mark.parametrize("facing", [35, 45, 55])
def test_a_turned_wall_is_drilled_square(at: complex, facing: int) -> None:
    """A flat wall is met square or nearly so, off its corners, whichever of its walls faces what leads there.

    Turned by 45 degrees to each other two boxes are joined by one bend of 45, square to both.
    """
    turned = kept(Outline(0, cmath.rect(1, math.radians(facing)), (0.5, 0.5), curved=False))
    way = way_between(kept(replace(SQUARE, middle=at)), turned)
    assert way is not None
    into = way.toward if not way.corners else way.onward
    spot, along = spots_in(turned, way.spots[-1]), into / turned.facing
    by_end = abs(abs(spot.real) - 0.5) < 1e-6
    slant = math.degrees(math.acos(min(1.0, abs(along.real if by_end else along.imag))))
    assert slant <= (1e-3 if facing == 45 else ASKEW_DEG + 1e-3)
    assert way.corners == (45,)
    assert corner_far_m(turned, way.spots[-1]) >= 0.11 - 1e-6


@pytest.mark.parametrize("at", [3 + 3j, -3 - 3j])
def test_beside_the_corner_of_one_that_is_turned(at: complex) -> None:
    """Turned by 45 degrees, a square is met 110 mm from the corner, where no bend leads square to its wall.

    Only round it there is none: from a tee the line goes along and across as a row does, to a place 110 mm
    by the root of 1/2 both along and across from the corner, which is 0.5 m off by the root of 2.
    """
    turned = kept(Outline(0, cmath.rect(1, math.pi / 4), (0.5, 0.5), curved=False))
    moved = turned.off_corner(complex(0, 0.5 * math.sqrt(2) * math.copysign(1, at.real)), at)
    aside = 0.11 * math.sqrt(0.5)
    assert corner_far_m(turned, moved) == pytest.approx(0.11)
    assert abs(moved.imag) == pytest.approx(0.5 * math.sqrt(2) - aside)
    assert moved.real == pytest.approx(math.copysign(aside, at.real))


@pytest.mark.parametrize(("aside", "moved"), [(0.189, 0.0), (0.191, 0.001), (0.30, 0.11)])
def test_straight_beside_a_corner(aside: float, moved: float) -> None:
    """Between two that have no room for a corner, through the one's middle: beside the other's corner."""
    other = Outline(complex(1.05, aside), 1, (0.5, 0.5), curved=False)
    before, way = way_between(SQUARE, other), way_between(kept(SQUARE), kept(other))
    assert before is not None
    assert way is not None
    assert way.level_m == before.level_m == pytest.approx((0.05,))
    assert (before.begins.imag, way.begins.imag) == pytest.approx((aside, aside - moved))


def test_by_a_corner_where_there_is_no_room_beside() -> None:
    """Off the corner of the one is on that of the other, and a wall too short for both has its middle."""
    one, other = (Outline(at, 1, (0.2, 0.2), curved=False) for at in (0, 1 + 0.25j))
    assert way_between(kept(one), kept(other)) == way_between(one, other)
    small = kept(Outline(0, cmath.rect(1, math.pi / 4), (0.1, 0.1), curved=False))
    way = way_between(Outline(3 + 3j, 1, (0.5, 0.3), curved=False), small)
    assert way is not None
    assert spots_in(small, way.spots[-1]) == pytest.approx(0.1)


def outlines() -> st.SearchStrategy[Outline]:
    """Round and square ones about a yard."""
    place = st.floats(-3, 3).map(lambda value: round(value, 3))
    half = st.floats(0.1, 1.5).map(lambda value: round(value, 3))

    def made(x: float, y: float, length: float, width: float, turned: int, curved: bool) -> Outline:
        facing = cmath.rect(1.0, math.radians(turned))
        return Outline(complex(x, y), facing, (length,) * 2 if curved else (length, width), curved)

    return st.builds(made, place, place, half, half, st.integers(0, 359), st.booleans())


def corners_of(outline: Outline) -> list[complex]:
    """Points of its edge, close to each other."""
    if outline.curved:
        return [outline.middle + cmath.rect(outline.half_m[0], math.radians(at)) for at in range(0, 360, 3)]
    length, width = outline.half_m
    edge = [step / 20 for step in range(-20, 21)]
    ends = [complex(side * length, width * at) for side in (-1, 1) for at in edge]
    sides = [complex(length * at, side * width) for side in (-1, 1) for at in edge]
    return [outline.middle + at * outline.facing for at in (*ends, *sides)]


def inside(outline: Outline, at: complex, by_m: float) -> bool:
    """Whether a point is so far inside it."""
    place = (at - outline.middle) / outline.facing
    if outline.curved:
        return abs(place) < outline.half_m[0] - by_m
    return abs(place.real) < outline.half_m[0] - by_m and abs(place.imag) < outline.half_m[1] - by_m


@given(outlines(), outlines())
def test_none_overlap_that_have_no_point_in_common(one: Outline, other: Outline) -> None:
    """Points of the edges tell: one well inside the other is an overlap, and so far apart as told is none."""
    apart = other.middle - one.middle
    common = any(inside(other, at, 0.01) for at in corners_of(one)) or any(
        inside(one, at, 0.01) for at in corners_of(other)
    )
    if common:
        assert overlap(one, other, apart)
    least = least_apart_m(one, other)
    toward = apart / abs(apart) if apart else 1.0
    clear = replace(other, middle=one.middle + toward * (least + 1e-4))
    assert not overlap(one, clear, clear.middle - one.middle)
    assert not any(inside(clear, at, 1e-3) for at in corners_of(one))
    close = replace(other, middle=one.middle + toward * (least - 1e-4))
    assert overlap(one, close, close.middle - one.middle)


@given(outlines(), outlines())
def test_ways_lead_from_wall_to_wall(one: Outline, other: Outline) -> None:
    """Walked from its begin, a way stays out of both vessels and ends at the other's wall."""
    if overlap(one, other, other.middle - one.middle):
        return
    way = way_between(kept(one), kept(other))
    if way is None:
        return
    assert not inside(one, way.begins, 1e-6)
    assert inside(one, way.begins - way.toward * 1e-3, -1e-6)
    ends = []
    for hand in (1, -1):
        at, toward = way.begins, way.toward
        for corner, piece in zip((0, *way.corners), way.level_m, strict=True):
            toward *= cmath.rect(1.0, math.radians(hand * corner))
            at += toward * piece
        ends.append(not inside(other, at, 1e-6) and inside(other, at + toward * 1e-3, -1e-6))
    assert any(ends)


@given(outlines(), outlines(), st.sampled_from((None, 1, cmath.rect(1, 0.3))))
def test_only_what_leads_to_a_corner_is_moved(one: Outline, other: Outline, frame: complex | None) -> None:
    """Clear of corners a way is as if there were no harm in them; any other is clear or has no room."""
    before, way = way_between(one, other, frame), way_between(kept(one), kept(other), frame)
    assert (before is None) == (way is None)
    if before is None or way is None:
        return
    ends = (one, before.spots[0]), (other, before.spots[-1])
    if BEND_DEG in (*before.corners, *way.corners):
        # How far it may go beside the middle of a wall hangs on what corners are kept clear.
        if BEND_DEG in way.corners:
            for each, at in zip((one, other), (way.spots[0], way.spots[-1]), strict=True):
                assert each.curved or corner_far_m(each, at) >= min(0.11, *each.half_m) - 1e-5
    elif all(each.curved or corner_far_m(each, at) >= 0.11 for each, at in ends):
        assert way == before
    elif way != before:
        for each, at in zip((one, other), (way.spots[0], way.spots[-1]), strict=True):
            room = min(0.11, *each.half_m)
            assert each.curved or corner_far_m(each, at) >= room - 1e-5


@given(outlines(), outlines(), st.integers(0, 359))
def test_a_turned_yard_has_the_same_ways(one: Outline, other: Outline, turned: int) -> None:
    """Lengths do not hang on where the builder counts from, nor in which direction."""
    turn = cmath.rect(1.0, math.radians(turned))
    first, second = (
        kept(Outline(each.middle * turn + (4 - 3j), each.facing * turn, each.half_m, each.curved))
        for each in (one, other)
    )
    way, again = way_between(kept(one), kept(other)), way_between(first, second)
    if way is None or again is None:
        assert (way, again) == (None, None) or overlap(one, other, other.middle - one.middle)
    else:
        assert sum(again.level_m) == pytest.approx(sum(way.level_m), abs=1e-5)


def test_a_pumps_run_runs_on_over_the_rim_it_leaves_by() -> None:
    """Where the long form does not say how high, 100 mm over the rim of the sump, which is at 100 mm."""
    text = Path("problems/two-drains.toml").read_text(encoding="utf-8")
    main = text[text.index('name = "main"') :]
    site = problem_from(text.replace(main, main.replace('height = "200 mm"\n', "", 1)), "x.toml").outline
    plan = site.runs["main"].plan
    assert plan is not None
    assert math.isclose(plan.height_m or 0.0, 0.100 + 0.100)
    assert "run.main.height" in {assumed.place for assumed in site.assumptions}
