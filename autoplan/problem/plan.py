"""Ways on the plan between what stands there: from wall to wall, straight or with one corner."""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate, product

from autoplan.problem.site import Spot, Vessel
from autoplan.problem.standing import OFF_CORNER_M, OFF_WALL_M

ASKEW_DEG = 10.0
"""A pipe goes straight where it leaves each flat wall within so much of square to it; common practice."""

SAME_DEG = 1e-6
"""Angles that differ by no more are the same [degrees], whichever way the yard is turned."""

BEND_DEG = 45
"""The bend from wall to wall of vessels that stand askew to each other [degrees]: what is sold besides 90."""

TAPED_M = 0.1
"""By so much what is measured along the ground may differ from what places give [m]; from memory."""

TOUCH_M = 1e-6
"""Walls no further inside one another only touch."""

FURTHEST_M = 2000.0
"""Whatever stands further apart does not overlap."""


@dataclass(frozen=True, slots=True)
class Outline:
    """The outside of a vessel on the plan, or a point.

    Attributes:
        middle: x + iy [m].
        facing: direction of its length, as a complex number of length 1.
        half_m: half its length and half its width with the walls [m]; of a round one twice its radius.
        curved: whether it is round, as a point is.
        corner_m: how far off the outside of its corners a pipe keeps [m].
    """

    middle: complex
    facing: complex = 1.0
    half_m: tuple[float, float] = (0.0, 0.0)
    curved: bool = True
    corner_m: float = 0.0

    def reach_m(self, way: complex, off: complex = 0.0) -> float | None:
        """How far it reaches in a direction of length 1 [m], from a point beside its middle.

        Args:
            way: the direction.
            off: from its middle to the point [m].

        Returns:
            None where the line through the point misses it.
        """
        if self.curved:
            aside = (off * way.conjugate()).imag
            room = self.half_m[0] ** 2 - aside**2
            return None if room < -(TOUCH_M**2) else math.sqrt(max(0.0, room)) - (off * way.conjugate()).real
        at, toward = off / self.facing, way / self.facing
        begins, ends = -math.inf, math.inf
        for place, part, half in (
            (at.real, toward.real, self.half_m[0]),
            (at.imag, toward.imag, self.half_m[1]),
        ):
            if abs(part) < 1e-12:
                if abs(place) > half + TOUCH_M:
                    return None
                continue
            first, second = sorted(((half - place) / part, (-half - place) / part))
            begins, ends = max(begins, first), min(ends, second)
        return None if begins > ends else ends

    def crossed(self, begins: complex, way: complex, length_m: float) -> bool:
        """Whether a straight line from a place in a direction of length 1 goes through it."""
        off = begins - self.middle
        ends, back = self.reach_m(way, off), self.reach_m(-way, off)
        return ends is not None and back is not None and ends > TOUCH_M and -back < length_m - TOUCH_M

    def off_corner(self, spot: complex, other: complex) -> complex:
        """The nearest place along its wall clear of the corners; of a wall too short for that its middle.

        Args:
            spot: a place on its wall.
            other: from a corner itself it is along the wall that faces more to this place.
        """
        if self.curved:
            return spot
        at, toward = (spot - self.middle) / self.facing, (other - spot) / self.facing
        from_end, from_side = self.half_m[0] - abs(at.real), self.half_m[1] - abs(at.imag)
        by_end = from_end < from_side
        if abs(from_end - from_side) < TOUCH_M:
            by_end = math.copysign(1, at.real) * toward.real >= math.copysign(1, at.imag) * toward.imag
        if by_end:
            kept = complex(at.real, _held(at.imag, self.half_m[1] - self.corner_m))
        else:
            kept = complex(_held(at.real, self.half_m[0] - self.corner_m), at.imag)
        return self.middle + kept * self.facing

    def askew_deg(self, way: complex) -> float:
        """How far from square to its wall a line leaves it through its middle [degrees]; 0 of a round one."""
        if self.curved:
            return 0.0
        toward = way / self.facing
        along, across = abs(toward.real), abs(toward.imag)
        by_end = along * self.half_m[1] >= across * self.half_m[0] - TOUCH_M
        return math.degrees(math.atan2(across, along) if by_end else math.atan2(along, across))

    def slant_deg(self, spot: complex, way: complex) -> float:
        """How far from square a line in a direction of length 1 meets its wall at a place there [degrees]."""
        if self.curved:
            return 0.0
        at, toward = (spot - self.middle) / self.facing, way / self.facing
        by_end = self.half_m[0] - abs(at.real) < self.half_m[1] - abs(at.imag) + TOUCH_M
        return math.degrees(math.acos(min(1.0, abs(toward.real if by_end else toward.imag))))


