"""The cheapest adaptors between two openings, from the graph of what joins what.

Nodes of the graph are openings, edges are adaptors and stubs of pipe. Which openings mate is said in
`autoplan.catalog.mating`.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from enum import IntEnum
from functools import cached_property
from operator import gt

from autoplan.catalog.mating import Mating
from autoplan.catalog.parts import Adaptor, Catalog, End, Pipe

STUB_GAP_M = 0.008
"""Pipe that shows between the two sockets that a stub joins [m]; common practice, no source."""

BARB_M = 0.04
"""Length of a barb that hose or poly line is pushed over [m]; typical, no source."""

MOST_PARTS = 4
"""Longer chains are not offered: each joint is one more to leak."""

Prices = tuple[float, ...]
"""What a part or a chain costs [cents], by every set of shops one might order from."""


Fee = Callable[[tuple[str, End], tuple[str, End]], tuple[Prices, int]]
"""What the joint of two ends (part id, end) costs besides its parts, and pieces that it takes out of a pack.

The id of a part that is not known is empty. Chains that take more pieces never beat others by price.
"""


class Need(IntEnum):
    """What a chain of adaptors must be able to do beside joining; a higher need includes the lower."""

    JOIN = 0
    COME_APART = 1
    GIVE = 2
    """Take up a little height and angle: a flexible rubber coupling, which comes apart too."""


@dataclass(frozen=True, slots=True)
class Chain:
    """Adaptors in a row.

    Attributes:
        parts: part ids from the first opening to the second; the id of a pipe stands for a stub of it.
        prices: sum over the parts [cents], by set of shops.
        bore_m: smallest passage [m], infinite if there are no parts.
        rating_m: least pressure rating [m of water], infinite if there are no parts.
        stubs: the pipes among the parts, in order.
        can: the highest need that it meets.
    """

    parts: tuple[str, ...] = ()
    prices: Prices = ()
    bore_m: float = math.inf
    rating_m: float = math.inf
    stubs: tuple[str, ...] = ()
    can: Need = Need.JOIN

    def reversed(self) -> Chain:
        """The same chain from its far end."""
        return Chain(self.parts[::-1], self.prices, self.bore_m, self.rating_m, self.stubs[::-1], self.can)


@dataclass(frozen=True, slots=True)
class _Label:
    """A way to reach an opening; `score` is less is better in every place, parts of `limited` aside."""

    score: tuple[float, ...]
    parts: tuple[str, ...]
    limited: tuple[str, ...]
    few: tuple[str, ...] = ()

    def beats(self, other: _Label) -> bool:
        """Whether the other is not worth keeping beside this one."""
        if self.limited != other.limited or (self.few and Counter(self.few) - Counter(other.few)):
            return False
        return not any(map(gt, self.score, other.score))


@dataclass(frozen=True, slots=True)
class _Step:
    """One edge of the graph as the search uses it."""

    part: str
    near: End
    far: End
    prices: Prices
    bore_m: float
    can: Need


@dataclass(eq=False)
class Joining:
    """The joining graph of a catalogue.

    Args:
        catalog: where the adaptors and the pipe for stubs come from.
        without: ids of parts that may not be used.
        prices: what one piece of a part (one stub of a pipe) costs by set of shops; the least offer if None.
        limited: parts whose pieces do not simply cost their price (few, or owned); no chain beats another by
            price that has not all of its.
        fee: what a joint costs besides its parts, or None for nothing.
        few: of those the ones that cost their price, as far as there are any: a chain with more of them, and
            else with the same, is worse.
        tick: called again and again; may raise.
    """

    catalog: Catalog
    without: frozenset[str] = frozenset()
    prices: Callable[[str], Prices] | None = None
    limited: frozenset[str] = frozenset()
    fee: Fee | None = None
    few: frozenset[str] = frozenset()
    tick: Callable[[], None] = lambda: None

    def __post_init__(self) -> None:
        self._mating = Mating(self.catalog.systems)
        self._reached: dict[tuple[End, float, int], dict[End, list[_Label]]] = {}
        self._chains: dict[tuple[End, End, float, Need, int], tuple[Chain, ...]] = {}
        self._steps: dict[tuple[End, float], list[_Step]] = {}

    def mates(self, a: End, b: End) -> bool:
        """Whether two openings join without anything between them, in either order."""
        return self._mating.mates(a, b)

    def chain(
        self, a: End, b: End, need_rating_m: float = 0.0, need: Need = Need.JOIN, most: int = MOST_PARTS
    ) -> Chain | None:
        """The cheapest of `chains`, or None."""
        found = self.chains(a, b, need_rating_m, need, most)
        return found[0] if found else None

    def chains(
        self, a: End, b: End, need_rating_m: float = 0.0, need: Need = Need.JOIN, most: int = MOST_PARTS
    ) -> tuple[Chain, ...]:
        """Adaptors from opening a to opening b: none both dearer and narrower than another.

        Args:
            a, b: openings; nothing is needed if they mate and need nothing but to join.
            need_rating_m: least pressure rating of each part [m of water].
            need: what the chain must be able to do.
            most: most parts in a chain.

        Returns:
            Chains, cheapest first, then wider, fewest parts and first by id among equals. A bore counts only
            as far as the size of a goes. Empty if no chain joins them.
        """
        key = (a, b, self._rating_step(need_rating_m), need, most)
        if key not in self._chains:
            self._chains[key] = self._look_up(*key)
        return self._chains[key]

    def opening(self, a: End, b: End, need_rating_m: float = 0.0) -> tuple[Chain, ...]:
        """Chains from opening a to b that come apart, also with each part that does so next to b.

        Of `chains` those that come apart, and for each such part the chains from a to it, though another part
        made the whole cheaper: where halves of two chains must fit each other that tells in both together.

        Args:
            a, b, need_rating_m: as for `chains`.
        """
        found = {chain.parts: chain for chain in self.chains(a, b, need_rating_m, Need.COME_APART)}
        for part in self.catalog.adaptors.values():
            if not part.apart or part.rating_m < need_rating_m or part.id in self.without:
                continue
            for near, far in {part.ends: 0, part.ends[::-1]: 0}:
                ways = self.chains(a, near, need_rating_m, most=MOST_PARTS - 1) if self.mates(far, b) else ()
                for way in ways:
                    parts = (*way.parts, part.id)
                    prices = tuple(map(sum, zip(way.prices, self._priced(part.id), strict=True)))
                    bore, rating = min(way.bore_m, part.bore_m), min(way.rating_m, part.rating_m)
                    found.setdefault(parts, Chain(parts, prices, bore, rating, way.stubs, _can(part)))
        return tuple(found.values())

    def _look_up(self, a: End, b: End, rating: float, need: Need, most: int) -> tuple[Chain, ...]:
        if need is Need.JOIN and self.mates(a, b):
            return (Chain(prices=(0.0,) * self._width),)
        if b.form == "seal" and a.form != "seal":
            return tuple(back.reversed() for back in self.chains(b, a, rating, need, most))
        kept: list[_Label] = []
        for end, labels in self._reach(a, rating, most).items():
            if self.mates(end, b):
                for label in labels:
                    if -label.score[-1] >= need:
                        score = self._charged(label, end, ("", b))
                        _keep(kept, replace(label, score=(*score[:-1], 0.0)))
        kept.sort(
            key=lambda label: (min(label.score[: self._width]), label.score, len(label.parts), label.parts)
        )
        return tuple(self._chain(label) for label in kept)

    def _chain(self, label: _Label) -> Chain:
        pipes, adaptors = self.catalog.pipes, self.catalog.adaptors
        rows = [adaptors[part] if part in adaptors else pipes[part] for part in label.parts]
        return Chain(
            label.parts,
            label.score[: self._width],
            min((row.bore_m for row in rows), default=math.inf),
            min((row.rating_m for row in rows), default=math.inf),
            tuple(part for part in label.parts if part in pipes),
            max((_can(row) for row in rows), default=Need.JOIN),
        )

    def _reach(self, a: End, rating: float, most: int) -> dict[End, list[_Label]]:
        """The ways worth keeping to every opening that up to `most` parts reach from a."""
        key = (a, rating, most)
        if key not in self._reached:
            cap = self.nominal(a) or math.inf
            found: dict[End, list[_Label]] = {}
            frontier = [(a, _Label((*(0.0,) * self._width, 0.0, -cap, 0.0), (), ()))]
            for _ in range(most):
                ahead = []
                for end, label in frontier:
                    self.tick()
                    for step in self._steps_from(end, rating):
                        longer = self._longer(label, end, step)
                        if _keep(found.setdefault(step.far, []), longer):
                            ahead.append((step.far, longer))
                frontier = [(end, label) for end, label in ahead if label in found[end]]
            self._reached[key] = found
        return self._reached[key]

    def _longer(self, label: _Label, end: End, step: _Step) -> _Label:
        score = self._charged(label, end, (step.part, step.near))
        prices = [old + more for old, more in zip(score, step.prices, strict=False)]
        bore, can = max(score[-2], -step.bore_m), min(score[-1], -float(step.can))
        limited, few = label.limited, label.few
        if step.part in self.few:
            few = (*few, step.part)
        elif step.part in self.limited:
            limited = tuple(sorted((*limited, step.part)))
        return _Label((*prices, score[-3], bore, can), (*label.parts, step.part), limited, few)

    def _steps_from(self, opening: End, rating: float) -> list[_Step]:
        """The edges from an opening that hold a pressure, without those that another beats.

        A seal takes nothing but pipe. A stub comes from pipe by the metre where there is some, since a stick
        is bought whole.
        """
        key = (opening, rating)
        if key not in self._steps:
            found = [
                _Step(part.id, near, far, self._priced(part.id), part.bore_m, _can(part))
                for near, pieces in self._by_end.items()
                if self.mates(opening, near)
                for part, far in pieces
                if part.rating_m >= rating and (isinstance(part, Pipe) or opening.form != "seal")
            ]
            pipes, sticks = self.catalog.pipes, self._sticks
            metres = {step.far for step in found if step.part in pipes and step.part not in sticks}
            found = [step for step in found if step.part not in sticks or step.far not in metres]
            found.sort(key=lambda step: (step.prices, step.part))
            self._steps[key] = _worth_while(found, self.limited)
        return self._steps[key]

    @cached_property
    def _sticks(self) -> frozenset[str]:
        """Pipes that are sold in sticks or coils."""
        return frozenset(pipe.id for pipe in self.catalog.pipes.values() if pipe.stick_m)

    def _priced(self, part: str) -> Prices:
        """What one piece of a part, or one stub of a pipe, costs."""
        return self.prices(part) if self.prices else (least_price(self.catalog, part),)

    def _charged(self, label: _Label, end: End, right: tuple[str, End]) -> tuple[float, ...]:
        """A label's score with the fee of the joint between its last part's end and the next."""
        if self.fee is None:
            return label.score
        fee, pieces = self.fee((label.parts[-1] if label.parts else "", end), right)
        prices = [old + more for old, more in zip(label.score, fee, strict=False)]
        return (*prices, label.score[-3] + pieces, *label.score[-2:])

    def _rating_step(self, need: float) -> float:
        """The least rating in the catalogue that will do, so that equal questions have one answer kept."""
        place = bisect_left(self._ratings, need)
        return self._ratings[place] if place < len(self._ratings) else math.inf

    @cached_property
    def _ratings(self) -> tuple[float, ...]:
        return tuple(sorted({part.rating_m for pieces in self._by_end.values() for part, _ in pieces}))

    @cached_property
    def _width(self) -> int:
        """Sets of shops that prices are given for."""
        return next((len(self._priced(part)) for group in self.catalog.groups() for part in group), 1)

    def nominal(self, end: End) -> float:
        """Widest bore of the pipe of an opening's size [m], 0 where there is none."""
        return self._nominal.get((end.system, end.size), 0.0)

    @cached_property
    def _nominal(self) -> dict[tuple[str, str], float]:
        """Widest bore of the pipe of each size [m]."""
        widths: dict[tuple[str, str], float] = {}
        for pipe in self.catalog.pipes.values():
            key = (pipe.end.system, pipe.end.size)
            widths[key] = max(widths.get(key, 0.0), pipe.bore_m)
        return widths

    @cached_property
    def _by_end(self) -> dict[End, list[tuple[Adaptor | Pipe, End]]]:
        """By near end: each adaptor, either way round, and each rigid pipe as a stub, with the far end."""
        found: dict[End, list[tuple[Adaptor | Pipe, End]]] = {}
        for part in self.catalog.adaptors.values():
            if part.id not in self.without:
                for near, far in {part.ends: 0, part.ends[::-1]: 0}:
                    found.setdefault(near, []).append((part, far))
        for pipe in self.catalog.pipes.values():
            if pipe.id not in self.without and pipe.end.form == "spigot" and pipe.bend_radius_m == 0:
                found.setdefault(pipe.end, []).append((pipe, pipe.end))
        return found


