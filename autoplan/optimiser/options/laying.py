"""How the straights of a class are laid: in one piece, or of whole sticks and the rest with couplings.

A straight is laid in one piece where one so long can be bought or is owned. Or it is laid of as many whole
lengths as come short of it (sticks, or the longest piece that a shop cuts of metres), of one kind or then of
shorter ones, and the rest. Which is cheaper hangs on what else is cut of that pipe, so each is a way to build
the class, and the model chooses. Runs of a class that ask for the same lengths are laid alike.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from itertools import combinations, combinations_with_replacement, product
from weakref import WeakKeyDictionary

from autoplan.catalog.joining import Chain, stub_length
from autoplan.catalog.parts import Pipe
from autoplan.optimiser.options.shelf import Shelf
from autoplan.units import tenth_mm_up

MOST_MIXES = 32
"""Mixes of ways to lay the straights of a class that are all weighed; of more, one rule lays all of them."""

Slots = tuple[tuple[float, ...], ...]
"""By slot, its pieces [m]."""


def planned(piece_m: float, waste: float, whole: Iterable[float]) -> float:
    """Length of a stick [m] that is kept for a piece, so that one miscut does not end a day.

    Args:
        piece_m: the piece [m].
        waste: what is kept beside it, as a share of it [-].
        whole: lengths of whole sticks [m]: a piece about as long as one is taken from nothing shorter.
    """
    roomy = (length for length in whole if length >= piece_m - 1e-9)
    return min(piece_m * (1 + waste), min(roomy, default=math.inf))


def layings(
    shelf: Shelf, pipe: Pipe, needed: Sequence[Sequence[float]], waste: float, *, under_pressure: bool
) -> Iterator[tuple[tuple[Slots, ...], tuple[str, ...]]]:
    """The ways to lay the straights of a class.

    Args:
        shelf: what may be bought and what is owned.
        pipe: first row of the pipe's family.
        needed: by run, least length of each slot [m].
        waste: what is kept beside each piece, as a share of it [-].
        under_pressure: whether couplings must hold a pump's head.

    Yields:
        By run its slots, each piece no longer than what it can be cut from, and the coupling, if any.
    """
    known = _KNOWN.setdefault(shelf, {})
    laying = known.get(pipe.id) or known.setdefault(pipe.id, _Laying(shelf, pipe))
    chains: Sequence[Chain] | None = None
    for exact in laying.ways(needed):
        slots = tuple(laying.kept(run, waste) for run in exact)
        if all(len(slot) == 1 for run in slots for slot in run):
            yield slots, ()
            continue
        if chains is None:
            found = shelf.chains(pipe.end, pipe.end, under_pressure=under_pressure, most=1)
            chains = couplings_worth_having(shelf, found)
        for chain in chains:
            yield slots, chain.parts


def couplings_worth_having(shelf: Shelf, chains: Sequence[Chain]) -> list[Chain]:
    """Couplings than which no other is as wide and costs no more at the going rate, by any set of shops.

    One that is owned is kept whatever it would cost.
    """
    kept: list[Chain] = []
    for chain in chains:
        owned = any(shelf.site.owned.get(part) for part in chain.parts)
        if owned or not any(
            other.bore_m >= chain.bore_m
            and all(a <= b for a, b in zip(other.prices, chain.prices, strict=True))
            for other in kept
        ):
            kept.append(chain)
    return kept


class _Laying:
    """What the straights of one pipe can be laid of.

    Args:
        shelf: what may be bought and what is owned.
        pipe: first row of the pipe's family.
    """

    def __init__(self, shelf: Shelf, pipe: Pipe) -> None:
        rows, site = shelf.rows_of(pipe), shelf.site
        bought = {row.longest_m for row in rows if row.id not in site.unavailable}
        owned = {row.stick_m for row in rows if row.stick_m and site.owned.get(row.id)}
        single = [piece for row in rows for piece in site.offcuts.get(row.id, ())]
        single += [float(site.owned.get(row.id, 0)) for row in rows if not row.stick_m]
        self.whole = _finite(bought | owned)
        self.longest = max([*bought, *owned, *single])
        self.there = _finite({*self.whole, *single})
        self.least = stub_length(shelf.catalog, pipe)
        self._kept: dict[float, dict[float, float]] = {}
        """By waste, what is kept for a piece; candidates ask for the same lengths again and again."""
        self.listed = _finite(r.longest_m for r in shelf.catalog.pipes.values() if r.family == pipe.family)

    def kept(self, run: Slots, waste: float) -> Slots:
        """Lengths that are kept for the pieces of a run [m]."""
        known = self._kept.setdefault(waste, {})
        for slot in run:
            for piece in slot:
                if piece not in known:
                    known[piece] = planned(piece, waste, self.there)
        return tuple(tuple([known[piece] for piece in slot]) for slot in run)

    def ways(self, needed: Sequence[Sequence[float]]) -> Iterator[tuple[Slots, ...]]:
        """By run its slots, in every mix that is weighed."""
        runs = [tuple(map(tenth_mm_up, slots)) for slots in needed]
        patterns = dict(zip(runs, needed, strict=True))
        # What may be missing must not decide it: with more parts there are never fewer ways.
        every = [slot for slots in patterns.values() for slot in slots]
        most = math.prod(1 + len(self._coupled(slot, self.listed)) for slot in every)
        mixes = self._each(patterns.values()) if most <= MOST_MIXES else self._by_rule(patterns.values())
        for mix in mixes:
            by_run = dict(zip(patterns, mix, strict=True))
            yield tuple(by_run[run] for run in runs)

    def _each(self, patterns: Iterable[Sequence[float]]) -> Iterator[tuple[Slots, ...]]:
        """Every straight for itself; of equal ones in a run it is left open which is which."""
        return product(*(self._run(slots) for slots in patterns))

    def _run(self, slots: Sequence[float]) -> list[Slots]:
        places: dict[int, list[int]] = {}
        for place, slot in enumerate(slots):
            places.setdefault(tenth_mm_up(slot), []).append(place)
        ways = [
            combinations_with_replacement(self._slot(slots[alike[0]]), len(alike))
            for alike in places.values()
        ]
        found = []
        for chosen in product(*ways):
            laid: dict[int, tuple[float, ...]] = {}
            for alike, made in zip(places.values(), chosen, strict=True):
                laid |= dict(zip(alike, made, strict=True))
            found.append(tuple(laid[place] for place in range(len(slots))))
        return found

    def _slot(self, slot: float) -> list[tuple[float, ...]]:
        """The ways to lay one straight."""
        found = [(slot,)] if slot <= self.longest + 1e-9 else []
        return [*found, *self._coupled(slot, self.whole)]

    def _coupled(self, slot: float, lengths: Sequence[float]) -> list[tuple[float, ...]]:
        """The ways to lay one straight of whole lengths and a rest."""
        if not lengths or slot <= lengths[0]:
            # No whole length comes short of it.
            return []
        ways = dict.fromkeys(self._of(slot, some) for some in _choices(lengths))
        return [way for way in ways if len(way) > 1]

    def _of(self, slot: float, lengths: Sequence[float]) -> tuple[float, ...]:
        """Of given lengths, longest first, as many as come short of it, and the rest.

        The rest is at least as long as what goes into two parts; the last whole length is cut for it.
        """
        pieces: list[float] = []
        rest = slot
        for whole in sorted(lengths, reverse=True):
            count = max(0, math.ceil(rest / whole - 1e-9) - 1)
            pieces += [whole] * count
            rest -= whole * count
        if pieces:
            more = max(0.0, min(self.least, pieces[-1] / 2) - rest)
            pieces[-1], rest = pieces[-1] - more, rest + more
        return (*pieces, rest)

    def _by_rule(self, patterns: Iterable[Sequence[float]]) -> Iterator[tuple[Slots, ...]]:
        """All in one piece up to some length, and of the same whole lengths beyond it."""
        found: dict[tuple[Slots, ...], None] = {}
        runs = list(patterns)
        for most in dict.fromkeys((*self.whole, self.longest)):
            for some in ((), *_choices([length for length in self.whole if length <= most])):
                laid = tuple(
                    tuple((slot,) if slot <= most + 1e-9 else self._of(slot, some) for slot in slots)
                    for slots in runs
                )
                if all(max(pieces) <= self.longest + 1e-9 for slots in laid for pieces in slots):
                    found[laid] = None
        yield from found


def _choices(lengths: Sequence[float]) -> list[tuple[float, ...]]:
    """Every choice of some of the lengths."""
    return [some for count in range(1, len(lengths) + 1) for some in combinations(lengths, count)]


def _finite(lengths: Iterable[float]) -> list[float]:
    """Lengths that there is an end to, shortest first."""
    return sorted({length for length in lengths if math.isfinite(length)})


_KNOWN: WeakKeyDictionary[Shelf, dict[str, _Laying]] = WeakKeyDictionary()
"""By shelf and pipe what its straights can be laid of: the same for every candidate."""