@dataclass(frozen=True, slots=True)
class WallToWall:
    """A line on the plan.

    Attributes:
        level_m: its pieces from corner to corner [m], from outside of wall to outside of wall.
        corners: changes of direction between them [degrees].
        begins: where it leaves its start, x + iy [m].
        toward: direction of its first piece, of length 1.
        onward: direction of its second piece, if it has a corner.
    """

    level_m: tuple[float, ...]
    corners: tuple[int, ...]
    begins: complex
    toward: complex
    onward: complex = 0.0

    @property
    def spots(self) -> tuple[complex, ...]:
        """Where it begins, its corner if it has one, and where it ends."""
        steps = (piece * way for piece, way in zip(self.level_m, (self.toward, self.onward), strict=False))
        return tuple(accumulate(steps, initial=self.begins))

    def in_tenths(self) -> tuple[float, ...]:
        """Its pieces to a tenth of a millimetre [m], finer than anyone measures."""
        return tuple(round(piece, 4) for piece in self.level_m)

    def crosses(self, outline: Outline) -> bool:
        """Whether it goes through what stands there."""
        pieces = zip(self.spots, (self.toward, self.onward), self.level_m, strict=False)
        return any(outline.crossed(at, way, piece) for at, way, piece in pieces)


def outline_of(vessel: Vessel) -> Outline | None:
    """The outside of a vessel whose place is known."""
    if vessel.spot is None:
        return None
    return Outline(
        point(vessel.spot),
        cmath.rect(1.0, math.radians(vessel.spot.facing_deg)),
        vessel.half_outside_m,
        vessel.curved,
        vessel.wall_m + OFF_CORNER_M,
    )


def _held(place_m: float, most_m: float) -> float:
    """A place along a wall, no further from its middle than so much [m]."""
    return math.copysign(min(abs(place_m), max(0.0, most_m)), place_m)


def point(spot: Spot) -> complex:
    """A place as x + iy [m]."""
    return complex(spot.x_m, spot.y_m)


def overlap(one: Outline, other: Outline, apart: complex) -> bool:
    """Whether two outlines overlap with the middle of the other so far from that of the one."""
    if one.curved and other.curved:
        return abs(apart) < one.half_m[0] + other.half_m[0] - TOUCH_M
    if one.curved:
        return overlap(other, one, -apart)
    if other.curved:
        near = apart / one.facing
        beside = complex(max(0.0, abs(near.real) - one.half_m[0]), max(0.0, abs(near.imag) - one.half_m[1]))
        return abs(beside) < other.half_m[0] - TOUCH_M
    axes = (one.facing, one.facing * 1j, other.facing, other.facing * 1j)
    return all(
        abs((apart * axis.conjugate()).real) < _shadow(one, axis) + _shadow(other, axis) - TOUCH_M
        for axis in axes
    )


def in_one_another(one: Vessel, other: Vessel) -> bool:
    """Whether two vessels overlap on the plan, and neither stands wholly above the other."""
    below, above = sorted((one, other), key=lambda vessel: vessel.floor_m)
    first, second = outline_of(one), outline_of(other)
    if first is None or second is None or above.floor_m - above.base_m >= below.rim_m:
        return False
    return overlap(first, second, second.middle - first.middle)


def in_the_way(vessels: Mapping[str, Vessel], start: str, finish: str) -> list[Outline]:
    """What else stands there, as far as is known; a bed's drain passes under what stands as high as it."""
    first = vessels.get(start)
    under = math.inf if first is None or first.bed is None else first.floor_m
    others = (vessel for name, vessel in vessels.items() if name not in (start, finish))
    outlines = (outline_of(vessel) for vessel in others if vessel.floor_m < under)
    return [outline for outline in outlines if outline is not None]


def gap_m(one: Outline, other: Outline) -> float:
    """No pipe from wall to wall is shorter on the plan than this [m]; below 0 where they overlap.

    Between two straight lines square to an axis lies the one's shadow and the other's; of all axes the one on
    which they are furthest apart (separating axes of convex figures).
    """
    apart = other.middle - one.middle
    axes = [axis for each in (one, other) if not each.curved for axis in (each.facing, each.facing * 1j)]
    axes += [apart / abs(apart)] if apart else [1.0]
    return max(
        abs((apart * axis.conjugate()).real) - _shadow(one, axis) - _shadow(other, axis) for axis in axes
    )


