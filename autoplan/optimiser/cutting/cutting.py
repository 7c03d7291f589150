"""Which piece is cut from which stick: exact, with the saw's width.

The model counts pipe by length, and by what each class's pieces cost alone: a lower bound for every plan that
can be laid. Here the pieces of an answer are laid on the sticks it counts. Where they do not fit, a row goes
back to the model that this answer breaks and no plan that can be laid does, and the search goes on. It ends
only with an answer whose pieces were laid, so with the cheapest of all plans that can be.

There are two such rows. The least that the pieces cost: more or longer pieces never cost less. And where the
answer spends that much already, in a mix that does not hold them: counts on which given pieces can be laid
stay so when any of them grows. So from counts that are too few each is raised as far as they remain too
few, and any plan has more of something than it was raised to.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from heapq import heappop, heappush
from itertools import islice
from operator import itemgetter

MOST_STEPS = 20_000
"""Steps of one quick search before it is called undecided; a fraction of a second."""

AT_ONCE = 30
"""Ways to fill a stick that are looked at before the best of them is tried."""

MOST_COUNTS = 2_000
"""Counts of sticks that are tried in order of cost before the least cost is called undecided."""


@dataclass(frozen=True, slots=True)
class Stick:
    """A kind of stick: what one shop sells of one row, or the builder's own of one length.

    Attributes:
        pipe: the row it is sold as.
        length: its length, or that of a metre if the row is sold by the metre [0.1 mm].
        cents: price of a pack; 0 for the builder's own.
        most: how many packs there are.
        by_metre: whether all of them come in one length.
        pack: sticks, or metres, in a pack.
        to_measure: whether the shop cuts it, so that no saw cut is lost.
        shop: where it is sold; empty for the builder's own.
        longest: of metres the longest piece that the shop cuts [0.1 mm]; None where there is no limit.
        keeps: what stays of a stick that more than one piece is cut from, beside saw cuts [0.1 mm].
    """

    pipe: str
    length: int
    cents: int
    most: int
    by_metre: bool = False
    pack: int = 1
    to_measure: bool = False
    shop: str = ""
    longest: int | None = None
    keeps: int = 0

    def room(self, length: int, cut: int) -> int:
        """What its pieces, each with one cut of that width, may take of a length of it [0.1 mm].

        With a cut's width added every piece takes one cut. A piece that leaves less than the stick is to keep
        takes all of the room (`taking`): alone it may be as long as the stick.
        """
        return max(1, length + cut - self.keeps) if self.keeps else length + cut

    def holds(self, piece: int) -> bool:
        """Whether a piece comes out of it at all."""
        return self.longest is None or piece <= self.longest

    def enough(self, pieces: Sequence[int], kerf: int) -> int:
        """Packs of which more would be of no use, or as many as there are."""
        needed = -(-(sum(pieces) + kerf * len(pieces)) // self.length) if self.by_metre else len(pieces)
        return min(self.most, -(-needed // self.pack))

    def holds_each(self, pieces: Sequence[int], packs: int) -> bool:
        """Whether so many packs have a stick of its own for every piece."""
        each = packs * self.pack >= len(pieces) and self.length >= max(pieces, default=0)
        return each and not self.by_metre


class CuttingUndecidedError(Exception):
    """The pieces could neither be laid nor shown not to fit within the search's budget.

    Attributes:
        at_least: a proven lower bound on their cost [cents]; 0 if none was asked for.
        interrupted: whether the user stopped the search.
    """

    def __init__(self, at_least: int = 0, *, interrupted: bool = False) -> None:
        super().__init__("the pieces could neither be laid nor shown not to fit")
        self.at_least = at_least
        self.interrupted = interrupted


def lengths_of(sticks: Sequence[Stick], counts: Sequence[int]) -> list[tuple[Stick, int]]:
    """Every single length there is [0.1 mm], kind by kind; the metres of one kind are one length.

    A shop cuts them in pieces no longer than `Stick.longest`, and what counts is their sum.
    """
    found: list[tuple[Stick, int]] = []
    for kind, count in zip(sticks, counts, strict=True):
        number = count * kind.pack
        found += [(kind, kind.length * number)] if kind.by_metre else [(kind, kind.length)] * number
    return found


def taking(piece: int, cut: int, room: int) -> int:
    """What a piece takes of the room of a length that is no shorter than it [0.1 mm]: at most all of it."""
    return min(piece + cut, room)


def lay(
    pieces: Sequence[int],
    sticks: Sequence[Stick],
    counts: Sequence[int],
    kerf: int,
    most_steps: int = MOST_STEPS,
) -> list[list[int]] | None:
    """Lay every piece on the given sticks, or return None if that is impossible.

    Args:
        pieces: lengths [0.1 mm].
        sticks: kinds of stick.
        counts: how many packs of each kind there are.
        kerf: width of a cut [0.1 mm]; a stick of n pieces loses n - 1 of them, and from two on what it keeps.
        most_steps: budget of the search.

    Returns:
        For each length of `lengths_of`, the pieces on it.

    Raises:
        CuttingUndecidedError: the budget was used up.
    """
    lengths = lengths_of(sticks, counts)
    cuts = [0 if kind.to_measure else kerf for kind, _ in lengths]
    rooms = [kind.room(length, cut) for (kind, length), cut in zip(lengths, cuts, strict=True)]
    longest = [length if kind.longest is None else min(length, kind.longest) for kind, length in lengths]
    laid = _best_fit(pieces, rooms, cuts, longest)
    if laid is not None:
        return laid
    if _too_many(pieces, rooms, cuts, longest):
        return None
    return _Filling(pieces, rooms, cuts, longest, most_steps).laid()


def _too_many(
    pieces: Sequence[int], rooms: Sequence[int], cuts: Sequence[int], longest: Sequence[int]
) -> bool:
    """Whether length, or the number of pieces of some length or more, alone shows that they do not fit."""
    alike = Counter(zip(rooms, cuts, longest, strict=True)).items()
    needed = 0
    for piece, count in Counter(pieces).items():
        takes = [taking(piece, cut, room) for (room, cut, most), _ in alike if piece <= most]
        if not takes:
            return True
        needed += count * min(takes)
    if needed > sum(rooms):
        return True
    ranked = sorted(pieces, reverse=True)
    for i, piece in enumerate(ranked):
        if i + 1 < len(ranked) and ranked[i + 1] == piece:
            continue
        most_of = ((room, cut, n) for (room, cut, most), n in alike if piece <= most)
        if i + 1 > sum(n * (room // taking(piece, cut, room)) for room, cut, n in most_of):
            return True
    return False


def _best_fit(
    pieces: Sequence[int], rooms: Sequence[int], cuts: Sequence[int], longest: Sequence[int]
) -> list[list[int]] | None:
    """Longest piece first, on the stick that it leaves the least of; None where one finds no room."""
    left = list(rooms)
    laid: list[list[int]] = [[] for _ in rooms]
    for piece in sorted(pieces, reverse=True):
        takes = [taking(piece, cut, room) for cut, room in zip(cuts, rooms, strict=True)]
        fitting = [s for s, room in enumerate(left) if room >= takes[s] and piece <= longest[s]]
        if not fitting:
            return None
        stick = min(fitting, key=lambda s: left[s] - cuts[s])
        left[stick] -= takes[stick]
        laid[stick].append(piece)
    return laid


class _Filling:
    """Fills stick after stick, each with the longest piece left; exact within its budget.

    A filling is tried only if no piece left would still fit on it, and none of its pieces could be exchanged
    for a longer one left: such fillings are never needed. What fillings waste in all must not exceed
    what the sticks are longer than the pieces.

    Args:
        pieces: lengths.
        rooms: what the pieces of each stick may take (`Stick.room`).
        cuts: width of a cut on each stick.
        longest: the longest piece that comes out of each stick.
        most_steps: budget.
    """

    def __init__(
        self,
        pieces: Sequence[int],
        rooms: Sequence[int],
        cuts: Sequence[int],
        longest: Sequence[int],
        most_steps: int,
    ) -> None:
        self.steps = most_steps
        self.sizes = sorted(set(pieces), reverse=True)
        number = Counter(pieces)
        self.left = [number[size] for size in self.sizes]
        where: dict[tuple[int, int, int], list[int]] = {}
        for stick, key in enumerate(zip(rooms, cuts, longest, strict=True)):
            where.setdefault(key, []).append(stick)
        self.kinds = sorted(where)
        self.free = [where[key] for key in self.kinds]
        self.takes = [[taking(size, cut, room) for size in self.sizes] for room, cut, _ in self.kinds]
        # What each size takes at least, of whatever stick that is long enough for it.
        self.least = [
            min(takes[i] for takes, (_, _, most) in zip(self.takes, self.kinds, strict=True) if size <= most)
            for i, size in enumerate(self.sizes)
        ]
        self.slack = sum(rooms) - sum(
            number[size] * least for size, least in zip(self.sizes, self.least, strict=True)
        )
        self.filled: dict[int, list[int]] = {stick: [] for stick in range(len(rooms))}
        self.dead: set[tuple[tuple[int, ...], tuple[int, ...]]] = set()

    def laid(self) -> list[list[int]] | None:
        """The pieces on each stick, or None.

        Raises:
            CuttingUndecidedError: the budget was used up.
        """
        done = self._place(self.slack)
        return [self.filled[stick] for stick in sorted(self.filled)] if done else None

    def _place(self, slack: int) -> bool:
        first = next((i for i, count in enumerate(self.left) if count), None)
        if first is None:
            return True
        state = (tuple(self.left), tuple(map(len, self.free)))
        if state in self.dead:
            return False
        for (room, _, longest), takes, free in zip(self.kinds, self.takes, self.free, strict=True):
            if not free or room < takes[first] or longest < self.sizes[first]:
                continue
            stick = free.pop()
            # It holds the longest piece left, so it holds every other too.
            for filling, waste in self._ways(first, room, takes, slack):
                for i, count in filling.items():
                    self.left[i] -= count
                if self._place(slack - waste):
                    self.filled[stick] = [self.sizes[i] for i, count in filling.items() for _ in range(count)]
                    return True
                for i, count in filling.items():
                    self.left[i] += count
            free.append(stick)
        self.dead.add(state)
        return False

    def _ways(
        self, first: int, room: int, takes: Sequence[int], slack: int
    ) -> Iterator[tuple[dict[int, int], int]]:
        """The ways to fill a stick with the longest piece left and others, least waste first for a while."""
        left = [count - (i == first) for i, count in enumerate(self.left)]
        ways = self._fill(first, room - takes[first], takes, slack, {first: 1}, left)
        yield from sorted(islice(ways, AT_ONCE), key=itemgetter(1))
        yield from ways

    def _fill(
        self,
        index: int,
        room: int,
        takes: Sequence[int],
        slack: int,
        chosen: dict[int, int],
        left: list[int],
    ) -> Iterator[tuple[dict[int, int], int]]:
        """The ways to fill what room is left with pieces from a size on, as counts by size, and the waste."""
        self.steps -= 1
        if self.steps < 0:
            raise CuttingUndecidedError
        while index < len(self.sizes) and (not left[index] or takes[index] > room):
            index += 1
        if index == len(self.sizes):
            waste = room + sum((takes[i] - self.least[i]) * count for i, count in chosen.items())
            if waste <= slack and self._is_full(room, takes, chosen, left):
                yield dict(chosen), waste
            return
        take, before = takes[index], chosen.get(index, 0)
        shorter = sum(takes[i] * left[i] for i in range(index + 1, len(self.sizes)))
        for count in range(min(left[index], room // take), -1, -1):
            rest = room - count * take
            # With one of this size left over, the shorter ones must fill its place.
            if rest - shorter > slack or (count < left[index] and rest - shorter >= take):
                break
            if before + count:
                chosen[index] = before + count
            left[index] -= count
            yield from self._fill(index + 1, rest, takes, slack, chosen, left)
            left[index] += count
            chosen.pop(index, None)
        if before:
            chosen[index] = before

    def _is_full(
        self, room: int, takes: Sequence[int], chosen: Mapping[int, int], left: Sequence[int]
    ) -> bool:
        """Whether nothing left fits, and no piece can give way to a longer one left."""
        longer: int | None = None
        for i, take in enumerate(takes):
            if chosen.get(i) and longer is not None and longer - take <= room:
                return False
            if left[i]:
                longer = take
                if take <= room:
                    return False
        return True


def cheapest(pieces: Sequence[int], sticks: Sequence[Stick], kerf: int) -> tuple[int, list[int]] | None:
    """The least that sticks for these pieces cost [cents], and packs of each kind; None if impossible.

    Args:
        pieces, sticks, kerf: as for `lay`.

    Raises:
        CuttingUndecidedError: not found within the budget; its `at_least` is a proven lower bound.

    Tries counts in order of their cost and what the length they lack costs at least, and lays the pieces on
    each: the first that holds them is the cheapest.
    """
    enough = [kind.enough(pieces, kerf) for kind in sticks]
    plenty = any(kind.holds_each(pieces, n) for kind, n in zip(sticks, enough, strict=True))
    if not plenty and _fit(pieces, sticks, enough, kerf) is False:
        return None
    free = tuple(n if kind.cents == 0 else 0 for kind, n in zip(sticks, enough, strict=True))
    buys = [i for i in range(len(sticks)) if sticks[i].cents and not _outdone(sticks, enough, i)]
    cut = 0 if any(kind.to_measure for kind in sticks) else kerf
    need = sum(pieces) + cut * len(pieces)
    # The metres of one kind are one length, and a length needs no cut after its last piece.
    need -= cut * sum(kind.by_metre for kind in sticks)
    holds = [(kind.length + (0 if kind.by_metre else cut)) * kind.pack for kind in sticks]
    # What the length that is still lacking costs at least, at the best rate; else nothing helps.
    rates = [(kind.cents, (kind.length + cut) * kind.pack) for kind in (sticks[i] for i in buys)]
    best, gains = min(rates, key=lambda rate: Fraction(*rate), default=(0, 1))
    missing = need - sum(hold * count for hold, count in zip(holds, free, strict=True))
    heap = [(-(-max(0, missing) * best // gains), free, 0, 0, missing)]
    cents = 0
    for _ in range(MOST_COUNTS):
        if not heap:
            return None
        cents, counts, place, spent, missing = heappop(heap)
        fits = False if missing > 0 else _fit(pieces, sticks, counts, kerf)
        if fits is None:
            break
        if fits:
            return cents, list(counts)
        for j in range(place, len(buys)):
            i = buys[j]
            if counts[i] < enough[i]:
                more = (*counts[:i], counts[i] + 1, *counts[i + 1 :])
                paid, left = spent + sticks[i].cents, missing - holds[i]
                heappush(heap, (paid - (-max(0, left) * best // gains), more, j, paid, left))
    raise CuttingUndecidedError(at_least=cents)


def most_too_few(
    pieces: Sequence[int], sticks: Sequence[Stick], counts: Sequence[int], kerf: int
) -> list[int]:
    """Counts raised as far as the pieces still cannot be laid on them, one kind after the other.

    Args:
        pieces, sticks, kerf: as for `lay`.
        counts: packs of each kind on which the pieces cannot be laid.

    Returns:
        Counts that are too few, none of which could be raised alone; the kind's `most` where none would help.
        Where it could not be decided in time whether a count is too few, it is not raised.
    """
    raised = list(counts)
    rate = [kind.cents / (kind.length * kind.pack) for kind in sticks]
    for i in sorted(range(len(sticks)), key=lambda i: rate[i]):
        low, high = raised[i], max(raised[i], sticks[i].enough(pieces, kerf))
        while low < high:
            middle = (low + high + 1) // 2
            if _fit(pieces, sticks, [*raised[:i], middle, *raised[i + 1 :]], kerf) is False:
                low = middle
            else:
                high = middle - 1
        raised[i] = sticks[i].most if low >= sticks[i].enough(pieces, kerf) else low
    return raised


def _fit(pieces: Sequence[int], sticks: Sequence[Stick], counts: Sequence[int], kerf: int) -> bool | None:
    """Whether pieces can be laid, or None if that was not decided in time."""
    try:
        return lay(pieces, sticks, counts, kerf) is not None
    except CuttingUndecidedError:
        return None


def _outdone(sticks: Sequence[Stick], enough: Sequence[int], i: int) -> bool:
    """Whether another kind is as good, costs no more, and there is enough of it.

    Metres that a builder cuts never are: two lengths save a saw cut over one of them together.
    """
    kind = sticks[i]
    return (kind.to_measure or not kind.by_metre) and any(
        (other.length, other.by_metre, other.to_measure, other.pack)
        == (kind.length, kind.by_metre, kind.to_measure, kind.pack)
        and (other.longest is None or (kind.longest is not None and other.holds(kind.longest)))
        and (other.cents, j) < (kind.cents, i)
        and enough[j] < other.most
        for j, other in enumerate(sticks)
    )
