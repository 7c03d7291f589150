"""Words for the things of a drawing, and the order priced line by line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from autoplan.catalog.kinds.sundry import LIQUID
from autoplan.catalog.naming import name_of, row_of
from autoplan.catalog.parts import (
    AirKind,
    AirPart,
    Catalog,
    Offer,
    Part,
    Pipe,
    Shop,
    Sundry,
    SundryKind,
)
from autoplan.drawing import Purchase
from autoplan.errors import InternalError
from autoplan.fittings.ends import AtVessel, LineEnd
from autoplan.fittings.wall import Pierced, ThroughWall
from autoplan.problem.site import Guard
from autoplan.report.units import Gauge, Units, fixed


def money(value: float, currency: str) -> str:
    """Money with two decimals and its currency."""
    return f"{fixed(value, 2)} {currency}"


ZERO = "the height that the problem counts from (0)"
"""What every height of a site is measured from."""


def pipe_size(pipe: Pipe) -> str:
    """What the trade calls the pipe's size: "metric 50", "poly 25"."""
    return f"{pipe.end.system} {pipe.end.size}"


_GUARDS = {
    Guard.HOLE: "under water with a siphon-break hole",
    Guard.CHECK_VALVE: "under water behind the check valve",
}


def end_words(catalog: Catalog, end: LineEnd, at: str) -> str:
    """How a run meets what it ends at, then its adaptors: "fish tank: bulkhead fitting 25 mm + bush"."""
    how = []
    if isinstance(end, AtVessel):
        how = [name_of(catalog, end.penetration) if isinstance(end, Pierced) else str(end.way)]
        how += [_GUARDS[end.guard]] if end.guard in _GUARDS else []
    if isinstance(end, ThroughWall) and end.down is not None:
        how.append(f"{row_of(catalog, end.down.pieces)} turned down inside")
    if isinstance(end, ThroughWall) and end.well:
        how.append(f"in {name_of(catalog, end.well)}")
    said = " + ".join(filter(None, (", ".join(how), row_of(catalog, end.chain))))
    return f"{at}: {said}" if said else at


@dataclass(frozen=True, slots=True)
class OrderLine:
    """One line of the order with its prices, in the catalogue's currency.

    Attributes:
        purchase: the line as drawn.
        part: what is bought.
        sold_as: "stick", "metre", "tin", "roll", "piece" or "pack of N".
        unit_price: price of one of these.
        line_cost: packs x unit price.
    """

    purchase: Purchase
    part: Part
    sold_as: str
    unit_price: float
    line_cost: float


def order_lines(catalog: Catalog, purchases: Sequence[Purchase]) -> list[OrderLine]:
    """Every line of the order, priced.

    Raises:
        InternalError: a line names a part or a shop that the price list does not have.
    """
    return [_order_line(catalog, purchase) for purchase in purchases]


def _order_line(catalog: Catalog, purchase: Purchase) -> OrderLine:
    try:
        part = catalog.part(purchase.part)
    except KeyError:
        raise InternalError(f"the order names {purchase.part!r}, which is not in the price list") from None
    offer = next((offer for offer in part.offers if offer.shop == purchase.shop), None)
    if offer is None:
        raise InternalError(f"the order buys {part.id!r} from {purchase.shop!r}, which does not sell it")
    return OrderLine(
        purchase=purchase,
        part=part,
        sold_as=sold_as(part, offer),
        unit_price=offer.price_cents / 100,
        line_cost=purchase.packs * offer.price_cents / 100,
    )


def sold_as(part: Part, offer: Offer) -> str:
    """What one pack of an offer is: "stick", "metre", "tin", "roll", "piece" or "pack of N"."""
    if isinstance(part, Pipe):
        return "stick" if part.stick_m else "metre"
    if isinstance(part, AirPart) and part.kind is AirKind.LINE and offer.pack == 1:
        return "metre"
    one = (
        {SundryKind.CEMENT: "tin", SundryKind.CLEANER: "tin", SundryKind.TAPE: "roll"}.get(part.kind)
        if isinstance(part, Sundry)
        else None
    )
    return one or "piece" if offer.pack == 1 else f"pack of {offer.pack}"


def used_gauge(part: Part, units: Units) -> Gauge:
    """In which unit the quantity used of a part is told: pipe and tape by length, liquids by volume."""
    kind = part.kind if isinstance(part, Sundry) else None
    if isinstance(part, Pipe) or kind is SundryKind.TAPE:
        return units.bought
    return units.cement if kind in LIQUID else units.pieces


@dataclass(frozen=True, slots=True)
class ShopOrder:
    """What is ordered from one shop; money in the catalogue's currency.

    Attributes:
        shop: the shop.
        lines: in the order of the price list.
        goods: sum of the lines.
        freight: freight, or a top-up to free freight.
        topped_up: whether it is a top-up.
    """

    shop: Shop
    lines: tuple[OrderLine, ...]
    goods: float
    freight: float
    topped_up: bool

    @property
    def charge(self) -> str:
        """What is paid beside the goods, in words."""
        return charge_words([self])

    @property
    def total(self) -> float:
        """What the shop is paid."""
        return round(self.goods + self.freight, 2)


def charge_words(orders: Sequence[ShopOrder]) -> str:
    """What is paid beside the goods of some orders, in words: freight, spares in its place, or both."""
    topped = {order.topped_up for order in orders if order.freight}
    if topped == {True}:
        return "spares instead of freight"
    return "freight and spares instead of it" if topped == {True, False} else "freight"


def shop_orders(catalog: Catalog, lines: Sequence[OrderLine]) -> list[ShopOrder]:
    """The order by shop, in the order of the price list.

    Freight is free from `free_from_cents`; an order within one freight of it is topped up instead.
    """
    orders = []
    for shop in catalog.shops.values():
        mine = tuple(line for line in lines if line.purchase.shop == shop.id and line.purchase.packs)
        if not mine:
            continue
        cents = sum(round(line.line_cost * 100) for line in mine)
        charge = shop.charge_cents(cents)
        orders.append(ShopOrder(shop, mine, cents / 100, charge / 100, 0 < charge < shop.freight_cents))
    return orders
