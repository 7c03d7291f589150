"""What joints, holes and seals take besides parts: cement, tape, screws, washers, clamps, stands and saws."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from autoplan.catalog.ends import SHORT
from autoplan.catalog.mating import JointKind
from autoplan.catalog.parts import Catalog, End, SiphonKind, Sundry, SundryKind
from autoplan.fittings.lengths import socket_depth
from autoplan.line.joints import Joint
from autoplan.sentence import Amount, Text, say


@dataclass(frozen=True, slots=True, order=True)
class Want:
    """A kind of sundry in the size that is wanted.

    Attributes:
        kind: see `SundryKind`.
        size: diameter in tenths of a millimetre, the thread's size for a washer, "" where it does not matter.
    """

    kind: SundryKind
    size: str = ""

    @property
    def said(self) -> Text:
        """It in words."""
        if self.size.isdigit():
            return say("{} {}", self.kind, Amount(int(self.size) / 10_000, "mm"))
        return f"{self.kind} {self.size}".rstrip()

    def fits(self, sundry: Sundry) -> bool:
        """Whether a row of the price list is of this kind and closes on this size."""
        if sundry.kind is not self.kind:
            return False
        if self.kind is SundryKind.WASHER:
            return sundry.thread is not None and " ".join(sundry.thread) == self.size
        if not self.size:
            return True
        diameter = int(self.size) / 10_000
        return sundry.least_m - 1e-6 <= diameter <= sundry.most_m + 1e-6


def by_size(kind: SundryKind, diameter_m: float) -> Want:
    """A want of one diameter [m]."""
    return Want(kind, str(round(diameter_m * 10_000)))


@dataclass(frozen=True, slots=True)
class Amounts:
    """How much one joint takes.

    Attributes:
        film_m: thickness of cement over the surface of a socket, what stays in the brush included [m].
        turns: turns of thread tape on a threaded joint.
        screwed_turns: turns of tape on a tape-and-screw joint.
    """

    film_m: float
    turns: float
    screwed_turns: float


def joint_needs(catalog: Catalog, joint: Joint, amounts: Amounts) -> Mapping[Want, float]:
    """What one joint takes: cement [m3], tape [m], pieces of the rest.

    Cement covers pi x outside x depth of the socket in the film's thickness; tape goes round the outside.
    """
    kind, end = joint.kind, _spigot(joint.left_end, joint.right_end)
    if kind is JointKind.WELDED:
        area = math.pi * outside(catalog, end) * socket_depth(catalog, end)
        return {Want(SundryKind.CEMENT): area * amounts.film_m}
    if kind is JointKind.SCREWED:
        tape = math.pi * outside(catalog, end) * amounts.screwed_turns
        return {Want(SundryKind.TAPE): tape, Want(SundryKind.SCREW): 1.0}
    if kind is JointKind.TAPE:
        return {Want(SundryKind.TAPE): math.pi * outside(catalog, end) * amounts.turns}
    sides = (joint.left, joint.left_end), (joint.right, joint.right_end)
    if kind is JointKind.WASHER and not any(brings_washer(catalog, *side) for side in sides):
        # `G` and `Rp` are one thread; its washer is sold by the size.
        return {Want(SundryKind.WASHER, f"G {end.size}"): 1.0}
    if kind is JointKind.CLAMPED:
        return {by_size(SundryKind.CLAMP, _hose_outside(catalog, joint)): 1.0}
    return {}


def brings_washer(catalog: Catalog, part: str, end: End) -> bool:
    """Whether a part comes with the washer for this end: a wall part, and what has a loose nut there.

    The nut of a barrel union or nut-and-tail is its female thread; a compression coupling's thread is fixed.
    """
    if part in catalog.penetrations:
        return True
    row = catalog.adaptors.get(part)
    if row is None or not row.apart or end.form != "female":
        return False
    return all(other.form != "compression" for other in row.ends)


def _spigot(a: End, b: End) -> End:
    """Of two ends the one that goes into the other."""
    return a if a.form in ("spigot", SHORT, "male", "plain", "barb") else b


def outside(catalog: Catalog, end: End) -> float:
    """Outside or thread diameter of an end's size [m]."""
    size = catalog.systems[end.system][end.size]
    return size.thread_major_m or size.outside_m or size.bore_m or 0.0


def _hose_outside(catalog: Catalog, joint: Joint) -> float:
    """Outside of the hose that a clamp closes on [m]."""
    pipes = [catalog.pipes[part] for part in (joint.left, joint.right) if part in catalog.pipes]
    return max((pipe.outside_m for pipe in pipes), default=0.0)


def rows_for(catalog: Catalog, want: Want) -> Iterator[Sundry]:
    """Rows of the price list that meet a want."""
    return (row for row in catalog.sundries.values() if want.fits(row))


def unlisted(catalog: Catalog, *, with_siphons: bool) -> tuple[str, ...]:
    """Kinds of sundries, and of siphon parts if asked, that a price list lacks and that nobody counts."""
    missing = [str(kind) for kind in SundryKind if not is_listed(catalog, kind)]
    if with_siphons:
        there = {part.kind for part in catalog.siphons.values()}
        missing += [f"{kind} for a siphon" for kind in SiphonKind if kind not in there]
    return tuple(missing)


def is_listed(catalog: Catalog, kind: SundryKind) -> bool:
    """Whether a price list has sundries of this kind at all; what it does not list is not counted."""
    return any(row.kind is kind for row in catalog.sundries.values())
