"""What the order of a drawing comes to, from its lines and the price list alone."""

from __future__ import annotations

from autoplan.catalog.parts import Catalog
from autoplan.drawing import Drawing


class Ordered:
    """A drawing's order.

    Attributes:
        catalog: the price list that its part ids refer to.
        drawing: the finished design.
    """

    catalog: Catalog
    drawing: Drawing

    def order_cents(self) -> int:
        """Price of the whole order with freight, in cents."""
        return self.goods_cents() + self.freight_cents()

    def goods_cents(self) -> int:
        """Price of the goods, in cents."""
        return sum(self.shop_cents().values())

    def shop_cents(self) -> dict[str, int]:
        """Price of the goods by shop, in cents."""
        by_shop: dict[str, int] = {}
        for line in self.drawing.purchases:
            price = {offer.shop: offer.price_cents for offer in self.catalog.part(line.part).offers}
            by_shop[line.shop] = by_shop.get(line.shop, 0) + line.packs * price[line.shop]
        return by_shop

    def freight_cents(self) -> int:
        """Freight over all shops ordered from, in cents."""
        return sum(self.catalog.shops[shop].charge_cents(value) for shop, value in self.shop_cents().items())
