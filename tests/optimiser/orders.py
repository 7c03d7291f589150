"""The cheapest order for what is needed, by trying every number of packs, sticks and metres of two shops."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from itertools import product
from operator import add

from autoplan.catalog.parts import Catalog, Offer, Pipe, Shop, Sundry, SundryKind

KERF_M, KEPT_M = 0.003, 0.010


class Orders:
    """Every way to order, as cents by shop.

    Args:
        catalog: the price list, of two shops.
    """

    def __init__(self, catalog: Catalog) -> None:
        self.catalog = catalog
        self.shops = list(catalog.shops)

    def by_shop(self, counted: Iterable[tuple[Offer, int]]) -> tuple[int, ...]:
        """Cents at each shop for packs of offers."""
        cents = Counter[str]()
        for offer, count in counted:
            cents[offer.shop] += offer.price_cents * count
        return tuple(cents[shop] for shop in self.shops)

    @cache  # noqa: B019
    def sundries(
        self, kind: SundryKind, wanted: frozenset[tuple[object, float]]
    ) -> frozenset[tuple[int, ...]]:
        """Every way to order sundries of one kind, as cents by shop."""
        sizes = sorted(wanted, key=str)
        rows = [
            row
            for row in self.catalog.sundries.values()
            if row.kind is kind and any(fits(row, size) for size, _ in sizes)
        ]
        lines = [(row, offer) for row in rows for offer in row.offers]
        total = sum(amount for _, amount in sizes)
        taking = [(amount, [row.id for row in rows if fits(row, size)]) for size, amount in sizes]
        most = [range(math.ceil(total / (row.content * o.pack) - 1e-9) + 1) for row, o in lines]
        found = []
        for counts in product(*most[:-1]):
            for last in most[-1]:
                supply: dict[str, float] = {}
                for (row, offer), count in zip(lines, (*counts, last), strict=True):
                    supply[row.id] = supply.get(row.id, 0.0) + row.content * offer.pack * count
                if meets(taking, supply):
                    found.append(self.by_shop(zip((o for _, o in lines), (*counts, last), strict=True)))
                    break  # with more of the last it costs no less
        return undominated(found)

    @cache  # noqa: B019
    def orders(self, part: str, count: int) -> frozenset[tuple[int, ...]]:
        """Every way to order so many pieces of a part, as cents by shop."""
        offers = self.catalog.part(part).offers
        counts = [
            range(min(-(-count // offer.pack), offer.stock if offer.stock is not None else count) + 1)
            for offer in offers
        ]
        return undominated(
            self.by_shop(zip(offers, packs, strict=True))
            for packs in product(*counts)
            if sum(n * o.pack for n, o in zip(packs, offers, strict=True)) >= count
        )

    @cache  # noqa: B019
    def cuts(self, pipe: str, pieces: tuple[float, ...]) -> frozenset[tuple[int, ...]]:
        """Every way to order pipe for the pieces, as cents by shop."""
        family = self.catalog.pipes[pipe].family
        rows = [row for row in self.catalog.pipes.values() if row.family == family]
        lines = [(row, offer) for row in rows for offer in row.offers]
        kerf = KERF_M if any(row.stick_m for row in rows) else 0.0
        metres = max(len(pieces), math.ceil(sum(pieces) + kerf * len(pieces) - 1e-9))
        most = [
            range(min(len(pieces) if row.stick_m else metres, metres if o.stock is None else o.stock) + 1)
            for row, o in lines
        ]
        tries = ((self.by_shop(zip((o for _, o in lines), n, strict=True)), n) for n in product(*most))
        found: list[tuple[int, ...]] = []
        for cents, counts in sorted(tries, key=lambda item: sum(item[0])):
            if any(all(a <= b for a, b in zip(old, cents, strict=True)) for old in found):
                continue
            rooms: list[Room] = []
            for (row, _), n in zip(lines, counts, strict=True):
                if row.stick_m:
                    rooms += [(row.stick_m, row.stick_m, 0.0, KEPT_M)] * n
                elif n:
                    rooms.append((float(n), longest_of(row), 0.0, 0.0))
            if packs(pieces[::-1], tuple(rooms), kerf):
                found.append(cents)
        return frozenset(found)


def is_plain(catalog: Catalog, part: str) -> bool:
    """Whether each piece simply costs the one price there is."""
    (offer, *others) = catalog.part(part).offers
    return not others and offer.pack == 1 and offer.stock is None


def fits(row: Sundry, size: object) -> bool:
    """Whether a sundry is of the size: a thread, a diameter [0.1 mm], or any."""
    if isinstance(size, tuple):
        return row.thread == size
    return not isinstance(size, int) or row.least_m - 1e-6 <= size / 1e4 <= row.most_m + 1e-6


def meets(wanted: Sequence[tuple[float, Sequence[str]]], supply: Mapping[str, float]) -> bool:
    """Whether wants can be met, each by any of its rows; single pieces are tried on every row."""
    if not wanted:
        return True
    (amount, rows), *others = wanted
    if not others:
        return sum(supply.get(row, 0.0) for row in rows) >= amount - 1e-12
    if amount <= 0:
        return meets(others, supply)
    rest = [(amount - 1, rows), *others]
    return any(supply.get(row, 0.0) >= 1 and meets(rest, {**supply, row: supply[row] - 1}) for row in rows)


def longest_of(row: Pipe) -> float:
    """The longest piece that a shop cuts of its metres [m]: 6 m of rigid pipe if it does not say."""
    if row.longest_piece_m is not None:
        return row.longest_piece_m
    return math.inf if row.bend_radius_m else 6.0


Room = tuple[float, float, float, float]
"""What is left of a length, its longest piece, the cut before the next, what two pieces leave of it [m]."""


def packs(pieces: tuple[float, ...], rooms: tuple[Room, ...], kerf: float) -> bool:
    """Whether pieces, each but the first of a length with a saw cut, fit; every piece tried on every length.

    The first piece may be all of a stick; whatever comes after it leaves the 10 mm that are kept.
    """
    if not pieces:
        return True
    if sum(pieces) + kerf * (len(pieces) - len(rooms)) > sum(max(0.0, left) for left, *_ in rooms) + 1e-9:
        return False
    return any(
        left >= pieces[0] + cut - 1e-9
        and pieces[0] <= longest + 1e-9
        and packs(
            pieces[1:],
            (*rooms[:i], (left - pieces[0] - cut - kept, longest, kerf, 0.0), *rooms[i + 1 :]),
            kerf,
        )
        for i, (left, longest, cut, kept) in enumerate(rooms)
        if rooms[i] not in rooms[:i]
    )


def undominated(totals: Iterable[tuple[int, ...]]) -> frozenset[tuple[int, ...]]:
    """Totals than which no other is as low at both shops; more goods never cost less, freight and all."""
    kept: list[tuple[int, ...]] = []
    for first, second in sorted(set(totals)):
        if not kept or second < kept[-1][1]:
            kept.append((first, second))
    return frozenset(kept)


def least_order(shops: Sequence[Shop], lines: Sequence[frozenset[tuple[int, ...]]]) -> int:
    """The least that an order of all lines costs: each line by any of its ways, then freight by shop."""
    first, *others = lines
    freight = sum(shop.freight_cents for shop in shops)
    totals = together(freight, tuple(sorted(others, key=hash)))
    return min(sum(map(with_freight, shops, map(add, a, b))) for a in first for b in totals)


@cache
def together(freight: int, lines: tuple[frozenset[tuple[int, ...]], ...]) -> frozenset[tuple[int, ...]]:
    """What lines cost together, each by any of its ways; most are those of many another design.

    Goods that cost more than others by all freight there is are in no cheapest order.
    """
    if not lines:
        return frozenset({(0, 0)})
    *others, ways = lines
    longer = undominated(
        (at + a, beside + b) for at, beside in together(freight, tuple(others)) for a, b in ways
    )
    most = min(map(sum, longer)) + freight
    return frozenset(total for total in longer if sum(total) <= most)


def least_at_once(shops: Sequence[Shop], lines: Sequence[frozenset[tuple[int, ...]]]) -> int:
    """What an order of all lines costs at least: the cheapest of each, freight where it cannot be saved."""
    sure = [min(column) for column in zip(*lines[0], strict=True)]
    freight = (
        s.freight_cents for s, goods in zip(shops, sure, strict=True) if goods and not s.free_from_cents
    )
    return sum(min(map(sum, ways)) for ways in lines) + sum(freight)


def with_freight(shop: Shop, goods: int) -> int:
    """Goods and freight; topped up to the free value where that is less."""
    if goods == 0 or shop.freight_cents == 0:
        return goods
    paid = goods + shop.freight_cents
    return paid if shop.free_from_cents is None else min(paid, max(goods, shop.free_from_cents))
