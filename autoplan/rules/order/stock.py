"""No more is used than the shops have."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.catalog.parts import Part
from autoplan.outcome import Finding
from autoplan.places import OfPart
from autoplan.rules.base import Concern, ModelView, Rule
from autoplan.rules.linear import Linear
from autoplan.rules.quantities import PARTS, less
from autoplan.rules.survey import Survey


class Stock(Rule):
    """Pieces used <= owned and in stock, where a shop states its stock; none of what is unavailable."""

    id = "stock"
    sentence = "Nothing is used that the shops do not have."
    source = "the price list and the problem"
    unit = "pieces"
    negotiable = True
    role = Concern.STOCK
    of_money = True
    of_taste = True
    reads = (less(PARTS),)

    def encode(self, draft: ModelView) -> None:
        """Bound each part's use where every one of its offers states a stock that some answer might pass."""
        for part_id, uses in draft.uses().items():
            most = pieces_to_be_had(draft.catalog.part(part_id), draft.site.owned.get(part_id, 0))
            if most is not None and draft.may_run_short(part_id):
                draft.at_least(self.id, Linear(constant=most), uses)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per part whose stock is stated or that is unavailable."""
        for part_id, used in survey.used_pieces().items():
            owned, offers = survey.site.owned.get(part_id, 0), survey.catalog.part(part_id).offers
            sold = [0 if offer.stock is None else offer.stock * offer.pack for offer in offers]
            if part_id in survey.site.unavailable:
                yield self.at_most(OfPart(part_id), float(used), float(owned))
            elif all(offer.stock is not None for offer in offers):
                yield self.at_most(OfPart(part_id), float(used), float(owned + sum(sold)))
        for purchase in survey.drawing.purchases:
            for offer in survey.catalog.part(purchase.part).offers:
                if offer.shop == purchase.shop and offer.stock is not None:
                    place = OfPart(purchase.part, purchase.shop)
                    yield self.at_most(place, float(purchase.packs), float(offer.stock))


def pieces_to_be_had(part: Part, owned: int) -> int | None:
    """Pieces owned and in stock over all shops, or None where a shop states no limit."""
    total = owned
    for offer in part.offers:
        if offer.stock is None:
            return None
        total += offer.stock * offer.pack
    return total
