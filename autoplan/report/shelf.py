"""A price list as a list to look through."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from autoplan.catalog.check import audit
from autoplan.catalog.materials import Grade, Material
from autoplan.catalog.parts import KINDS, Catalog, Part
from autoplan.report.blocks import Block, Grid, GridColumn, Heading, Para, Points, numbers
from autoplan.report.figures import sold_as
from autoplan.report.units import fixed


def shelf(catalog: Catalog) -> Iterator[Block]:
    """Every part by kind with its prices, then the gaps that keep parts from being used."""
    groups = catalog.groups()
    yield Heading(f"{catalog.name}: {sum(map(len, groups))} parts")
    for kind, parts in zip(KINDS, groups, strict=True):
        if parts:
            yield Heading(kind.title)
            yield Grid(
                (
                    GridColumn("part", 28),
                    GridColumn("description", 36),
                    GridColumn("shop", 8),
                    GridColumn("sold by the", 11),
                    numbers(f"price {catalog.currency}", 9),
                ),
                tuple(row for part in parts.values() for row in _rows(part)),
            )

    yield Heading("What fish and children are spared")
    yield Para(_spared(catalog))
    yield Heading("Gaps")
    gaps = audit(catalog)
    if gaps:
        yield Points(tuple(str(gap) for gap in gaps))
    else:
        yield Para(
            "None: every end mates with another part's, every pipe size leads to the next, pipe can be "
            "brought to every pump, and every hole has its saw."
        )


def _spared(catalog: Catalog) -> str:
    """Which materials and grades the rows tell, how silence is taken, and how many handles come off."""
    parts = [part for group in catalog.groups() for part in group.values()]
    told = Counter(str(part.material) for part in parts if part.material is not Material.PLASTIC)
    said = ", ".join(f"{count} of {material}" for material, count in told.items()) or "none of anything else"
    graded = Counter(part.grade for part in parts)
    drains, silent = graded[Grade.DRAIN], graded[Grade.UNKNOWN]
    balls = [valve for valve in catalog.valves.values() if valve.style == "ball"]
    off = sum(valve.handle_off for valve in balls)
    return (
        f"By their rows {said}; every other part is taken as plastic sold for drinking water, which the row "
        f"may say otherwise. Sold for drinking water are {graded[Grade.DRINKING]} of them, for drains "
        f"{drains}; {silent} do not say, as what stays dry need not. The handle of {off} of {len(balls)} "
        "ball valves comes off."
    )


def _rows(part: Part) -> Iterator[tuple[str, ...]]:
    for offer in part.offers:
        yield (
            part.id,
            part.description,
            offer.shop,
            sold_as(part, offer),
            fixed(offer.price_cents / 100, 2),
        )
