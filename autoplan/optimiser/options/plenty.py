"""Which stated stocks could be too little: of all others there is plenty, and they limit nothing.

Options are first weighed as if every stated stock were without end. Whatever an answer then chooses among
those that are kept, of each group of choices it makes one, so of each part it takes at most the sum of what
the greediest of every group takes. A stock that holds as much never binds. Nor would it have changed what
was left out: an option that another beats may be exchanged for that one in any answer, at no more cost, until
only kept options are left, and these find enough. Where a stock holds less, its part is scarce, and a draft
is made anew in which its pieces are weighed as scarce ones.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TypeVar

from autoplan.catalog.parts import Catalog
from autoplan.line.needs import Want, rows_for
from autoplan.optimiser.model.model import Model
from autoplan.optimiser.options.consumables import Counting, Needs
from autoplan.optimiser.options.shelf import Shelf
from autoplan.problem.site import Site
from autoplan.rules.linear import Var
from autoplan.units import tenth_mm_up

Thing = TypeVar("Thing")

FEW = 4
"""Pieces that a small system may well want of one part."""


def in_doubt(shelf: Shelf) -> bool:
    """Whether any shop says how much it has of anything that is not known to be scarce."""
    return any(
        offer.stock is not None
        for group in shelf.catalog.groups()
        for part in group.values()
        if part.id not in shelf.scarce
        for offer in part.offers
    )


def likely(site: Site, catalog: Catalog) -> frozenset[str]:
    """Parts that may well be too few, by a guess: it saves a draft, and whatever it is all stays true."""
    few = max(FEW, len(site.runs) // 2)
    return frozenset(
        part.id
        for group in catalog.groups()
        for part in group.values()
        if _runs_short(catalog, part.id, few + 1)
    )


def run_short(
    model: Model,
    counting: Counting,
    parts: Iterable[tuple[Var, Mapping[str, int]]],
    pieces: Mapping[str, Sequence[tuple[Var, Sequence[float]]]],
    needs: Iterable[tuple[Var, Needs]],
    saws: Iterable[tuple[Var, tuple[Want, ...]]],
    kerf_m: float,
) -> frozenset[str]:
    """Parts that are not scarce yet and of which some answer might want more than a shop says that it has.

    Args:
        model, counting: the groups of choices; the shelf and what its sundries hold.
        parts: every choice with the pieces of each part that it uses.
        pieces: by the first row of a pipe's family, for each choice the pieces it cuts [m].
        needs: every choice that takes sundries with what it takes; one may stand there more than once.
        saws: every choice that needs holes, with the saws for them; of each saw one will do.
        kerf_m: width of a saw cut [m].
    """
    shelf = counting.shelf
    wanted = {part: n for part, n in _most(model, parts).items() if part not in shelf.catalog.pipes}
    for pipe, cuts in pieces.items():
        wanted |= _of_pipe(shelf, model, pipe, cuts, tenth_mm_up(kerf_m))
    amounts = _most(model, needs)
    amounts |= dict.fromkeys((want for _, wants in saws for want in wants), 1)
    for want, amount in amounts.items():
        for row in rows_for(shelf.catalog, want):
            # A row that serves several wants may have to serve them all.
            wanted[row.id] = wanted.get(row.id, 0) + -(-amount // counting.content(row.id))
    return frozenset(
        part
        for part, count in wanted.items()
        if part not in shelf.scarce and _runs_short(shelf.catalog, part, count)
    )


def _runs_short(catalog: Catalog, part: str, count: int) -> bool:
    offers = catalog.part(part).offers
    return any(offer.stock is not None and offer.stock * offer.pack < count for offer in offers)


def _of_pipe(
    shelf: Shelf,
    model: Model,
    pipe: str,
    cuts: Sequence[tuple[Var, Sequence[float]]],
    kerf: int,
) -> dict[str, int]:
    """By row, a stick for every piece, or metres for all: no plan that buys none in vain takes more."""
    taken: dict[Var, dict[str, int]] = {}
    for var, lengths in cuts:
        mine = taken.setdefault(var, {"pieces": 0, "length": 0})
        mine["pieces"] += len(lengths)
        mine["length"] += sum(tenth_mm_up(length) + kerf for length in lengths)
    most = _most(model, taken.items())
    metres = -(-most.get("length", 0) // 10_000)
    rows = shelf.rows_of(shelf.catalog.pipes[pipe])
    return {row.id: most.get("pieces", 0) if row.stick_m else metres for row in rows}


def _most(model: Model, takings: Iterable[tuple[Var, Mapping[Thing, int]]]) -> dict[Thing, int]:
    """By thing, the most that any answer takes; what one choice takes in two ways counts as the greater."""
    terms: dict[Thing, dict[Var, int]] = {}
    for var, taken in takings:
        for thing, amount in taken.items():
            of = terms.setdefault(thing, {})
            of[var] = max(of.get(var, 0), amount)
    return {thing: model.most(of) for thing, of in terms.items()}
