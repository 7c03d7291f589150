"""The row of items of each kind of run, and its pieces worked out by hand.

Sockets are half the outside and 6 mm deep (ISO 727, from memory); a bend's stop stands radius x
tan(angle / 2) from its corner (geometry of an arc).
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace

import pytest

from autoplan.catalog.parts import Way
from autoplan.fittings.base import Role
from autoplan.fittings.ends import AtVessel

ORDER = {
    "solids-lifting, seals": "pipe turn pipe open-tee pipe adaptor pipe turn pipe adaptor pipe stop",
    "solids-lifting, bulkheads": "pipe turn pipe open-tee stub wall pipe turn pipe wall",
    "plain wall": "stop pipe adaptor pipe turn pipe adaptor pipe stop",
    "paired 45s": "stop pipe adaptor pipe turn pipe turn pipe adaptor pipe stop",
    "standpipe": "pipe adaptor wall adaptor pipe turn pipe adaptor pipe stop",
    "pump to tee": "pump adaptor pipe turn pipe tee",
    "tee over the rim": "tee pipe valve pipe turn pipe turn pipe",
    "bare turn over the rim": "tee pipe valve pipe turn pipe turn",
    "valve with adaptors": "tee pipe adaptor adaptor stub valve stub adaptor adaptor "
    "pipe turn pipe turn pipe",
    "hose": "pump adaptor pipe valve pipe",
}

S20, S25, S32, S50 = 0.016, 0.0185, 0.022, 0.031
"""Depth of sockets [m]."""

NIPPLE = S50 + 0.020
"""From a wall to the end of the piece that passes it: a socket and 20 mm that show [m]."""

SWEEP = 1.5 * 0.0426
TIGHT = {20: 0.6 * 0.017, 25: 0.6 * 0.0212, 32: 0.6 * 0.0272}
HALF = 0.9 * 0.0426 * math.tan(math.radians(22.5))
"""From a corner to the stop of a bend: centre-line radius by the row; tan 45 is 1 [m]."""

CUT = (2 * HALF + 2 * S50 + 0.008) / math.sqrt(2) + HALF
"""What two 45s take of a leg: their centres stand c apart, c / sqrt(2) before the corner each [m]."""

TEE_50 = 0.025
"""Half of what crosses in a tee of 50; the axis of the riser's foot over the floor that it lies on [m]."""

STEPPED = 2 * S25 + 0.008 + 0.0065 + 0.003
"""Stub of 25, bush and coupling on one side of a valve [m]."""

RISER = 0.62 - TEE_50 - SWEEP - 0.025
"""From a bend that lies on the floor up to a tee at a hole 620 mm above it, half of either 25 mm [m]."""

LENGTHS = {
    "solids-lifting, seals": (
        *(0.6 - NIPPLE - TEE_50 - SWEEP, RISER, 0.15, 0.006 + 2 * NIPPLE),
        *(1.0 - NIPPLE - 0.003 - SWEEP, 1.2 - NIPPLE - 0.003 - SWEEP, 0.010 + 2 * NIPPLE),
    ),
    "solids-lifting, bulkheads": (
        *(0.6 - (2 * S50 + 0.008) - TEE_50 - SWEEP, RISER, 0.15),
        *(1.0 - SWEEP, 1.2 - SWEEP),
    ),
    "plain wall": (
        *(0.006 + 2 * NIPPLE, 1.0 - NIPPLE - 0.003 - SWEEP),
        *(1.2 - NIPPLE - 0.003 - SWEEP, 0.010 + 2 * NIPPLE),
    ),
    "paired 45s": (
        *(0.006 + 2 * NIPPLE, 1.0 - NIPPLE - 0.003 - CUT, 2 * S50 + 0.008),
        *(1.2 - NIPPLE - 0.003 - CUT, 0.010 + 2 * NIPPLE),
    ),
    "standpipe": (
        *(0.55, 0.9 - 0.0055 - TIGHT[20]),
        *(0.8 - TIGHT[20] - 0.003 - S20 - 0.020, 0.010 + 2 * (S20 + 0.020)),
    ),
    "pump to tee": (0.8 - 0.003 - TIGHT[32], 0.9 - TIGHT[32] - 0.016),
    "tee over the rim": (
        *(2 * S25 + 0.008, 1.1 - 0.0125 - (2 * S25 + 0.008) - 0.048 - TIGHT[25]),
        *(0.7 - 2 * TIGHT[25], 0.15 - TIGHT[25]),
    ),
    "bare turn over the rim": (
        *(2 * S25 + 0.008, 1.1 - 0.0125 - (2 * S25 + 0.008) - 0.048 - TIGHT[25]),
        0.7 - 2 * TIGHT[25],
    ),
    "valve with adaptors": (
        *(2 * S32 + 0.008, 1.1 - 0.016 - (2 * S32 + 0.008) - 2 * STEPPED - 0.048 - TIGHT[32]),
        *(0.7 - 2 * TIGHT[32], 0.15 - TIGHT[32]),
    ),
}


