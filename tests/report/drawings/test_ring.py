"""Places round a wall as drawn: inlet and outlet opposite, neighbours close by, each hole by its letter."""

from __future__ import annotations

import math

import pytest

from autoplan.report.contract.built import HoleRow, VesselRow
from autoplan.report.drawings.canvas import Canvas, ident
from autoplan.report.drawings.ring import BESIDE, RADIUS, angles, ring
from autoplan.report.drawings.view import Sheet
from tests.report.drawings.read import Picture


def hole(run: str, around: str) -> HoleRow:
    """A hole in the wall of a drum."""
    return HoleRow(
        vessel="drum",
        run=run,
        place="wall",
        hole_mm=64.0,
        off_mm=3.0,
        centre_above_floor_mm=500.0,
        part="seal-50",
        saw=None,
        saw_from="a drill",
        stand=None,
        around=around,
    )


def drum(shape: str) -> VesselRow:
    """A vessel."""
    sizes = {"width_mm": 600.0, "volume_l": 220.0, "depth_mm": 850.0, "floor_mm": 450.0, "rim_mm": 1300.0}
    walls = {"wall_mm": 6.0, "base_mm": 6.0, "spare": False, "bed": None}
    return VesselRow(name="drum", kind="settler", shape=shape, **sizes, **walls)


IN, OUT = hole("tank drain", "towards tank"), hole("drum drain", "opposite the inlet of tank drain")
WASTE = hole("drum waste", "towards waste end")


def test_an_outlet_is_opposite() -> None:
    """Half a turn from the inlet, whatever else is in the wall; nothing else lies on either."""
    at = angles([IN, OUT, WASTE])
    assert math.cos(at[1] - at[0]) == pytest.approx(-1.0)
    for other in at[:2]:
        assert math.cos(at[2] - other) < 0.9


def test_neighbours_are_close_by() -> None:
    """Holes that lead the same way follow each other, and no two of five lie on each other."""
    beside = hole("second drain", "towards tank, beside that of tank drain")
    at = angles([IN, beside])
    assert at[1] - at[0] == pytest.approx(BESIDE)
    many = angles([hole(f"drain {number}", f"towards bed {number}") for number in range(1, 6)])
    for number, one in enumerate(many):
        for other in many[number + 1 :]:
            assert math.cos(one - other) < 0.999


@pytest.mark.parametrize(("hand", "way"), [("left", 1), ("right", -1)])
def test_by_a_corner(hand: str, way: int) -> None:
    """Nearer to the corner than the middle of its side, what is beside it further off, wherever that leads.

    The first side is the left one: seen from outside the lower end of the drawing is to the right.
    """
    corner = f"a hand's width to the {hand} of the corner as seen from outside"
    first, second, other = angles(
        [
            hole("bed drain 1", f"towards bed 1, {corner}"),
            hole("bed drain 2", f"towards bed 2, {corner}, beside that of bed drain 1"),
            hole("tank drain", "towards tank"),
        ]
    )
    assert math.pi / 4 > (math.pi - first) * way > 0
    assert second - first == pytest.approx(BESIDE * way)
    assert other == pytest.approx(1.5 * math.pi)


@pytest.mark.parametrize("shape", ["round", "flat"])
def test_the_drawing_shows_it(shape: str) -> None:
    """Inlet and outlet stand across the whole width from each other on the wall, each by letter and words."""
    canvas = Canvas()
    below = ring(canvas, 10.0, drum(shape), [("A", IN), ("B", OUT)])
    picture = Picture(Sheet("ring", "ring", "ring", canvas).svg, "ring")
    came, goes = (picture.middle(ident("place", run, "drum")) for run in ("tank drain", "drum drain"))
    assert math.dist(came, goes) == pytest.approx(2 * RADIUS, abs=1.0)
    assert {"A", "B", "A towards tank", "B opposite the inlet of tank drain"} <= set(picture.texts)
    assert below >= canvas.bottom


def test_a_vessel_without_places_has_none() -> None:
    """An answer of before places were told is drawn without."""
    canvas = Canvas()
    assert ring(canvas, 10.0, drum("round"), [("A", hole("tank drain", ""))]) == 10.0
    assert not canvas.things
