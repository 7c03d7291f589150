"""The price list as the optimiser uses it: what may be used, and what a piece costs."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations

from autoplan.catalog.joining import MOST_PARTS, Chain, Joining, Need, least_price
from autoplan.catalog.parts import (
    Catalog,
    End,
    Fixture,
    FixtureKind,
    Offer,
    Part,
    Penetration,
    Pipe,
    Pump,
    Tee,
    Valve,
)
from autoplan.line.laid import Bench
from autoplan.optimiser.cutting.cutting import Stick
from autoplan.optimiser.options.fees import JointFees
from autoplan.optimiser.search.clock import SearchClock, Unhurried
from autoplan.problem.site import Site

LEAST_SPEED = 0.5
"""Least share of its speed at which a slowed pump is offered; its head goes with the square."""


@dataclass(frozen=True, slots=True)
class Bill:
    """What parts cost.

    Attributes:
        prices: of those that simply cost their price, by set of shops [cents]; then, if adaptors come in
            packs, once more with whole packs of them.
        limited: pieces of the others.
        stubs: pieces of pipe, whose cost hangs on the stick that they are cut from.
    """

    prices: tuple[float, ...]
    limited: Mapping[str, int]
    stubs: Mapping[str, int]


class Shelf:
    """Parts that may be used: all in the price list but the unavailable, unless owned, and the refused.

    Args:
        site: names what is unavailable and what is owned.
        catalog: the whole price list.
        refused: parts that some rule allows nowhere, owned or not.
        scarce: parts whose stated stock may be too little for some answer; any other stock is no limit.
    """

    def __init__(
        self,
        site: Site,
        catalog: Catalog,
        refused: frozenset[str] = frozenset(),
        scarce: frozenset[str] = frozenset(),
    ) -> None:
        self.site = site
        self.catalog = catalog
        self.scarce = scarce
        self._clock: SearchClock = Unhurried()
        self._dearest: dict[tuple[str, int], tuple[float, ...]] = {}
        self.gone = refused | frozenset(
            p for p in site.unavailable if not site.owned.get(p) and not site.offcuts.get(p)
        )
        fees = JointFees(catalog, self.shop_sets)
        self.ends = 2 if self.packed else 1
        """Prices that are told for each set of shops; see `packed`."""
        ends, priced, ticking = self.ends, self._piece_prices.__getitem__, self._clock.check

        # What joins parts does not know the shelf, or neither would be freed before garbage is looked for.
        def fee(left: tuple[str, End], right: tuple[str, End]) -> tuple[tuple[float, ...], int]:
            cents, washers = fees(left, right)
            return cents * ends, washers

        few = scarce - self._own
        self.joining = Joining(catalog, self.gone, priced, self._few, fee, few, ticking)
        self.bench = Bench(catalog, self.joining)
        heads = [pump.curve[0][1] for pump in self.pumps()]
        self.shut_off_m = max(heads, default=0.0)
        self.least_shut_off_m = min(heads, default=0.0) * LEAST_SPEED**2
        self._plain_tees: dict[End, Tee | None] = {}
        self.flares: dict[str, str | None] = {}
        """By standpipe what widens its top, as far as it was looked for."""
        self._cuts: dict[tuple[tuple[Stick, ...], int], dict[tuple[int, ...], int]] = {}
        self._families: dict[object, list[Pipe]] = {}
        for pipe in catalog.pipes.values():
            if pipe.id not in self.gone:
                self._families.setdefault(pipe.family, []).append(pipe)
        self._first_rows = [rows[0] for rows in self._families.values()]
        self._pipe_with = {pipe.end: pipe.id for pipe in reversed(self._first_rows)}

    @property
    def clock(self) -> SearchClock:
        """Of the draft that is being made."""
        return self._clock

    @clock.setter
    def clock(self, clock: SearchClock) -> None:
        self._clock = clock
        self.joining.tick = clock.check

    @contextmanager
    def until(self, deadline: float | None) -> Iterator[None]:
        """Within, what is asked of it ends with `OutOfTimeError` once `time.monotonic()` is past that."""
        before, self.clock = self.clock, SearchClock(deadline)
        try:
            yield
        finally:
            self.clock = before

    def hopeless_loss_m(self, site: Site) -> float:
        """A loss [m] that neither a pump nor a site's heights can overcome: a larger one is just as hopeless.

        The model's losses end there, so that a row can be trusted however many narrow ways there are.
        """
        rims = max(vessel.rim_m for vessel in site.vessels.values())
        return self.shut_off_m + rims - min(vessel.floor_m for vessel in site.vessels.values()) + 1.0

    def pipe_families(self) -> list[Pipe]:
        """One row for each pipe that may be used, whatever the lengths it is sold in."""
        return self._first_rows

    def pipe_with(self, end: End) -> str:
        """A pipe of that end; the first of them."""
        return self._pipe_with[end]

    def part_with(self, end: End) -> str:
        """Some part with that opening: a pump's if one has it, else a tee's, else a pipe's."""
        for pump in self.catalog.pumps.values():
            if pump.outlet == end:
                return pump.id
        for tee in self.catalog.tees.values():
            if end in tee.ends:
                return tee.id
        return next(pipe.id for pipe in self.catalog.pipes.values() if pipe.end == end)

    def cuts_of(self, sticks: tuple[Stick, ...], kerf: int) -> dict[tuple[int, ...], int]:
        """What pieces cut from these sticks with that saw cost [cents], as far as it was worked out."""
        return self._cuts.setdefault((sticks, kerf), {})

    def rows_of(self, pipe: Pipe) -> list[Pipe]:
        """Every row of the same pipe."""
        return self._families[pipe.family]

    def chains(
        self, a: End, b: End, *, under_pressure: bool, need: Need = Need.JOIN, most: int = MOST_PARTS
    ) -> tuple[Chain, ...]:
        """Adaptors between two openings, none both dearer and narrower than another, cheapest first.

        What their joints take counts at the rate of the cheapest pack, a stub at its share of a stick. Under
        pressure they hold any pump's shut-off head.
        """
        return self.joining.chains(a, b, self.shut_off_m if under_pressure else 0.0, need, most)

    def plain_tee(self, end: End) -> Tee | None:
        """The cheapest square tee whose three ends take this pipe as it is."""
        if end not in self._plain_tees:
            fitting = [
                tee
                for tee in self.tees()
                if tee.angle == 90 and all(self.joining.mates(own, end) for own in tee.ends)
            ]
            self._plain_tees[end] = min(fitting, key=lambda t: (self.prices([t.id])[-1], t.id), default=None)
        return self._plain_tees[end]

    def cap(self, end: End) -> Fixture | None:
        """The cheapest cap that closes a pipe of that end."""
        fitting = [
            part
            for part in self.catalog.fixtures.values()
            if part.kind is FixtureKind.CAP
            and part.id not in self.gone
            and part.end is not None
            and self.joining.mates(part.end, end)
        ]
        return min(fitting, key=lambda part: (self.prices([part.id])[-1], part.id), default=None)

    def tees(self) -> list[Tee]:
        """Tees that may be used."""
        return [tee for tee in self.catalog.tees.values() if tee.id not in self.gone]

    def valves(self, style: str) -> list[Valve]:
        """Valves that may be used: "hand" for all with a handle, else of a style: "timed" also opened by a
        clock, "check" to let none back."""
        rows = (valve for valve in self.catalog.valves.values() if valve.id not in self.gone)
        return [row for row in rows if (row.by_hand if style == "hand" else row.style == style)]

    def penetrations(self) -> list[Penetration]:
        """Wall parts that may be used."""
        return [part for part in self.catalog.penetrations.values() if part.id not in self.gone]

    def pumps(self) -> list[Pump]:
        """Pumps that may be used."""
        return [pump for pump in self.catalog.pumps.values() if pump.id not in self.gone]

    def prices(self, parts: Iterable[str]) -> tuple[float, ...]:
        """What pieces cost by every set of shops one might order from [cents], infinite where they lack one.

        What comes in packs costs its share of a pack; if adaptors do (`packed`), all once more by whole ones.

        A plan whose pieces cost no more by any set of shops never makes the order dearer: freight is by shop,
        and what an order lacks to free freight can be topped up.
        """
        total = [0.0] * (self.ends * len(self.shop_sets))
        for part in parts:
            for i, price in enumerate(self._piece_prices[part]):
                total[i] += price
        return tuple(total)

    def metre_cents(self, pipe: Pipe) -> float:
        """Least price of a metre of a pipe [cents], whole sticks counted."""
        return min(
            offer.price_cents / offer.pack / (row.stick_m or 1.0)
            for row in self.rows_of(pipe)
            for offer in row.offers
        )

    def bill(self, parts: Iterable[str]) -> Bill:
        """What parts, or counts of them, cost as far as it does not hang on what else is bought."""
        stubs: dict[str, int] = {}
        limited: dict[str, int] = {}
        total = [0.0] * (self.ends * len(self.shop_sets))
        for part, count in (parts if isinstance(parts, Counter) else Counter(parts)).items():
            if part in self.catalog.pipes:
                stubs[part] = count
            elif part in self.limited:
                limited[part] = count
            else:
                mine = tuple(price * count for price in self._piece_prices[part])
                if count > 1 and part in self.packed:
                    mine = (*mine[: len(self.shop_sets)], *self.dearest(part, count))
                total = [old + cents for old, cents in zip(total, mine, strict=True)]
        return Bill(tuple(total), limited, stubs)

    def no_dearer(self, one: Bill, other: Bill, extra: Sequence[float] = ()) -> bool:
        """Whether one never adds more to an order than the other, by any set of shops.

        Even where the limited pieces that it has more of are bought at their dearest and those that it has
        fewer of save the least; `extra` comes on top [cents].
        """
        if any(count > other.stubs.get(part, 0) for part, count in one.stubs.items()):
            return False
        more = list(extra) or [0.0] * len(self.shop_sets)
        # What is weighed here is the same at either end of what packs cost.
        for part in (*one.limited, *(part for part in other.limited if part not in one.limited)):
            surplus = one.limited.get(part, 0) - other.limited.get(part, 0)
            if surplus > 0:
                more = [old + new for old, new in zip(more, self.dearest(part, surplus), strict=True)]
            elif surplus < 0:
                more = [old - new for old, new in zip(more, self.saved(part, -surplus), strict=True)]
        return all(
            mine + cents <= its or its == math.inf
            for mine, cents, its in zip(one.prices, more * self.ends, other.prices, strict=True)
        )

    def saved(self, part: str, count: int) -> tuple[float, ...]:
        """The least that an order is short of without so many pieces of a limited part [cents], by shop set.

        Of what is sold singly and not owned each piece less saves at least the least price, for the cheapest
        are bought first; of what comes in packs or is owned it may save nothing.
        """
        row = self.catalog.part(part)
        if self.site.owned.get(part) or any(offer.pack > 1 for offer in row.offers):
            return (0.0,) * len(self.shop_sets)
        prices = self._piece_prices[part][: len(self.shop_sets)]
        return tuple(price * count if price < math.inf else 0.0 for price in prices)

    def dearest(self, part: str, count: int) -> tuple[float, ...]:
        """The most by which pieces of a limited part add to an order [cents], by set of shops.

        At the best offer without a limit that a set of shops has, in whole packs; infinite where it has none.
        """
        key = (part, count)
        if key not in self._dearest:
            offers = [] if part in self.site.unavailable else self.catalog.part(part).offers
            self._dearest[key] = tuple(
                min(
                    (
                        float(offer.price_cents * -(-count // offer.pack))
                        for offer in offers
                        if offer.shop in shops and self.stock(part, offer) is None
                    ),
                    default=math.inf,
                )
                for shops in self.shop_sets
            )
        return self._dearest[key]

    def nominal(self, end: End) -> float:
        """Bore [m] that stands for the size of an opening: the widest pipe that ends in it, or its name's."""
        return self.joining.nominal(end)

    def stock(self, part: str, offer: Offer) -> int | None:
        """Packs of an offer that there are, or None where no answer could want as many."""
        return offer.stock if part in self.scarce else None

    def is_plain(self, part: Part) -> bool:
        """Whether a part costs so much a piece and there is enough of it: one offer, singly, none owned."""
        (offer, *others) = part.offers
        single = not others and offer.pack == 1
        return single and self.stock(part.id, offer) is None and not self.site.owned.get(part.id)

    @cached_property
    def shop_sets(self) -> list[frozenset[str]]:
        """Sets of shops that one might order from."""
        shops = list(self.catalog.shops)
        if len(shops) > 3:
            return [frozenset((shop,)) for shop in shops] + [frozenset(shops)]
        sets = [frozenset(c) for n in range(1, len(shops) + 1) for c in combinations(shops, n)]
        return sets or [frozenset()]

    @cached_property
    def _piece_prices(self) -> dict[str, tuple[float, ...]]:
        found = {}
        for part in (part for group in self.catalog.groups() for part in group):
            shares = tuple(least_price(self.catalog, part, shops) for shops in self.shop_sets)
            whole = self.dearest(part, 1) if part in self.packed else shares
            found[part] = (*shares, *whole) if self.ends == 2 else shares
        return found

    @cached_property
    def limited(self) -> frozenset[str]:
        """Parts whose pieces do not simply cost their price: in packs, few of them, or some owned."""
        parts = (part for group in self.catalog.groups() for part in group.values())
        in_packs = {part.id for part in parts if any(offer.pack > 1 for offer in part.offers)}
        return self._few | (in_packs - self.packed)

    @cached_property
    def packed(self) -> frozenset[str]:
        """Adaptors that come in packs.

        Weighed by every pack that an answer might have opened already, chains of them would hardly ever beat
        each other. So they are weighed at the two ends: at their share of a pack, and by whole packs.
        """
        rows = self.catalog.adaptors.values()
        return frozenset(row.id for row in rows if any(offer.pack > 1 for offer in row.offers)) - self._few

    @cached_property
    def _few(self) -> frozenset[str]:
        """Parts of which there may be too few, or some are owned."""
        parts = (part for group in self.catalog.groups() for part in group.values())
        short = (part.id for part in parts if any(self.stock(part.id, o) is not None for o in part.offers))
        return self._own | frozenset(short)

    @cached_property
    def _own(self) -> frozenset[str]:
        """Parts of which the builder has some."""
        return frozenset(part for had in (self.site.owned, self.site.offcuts) for part in had if had[part])
