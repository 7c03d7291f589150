"""Pieces of pipe are as long as ring and grip of the compression ends that they go into ask for.

A compression end takes 1.4 outsides and 20 mm, from memory of what makers state: 55 mm of pipe of 25 mm, 90
mm of 50 mm. A socket takes half the outside and 6 mm (ISO 727, from memory).
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from autoplan.fittings.valve import ValveSet
from autoplan.line.laid import slots_and_room

GRIP_25, GRIP_50 = 0.055, 0.090
SOCKET_25, SOCKET_50 = 0.0185, 0.031
SHOWS, GAP = 0.020, 0.008
WALL = 0.006
"""Wall of the tank that the drain leaves [m]."""


@pytest.mark.parametrize(
    ("outer", "inner", "longer"),
    [
        ("coupling-50", "coupling-50", 0.0),
        ("compression-50", "coupling-50", GRIP_50 - SOCKET_50),
        ("coupling-50", "compression-50", GRIP_50 - SOCKET_50),
        ("compression-50", "compression-50", 2 * (GRIP_50 - SOCKET_50)),
    ],
)
def test_a_piece_through_a_wall(built, outer: str, inner: str, longer: float) -> None:
    """It reaches past the grip on the side where there is one; the leg outside begins so much further out."""
    one = built["plain wall"]
    start = replace(one.line.start, chain=(outer,), inner_chain=(inner,))
    nipple, leg, *_ = one.between(start, one.line.finish).laid().needed_m
    assert nipple == pytest.approx(WALL + 2 * (SOCKET_50 + SHOWS) + longer)
    catalog = one.yard.catalog
    stop = 0.003 if outer == "coupling-50" else catalog.adaptors[outer].body_m
    assert stop is not None
    straight = one.laid().needed_m[1] + SOCKET_50 + SHOWS + 0.003
    outside = GRIP_50 if outer == "compression-50" else SOCKET_50
    assert leg == pytest.approx(straight - outside - SHOWS - stop)


@pytest.mark.parametrize(("coupling", "takes"), [("coupling-50", SOCKET_50), ("compression-50", GRIP_50)])
@pytest.mark.parametrize("spare", [-0.001, 0.001])
def test_a_short_leg(built, coupling: str, takes: float, spare: float) -> None:
    """From a coupling to a bend it is no shorter than both take and 8 mm, though the straight be shorter."""
    one = built["plain wall"]
    held = one.between(replace(one.line.start, chain=(coupling,)), one.line.finish)
    whole = held.laid().needed_m[1]
    least = takes + SOCKET_50 + GAP
    short = replace(held, yard=one.yard.run("drain", legs_m=(1.0 - (whole - least) + spare, 1.2)))
    assert short.laid().needed_m[1] == pytest.approx(least + max(0.0, spare))
    yard = short.yard
    _, room = slots_and_room(yard.bench, yard.site, short.line)
    assert room == pytest.approx(spare)


def test_a_piece_before_a_valve(built) -> None:
    """Between a tee and a valve with compression adaptors: a socket, what they take, and 8 mm."""
    one = built["tee over the rim"]
    before, behind, *_ = one.laid().needed_m
    chain = ("compression-25",)
    gripped = one.put(ValveSet("ball-25", (*chain, *chain)))
    piece, rest, *_ = gripped.laid().needed_m
    assert before == pytest.approx(2 * SOCKET_25 + GAP)
    assert piece == pytest.approx(SOCKET_25 + GRIP_25 + GAP)
    body = one.yard.catalog.adaptors["compression-25"].body_m
    assert body is not None
    assert rest == pytest.approx(behind - 2 * body - (piece - before))


def test_a_piece_that_is_as_short_as_it_may_be_lacks_no_room(built) -> None:
    """A valve with compression adaptors leaves the rest of its leg the less; only that may come too short."""
    one = built["tee over the rim"]
    chain = ("compression-25",)
    gripped = one.put(ValveSet("ball-25", (*chain, *chain)))
    yard = gripped.yard
    _, room = slots_and_room(yard.bench, yard.site, gripped.line)
    least = GRIP_25 + SOCKET_25 + GAP
    assert room == pytest.approx(min(gripped.laid().needed_m[1] - least, *_others(gripped)))
    assert room > 0.0


def _others(one) -> list[float]:
    """What the slots beyond the valve's leg have over a stub [m], between ends that are no compression."""
    return [needed - (2 * SOCKET_25 + GAP) for needed in one.laid().needed_m[2:]]


def test_only_its_own_size_grips(built) -> None:
    """A reducing coupling grips pipe of both its sizes; pipe of a third goes no deeper than into a socket."""
    bench = built["plain wall"].yard.bench
    deeper = {
        size: bench.lengths(bench.catalog.pipes[pipe]).deeper("compression-reducer-50-40")
        for size, pipe in (("50", "pn10-50-3m"), ("40", "pn10-40-3m"), ("32", "pn10-32-3m"))
    }
    assert deeper == pytest.approx({"50": GRIP_50 - SOCKET_50, "40": 0.076 - 0.026, "32": 0.0})
