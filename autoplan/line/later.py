"""What a bed to come later will take: the rest of its feed and its drain, as they are drawn."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace

from autoplan.catalog.joining import Joining
from autoplan.catalog.parts import Catalog, Pipe
from autoplan.fittings.cap import EndCap
from autoplan.fittings.screen import InletScreen
from autoplan.line.laid import Bench, assemble
from autoplan.line.row import Line
from autoplan.problem.site import Site


@dataclass(frozen=True, slots=True)
class LaterLine:
    """One line of what is bought then.

    Attributes:
        part: its id.
        quantity: pieces, or metres of pipe.
        packs: how many packs, sticks or metres of the cheapest offer.
        cents: what they cost.
    """

    part: str
    quantity: float
    packs: int
    cents: int


def later_lines(site: Site, catalog: Catalog, lines: Iterable[Line]) -> tuple[LaterLine, ...]:
    """What runs drawn for later take, each part at its cheapest offer, by itself and without freight.

    A feed is cut at its cap and goes on from the stub by a coupling; what is at its tee is there already.
    """
    bench = Bench(catalog, Joining(catalog))
    parts: Counter[str] = Counter()
    lengths: Counter[str] = Counter()
    for line in lines:
        laid = assemble(bench, site, replace(line, slots_m=()), whole=True)
        cap = line.one(EndCap)
        there = len(line.start.chain) if cap is not None else 0
        for item in (*laid.items[there:], *(side.item for side in laid.sides)):
            if item.length_m is None:
                parts[item.part] += 1
            else:
                lengths[item.part] += item.length_m  # type: ignore[assignment]
            parts.update(() if item.through is None else (item.through,))
        for screen in line.all(InletScreen):
            parts.update(screen.parts())
        # Bell and guard stand round the line; a flare is on it.
        on_line = {item.part for item in laid.items}
        upright = () if line.floor is None else line.floor.upright_parts
        parts.update(part for part in upright if part not in on_line)
        if cap is not None:
            end = catalog.pipes[line.pipe].end
            chain = bench.joining.chain(end, end, most=1)
            parts.update(() if chain is None else chain.parts)
    pieces = [_pieces(catalog, part, count) for part, count in parts.items()]
    return (*(_pipe(catalog, pipe, length) for pipe, length in lengths.items()), *pieces)


def _pieces(catalog: Catalog, part: str, count: int) -> LaterLine:
    offers = [
        (offer.price_cents * -(-count // offer.pack), -(-count // offer.pack))
        for offer in catalog.part(part).offers
    ]
    cents, packs = min(offers)
    return LaterLine(part, float(count), packs, cents)


def _pipe(catalog: Catalog, pipe: str, length_m: float) -> LaterLine:
    """The row of the same pipe that gives the length at least cost."""
    family = [row for row in catalog.pipes.values() if row.family == catalog.pipes[pipe].family]
    offers = [
        (offer.price_cents * packs, row.id, packs)
        for row in family
        for offer in row.offers
        for packs in (_packs(row, offer.pack, length_m),)
    ]
    cents, row_id, packs = min(offers)
    return LaterLine(row_id, length_m, packs, cents)


def _packs(row: Pipe, pack: int, length_m: float) -> int:
    return math.ceil(length_m / ((row.stick_m or 1.0) * pack) - 1e-9)
