"""What to buy: a table per shop, ready to take to its counter."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from autoplan.catalog.naming import times
from autoplan.drawing import Purchase, pieces_used
from autoplan.outcome import Design, Outcome
from autoplan.report.blocks import Block, Grid, GridColumn, Heading, Para, grid_of, numbers
from autoplan.report.figures import (
    OrderLine,
    ShopOrder,
    charge_words,
    money,
    order_lines,
    shop_orders,
    used_gauge,
)
from autoplan.report.units import Units, fixed


def purchase(outcome: Outcome, design: Design, units: Units) -> Iterator[Block]:
    """Each shop's order with its total, then what all of them come to."""
    cost = design.verdict.cost
    yield Heading("Purchase list")
    orders = shop_orders(outcome.catalog, order_lines(outcome.catalog, design.drawing.purchases))
    for order in orders:
        yield Para(f"{order.shop.name} ({order.shop.id}):")
        yield _table(order, cost.currency, units)
        goods, freight = money(order.goods, cost.currency), money(order.freight, cost.currency)
        yield Para(
            f"Goods {goods}, {order.charge} {freight}, order total {money(order.total, cost.currency)}."
            + (spares(order, cost.currency) if order.topped_up else "")
        )
    yield Para(
        f"All together: goods {money(cost.purchase, cost.currency)}, "
        f"{charge_words(orders)} {money(cost.freight, cost.currency)}, "
        f"to pay {money(cost.to_pay, cost.currency)}."
    )
    mine = [times(int(line.purchase.quantity), line.part.description) for line in at_hand(outcome, design)]
    if mine:
        yield Para(f"Used of what you have: {'; '.join(mine)}.")


def at_hand(outcome: Outcome, design: Design) -> list[OrderLine]:
    """What the plan takes of the builder's own parts, as lines that buy nothing.

    Sticks of one's own stand in the cutting list, saws with their holes, and of cement and the like the order
    tells what it takes.
    """
    site, catalog = outcome.about(design).site, outcome.catalog
    if not site.owned:
        return []
    bought: Counter[str] = Counter()
    for line in design.drawing.purchases:
        packs = {offer.shop: offer.pack for offer in catalog.part(line.part).offers}
        bought[line.part] += line.packs * packs[line.shop]
    mine = (pieces_used(site, catalog.pipes, design.drawing) - bought) & Counter(site.owned)
    lines = [
        Purchase(part, catalog.part(part).offers[0].shop, float(mine[part]), 0)
        for group in catalog.groups()
        for part in group
        if mine[part]
    ]
    return order_lines(catalog, lines)


def spares(order: ShopOrder, currency: str) -> str:
    """Which parts the spares are, and why they cost less than freight."""
    return (
        f" The spares are parts of your choice from this shop, for {money(order.freight, currency)} or a "
        f"little more: freight is free from {money(order.total, currency)}."
    )


def _table(order: ShopOrder, currency: str, units: Units) -> Grid:
    def used(line: OrderLine) -> str:
        return used_gauge(line.part, units).said(line.purchase.quantity)

    return grid_of(
        order.lines,
        (GridColumn("part", 17), lambda line: line.part.id),
        (GridColumn("description", 32), lambda line: line.part.description),
        (numbers("used", 10), used),
        (numbers("buy", 13), lambda line: f"{line.purchase.packs} x {line.sold_as}"),
        (numbers(f"price {currency}", 9), lambda line: fixed(line.unit_price, 2)),
        (numbers(f"cost {currency}", 9), lambda line: fixed(line.line_cost, 2)),
    )
