"""What every row of a file of parts has, and the columns that many kinds of part share."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Annotated

from autoplan.catalog.columns import Bar, Column, Id, Mm, Money, Named, Words
from autoplan.catalog.ends import END, Bore, End, EndColumn
from autoplan.catalog.materials import Grade, Material
from autoplan.catalog.rows import RowModel, attributes
from autoplan.catalog.shops import ONE_PRICE, PACK, STOCK, Offer

NARROWEST = "narrowest place that the water passes"
WORD_KIND = "which of the kinds in this file it is"

_SHOP = Named("which shop sells it", name="shop", among="shops")
_GRADE = Words("what water it is sold for", "not known", choices=tuple(Grade))
_MATERIAL = Words("what touches the water", "plastic sold for drinking water", choices=tuple(Material))


def _its_own(cells: tuple[str, int, int, int | None]) -> tuple[Offer]:
    return (Offer(*cells),)


@dataclass(frozen=True, slots=True)
class Part(RowModel):
    """What every row has; at least one offer, the file and line of the row.

    Its id is like no other in the catalogue.
    """

    id: Annotated[str, Id("one plain word for the part, like no other in the folder")]
    description: Annotated[str, Column("what to ask for in the shop")]
    offers: Annotated[tuple[Offer, ...], _SHOP, Money(ONE_PRICE, name="price"), PACK, STOCK, _its_own]
    source: Annotated[str, Column("where the dimensions come from")]
    place: str
    material: Annotated[Material, _MATERIAL] = field(default=Material.PLASTIC, kw_only=True)
    grade: Annotated[Grade, _GRADE] = field(default=Grade.UNKNOWN, kw_only=True)

    @property
    def openings(self) -> tuple[End, ...]:
        """Its ends in the order of its row; none of what no water flows through."""
        found: list[End] = []
        for attribute in attributes(type(self)):
            if isinstance(attribute.columns[0], EndColumn):
                value = getattr(self, attribute.name)
                found += value if len(attribute.columns) > 1 else [value] * (value is not None)
        return tuple(found)


TwoEnds = Annotated[
    tuple[End, End],
    EndColumn(f"{END}: the one side", name="end_a"),
    EndColumn(f"{END}: the other side", name="end_b"),
]
"""Both ends of a part with two."""

Passage = Annotated[float, Bore(NARROWEST)]
"""Smallest bore [m]."""

Rating = Annotated[float, Bar("pressure that it holds; 0 for drain parts", above=False)]
"""Pressure that a part holds [m of water]."""

Body = Annotated[float | None, Mm("length between the ends of the two pipes on it", "estimated", above=False)]
"""Length between the ends of what a part joins [m], None if the row does not say."""
