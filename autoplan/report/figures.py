"""SI floats -> the figures a builder reads. Plain arithmetic; reading units happens elsewhere."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from autoplan.catalog.parts import Catalog, Offer, Part, Pipe
from autoplan.drawing import DrawnEnd, DrawnTurn, Purchase
from autoplan.errors import InternalError

SECONDS_PER_HOUR = 3600
LITRES_PER_M3 = 1000
MM_PER_M = 1000

_DECIMALS = {"mm": 1, "m": 2, "m/s": 2, "L/h": 0, "money": 2}
"""Decimals shown by unit of a finding; other units count things."""


def mm(metres: float) -> float:
    """Metres -> millimetres."""
    return metres * MM_PER_M


def litres_per_hour(m3_per_s: float) -> float:
    """Cubic metres per second -> litres per hour."""
    return m3_per_s * LITRES_PER_M3 * SECONDS_PER_HOUR


def bucket_seconds(m3_per_s: float, litres: float = 10.0) -> float:
    """Seconds in which a flow [m3/s] fills a bucket [L]: volume / flow."""
    return litres / (m3_per_s * LITRES_PER_M3)


def fixed(value: float, decimals: int) -> str:
    """A number with that many decimals, never "-0"."""
    return f"{round(value, decimals) or 0.0:.{decimals}f}"


def whole_mm(metres: float) -> str:
    """A length [m] in whole millimetres."""
    return fixed(mm(metres), 0)


def tenth_mm(metres: float) -> str:
    """A level or loss [m] to a tenth of a millimetre."""
    return fixed(mm(metres), 1)


def flow(m3_per_s: float) -> str:
    """A flow [m3/s] in whole litres per hour."""
    return fixed(litres_per_hour(m3_per_s), 0)


def money(value: float, currency: str) -> str:
    """Money with two decimals and its currency."""
    return f"{fixed(value, 2)} {currency}"


def measure(value: float, unit: str) -> str:
    """A finding's number with the decimals its unit deserves, without the unit."""
    if not math.isfinite(value):
        return "no limit" if value > 0 else "none"
    if unit in _DECIMALS:
        return fixed(value, _DECIMALS[unit])
    return fixed(value, 0 if float(value).is_integer() else 2)


def with_unit(value: float, unit: str, currency: str) -> str:
    """A finding's number and its unit; money takes the catalogue's currency."""
    shown = currency if unit == "money" else unit
    return f"{measure(value, unit)} {shown}".strip()


def times(count: int, what: str) -> str:
    """ "3 x bend", or just "bend" for one."""
    return what if count == 1 else f"{count} x {what}"


def tally(words: Iterable[str]) -> list[str]:
    """Each word once with its count, in the order of first appearance."""
    counts: dict[str, int] = {}
    for word in words:
        counts[word] = counts.get(word, 0) + 1
    return [times(count, word) for word, count in counts.items()]


def pipe_size(pipe: Pipe) -> str:
    """What the trade calls the pipe's size: "metric 50", "poly 25"."""
    return f"{pipe.end.system} {pipe.end.size}"


def turn_words(turn: DrawnTurn) -> str:
    """One turn in words: "90 degree swept (bend-50-90)", "90 degree bending"."""
    words = f"{turn.angle} degree {turn.style}"
    parts = " + ".join(tally(turn.parts))
    return f"{words} ({parts})" if parts else words


def end_words(end: DrawnEnd, at: str) -> str:
    """How a run meets what it ends at, then its adaptors: "fish tank: bulkhead fitting (bf-25), tail-25"."""
    how = [f"{end.way} ({end.penetration})" if end.penetration else str(end.way)] if end.way else []
    return f"{at}: {', '.join([*how, *tally(end.chain)]) or 'straight on'}"


@dataclass(frozen=True, slots=True)
class OrderLine:
    """One line of the order with its prices, in the catalogue's currency.

    Attributes:
        purchase: the line as drawn.
        description: what the counter hand reads.
        unit: "m" for pipe, "piece" otherwise.
        sold_as: "stick", "metre", "piece" or "pack of N".
        unit_price: price of one of these.
        line_cost: packs x unit price.
    """

    purchase: Purchase
    description: str
    unit: str
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
        description=part.description,
        unit="m" if isinstance(part, Pipe) else "piece",
        sold_as=sold_as(part, offer),
        unit_price=offer.price_cents / 100,
        line_cost=purchase.packs * offer.price_cents / 100,
    )


def sold_as(part: Part, offer: Offer) -> str:
    """What one pack of an offer is: "stick", "metre", "piece" or "pack of N"."""
    if isinstance(part, Pipe):
        return "stick" if part.stick_m else "metre"
    return "piece" if offer.pack == 1 else f"pack of {offer.pack}"


@dataclass(frozen=True, slots=True)
class ShopTotal:
    """What one shop is paid, in the catalogue's currency: goods, and freight or a top-up to free freight."""

    shop: str
    goods: float
    freight: float
    topped_up: bool


def shop_totals(catalog: Catalog, lines: Sequence[OrderLine]) -> list[ShopTotal]:
    """Goods and freight by shop, in the order of the price list.

    Freight is free from `free_from_cents`; an order within one freight of it is topped up instead.
    """
    totals = []
    for shop in catalog.shops.values():
        mine = [line for line in lines if line.purchase.shop == shop.id and line.purchase.packs]
        if not mine:
            continue
        cents = sum(round(line.line_cost * 100) for line in mine)
        charge = shop.charge_cents(cents)
        topped_up = 0 < charge < shop.freight_cents
        totals.append(ShopTotal(shop.name, cents / 100, charge / 100, topped_up))
    return totals
