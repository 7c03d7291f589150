"""Candidates of one class, less those that another of their pipe beats whatever else is chosen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from autoplan.hydraulics.gravity import part_full_inlet_head, standpipe_head
from autoplan.hydraulics.lines import Array, Lines
from autoplan.line.water import inlet_bore, inlet_of, screen_head
from autoplan.rules.base import Candidate
from autoplan.rules.surge import surged
from autoplan.rules.waste_drain import flushing_flow
from autoplan.selection.counting import (
    candidate_pieces,
    candidate_standpipes,
    candidate_uses,
    valve_watts,
)
from autoplan.selection.making import Making
from autoplan.selection.shelf import Bill
from autoplan.selection.wants import Counting, Needs
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
    guards against siphoning back, if it takes no more of anything shared, and if it costs no more by any set
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
        ruled = "surge" not in making.book.off
        self._surging = {d for drains in surged(making.site).values() for d in drains} if ruled else set()

    def best(self, offered: Sequence[Candidate]) -> list[Candidate]:
        """Those that none beats, in the order in which they came, group by group; of equals the first."""
        groups: dict[object, list[int]] = {}
        for number, candidate in enumerate(offered):
            stood = tuple(candidate_standpipes(candidate))
            guards = tuple(drawn.guard for drawn in candidate.drawn.values())
            # An end at a fixed height and one that goes with the water are never worse than each other.
            ways = (candidate.start_way, candidate.finish_way, guards, stood, tuple(candidate.places))
            groups.setdefault((candidate.pipe.id, ways), []).append(number)
        losses = self._losses(offered)
        found: list[Candidate] = []
        for numbers in groups.values():
            group = [self._weighed(offered[number]) for number in numbers]
            scores = np.array([(*self._score(offered[n]), *losses[n]) for n in numbers])
            if not any(one.bill.limited for one in group):
                # Where all parts simply cost their prices none beats another that is cheaper anywhere.
                scores = np.hstack([scores, [one.bill.prices for one in group]])
            found += self._best(scores, group)
        return found

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
        if self._counting.free:
            return _Weighed(candidate, NOTHING, ())
        needs, screwed = self._counting.of_candidate(candidate)
        saws = self._counting.saws(candidate)
        c = candidate
        ways = c.start_way, c.finish_way
        counted = Candidate(
            c.run_class, c.pipe, *ways, c.rating_m, c.drawn, c.places, c.lines, needs, screwed, saws
        )
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

    def _losses(self, candidates: Sequence[Candidate]) -> Array:
        """What each loses in each run, a row for each candidate; less is better in every place."""
        making, columns = self._making, []
        for run in making.members:
            flow, lines = making.site.flows[run.name], Lines([c.lines[run.name] for c in candidates])
            columns.append(lines.loss(max(flow.design_m3_s, flow.peak_m3_s), making.water))
            if run.name in self._surging:
                # What brings less to the vessel below it may be welcome.
                columns.append(-lines.loss(flow.design_m3_s, making.water))
            flaps = lines.loss(0.0, making.water)
            columns += [flaps, -flaps] if making.site.timed_beds() else [flaps]
            if run.waste:
                speed = making.book.settings["waste-drain"]["speed"]
                heads = [
                    c.lines[run.name].loss(flushing_flow(c.pipe, speed), making.water) for c in candidates
                ]
                columns.append(np.array(heads))
        return np.array(columns).T

    def _score(self, candidate: Candidate) -> list[float]:
        """What a candidate takes of everything shared but losses and money; less is better in every place."""
        making = self._making
        enough = min(candidate.rating_m, making.shelf.shut_off_m) if making.pressed else 0.0
        score = [-enough, valve_watts(making.catalog, making.site, candidate)]
        for run in making.members:
            drawn = candidate.drawn[run.name]
            flow = making.site.flows[run.name]
            if drawn.rim is not None and drawn.rim.centre_m is not None:
                score.append(drawn.rim.centre_m)
            for side in ("start", "finish"):
                place = candidate.places.get((run.name, side))
                if place is not None:
                    score += [place.hole_m, abs(place.offset_m)]
            if run.overflow:
                bore, k = inlet_bore(making.catalog, drawn), inlet_of(drawn).inlet_k
                score.append(part_full_inlet_head(flow.peak_m3_s, bore, k))
            if drawn.floor is not None:
                # Where either is less at one flow over the lip it is at any, and so is its rise between two.
                score.append(standpipe_head(flow.design_m3_s, inlet_bore(making.catalog, drawn)))
                score.append(screen_head(making.catalog, drawn, flow.design_m3_s))
        return score


def _fits_where(pieces: Sequence[int], others: Sequence[int]) -> bool:
    """Whether pieces can be laid wherever others can: no more of them, none longer than its counterpart."""
    return len(pieces) <= len(others) and all(a <= b for a, b in zip(pieces, others, strict=False))


def _surplus(mine: Needs, its: Needs) -> Needs:
    return {want: amount - its.get(want, 0) for want, amount in mine.items() if amount > its.get(want, 0)}
