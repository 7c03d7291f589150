"""Candidates of one class, less those that another of their pipe beats whatever else is chosen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from autoplan.hydraulics.conduits import Array
from autoplan.optimiser.options.consumables import Counting, Needs
from autoplan.optimiser.options.counting import (
    candidate_pieces,
    candidate_standpipes,
    candidate_uses,
    valve_watts,
)
from autoplan.optimiser.options.making import Making, directed
from autoplan.optimiser.options.shelf import Bill
from autoplan.rules.candidate import Candidate
from autoplan.units import tenth_mm_up

NOTHING = Bill((), {}, {})


@dataclass(frozen=True, slots=True)
class _Weighed:
    """A candidate and what it takes.

    Attributes:
        candidate: with its needs and saws.
        bill: what its parts cost.
        pieces: cut from its pipe, longest first [0.1 mm].
    """

    candidate: Candidate
    bill: Bill
    pieces: tuple[int, ...]


class Kept:
    """Candidates that none beats.

    One beats another of the same pipe if both pass their walls in the same way with the same standpipes and
    guards against siphoning back, which is what designs may be told apart by, if it is no worse in anything
    that a rule in force reads, takes no more power, and if it costs no more by any set
    of shops, even where it buys the pieces that it has more of at their dearest, leaves unused what the other
    has more of in packs, and opens another tin, roll or pack of sundries or needs another saw. Where nothing
    costs anything what pieces it takes is left aside.

    Args:
        making: the class.
        counting: what joints take.
    """

    def __init__(self, making: Making, counting: Counting) -> None:
        self._making = making
        self._counting = counting

    def best(self, offered: Sequence[Candidate]) -> list[Candidate]:
        """Those that none beats, in the order in which they came, group by group; of equals the first."""
        groups: dict[object, list[int]] = {}
        columns, there = self._read(offered)
        for number, candidate in enumerate(offered):
            stood = tuple(candidate_standpipes(candidate))
            guards = tuple(drawn.guard for drawn in candidate.drawn.values())
            ways = (candidate.start_way, candidate.finish_way, guards, stood, there[number])
            groups.setdefault((candidate.pipe.id, ways), []).append(number)
        found: list[Candidate] = []
        for numbers in groups.values():
            group = [self._weighed(offered[number]) for number in numbers]
            scores = columns[numbers]
            if not any(one.bill.limited for one in group):
                # Where all parts simply cost their prices none beats another that is cheaper anywhere.
                scores = np.hstack([scores, [one.bill.prices for one in group]])
            found += self._best(scores, group)
        return found

    def _read(self, offered: Sequence[Candidate]) -> tuple[Array, list[tuple[bool, ...]]]:
        """What rules, and then the ranking, read of each way: columns of which less is better, what is there.

        What is there for one and not for another is neither better nor worse.
        """
        making, columns, lacks = self._making, list[Array](), list[list[bool]]()
        for run in making.members:
            for quantity, better in making.read(run).items():
                making.shelf.clock.check()
                values = [quantity.of(making.seen, candidate, run) for candidate in offered]
                lacks.append([value is None for value in values])
                for measured in quantity.measured(making.seen, run, values):
                    columns += directed(measured, better)
        watts = [valve_watts(making.catalog, making.site, candidate) for candidate in offered]
        return np.array([*columns, watts]).T, list(zip(*lacks, strict=True)) or [()] * len(offered)

    def _best(self, scores: Array, group: Sequence[_Weighed]) -> list[Candidate]:
        """Those of one group, by what else is shared [a row each; less is better in every place]."""
        # By [one, other], whether one takes no more of it.
        no_more = np.stack([(scores >= mine).all(axis=1) for mine in scores])
        kept: list[int] = []
        for new, weighed in enumerate(group):
            self._making.shelf.clock.check()
            if any(no_more[old, new] and self._beats(group[old], weighed) for old in kept):
                continue
            kept = [old for old in kept if not (no_more[new, old] and self._beats(weighed, group[old]))]
            kept.append(new)
        return [group[number].candidate for number in kept]

    def _weighed(self, candidate: Candidate) -> _Weighed:
        self._making.shelf.clock.check()
        if self._counting.free:
            return _Weighed(candidate, NOTHING, ())
        needs, screwed = self._counting.of_candidate(candidate)
        saws = self._counting.saws(candidate)
        counted = replace(candidate, needs=needs, screwed_needs=screwed, saws=saws)
        bill = self._making.shelf.bill(candidate_uses(candidate))
        pieces = sorted((tenth_mm_up(piece) for piece in candidate_pieces(candidate)), reverse=True)
        return _Weighed(counted, bill, tuple(pieces))

    def _beats(self, one: _Weighed, other: _Weighed) -> bool:
        """Whether one beats another that takes no less of what else is shared."""
        if not _fits_where(one.pieces, other.pieces):
            return False
        if self._counting.free:
            return True
        shelf = self._making.shelf
        return shelf.no_dearer(one.bill, other.bill) and shelf.no_dearer(
            one.bill, other.bill, self._extra(one.candidate, other.candidate)
        )

    def _extra(self, one: Candidate, other: Candidate) -> tuple[float, ...]:
        """The most that one may cost over the other for sundries [cents], by set of shops."""
        more = dict.fromkeys((want for want in one.saws if want not in other.saws), 1)
        for mine, its in ((one.needs, other.needs), (one.screwed_needs, other.screwed_needs)):
            for want, amount in _surplus(mine, its).items():
                more[want] = max(more.get(want, 0), amount)
        total = [0.0] * len(self._making.shelf.shop_sets)
        for want, amount in more.items():
            for i, cents in enumerate(self._counting.dearest(want, amount)):
                total[i] += cents
        return tuple(total)


def _fits_where(pieces: Sequence[int], others: Sequence[int]) -> bool:
    """Whether pieces can be laid wherever others can: no more of them, none longer than its counterpart."""
    return len(pieces) <= len(others) and all(a <= b for a, b in zip(pieces, others, strict=False))


def _surplus(mine: Needs, its: Needs) -> Needs:
    return {want: amount - its.get(want, 0) for want, amount in mine.items() if amount > its.get(want, 0)}
