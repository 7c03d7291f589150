"""Shops and what they ask: rows of `shops.csv` and `offers.csv`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from autoplan.catalog.columns import Column, Money, Named, Whole
from autoplan.catalog.rows import RowModel

ONE_PRICE = "price of one pack, one stick, or one metre for pipe by the metre"

PACK = Whole("pieces in a pack", "1", 1, name="pack")
STOCK = Whole("packs left", "no limit", name="stock", least=0)

FURTHER = (
    Named("id of a part that another shop sells too", name="part", among="parts"),
    Named("that other shop", name="shop", among="shops"),
    Money(f"its {ONE_PRICE}", name="price"),
    PACK,
    STOCK,
)
"""Columns of `offers.csv`: a part, then the attributes of an `Offer`."""


@dataclass(frozen=True, slots=True)
class Offer:
    """One shop's price for a part.

    Attributes:
        shop: id of the shop.
        price_cents: price of one pack (of one stick for pipe in sticks, of one metre for pipe by the metre).
        pack: pieces in a pack.
        stock: most packs the shop has, or None for no limit.
    """

    shop: str
    price_cents: int
    pack: int = 1
    stock: int | None = None


@dataclass(frozen=True, slots=True)
class Shop(RowModel):
    """A shop: freight per order [cents], and the order value from which freight is free [cents] or None."""

    id: Annotated[str, Column("short name of the shop, by which other files refer to it", name="shop")]
    name: Annotated[str, Column("the shop's name in full")]
    freight_cents: Annotated[int, Money("freight for one order from this shop; 0 for none", above=False)]
    free_from_cents: Annotated[
        int | None, Money("order value from which freight is free", "never", above=False)
    ]

    def charge_cents(self, goods_cents: int) -> int:
        """What an order of goods costs on top [cents]: freight, or topping it up to the free value.

        An order that lacks less than the freight to the value from which freight is free is topped up with
        spares instead, as anyone would.
        """
        if self.free_from_cents is None:
            return self.freight_cents
        return min(self.freight_cents, max(0, self.free_from_cents - goods_cents))
