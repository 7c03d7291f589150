"""Which joints a line has, and of what kind."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from autoplan.catalog.joining import Joining, adaptor_like
from autoplan.catalog.mating import JointKind, is_poly, joint_kind
from autoplan.catalog.parts import Catalog, End, Pipe
from autoplan.fittings.base import Item, Role, turned
from autoplan.line.laid import Laid
from autoplan.problem.flows import Reach


@dataclass(frozen=True, slots=True)
class Joint:
    """Two neighbouring ends.

    Attributes:
        run: the run on whose line they lie.
        left, right: part ids, in the order of the water.
        left_end, right_end: the ends that meet.
        kind: how they are joined, or None if they do not mate.
    """

    run: str
    left: str
    right: str
    left_end: End
    right_end: End
    kind: JointKind | None


def joints_of(
    line: Laid, joining: Joining, reach: Reach = Reach.NOWHERE, *, screwed: bool = False
) -> Iterator[Joint]:
    """Every joint of a line, in order; those on side pieces and through seals where they stand.

    Args:
        line: the run put together.
        joining: what mates with what.
        reach: how far along the run the pump's shut-off head can reach.
        screwed: whether socket joints of this run are made with tape and a screw.
    """
    sides = {side.at: side for side in line.sides}
    for number, item in enumerate(line.items):
        pressed = _pressed(line, reach, number)
        if number:
            before = line.items[number - 1]
            yield _joint(line.run, before, item, joining, pressed=pressed, screwed=screwed)
        if item.through is not None and item.ring is not None:
            fits = joining.mates(item.ends[0], item.ring)
            kind = JointKind.SEAL if fits else None
            yield Joint(line.run, item.part, item.through, item.ends[0], item.ring, kind)
        if number in sides:
            side = sides[number]
            stand = Item(item.part, Role.OPEN_TEE, (side.end, side.end))
            yield _joint(line.run, stand, side.item, joining, pressed=pressed, screwed=screwed)


def _pressed(line: Laid, reach: Reach, number: int) -> bool:
    """Whether the joint before an item is under the shut-off head: up to and with the valve's inlet."""
    if reach is Reach.TO_VALVE:
        return line.valve_at is not None and number <= line.valve_at
    return reach is Reach.WHOLE


def _joint(run: str, left: Item, right: Item, joining: Joining, *, pressed: bool, screwed: bool) -> Joint:
    a, b = left.ends[1], right.ends[0]
    kind = kind_of(a, b, pressed=pressed, screwed=screwed) if joining.mates(a, b) else None
    return Joint(run, left.part, right.part, a, b, kind)


def kind_of(a: End, b: End, *, pressed: bool, screwed: bool) -> JointKind:
    """How two mating ends are joined.

    A barb in hose is clamped where the pump's shut-off head can reach; poly line grips its barbs without.
    """
    kind = joint_kind(a, b)
    if kind is JointKind.BARB and pressed and not is_poly(a):
        return JointKind.CLAMPED
    if kind is JointKind.WELDED and screwed:
        return JointKind.SCREWED
    return kind


def chain_joints(
    catalog: Catalog,
    joining: Joining,
    run: str,
    ends: tuple[tuple[str, End], tuple[str, End]],
    chain: Sequence[str],
    *,
    pressed: bool = False,
    screwed: bool = False,
) -> list[Joint]:
    """The joints of a chain of adaptors between two openings, both openings' own among them.

    Args:
        catalog, joining: the price list, and what mates in it.
        run: the run that the chain belongs to.
        ends: (part id, end) of the first opening and of the last.
        chain: adaptors from the first to the last.
        pressed, screwed: as for `kind_of`.
    """
    joints = []
    (part, here), last = ends
    for name in chain:
        row = adaptor_like(catalog, name)
        near, far = turned(joining, here, (row.end, row.end) if isinstance(row, Pipe) else row.ends)
        kind = kind_of(here, near, pressed=pressed, screwed=screwed)
        joints.append(Joint(run, part, name, here, near, kind))
        part, here = name, far
    kind = kind_of(here, last[1], pressed=pressed, screwed=screwed)
    joints.append(Joint(run, part, last[0], here, last[1], kind))
    return joints
