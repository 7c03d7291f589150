"""What is bought: packs of parts and sticks of pipe over the shops, as part of the one model."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from autoplan.catalog.parts import Offer, Pipe
from autoplan.rules.linear import Linear, Var, total, weighted
from autoplan.selection.cutting import CuttingUndecidedError, Stick, cheapest
from autoplan.selection.model import Model
from autoplan.selection.shelf import Shelf, is_plain
from autoplan.units import tenth_mm_down, tenth_mm_up

OUT_OF_REACH = 10_000_000
"""A cost [cents] for pieces that no number of sticks would hold."""

MOST_PIECES = 400
"""Most packs of one offer that a plan may buy."""


@dataclass(frozen=True, slots=True)
class Bought:
    """An offer and how many packs of it: a variable for limited parts, else the pieces used themselves."""

    part: str
    offer: Offer
    packs: Linear


@dataclass(frozen=True, slots=True)
class Orders:
    """The purchase side of the model.

    Attributes:
        bought: every line that could be ordered.
        spending: goods and freight [cents].
        goods: goods alone [cents].
        pipe_spending: what each pipe costs [cents], by the id of its family's first row.
        ordered: by shop, whether anything is ordered there.
    """

    bought: tuple[Bought, ...]
    spending: Linear
    goods: Linear
    pipe_spending: Mapping[str, Linear]
    ordered: Mapping[str, Var]


def encode_orders(
    model: Model,
    shelf: Shelf,
    uses: Mapping[str, Linear],
    pieces: Mapping[str, Sequence[tuple[Var, Sequence[float]]]],
    choices: Sequence[tuple[Var, Mapping[str, int]]],
    kerf_m: float,
) -> Orders:
    """Write buying into the model.

    Args:
        model: gets the pack counts and the freight choices.
        shelf: offers and pieces owned.
        uses: pieces used of each part that is not pipe, as expressions of the choices.
        pieces: by the first row of a pipe's family, for each choice the pieces it cuts [m].
        choices: every choice with the pieces of each part that it uses.
        kerf_m: width of a saw cut [m].

    Sticks are bounded by length (pieces and saw cuts against sticks) and by the pieces longer than half a
    stick. That is a lower bound on what must be bought; the cutting plan checks the answer exactly.
    """
    bought: list[Bought] = []
    for part_id, count in uses.items():
        part = shelf.catalog.part(part_id)
        if is_plain(part, shelf.site):
            bought.append(Bought(part_id, part.offers[0], count))
            continue
        lines = _packs(model, part_id, part.offers)
        owned = shelf.site.owned.get(part_id, 0)
        model.at_least("purchase-list", total(line.packs * line.offer.pack for line in lines) + owned, count)
        bought += lines
    pipe_spending: dict[str, Linear] = {}
    for pipe_id, cuts in pieces.items():
        lines = _sticks(model, shelf, shelf.catalog.pipes[pipe_id], cuts, kerf_m)
        pipe_spending[pipe_id] = total(line.packs * line.offer.price_cents for line in lines)
        _alone(model, shelf, shelf.catalog.pipes[pipe_id], cuts, pipe_spending[pipe_id], kerf_m)
        bought += lines
    goods = total(line.packs * line.offer.price_cents for line in bought)
    freight, ordered = _freight(model, shelf, bought, choices)
    return Orders(tuple(bought), goods + freight, goods, pipe_spending, ordered)


def _packs(model: Model, part_id: str, offers: Sequence[Offer]) -> list[Bought]:
    lines = []
    for offer in offers:
        most = MOST_PIECES if offer.stock is None else min(MOST_PIECES, offer.stock)
        packs = model.integer(f"{part_id} from {offer.shop}", 0, most)
        lines.append(Bought(part_id, offer, weighted([(packs, 1)])))
    return lines


def _sticks(
    model: Model, shelf: Shelf, pipe: Pipe, cuts: Sequence[tuple[Var, Sequence[float]]], kerf_m: float
) -> list[Bought]:
    lines: list[Bought] = []
    room: list[Linear] = []
    owned_length = 0
    for row in shelf.rows_of(pipe):
        made = _packs(model, row.id, row.offers)
        usable = tenth_mm_down(row.stick_m + kerf_m) if row.stick_m else 10_000
        room += [line.packs * (usable * line.offer.pack) for line in made]
        owned_length += shelf.site.owned.get(row.id, 0) * usable
        lines += made
    sticks = [row.stick_m for row in shelf.rows_of(pipe)]
    longest = max(sticks)
    # Where there is nothing but metres, the shop cuts to measure and no saw cut of the builder's is lost.
    cut = kerf_m if longest else 0.0
    # The last piece of a length bought by the metre needs no saw cut after it.
    spared = tenth_mm_down(kerf_m) * sticks.count(0.0) if longest else 0
    needed = weighted((var, sum(tenth_mm_up(piece + cut) for piece in list_)) for var, list_ in cuts)
    model.at_least("purchase-list", total(room) + owned_length + spared, needed)
    metres = [line for line in lines if shelf.catalog.pipes[line.part].stick_m == 0]
    whole = weighted(
        (var, sum(tenth_mm_up(piece) for piece in list_ if piece > longest + 1e-9)) for var, list_ in cuts
    )
    if longest:
        model.at_least("purchase-list", total(line.packs * 10_000 for line in metres) + owned_length, whole)
    if all(sticks):
        halves = weighted((var, sum(1 for p in list_ if p > longest / 2)) for var, list_ in cuts)
        owned = sum(shelf.site.owned.get(row.id, 0) for row in shelf.rows_of(pipe))
        model.at_least("purchase-list", total(line.packs * line.offer.pack for line in lines) + owned, halves)
    return lines


def _alone(
    model: Model,
    shelf: Shelf,
    pipe: Pipe,
    cuts: Sequence[tuple[Var, Sequence[float]]],
    spending: Linear,
    kerf_m: float,
) -> None:
    """What a class's pieces cost even if it alone used the pipe: true of every plan, and a tight bound.

    Without it a relaxation buys a third of a stick for a third of a stick's pieces.
    """
    if any(shelf.site.owned.get(row.id) for row in shelf.rows_of(pipe)):
        return
    pieces = dict(cuts_by_choice(cuts))
    for group in model.groups:
        inside = [(var, pieces[var]) for var in group if pieces.get(var)]
        if inside:
            costs = weighted((var, least_cost(shelf, pipe, list_, kerf_m)) for var, list_ in inside)
            model.at_least("purchase-list", spending, costs)


def cuts_by_choice(cuts: Sequence[tuple[Var, Sequence[float]]]) -> dict[Var, list[float]]:
    """Pieces by choice; a choice may cut the same pipe as its run and as a stub."""
    merged: dict[Var, list[float]] = {}
    for var, list_ in cuts:
        merged.setdefault(var, []).extend(list_)
    return merged


def least_cost(shelf: Shelf, pipe: Pipe, pieces: Sequence[float], kerf_m: float) -> int:
    """Least that sticks and metres for these pieces cost [cents]: exact, by the cutting plan; else 0.

    Where there is nothing but metres the shop cuts, and only the length counts.
    """
    rows = shelf.rows_of(pipe)
    sticks = [stick_of(row) for row in rows]
    kerf = tenth_mm_up(kerf_m) if any(row.stick_m for row in rows) else 0
    cut = tuple(sorted(tenth_mm_up(piece) for piece in pieces))

    def work_out() -> int:
        try:
            best = cheapest(cut, sticks, kerf, 0)
        except CuttingUndecidedError:
            return 0
        return OUT_OF_REACH if best is None else best[0]

    return shelf.remember((pipe.family, cut), work_out)


def sticks_from(shelf: Shelf, rows: Sequence[Pipe], shops: Collection[str]) -> list[Stick]:
    """What a pipe can be cut from: pieces owned, and each offer of the shops ordered from."""
    found = []
    for row in rows:
        length, by_metre = tenth_mm_down(row.stick_m or 1.0), row.stick_m == 0
        owned = shelf.site.owned.get(row.id, 0)
        if owned:
            found.append(Stick(row.id, length, 0, owned, by_metre))
        for offer in row.offers:
            if offer.shop in shops:
                most = MOST_PIECES if offer.stock is None else offer.stock * offer.pack
                found.append(Stick(row.id, length, offer.price_cents // offer.pack, most, by_metre))
    return found


def stick_of(row: Pipe) -> Stick:
    """A row of a pipe as a kind of stick."""
    price = min(math.floor(offer.price_cents / offer.pack) for offer in row.offers)
    return Stick(row.id, tenth_mm_down(row.stick_m or 1.0), price, MOST_PIECES, by_metre=row.stick_m == 0)


def _freight(
    model: Model,
    shelf: Shelf,
    bought: Sequence[Bought],
    choices: Sequence[tuple[Var, Mapping[str, int]]],
) -> tuple[Linear, dict[str, Var]]:
    """Freight of every shop ordered from, or the top-up to its free value where that is less."""
    freight = Linear()
    ordered: dict[str, Var] = {}
    only = _needs_shop(shelf, choices)
    for shop in shelf.catalog.shops.values():
        lines = [line for line in bought if line.offer.shop == shop.id]
        if not lines:
            continue
        goods = total(line.packs * line.offer.price_cents for line in lines)
        used = model.choice(f"order from {shop.id}")
        ordered[shop.id] = used
        for line in lines:
            most = sum(max(0, coef) * model.variables[var].high for var, coef in line.packs.terms.items())
            if len(line.packs.terms) == 1 and most:
                model.at_least("purchase-list", weighted([(used, most)]), line.packs)
        for group in model.groups:
            needing = [var for var in group if shop.id in only.get(var, ())]
            if needing:
                model.at_least("purchase-list", weighted([(used, 1)]), weighted((v, 1) for v in needing))
        if not shop.freight_cents:
            continue
        pays = model.integer(f"freight from {shop.id}", 0, shop.freight_cents)
        freight = freight + weighted([(pays, 1)])
        if shop.free_from_cents is None:
            model.at_least("purchase-list", weighted([(pays, 1)]), weighted([(used, shop.freight_cents)]))
            continue
        topped = model.choice(f"top up the order from {shop.id}")
        charge = weighted([(used, shop.freight_cents), (topped, -shop.freight_cents)])
        model.at_least("purchase-list", weighted([(pays, 1)]), charge)
        short = weighted([(topped, shop.free_from_cents)]) - goods
        model.at_least("purchase-list", weighted([(pays, 1)]), short)
    if ordered and not shelf.site.owned:
        model.at_least("purchase-list", weighted((var, 1) for var in ordered.values()), 1)
    return freight, ordered


def _needs_shop(shelf: Shelf, choices: Sequence[tuple[Var, Mapping[str, int]]]) -> dict[Var, set[str]]:
    """For each choice, the shops that alone sell some part of it."""
    needs: dict[Var, set[str]] = {}
    for var, parts in choices:
        for part in parts:
            offers = {offer.shop for offer in shelf.catalog.part(part).offers}
            if len(offers) == 1 and part not in shelf.catalog.pipes and not shelf.site.owned.get(part):
                needs.setdefault(var, set()).update(offers)
    return needs