def _shadow(outline: Outline, axis: complex) -> float:
    """Half of what an outline covers of an axis [m]."""
    if outline.curved:
        return outline.half_m[0]
    turned = axis / outline.facing
    return abs(turned.real) * outline.half_m[0] + abs(turned.imag) * outline.half_m[1]


def least_apart_m(one: Outline, other: Outline) -> float:
    """How far apart the middles must be for the walls only to touch, in the direction that they are [m]."""
    apart = other.middle - one.middle
    way = apart / abs(apart) if apart else 1.0
    low, high = 0.0, FURTHEST_M
    while high - low > TOUCH_M:
        middle = (low + high) / 2
        low, high = (middle, high) if overlap(one, other, way * middle) else (low, middle)
    return high


def way_between(
    start: Outline, finish: Outline, frame: complex | None = None, others: Sequence[Outline] = ()
) -> WallToWall | None:
    """The way from wall to wall: straight if that is nearly square to each flat wall, else with a corner.

    Between round ones it is straight. A way with a corner goes along and across as the first square one
    faces; of two the one that goes through fewer others, then the shorter. Where they stand so that a corner
    would have no room, it goes straight from wall to wall beside the middle. Where that meets a flat wall far
    from square, as of a vessel turned by 45 degrees, it turns by 45 degrees from one wall to the other if it
    can. Where it leads to a corner of what it begins or ends at, it goes beside it if it can.

    Args:
        start, finish: where it begins and ends.
        frame: a direction along or across which it must go too, of length 1.
        others: what else stands there.

    Returns:
        None where there is no such way.
    """
    way = _by_middles(start, finish, frame, others)
    if way is None or _drills_square(way, start, finish):
        return None if way is None else _off_corners(way, start, finish)
    bent = list(_bent(start, finish, frame))
    return min(bent, key=lambda way: _worth(way, others)) if bent else _off_corners(way, start, finish)


def _worth(way: WallToWall, others: Sequence[Outline]) -> tuple[int, float]:
    """What a way is chosen by, less being better: how much else it goes through, then its length."""
    return sum(map(way.crosses, others)), round(sum(way.level_m), 6)


def _drills_square(way: WallToWall, start: Outline, finish: Outline) -> bool:
    """Whether a way meets each flat wall as nearly square as a pipe passes it."""
    into = way.onward if way.corners else way.toward
    return (
        max(start.slant_deg(way.begins, way.toward), finish.slant_deg(way.spots[-1], into))
        <= ASKEW_DEG + SAME_DEG
    )


def _by_middles(
    start: Outline, finish: Outline, frame: complex | None, others: Sequence[Outline]
) -> WallToWall | None:
    """The way as if there were no harm in a corner."""
    apart = finish.middle - start.middle
    if abs(apart) < TOUCH_M:
        return None
    straight = apart / abs(apart)
    squares = [one for one in (start, finish) if not one.curved]
    axes = squares if frame is None else [*squares, Outline(0, frame, (1.0, 1.0), curved=False)]
    if all(one.askew_deg(straight) <= ASKEW_DEG + SAME_DEG for one in axes):
        return _direct(start, finish, straight, 0.0, 0.0)
    turned = squares[0].facing if frame is None else frame
    ways = [way for way in _cornered(start, finish, turned) if min(way.level_m) >= OFF_WALL_M - TOUCH_M]
    if ways:
        return min(ways, key=lambda way: _worth(way, others))
    return next(_beside(start, finish, turned), None)


def _off_corners(way: WallToWall, start: Outline, finish: Outline) -> WallToWall:
    """A way moved aside by as little as takes its ends off corners; itself where it has no room for that."""
    ends = _clear_ends(way, start, finish)
    if ends is None:
        return way
    if way.corners:
        apart = ends[1] - ends[0]
        level = (apart * way.toward.conjugate()).real, (apart * way.onward.conjugate()).real
        return replace(way, level_m=level, begins=ends[0]) if min(level) >= OFF_WALL_M - TOUCH_M else way
    for spot in ends:
        moved = _direct(start, finish, way.toward, spot - start.middle, spot - finish.middle)
        if moved is not None and _clear_ends(moved, start, finish) is None:
            return moved
    return way


