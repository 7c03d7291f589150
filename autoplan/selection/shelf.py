"""The price list as the selection uses it: what may be used, what a piece costs, how pipe is cut."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations

from autoplan.catalog.joining import STUB_M, Chain, Joining
from autoplan.catalog.parts import Catalog, End, Part, Penetration, Pipe, Pump, Tee, Turn, Valve
from autoplan.problem.site import Site


@dataclass(frozen=True, slots=True)
class Cut:
    """Pieces [m] no longer than a stick, and the couplings that join them where a leg was longer."""

    pieces_m: tuple[float, ...]
    couplings: tuple[str, ...]


class Shelf:
    """Parts that may be used: all in the price list but the unavailable, unless owned.

    Args:
        site: names what is unavailable and what is owned.
        catalog: the whole price list.
    """

    def __init__(self, site: Site, catalog: Catalog) -> None:
        self.site = site
        self.catalog = catalog
        self.gone = frozenset(part for part in site.unavailable if not site.owned.get(part))
        self.joining = Joining(catalog, without=self.gone)
        self.shut_off_m = max((pump.curve[0][1] for pump in self.pumps()), default=0.0)
        self._by_end: dict[End, list[Turn]] = {}
        self._plain_tees: dict[End, Tee | None] = {}
        self._known: dict[object, int] = {}
        self._families: dict[object, list[Pipe]] = {}
        for pipe in catalog.pipes.values():
            if pipe.id not in self.gone:
                self._families.setdefault(pipe.family, []).append(pipe)

    def pipe_families(self) -> list[Pipe]:
        """One row for each pipe that may be used, whatever the lengths it is sold in."""
        return [rows[0] for rows in self._families.values()]

    def remember(self, key: object, work_out: Callable[[], int]) -> int:
        """A number that is asked for again and again, worked out once."""
        if key not in self._known:
            self._known[key] = work_out()
        return self._known[key]

    def rows_of(self, pipe: Pipe) -> list[Pipe]:
        """Every row of the same pipe."""
        return self._families[pipe.family]

    def turns_on(self, end: End) -> list[Turn]:
        """Bends both of whose ends take this pipe as it is."""
        if end not in self._by_end:
            self._by_end[end] = [
                turn
                for turn in self.catalog.turns.values()
                if turn.id not in self.gone and all(self.joining.mates(own, end) for own in turn.ends)
            ]
        return self._by_end[end]

    def chain(self, a: End, b: End, *, under_pressure: bool) -> Chain | None:
        """The cheapest adaptors between two openings; under pressure they hold any pump's shut-off head."""
        return self.joining.chain(a, b, need_rating_m=self.shut_off_m if under_pressure else 0.0)

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

    def tees(self) -> list[Tee]:
        """Tees that may be used."""
        return [tee for tee in self.catalog.tees.values() if tee.id not in self.gone]

    def balancing_valves(self) -> list[Valve]:
        """Valves by which a flow can be set."""
        return [v for v in self.catalog.valves.values() if v.style == "ball" and v.id not in self.gone]

    def penetrations(self) -> list[Penetration]:
        """Wall parts that may be used."""
        return [part for part in self.catalog.penetrations.values() if part.id not in self.gone]

    def pumps(self) -> list[Pump]:
        """Pumps that may be used."""
        return [pump for pump in self.catalog.pumps.values() if pump.id not in self.gone]

    def prices(self, parts: Iterable[str]) -> tuple[float, ...]:
        """What pieces cost by every set of shops one might order from [cents], infinite where they lack one.

        A plan whose pieces cost no more by any set of shops never makes the order dearer: freight is by shop,
        and what an order lacks to free freight can be topped up.
        """
        total = [0.0] * len(self._shop_sets)
        for part in parts:
            for i, price in enumerate(self._piece_prices[part]):
                total[i] += price
        return tuple(total)

    def beats(self, part: str, other: str) -> bool:
        """Whether a piece costs no more than another by any set of shops, and comes first among equals."""
        a, b = self._piece_prices[part], self._piece_prices[other]
        if part in self.limited or other in self.limited:
            return False
        return all(x <= y for x, y in zip(a, b, strict=True)) and (a != b or part < other)

    def nominal(self, end: End) -> float:
        """Bore [m] that stands for the size of an opening: the widest pipe that ends in it, or its name's."""
        return self._nominal.get((end.system, end.size), 0.0)

    @cached_property
    def _nominal(self) -> dict[tuple[str, str], float]:
        widths: dict[tuple[str, str], float] = {}
        for pipe in self.catalog.pipes.values():
            key = (pipe.end.system, pipe.end.size)
            widths[key] = max(widths.get(key, 0.0), pipe.bore_m)
        return widths

    @cached_property
    def _shop_sets(self) -> list[frozenset[str]]:
        shops = list(self.catalog.shops)
        if len(shops) > 3:
            return [frozenset((shop,)) for shop in shops] + [frozenset(shops)]
        sets = [frozenset(c) for n in range(1, len(shops) + 1) for c in combinations(shops, n)]
        return sets or [frozenset()]

    @cached_property
    def _piece_prices(self) -> dict[str, tuple[float, ...]]:
        prices = {}
        for group in self.catalog.groups():
            for part in group.values():
                share = STUB_M / (part.stick_m or 1.0) if isinstance(part, Pipe) else 1.0
                prices[part.id] = tuple(
                    min(
                        (o.price_cents / o.pack * share for o in part.offers if o.shop in shops),
                        default=math.inf,
                    )
                    for shops in self._shop_sets
                )
        return prices

    @cached_property
    def limited(self) -> frozenset[str]:
        """Parts whose pieces do not simply cost their price: in packs, few of them, or some owned."""
        return frozenset(
            part.id
            for group in self.catalog.groups()
            for part in group.values()
            if self.site.owned.get(part.id) or any(o.pack > 1 or o.stock is not None for o in part.offers)
        )

    def cut(self, pipe: Pipe, pieces: Sequence[float], *, under_pressure: bool) -> Cut | None:
        """Split what is longer than the longest stick; None if that needs a coupling there is not."""
        rows = self.rows_of(pipe)
        if any(row.stick_m == 0 for row in rows):
            return Cut(tuple(pieces), ())
        stick = max(row.stick_m for row in rows)
        done: list[float] = []
        couplings: list[str] = []
        for piece in pieces:
            count = max(1, math.ceil(piece / stick - 1e-9))
            if count > 1:
                chain = self.chain(pipe.end, pipe.end, under_pressure=under_pressure)
                if chain is None:
                    return None
                couplings += [part for part in chain.parts if part in self.catalog.adaptors] * (count - 1)
            done += [stick] * (count - 1) + [piece - stick * (count - 1)]
        return Cut(tuple(done), tuple(couplings))


def is_plain(part: Part, site: Site) -> bool:
    """Whether a part costs so much a piece and there is enough of it: one offer, singly, none owned."""
    (offer, *others) = part.offers
    return not others and offer.pack == 1 and offer.stock is None and not site.owned.get(part.id)
