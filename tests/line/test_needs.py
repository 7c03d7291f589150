"""What joints take, by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from autoplan.catalog.mating import JointKind
from autoplan.catalog.parts import End, Size, SundryKind
from autoplan.line.joints import Joint
from autoplan.line.needs import Amounts, Want, by_size, is_listed, joint_needs, rows_for

AMOUNTS = Amounts(0.003, 10, 4, 0.001, 0.0005)


def joint(left: str, right: str, a: str, b: str, kind: JointKind) -> Joint:
    """A joint of two parts by their ends."""
    return Joint("run", left, right, End(*a.split()), End(*b.split()), kind)


@pytest.mark.parametrize("size", [20, 25, 32, 50])
@pytest.mark.parametrize("turned", [False, True])
def test_cement_by_hand(yard, size: int, turned: bool) -> None:
    """Round the pipe, over a socket of half its outside and 6 mm (ISO 727, from memory), 3 mm thick.

    The cleaner before it is 1 mm thick.
    """
    ends = [f"spigot metric {size}", f"socket metric {size}"]
    a, b = ends[::-1] if turned else ends
    needs = joint_needs(yard.catalog, joint("x", "y", a, b, JointKind.WELDED), AMOUNTS)
    depth = size / 2 + 6
    surface = math.pi * size * depth * 1e-9
    assert needs == {
        Want(SundryKind.CEMENT): pytest.approx(3 * surface),
        Want(SundryKind.CLEANER): pytest.approx(surface),
    }


def test_lubricant_by_hand(yard) -> None:
    """Half a millimetre on the last 50 mm of a 50 mm pipe are 3.927 mL, whichever side the seal is on."""
    ends = ["spigot metric 50", "seal metric 50"]
    for a, b in (ends, ends[::-1]):
        needs = joint_needs(yard.catalog, joint("x", "y", a, b, JointKind.SEAL), AMOUNTS)
        assert needs == {Want(SundryKind.LUBRICANT): pytest.approx(3.927e-6, abs=1e-9)}


def test_tape_by_hand(yard) -> None:
    """Ten turns round a 1 inch taper thread of 33.249 mm (ISO 7-1, from memory) are 1.0446 m."""
    thread = {"1": Size(None, None, 0.033249, None, "ISO 7-1, from memory")}
    catalog = replace(yard.catalog, systems={**yard.catalog.systems, "R": thread})
    needs = joint_needs(catalog, joint("x", "y", "female R 1", "male R 1", JointKind.TAPE), AMOUNTS)
    assert needs == {Want(SundryKind.TAPE): pytest.approx(1.0446, abs=1e-4)}


def test_tape_and_screw_by_hand(yard) -> None:
    """Four turns round a 50 mm pipe are 0.6283 m, with one screw."""
    needs = joint_needs(
        yard.catalog,
        joint("x", "y", "spigot metric 50", "socket metric 50", JointKind.SCREWED),
        AMOUNTS,
    )
    assert needs == {Want(SundryKind.TAPE): pytest.approx(0.6283, abs=1e-4), Want(SundryKind.SCREW): 1.0}


@pytest.mark.parametrize(
    ("part", "end", "washer", "taped"),
    [
        ("thread-male-32-1", "male G 1", True, True),
        ("nipple-1", "male G 1", True, True),
        ("pump-3000", "male G 1", True, True),
        ("union-male-32-1", "male G 1", True, True),
        ("compression-female-32-1", "female G 1", True, True),
        ("hose-nut-1-25", "female G 1", False, False),
        ("union-female-32-1", "female G 1", False, False),
        ("wall-pair-1", "male G 1", False, True),
    ],
)
def test_a_washer_unless_a_part_brings_one(yard, part: str, end: str, washer: bool, taped: bool) -> None:
    """Two fixed parallel threads take a washer and tape, ten turns round 33.249 mm (ISO 228-1).

    A loose (female) nut brings its washer and takes no tape; a wall part brings its washers and is taped.
    """
    wants = {Want(SundryKind.WASHER, "G 1"): 1.0} if washer else {}
    wants |= {Want(SundryKind.TAPE): pytest.approx(1.0446, abs=1e-4)} if taped else {}
    other = ("thread-female-32-1", "female G 1") if end.startswith("male") else ("nipple-1", "male G 1")
    for one, two in (((part, end), other), (other, (part, end))):
        made = joint(one[0], two[0], one[1], two[1], JointKind.WASHER)
        assert joint_needs(yard.catalog, made, AMOUNTS) == wants


def test_a_clamp_of_the_hoses_outside(yard) -> None:
    """Hose of 25 mm bore is 33 mm outside by its row."""
    made = joint("ball-hose-25", "hose-25-metre", "barb hose 25", "bore hose 25", JointKind.CLAMPED)
    assert joint_needs(yard.catalog, made, AMOUNTS) == {Want(SundryKind.CLAMP, "330"): 1.0}


@pytest.mark.parametrize("kind", [JointKind.BARB, JointKind.COMPRESSION, JointKind.RUBBER, None])
def test_what_takes_nothing(yard, kind: JointKind) -> None:
    """Poly grips its barb, rubber and compression hold by themselves (common practice, no source)."""
    made = joint("x", "y", "barb poly 25", "bore poly 25", kind)
    assert joint_needs(yard.catalog, made, AMOUNTS) == {}


@pytest.mark.parametrize(
    ("kind", "mm", "rows"),
    [
        (SundryKind.CLAMP, 40.0, {"clamp-25-40", "clamp-35-60"}),
        (SundryKind.CLAMP, 40.1, {"clamp-35-60"}),
        (SundryKind.CLAMP, 25.0, {"clamp-16-27", "clamp-25-40"}),
        (SundryKind.CLAMP, 24.9, {"clamp-16-27"}),
        (SundryKind.SAW, 64.0, {"saw-64"}),
        (SundryKind.SAW, 64.1, set()),
        (SundryKind.SAW, 63.9, set()),
    ],
)
def test_which_rows_fit(yard, kind: SundryKind, mm: float, rows: set[str]) -> None:
    """A clamp closes on both its limits and not beyond; a saw cuts one size."""
    assert {row.id for row in rows_for(yard.catalog, by_size(kind, mm / 1000))} == rows


def test_a_washer_is_of_its_thread(yard) -> None:
    """No other size of washer will do, and a kind that is on no row is not listed."""
    assert [row.id for row in rows_for(yard.catalog, Want(SundryKind.WASHER, "G 1"))] == ["washer-1"]
    bare = replace(yard.catalog, sundries={})
    assert is_listed(yard.catalog, SundryKind.CLAMP)
    assert not is_listed(bare, SundryKind.CLAMP)
