"""Which piece is cut from which stick: exact, with the saw's width.

The model counts sticks by length alone, a lower bound. Here the pieces of an answer are laid on the sticks
it buys; where they do not fit, the least that would is found, and goes back to the model as a cut.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from heapq import heappop, heappush

MOST_STEPS = 200_000
"""Steps of one search before it is called undecided."""


@dataclass(frozen=True, slots=True)
class Stick:
    """A kind of stick.

    Attributes:
        pipe: the row it is sold as.
        length: its length, or that of a metre if the row is sold by the metre [0.1 mm].
        cents: price of one.
        most: how many there are.
        by_metre: whether any number of them comes in one piece.
    """

    pipe: str
    length: int
    cents: int
    most: int
    by_metre: bool = False


def lay(
    pieces: Sequence[int], sticks: Sequence[Stick], counts: Sequence[int], kerf: int
) -> list[list[int]] | None:
    """Lay every piece on the given sticks, or return None if that is impossible.

    Args:
        pieces: lengths [0.1 mm].
        sticks: kinds of stick.
        counts: how many of each kind there are.
        kerf: width of a cut [0.1 mm]; a stick of n pieces loses n - 1 of them.

    Returns:
        For each stick, kind by kind, the pieces on it; metres of one row are one stick.

    Depth-first over pieces from long to short, into the first of each distinct remaining room; exact, and
    quick on the few dozen pieces of a plan.
    """
    rooms: list[int] = []
    for kind, count in zip(sticks, counts, strict=True):
        if kind.by_metre:
            rooms.append(kind.length * count + kerf)
        else:
            rooms += [kind.length + kerf] * count
    order = sorted(pieces, reverse=True)
    laid: list[list[int]] = [[] for _ in rooms]
    budget = [MOST_STEPS]
    # Pieces of one length and sticks of one room are alike, so most dead ends are met again and again.
    dead: set[tuple[int, ...]] = set()

    def place(index: int, left: int) -> bool:
        if index == len(order):
            return True
        budget[0] -= 1
        if budget[0] < 0 or left > sum(rooms):
            return False
        state = (index, *sorted(rooms))
        if state in dead:
            return False
        piece = order[index]
        tried: set[int] = set()
        # Tightest room first: most plans are then laid without ever going back.
        for stick in sorted(range(len(rooms)), key=lambda s: rooms[s]):
            room = rooms[stick]
            if room < piece + kerf or room in tried:
                continue
            tried.add(room)
            rooms[stick] -= piece + kerf
            laid[stick].append(piece)
            if place(index + 1, left - piece - kerf):
                return True
            rooms[stick] += piece + kerf
            laid[stick].pop()
        dead.add(state)
        return False

    if place(0, sum(order) + kerf * len(order)):
        return laid
    if budget[0] < 0:
        raise CuttingUndecidedError(f"{len(order)} pieces could not be laid in time")
    return None


def cheapest(
    pieces: Sequence[int], sticks: Sequence[Stick], kerf: int, at_least: int
) -> tuple[int, list[int]] | None:
    """The least that sticks for these pieces cost [cents] and how many of each kind, or None if impossible.

    Args:
        pieces, sticks, kerf: as for `lay`.
        at_least: a proven lower bound on the cost.

    Tries stick counts in order of cost and lays the pieces on each.
    """
    need = sum(pieces) + kerf * len(pieces)
    start = tuple(0 for _ in sticks)
    heap: list[tuple[int, tuple[int, ...]]] = [(0, start)]
    seen = {start}
    while heap:
        cents, counts = heappop(heap)
        room = sum((kind.length + kerf) * count for kind, count in zip(sticks, counts, strict=True))
        if cents >= at_least and room >= need and lay(pieces, sticks, counts, kerf) is not None:
            return cents, list(counts)
        if room < 3 * need + 10 * max(kind.length for kind in sticks):
            for i, kind in enumerate(sticks):
                more = (*counts[:i], counts[i] + 1, *counts[i + 1 :])
                if counts[i] < kind.most and more not in seen:
                    seen.add(more)
                    heappush(heap, (cents + kind.cents, more))
    return None


class CuttingUndecidedError(Exception):
    """The pieces could neither be laid nor shown not to fit within the search's budget."""
