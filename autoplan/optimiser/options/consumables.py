"""What joints, holes and seals take, in the whole amounts that the model counts."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import TypeVar

from autoplan.catalog.joining import Chain
from autoplan.catalog.kinds.sundry import LIQUID
from autoplan.catalog.mating import PipeKind, pipe_kind
from autoplan.catalog.parts import Catalog, End, SundryKind, Tee, TurnStyle
from autoplan.fittings.cap import EndCap
from autoplan.fittings.corner import Corner
from autoplan.fittings.ends import LineEnd
from autoplan.fittings.floor import ThroughFloor
from autoplan.fittings.lengths import Lengths
from autoplan.fittings.riser import Riser
from autoplan.fittings.trim import Trim
from autoplan.fittings.valve import ValveSet
from autoplan.fittings.wall import Pierced, ThroughWall
from autoplan.line.joints import Joint, chain_joints, joints_of
from autoplan.line.laid import Laid, assemble
from autoplan.line.needs import Amounts, Want, by_size, is_listed, joint_needs, rows_for
from autoplan.line.row import Line
from autoplan.optimiser.options.shelf import Shelf
from autoplan.problem.brief import DrainJoints
from autoplan.problem.flows import Reach, reaches, under_suction
from autoplan.problem.site import RunKind, Site
from autoplan.problem.standing import leaves_over_rim
from autoplan.rules.asked import Narrowed, Taped
from autoplan.rules.base import Concern, Given
from autoplan.rules.book import ALL, RuleBook
from autoplan.rules.candidate import Candidate
from autoplan.rules.order.pipe_clips import PipeClips
from autoplan.rules.order.sundries import Sundries, usual_amounts

GRAIN = {**dict.fromkeys(LIQUID, 1e-8), SundryKind.TAPE: 1e-3}
"""Smallest amount that the model counts: a hundredth of a millilitre [m3], a millimetre [m]; else a piece."""

COUNTED_BY = frozenset(kind.id for kind in ALL if kind.counts or Taped in kind.answered)
"""Rules that say what is counted here; without one of them a class takes less, or something else."""

Passing = TypeVar("Passing", Tee, Chain)

Needs = Mapping[Want, int]


class Counting:
    """Counts what the choices take of sundries, as far as the rules ask and the price list has them.

    Args:
        site, shelf, book: the problem, the parts that may be used, the rules in force.
        free: whether nothing costs anything, so that nothing is counted.
    """

    def __init__(self, site: Site, shelf: Shelf, book: RuleBook, *, free: bool = False) -> None:
        self.site = site
        self.shelf = shelf
        self.book = book
        self.free = free
        self.catalog: Catalog = shelf.catalog
        self._stands_under_m = book.given(Given.STANDS_UNDER)
        self._riser_screws = int(book.has(Concern.RISERS))
        asked = (rule.amounts for rule in book.rules if isinstance(rule, Sundries))
        self._amounts: Amounts = next(asked, usual_amounts())
        self._clips = next((rule for rule in book.rules if isinstance(rule, PipeClips)), None)
        self._counted = frozenset(
            kind for rule in book.rules for kind in rule.counts if not free and is_listed(self.catalog, kind)
        )
        self._reach = reaches(site)
        self._of_joint: dict[object, Needs] = {}
        self._of_place: dict[tuple[str, Reach, bool], dict[_Place, tuple[int, int]]] = {}
        self._needs: list[Needs] = []
        self._of_chain: dict[object, Needs] = {}
        self._prices: dict[tuple[Want, int], tuple[float, ...]] = {}
        self.screwed = site.wishes.drain_joints is DrainJoints.SCREWED
        """Whether drains are screwed for certain."""
        self.either = site.wishes.drain_joints is DrainJoints.ANY
        """Whether drains may be either, as is cheaper."""
        drains = (run for run in site.runs.values() if run.kind is RunKind.GRAVITY)
        self.glued = frozenset(run.name for run in drains if book.refusing(Taped(site, run)))
        """Drains whose joints the rules want glued though others be screwed."""
        self._tails = {run for run in under_suction(site) if {site.runs[run].finish} <= {*site.vessels}}

    def may_be_taped(self, run: str) -> bool:
        """Whether socket joints of a run may be made with tape and a screw."""
        return self.site.runs[run].kind is RunKind.GRAVITY and run not in self.glued

    def may_differ(self, candidate: Candidate) -> bool:
        """Whether a class may be glued while other drains are screwed, and that takes something else.

        What a siphon sucks at, where no rule wants that glued: without the rule nothing is lost that it
        allows. Not what ends at a tee, whose joints are counted with it.
        """
        tails = self.either and self._tails.issuperset(candidate.drawn)
        return tails and candidate.needs != candidate.screwed_needs

    def passing(self, run: str, ways: Iterable[Passing]) -> list[Passing]:
        """Tees, or chains of adaptors, that no rule finds too narrow for a run."""
        asked = self.site, self.site.runs[run]
        return [way for way in ways if not self.book.refusing(Narrowed(*asked, way.bore_m))]

    def of_candidate(self, candidate: Candidate) -> tuple[Needs, Needs]:
        """Needs of a whole class, welded and screwed (the same twice for a pressure run)."""
        if self.free:
            return {}, {}
        welded: dict[Want, int] = {}
        screwed: dict[Want, int] = {}
        for (one, other), count in self._of_runs(candidate.drawn.values()).items():
            for total, needs in ((welded, self._needs[one]), (screwed, self._needs[other])):
                for want, amount in needs.items():
                    total[want] = total.get(want, 0) + amount * count
        for want, amount in self._held(candidate).items():
            welded[want] = welded.get(want, 0) + amount
            screwed[want] = screwed.get(want, 0) + amount
        pressed = self.site.runs[next(iter(candidate.drawn))].kind is RunKind.PRESSURE
        return welded, welded if pressed else screwed

    def saws(self, candidate: Candidate) -> tuple[Want, ...]:
        """A saw for each size of hole of a class, once."""
        if SundryKind.SAW not in self._counted:
            return ()
        drawn = next((drawn for drawn in candidate.drawn.values() if not drawn.later), None)
        if drawn is None:
            return ()
        holes = {self.catalog.penetrations[end.penetration].hole_m for end in drawn.holes()}
        return tuple(sorted(by_size(SundryKind.SAW, hole) for hole in holes))

    def of_chain(
        self,
        run: str,
        ends: tuple[tuple[str, End], tuple[str, End]],
        chain: Sequence[str],
        *,
        screwed: bool,
        at_start: bool = True,
    ) -> Needs:
        """Needs of a chain of adaptors at an end of a run, the joints of both its openings among them."""
        reach = self._reach[run]
        pressed = reach is Reach.WHOLE or (at_start and reach is Reach.TO_VALVE)
        key = (pressed, screwed, ends, tuple(chain))
        if key not in self._of_chain:
            joints = chain_joints(
                self.catalog, self.shelf.joining, run, ends, chain, pressed=pressed, screwed=screwed
            )
            self._of_chain[key] = self._sum(joints)
        return self._of_chain[key]

    def of_spare(self, run: str, outlet: End, line: End, chain: Sequence[str]) -> Needs:
        """Needs of a chain from a spare pump's outlet to a run, but of the joint with the run's pipe."""
        ends = (self.shelf.part_with(outlet), outlet), (self.shelf.pipe_with(line), line)
        return self._sum(chain_joints(self.catalog, self.shelf.joining, run, ends, chain, pressed=True)[:-1])

    def _of_runs(self, lines: Iterable[Line]) -> Counter[tuple[int, int]]:
        """Places on the lines of runs, as the numbers of their needs welded and screwed, with how many.

        Between any two places there is pipe, so what a place's joints take hangs on its parts and the pipe.
        A pump's head reaches as far as the valve's inlet or all along: the valve stands with the start, or
        the line counts as one place.
        """
        found: Counter[tuple[int, int]] = Counter()
        for drawn in lines if self._counted else ():
            lengths = self.shelf.bench.lengths(self.catalog.pipes[drawn.pipe])
            taped = drawn.run not in self.glued
            known = self._of_place.setdefault((drawn.pipe, self._reach[drawn.run], taped), {})
            whole = self._by_valve(drawn)
            for key, count in [(("whole", drawn), 1)] if whole else _places(drawn, lengths):
                pair = known.get(key)
                if pair is None:
                    laid = assemble(self.shelf.bench, self.site, drawn if whole else _alone(drawn, key))
                    pair = known[key] = self._number(laid, screwed=False), self._number(laid, screwed=taped)
                found[pair] += count
        return found

    def _by_valve(self, line: Line) -> bool:
        """Whether joints ahead of a line's valve are made otherwise than behind it, and there are any.

        Barbs are clamped in hose up to the valve. Ahead of it may lie turns, couplings, and what else stands.
        """
        hose = pipe_kind(self.catalog.pipes[line.pipe].end) is PipeKind.HOSE
        if not hose or self._reach[line.run] is not Reach.TO_VALVE:
            return False
        standing = [one for one in line.fittings if one.on_straight]
        first = not standing or type(standing[0]) is ValveSet
        return line.stands > 0 or line.joins > 0 or not first

    def _number(self, line: Laid, *, screwed: bool) -> int:
        """The number by which a line's needs are remembered."""
        reach = self._reach[line.run]
        self._needs.append(self._sum(joints_of(line, self.shelf.joining, reach, screwed=screwed)))
        return len(self._needs) - 1

    def _sum(self, joints: Iterable[Joint]) -> Needs:
        needs: Counter[Want] = Counter()
        for joint in joints:
            needs.update(self._joint(joint))
        return needs

    def _joint(self, joint: Joint) -> Needs:
        """What one joint takes, rounded up so that a total of them is never short."""
        if not self._counted:
            return {}
        key = (joint.left, joint.right, joint.left_end, joint.right_end, joint.kind)
        if key not in self._of_joint:
            self._of_joint[key] = {
                want: math.ceil(amount / GRAIN.get(want.kind, 1.0) - 1e-9)
                for want, amount in joint_needs(self.catalog, joint, self._amounts).items()
                if want.kind in self._counted
            }
        return self._of_joint[key]

    def _held(self, candidate: Candidate) -> Counter[Want]:
        """What holds its pipes: stands under seals, brackets on rims, screws in risers, clips along legs."""
        wants: Counter[Want] = Counter()
        stand, bracket, clip = (
            by_size(kind, candidate.pipe.outside_m)
            for kind in (SundryKind.STAND, SundryKind.BRACKET, SundryKind.CLIP)
        )
        apart_m = 0.0 if self._clips is None else self._clips.spacing_m(candidate.pipe.outside_m)
        for drawn in (line for line in candidate.drawn.values() if not line.later):
            wants[bracket] += (drawn.rim is not None) + leaves_over_rim(self.site, self.site.runs[drawn.run])
            wants[Want(SundryKind.SCREW)] += self._riser_screws * (drawn.one(Riser) is not None)
            wants[stand] += sum(
                end.sealed and self.site.vessels[end.at].wall_m < self._stands_under_m - 1e-9
                for end in drawn.holes()
            )
            if apart_m > 0:
                legs_m = candidate.legs_m.get(drawn.run) or self.site.runs[drawn.run].legs_m
                wants[clip] += sum(clips(length, apart_m) for length in legs_m)
        return Counter({want: count for want, count in wants.items() if count and want.kind in self._counted})

    def content(self, part: str) -> int:
        """What one piece of a sundry holds, in whole amounts, rounded down."""
        row = self.catalog.sundries[part]
        return math.floor(row.content / GRAIN.get(row.kind, 1.0) + 1e-9)

    def dearest(self, want: Want, amount: int) -> tuple[float, ...]:
        """The most by which an order grows if it takes `amount` more [cents], by set of shops.

        As many packs of the offer that is cheapest for it as hold the amount, though none were opened yet.
        """
        key = (want, amount)
        if key not in self._prices:
            totals = []
            for shops in self.shelf.shop_sets:
                offers = [
                    offer.price_cents * -(-amount // (self.content(row.id) * offer.pack))
                    for row in rows_for(self.catalog, want)
                    if row.id not in self.shelf.gone
                    for offer in row.offers
                    if offer.shop in shops and self.shelf.stock(row.id, offer) is None
                ]
                totals.append(min(offers, default=math.inf))
            self._prices[key] = tuple(totals)
        return self._prices[key]


def clips(leg_m: float, apart_m: float) -> int:
    """Clips on a leg of at most that length [m], so far from each other [m]; none on less than half of it."""
    # What rounding to marks adds to a leg the check leaves aside.
    return 0 if leg_m < apart_m / 2 - 1e-9 else math.ceil(leg_m / apart_m - 1e-9)


_Place = tuple[object, ...]
"""What stands at one place on a line: its name, then its parts."""


def _places(line: Line, lengths: Lengths) -> Iterator[tuple[_Place, int]]:
    """The places on a line, and how many alike there are."""
    start, rim, cap = line.start, line.rim, line.one(EndCap)
    if line.later:
        yield ("later", cap, *_joined(start)), 1
        return
    yield ("start", *_joined(start), line.one(Riser), line.one(Trim), line.one(ValveSet)), 1
    if rim is None:
        yield ("finish", *_joined(line.finish)), 1
    else:
        yield ("rim", rim.chain, rim.corner.pieces, rim.has_drop(lengths)), 1
    for one in line.fittings:
        if isinstance(one, Corner):
            if one.pieces:
                yield ("on its own", one.pieces), 1
        elif one.on_straight and type(one) is not ValveSet:
            yield ("on its own", one), 1
    if line.joins:
        yield ("coupling", line.coupling), line.joins


def _joined(end: LineEnd) -> _Place:
    """What decides the joints of an end."""
    if not isinstance(end, Pierced):
        return type(end), end.chain
    hole = end.way, end.penetration, end.chain, end.inner_chain
    if isinstance(end, ThroughWall):
        return (*hole, end.down)
    if not isinstance(end, ThroughFloor):
        return hole
    return (*hole, end.standpipe, None if end.siphon is None else end.siphon.flare)


def _alone(line: Line, place: _Place) -> Line:
    """A line of the same pipe with nothing on it but one place's parts."""
    if place[0] == "later":
        return line
    start, finish = LineEnd(line.start.at), LineEnd(line.finish.at)
    bare = Line(line.run, line.pipe, (start, finish), length_m=line.length_m, legs=line.legs)
    if place[0] == "coupling":
        return replace(bare, slots_m=((1.0, 1.0),), coupling=line.coupling)
    if place[0] == "start":
        standing = (one for one in line.fittings if type(one) in (Riser, Trim, ValveSet))
        found = sorted((*standing, line.start), key=line.fittings.index)
        return replace(bare, fittings=(*found, finish))
    if place[0] == "on its own":
        (own,) = place[1:]
        one = next(one for one in line.fittings if own == (one.pieces if isinstance(one, Corner) else one))
        return replace(bare, fittings=(start, one, finish))
    # Whatever it turns by before a rim counts as one straight.
    before = tuple(replace(turn, style=TurnStyle.BEND, pieces=()) for turn in line.corners[:-1])
    return replace(bare, fittings=(start, *(before if line.rim else ()), line.finish))
