"""What joints, holes, seals and legs take besides parts: cement, tape, clamps, clips, saws and so on."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from autoplan.catalog.ends import SHORT
from autoplan.catalog.mating import JointKind
from autoplan.catalog.parts import Catalog, End, Sundry, SundryKind
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
        cleaner_m: thickness of cleaner over the surface of a socket, what stays in the rag included [m].
        grease_m: thickness of lubricant on the pipe where a rubber seal slides on it [m].
    """

    film_m: float
    turns: float
    screwed_turns: float
    cleaner_m: float
    grease_m: float


SLIDES_M = 0.05
"""Length of a pipe's end that a push-in seal slides over, its bevel included [m]; from memory."""


def joint_needs(catalog: Catalog, joint: Joint, amounts: Amounts) -> Mapping[Want, float]:
    """What one joint takes: cement, cleaner and lubricant [m3], tape [m], pieces of the rest.

    Cement covers pi x outside x depth of the socket in the film's thickness, cleaner in its own, lubricant
    the pipe's end where a seal slides on it; tape goes round the outside. Fixed threads are taped, parallel
    ones too, though these seal on their washer (common practice, no source); a loose nut squeezes the washer
    that it comes with. A wall part has its washers with it.
    """
    kind, end = joint.kind, _spigot(joint.left_end, joint.right_end)
    if kind is JointKind.WELDED:
        area = math.pi * outside(catalog, end) * socket_depth(catalog, end)
        cement, cleaner = area * amounts.film_m, area * amounts.cleaner_m
        return {Want(SundryKind.CEMENT): cement, Want(SundryKind.CLEANER): cleaner}
    if kind is JointKind.SEAL:
        area = math.pi * outside(catalog, end) * SLIDES_M
        return {Want(SundryKind.LUBRICANT): area * amounts.grease_m}
    if kind is JointKind.SCREWED:
        tape = math.pi * outside(catalog, end) * amounts.screwed_turns
        return {Want(SundryKind.TAPE): tape, Want(SundryKind.SCREW): 1.0}
    sides = (joint.left, joint.left_end), (joint.right, joint.right_end)
    if kind is JointKind.TAPE or (kind is JointKind.WASHER and not any(_nut(catalog, *s) for s in sides)):
        needs = {Want(SundryKind.TAPE): math.pi * outside(catalog, end) * amounts.turns}
        if kind is JointKind.WASHER and not any(part in catalog.penetrations for part, _ in sides):
            # `G` and `Rp` are one thread; its washer is sold by the size.
            needs[Want(SundryKind.WASHER, f"G {end.size}")] = 1.0
        return needs
    if kind is JointKind.CLAMPED:
        return {by_size(SundryKind.CLAMP, _hose_outside(catalog, joint)): 1.0}
    return {}


def _nut(catalog: Catalog, part: str, end: End) -> bool:
    """Whether an end is the loose nut of a barrel union or nut-and-tail, which has its washer in it.

    It is their female thread; a compression coupling's thread is fixed.
    """
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


def is_listed(catalog: Catalog, kind: SundryKind) -> bool:
    """Whether a price list has sundries of this kind at all; what it does not list is not counted."""
    return any(row.kind is kind for row in catalog.sundries.values())