@pytest.mark.parametrize("kind", ORDER)
def test_order_of_the_items(built, kind: str) -> None:
    """From the first opening to the last, each thing that water passes, and every neighbour mates."""
    laid = built[kind].laid()
    short = {"open tee": "open-tee", "wall part": "wall", "stop inside the wall": "stop"}
    assert " ".join(short.get(str(i.role), str(i.role)) for i in laid.items) == ORDER[kind]
    assert all(joint.kind is not None for joint in built[kind].yard.joints(laid))
    assert (laid.valve_at is None) == ("valve" not in ORDER[kind].split())
    if laid.valve_at is not None:
        assert str(laid.items[laid.valve_at].role) == "valve"
    seals = [end.penetration for end in built[kind].line.holes() if end.way is Way.SEAL]
    assert [item.through for item in laid.items if item.through is not None] == seals


@pytest.mark.parametrize("kind", ORDER)
def test_what_is_laid_is_what_is_bought(built, kind: str) -> None:
    """Every part on the line, and what seals a piece of pipe, is bought for it once, and nothing else is."""
    one = replace(built[kind], start=None, finish=None)
    laid = one.laid()
    things = [*laid.items, *(side.item for side in laid.sides)]
    parts = [item.part for item in things if item.role is not Role.PIPE]
    parts += [item.through for item in things if item.through is not None]
    assert Counter(one.line.parts()) == Counter(parts)


@pytest.mark.parametrize("kind", LENGTHS)
def test_lengths_by_hand(built, kind: str) -> None:
    """Corner to corner, less what bends, tees, valves and adaptors take, sockets included."""
    assert built[kind].laid().needed_m == pytest.approx(LENGTHS[kind])


def test_hose_bends_by_itself(built) -> None:
    """Its legs are one straight, cut at the valve: legs and drop, less what tail and valve take at least."""
    laid = built["hose"].laid()
    assert len(laid.needed_m) == 2
    # 1.1 and 0.7 m of legs and 0.15 m over the rim; a tail of 3 mm; a seat of 20.5 mm once its bore long.
    assert sum(laid.needed_m) == pytest.approx(1.95 - 0.003 - 0.0205)


def test_two_45s_meet_both_legs(built) -> None:
    """Walked along in the plane, wall to wall, the pieces end where the legs do."""
    _, first, between, second, _ = built["paired 45s"].laid().needed_m
    slant = 2 * HALF + between
    x = NIPPLE + 0.003 + first + HALF + slant * math.cos(math.pi / 4)
    y = slant * math.sin(math.pi / 4) + HALF + second + 0.003 + NIPPLE
    assert (x, y) == pytest.approx((1.0, 1.2))


@pytest.mark.parametrize("kind", ORDER)
def test_before_the_ends_are_known(built, kind: str) -> None:
    """Without its tee, pump and their adaptors a run is laid out as long as with any of them."""
    one = built[kind]
    start, finish = (end if isinstance(end, AtVessel) else replace(end, chain=()) for end in one.line.ends)
    loose = one.between(start, finish)
    unknown = loose.yard.laid(loose.line).needed_m
    assert all(most >= least - 1e-12 for most, least in zip(unknown, one.laid().needed_m, strict=True))


def test_a_short_leg_still_gets_a_piece(built) -> None:
    """Where a leg is shorter than its fittings a stub joins them: two sockets and 8 mm."""
    one = built["plain wall"]
    short = replace(one, yard=one.yard.run("drain", legs_m=(0.05, 1.2)))
    assert short.laid().needed_m[1] == pytest.approx(2 * S50 + 0.008)
    assert short.laid().needed_m[2] == pytest.approx(LENGTHS["plain wall"][2])


def test_pieces_given_are_taken_with_couplings_between(built) -> None:
    """A slot of three pieces has two couplings, and what is needed stays what it was."""
    one = built["plain wall"]
    needed = one.laid().needed_m
    slots = ((needed[0],), (0.4, 0.3, needed[1] - 0.7), (needed[2],), (needed[3],))
    split = one.changed(slots_m=slots, coupling=("coupling-50",))
    roles = [(str(i.role), i.length_m) for i in split.laid().items[3:8]]
    assert [role for role, _ in roles] == ["pipe", "adaptor", "pipe", "adaptor", "pipe"]
    assert [length for _, length in roles if length] == [0.4, 0.3, pytest.approx(needed[1] - 0.7)]
    assert split.line.couplings == ("coupling-50", "coupling-50")
    assert split.laid().needed_m == needed


def test_two_runs_in_line_have_no_tee_between(built, yard) -> None:
    """Where a size only changes nothing but the adaptor is taken from the legs; three runs make a tee."""
    three = built["pump to tee"].laid().needed_m
    main = built["pump to tee"]
    assert replace(main, yard=yard.only("drain", "main", "feed"), finish=None).laid().needed_m[-1] == (
        pytest.approx(three[-1] + 0.016)
    )
    feed = built["valve with adaptors"]
    coupled = replace(feed.line.start, chain=("coupling-32",))
    inline = replace(feed.between(coupled, feed.line.finish), start=yard.opening("pn10-32-3m")).laid()
    # The coupling's 3 mm in place of half the tee, 16 mm.
    assert inline.needed_m[1] == pytest.approx(LENGTHS["valve with adaptors"][1] + 0.016 - 0.003)


def test_the_vent_stands_on_the_tee(built) -> None:
    """The open tee's third end carries 150 mm of pipe that no water passes."""
    (side,) = built["solids-lifting, seals"].laid().sides
    assert str(built["solids-lifting, seals"].laid().items[side.at].role) == "open tee"
    assert side.item.length_m == pytest.approx(0.15)
