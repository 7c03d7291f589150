"""What joints cost besides their parts, at the rate of the cheapest pack, for weighing chains of adaptors.

A compression adaptor that needs a washer is dearer than its price, a coupling takes cement. What the whole
plan takes is rounded up to packs in the model; here only the going rate counts, since chains weighed by every
single thing that they take would hardly ever beat each other.
"""

from __future__ import annotations

from collections.abc import Sequence

from autoplan.catalog.parts import Catalog, End, SundryKind
from autoplan.line.joints import Joint, kind_of
from autoplan.line.needs import Want, joint_needs, rows_for
from autoplan.rules.order.sundries import usual_amounts


class JointFees:
    """What one joint costs besides its parts [cents], by set of shops, and its washers, which come in packs.

    Args:
        catalog: the price list.
        shop_sets: sets of shops that one might order from.
    """

    def __init__(self, catalog: Catalog, shop_sets: Sequence[frozenset[str]]) -> None:
        self._catalog = catalog
        self._shop_sets = shop_sets
        self._usual = usual_amounts()
        self._joints: dict[object, tuple[tuple[float, ...], int]] = {}
        self._known: dict[Want, tuple[float, ...]] = {}

    def __call__(self, left: tuple[str, End], right: tuple[str, End]) -> tuple[tuple[float, ...], int]:
        """The fee of two ends (part id, end); an id may be empty; nothing for what no shop of a set sells."""
        key = (left, right)
        if key not in self._joints:
            kind = kind_of(left[1], right[1], pressed=False, screwed=False)
            joint = Joint("", left[0], right[0], left[1], right[1], kind)
            needs = joint_needs(self._catalog, joint, self._usual)
            cents = [0.0] * len(self._shop_sets)
            for want, amount in needs.items():
                cents = [old + amount * rate for old, rate in zip(cents, self._rates(want), strict=True)]
            self._joints[key] = tuple(cents), sum(want.kind is SundryKind.WASHER for want in needs)
        return self._joints[key]

    def _rates(self, want: Want) -> tuple[float, ...]:
        """What one of a want costs at the best rate [cents], by set of shops."""
        if want not in self._known:
            self._known[want] = tuple(self._rate(want, shops) for shops in self._shop_sets)
        return self._known[want]

    def _rate(self, want: Want, shops: frozenset[str]) -> float:
        rates = (
            offer.price_cents / (row.content * offer.pack)
            for row in rows_for(self._catalog, want)
            for offer in row.offers
            if offer.shop in shops
        )
        return min(rates, default=0.0)