def _keep(kept: list[_Label], label: _Label) -> bool:
    """Add a label unless one there beats it; drop those that it beats."""
    if any(other.beats(label) for other in kept):
        return False
    kept[:] = [other for other in kept if not label.beats(other)]
    kept.append(label)
    return True


def _worth_while(steps: Sequence[_Step], limited: frozenset[str]) -> list[_Step]:
    """Steps, in order, that none before them to the same opening matches in price, bore and ability."""
    kept: list[_Step] = []
    for step in steps:
        beaten = any(
            (other.near, other.far) == (step.near, step.far)
            and other.bore_m >= step.bore_m
            and other.can >= step.can
            and all(mine <= its for mine, its in zip(other.prices, step.prices, strict=True))
            and not {other.part, step.part} & limited
            for other in kept
        )
        if not beaten:
            kept.append(step)
    return kept


def _can(row: Adaptor | Pipe) -> Need:
    if isinstance(row, Pipe) or not row.apart:
        return Need.JOIN
    return Need.GIVE if row.flexible else Need.COME_APART


def adaptor_like(catalog: Catalog, part: str) -> Adaptor | Pipe:
    """An adaptor, or the pipe that a stub is cut from.

    Raises:
        KeyError: the part is neither.
    """
    return catalog.adaptors[part] if part in catalog.adaptors else catalog.pipes[part]


def stub_length(catalog: Catalog, pipe: Pipe) -> float:
    """Length of a piece of pipe that joins two parts [m]: twice what goes into them and what shows between.

    Rigid pipe goes into a socket; where the price list gives no depth, it is half the outside and 6 mm (ISO
    727, from memory). Hose and poly line are pushed over a barb as far as `BARB_M`.
    """
    if pipe.end.form == "bore":
        return 2 * BARB_M + STUB_GAP_M
    size = catalog.systems.get(pipe.end.system, {}).get(pipe.end.size)
    depth = size.socket_m if size is not None and size.socket_m else pipe.outside_m / 2 + 0.006
    return 2 * depth + STUB_GAP_M


def least_price(catalog: Catalog, part_id: str, shops: Iterable[str] | None = None) -> float:
    """Least price of one piece of a part, or of one stub of a pipe [cents]; infinite if none sells it."""
    part = catalog.part(part_id)
    share = stub_length(catalog, part) / (part.stick_m or 1.0) if isinstance(part, Pipe) else 1.0
    offers = part.offers if shops is None else [o for o in part.offers if o.shop in set(shops)]
    return min((offer.price_cents / offer.pack * share for offer in offers), default=math.inf)