def _clear_ends(way: WallToWall, start: Outline, finish: Outline) -> tuple[complex, complex] | None:
    """Where it would begin and end with both clear of corners; None where they are."""
    begins, ends = start.off_corner(way.begins, finish.middle), finish.off_corner(way.spots[-1], start.middle)
    return None if max(abs(begins - way.begins), abs(ends - way.spots[-1])) < TOUCH_M else (begins, ends)


def _direct(
    start: Outline, finish: Outline, way: complex, off: complex, end_off: complex
) -> WallToWall | None:
    """Straight from a place beside the one's middle to one beside the other's."""
    out, into = start.reach_m(way, off), finish.reach_m(-way, end_off)
    if out is None or into is None:
        return None
    begins = start.middle + off + way * out
    far = ((finish.middle + end_off - begins) * way.conjugate()).real - into
    return WallToWall((far,), (), begins, way) if far > TOUCH_M else None


def _cornered(start: Outline, finish: Outline, frame: complex) -> Iterator[WallToWall]:
    """Along and then across, and the other way round, both through the middles."""
    apart = finish.middle - start.middle
    for first, second in ((frame, frame * 1j), (frame * 1j, frame)):
        along, across = (apart * first.conjugate()).real, (apart * second.conjugate()).real
        out, into = first * math.copysign(1, along), second * math.copysign(1, across)
        leaves, enters = start.reach_m(out), finish.reach_m(-into)
        if leaves is not None and enters is not None:
            level = (abs(along) - leaves, abs(across) - enters)
            yield WallToWall(level, (90,), start.middle + out * leaves, out, into)


def _bent(start: Outline, finish: Outline, frame: complex | None) -> Iterator[WallToWall]:
    """With one corner of 45 degrees, as nearly square to the walls of both as that leaves.

    From and to the middles of walls; where that leaves no room, with as little as is tried beside them.
    """
    for (out, leaves), (back, enters) in product(_walls(start, frame), _walls(finish, frame)):
        turn = math.degrees(cmath.phase(-back / out))
        askew = (abs(turn) - BEND_DEG) / 2
        if abs(askew) > ASKEW_DEG + SAME_DEG:
            continue
        # What the walls make more or less than the bend each pipe leaves askew by half.
        lean = cmath.rect(1.0, math.radians(askew * math.copysign(1, turn)))
        toward, onward = out * lean, -back / lean
        for begins, ends in sorted(product(leaves, enters), key=lambda both: both[0][0] + both[1][0]):
            apart = ends[1] - begins[1]
            sine = (toward.conjugate() * onward).imag
            level = (apart.conjugate() * onward).imag / sine, (toward.conjugate() * apart).imag / sine
            if min(level) >= OFF_WALL_M - TOUCH_M:
                yield WallToWall(level, (BEND_DEG,), begins[1], toward, onward)
                break


def _walls(
    outline: Outline, frame: complex | None
) -> Iterator[tuple[complex, tuple[tuple[float, complex], ...]]]:
    """Each wall by the direction square to it: how far off its middle [m] a pipe may pass it, and where.

    Of what is round, or a point, as the frame goes, through its middle; nothing where there is no frame.
    """
    facing = frame if outline.curved else outline.facing
    if facing is None:
        return
    for quarter in range(4):
        out = facing * 1j**quarter
        ahead, beside = outline.half_m if quarter % 2 == 0 else outline.half_m[::-1]
        room = 0.0 if outline.curved else max(0.0, beside - outline.corner_m)
        middle = outline.middle + out * ahead
        yield (
            out,
            tuple((abs(aside), middle + out * 1j * aside) for aside in dict.fromkeys((0.0, room, -room))),
        )


def _beside(start: Outline, finish: Outline, frame: complex) -> Iterator[WallToWall]:
    """Straight along or across, through the middle of the one, of the other, or between."""
    apart = finish.middle - start.middle
    axes = sorted((frame, frame * 1j), key=lambda axis: -round(abs((apart * axis.conjugate()).real), 6))
    for axis in axes:
        along = (apart * axis.conjugate()).real
        aside = apart - along * axis
        for share in (1.0, 0.0, 0.5):
            way = _direct(start, finish, axis * math.copysign(1, along), aside * share, aside * (share - 1))
            if way is not None:
                yield way
