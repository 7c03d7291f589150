"""What is bought: packs of parts and sticks of pipe over the shops, as part of the one model."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from autoplan.catalog.parts import Catalog, Offer, Part, Pipe, Shop
from autoplan.optimiser.cutting.cutting import CuttingUndecidedError, Stick, cheapest
from autoplan.optimiser.model.model import Model
from autoplan.optimiser.options.shelf import Shelf
from autoplan.rules.base import Concern
from autoplan.rules.book import ROLES
from autoplan.rules.linear import Linear, Var, evaluate, total, weighted
from autoplan.units import tenth_mm_down, tenth_mm_up

NO_STICKS = -1
"""In place of a cost [cents], for pieces that all there are do not hold."""

MOST_PIECES = 400
"""Most packs of one offer that a plan may buy."""


FEW_SHOPS = 2
"""Up to so many shops that ask for freight each is ordered from or not; more make sets (`shop_sets`)."""


@dataclass(frozen=True, slots=True)
class Bought:
    """An offer and how many packs of it: a variable for limited parts, else the pieces used themselves."""

    part: str
    offer: Offer
    packs: Linear


@dataclass(frozen=True, slots=True)
class Supply:
    """A kind of stick and how many packs of it there are: a variable, or a constant for the builder's own."""

    stick: Stick
    packs: Linear


@dataclass(frozen=True, slots=True)
class Freight:
    """What a shop asks for carriage, as choices.

    Attributes:
        shop: the shop.
        goods: what is ordered there [cents].
        used, unused: whether anything is, and whether nothing is.
        pays: freight or what tops the order up [steps]; None where there is no freight.
        topped: whether the order counts as topped up; None where none can be.
        untopped: that it does not, as a choice of its own where there are many shops; else None.
        closing: what is not made or bought where nothing is ordered there.
        links: the places of the model's rows that say so.
        step: what a step is worth [cents].
    """

    shop: Shop
    goods: Linear
    used: Var
    unused: Var
    pays: Var | None = None
    topped: Var | None = None
    untopped: Var | None = None
    step: int = 1
    closing: frozenset[Var] = frozenset()
    links: range = range(0)

    @property
    def choices(self) -> tuple[Var, ...]:
        """Its choices."""
        made = (self.used, self.unused, self.topped, self.untopped)
        return tuple(var for var in made if var is not None)

    @property
    def paid(self) -> Linear:
        """What is paid [cents]."""
        return Linear() if self.pays is None else weighted([(self.pays, self.step)])

    def least(self, values: Sequence[int]) -> Iterator[tuple[Var, int]]:
        """The values of its choices with no more to pay than the goods of an answer ask for."""
        goods = evaluate(self.goods, values)
        charge = self.shop.charge_cents(goods) if goods else 0
        yield from ((self.used, int(goods > 0)), (self.unused, int(goods == 0)))
        if self.pays is not None:
            yield self.pays, -(-charge // self.step)
        if self.topped is not None:
            topped = int(goods > 0 and charge < self.shop.freight_cents)
            yield self.topped, topped
            if self.untopped is not None:
                yield self.untopped, 1 - topped


@dataclass(frozen=True, slots=True)
class Orders:
    """The purchase side of the model.

    Attributes:
        bought: every line that could be ordered.
        supplies: what each pipe can be cut from, by the id of its family's first row.
        spending: goods and freight [cents].
        goods: goods alone [cents].
        pipe_spending: what each pipe costs [cents], by the id of its family's first row.
        freight: for each shop that anything could be ordered from.
    """

    bought: tuple[Bought, ...]
    supplies: Mapping[str, tuple[Supply, ...]]
    spending: Linear
    goods: Linear
    pipe_spending: Mapping[str, Linear]
    freight: tuple[Freight, ...]

    @property
    def ordered(self) -> dict[str, Var]:
        """By shop, whether anything is ordered there."""
        return {freight.shop.id: freight.used for freight in self.freight}

    @property
    def asking(self) -> list[Freight]:
        """The shops that ask for freight."""
        return [one for one in self.freight if one.pays is not None]

    def with_least_freight(self, values: Sequence[int]) -> tuple[int, ...]:
        """An answer with the same order and no more freight than it asks for."""
        least = list(values)
        for freight in self.freight:
            for var, value in freight.least(values):
                least[var] = value
        return tuple(least)


def encode_orders(
    model: Model,
    shelf: Shelf,
    sundries: Sequence[Bought],
    uses: Mapping[str, Linear],
    pieces: Mapping[str, Sequence[tuple[Var, Sequence[float]]]],
    choices: Sequence[tuple[Var, Mapping[str, int]]],
    kerf_m: float,
    kept_m: float,
) -> Orders:
    """Write buying into the model.

    Args:
        model: gets the pack counts and the freight choices.
        shelf: offers and pieces owned.
        sundries: lines already written for cement, clamps and the like.
        uses: pieces used of each part that is not pipe, as expressions of the choices.
        pieces: by the first row of a pipe's family, for each choice the pieces it cuts [m].
        choices: every choice with the pieces of each part that it uses.
        kerf_m: width of a saw cut [m].
        kept_m: what stays of each stick that more than one piece is cut from [m].

    Sticks are bounded by length (pieces and saw cuts against sticks), by the pieces longer than half a stick,
    and by what the pieces of each class cost alone. That is a lower bound on what must be bought; the cutting
    plan checks the answer exactly, with what sticks keep: none of these bounds counts it.
    """
    bought: list[Bought] = list(sundries)
    for part_id, count in uses.items():
        part = shelf.catalog.part(part_id)
        if shelf.is_plain(part):
            bought.append(Bought(part_id, part.offers[0], count))
            continue
        lines = _packs(model, shelf, part, model.most(count.terms))
        owned = shelf.site.owned.get(part_id, 0)
        model.at_least(
            ROLES[Concern.ORDER], total(line.packs * line.offer.pack for line in lines) + owned, count
        )
        if not owned and all(line.offer.pack > 1 for line in lines):
            _opened(model, lines, count)
        bought += lines
    supplies: dict[str, tuple[Supply, ...]] = {}
    pipe_spending: dict[str, Linear] = {}
    for pipe_id, cuts in pieces.items():
        found, lines = _supplies(model, shelf, shelf.catalog.pipes[pipe_id], tenth_mm_up(kept_m))
        supplies[pipe_id] = tuple(found)
        pipe_spending[pipe_id] = total(line.packs * line.offer.price_cents for line in lines)
        _bounds(model, found, cuts, kerf_m)
        _alone(model, shelf, found, cuts, pipe_spending[pipe_id], kerf_m)
        bought += lines
    goods = total(line.packs * line.offer.price_cents for line in bought)
    freight = tuple(_freight(model, shelf, bought, choices))
    paid = total(one.paid for one in freight)
    return Orders(tuple(bought), supplies, goods + paid, goods, pipe_spending, freight)


def _opened(model: Model, lines: Sequence[Bought], count: Linear) -> None:
    """A pack is opened as soon as one choice of a group uses a piece: a relaxation buys a tenth of a pack."""
    packs, groups = total(line.packs for line in lines), dict[int, list[Var]]()
    for var in count.terms:
        groups.setdefault(model.group_of(var), []).append(var)
    for using in groups.values():
        model.at_least(ROLES[Concern.ORDER], packs, weighted((var, 1) for var in using))


def _packs(model: Model, shelf: Shelf, part: Part, pieces: int | None = None) -> list[Bought]:
    """The lines that may be ordered of a part, none of more packs than hold the pieces, if known."""
    lines = []
    for offer in part.offers:
        stock = shelf.stock(part.id, offer)
        most = MOST_PIECES if stock is None else min(MOST_PIECES, stock)
        if pieces is not None:
            most = min(most, -(-pieces // offer.pack))
        # What is not to be had stays on the shelf only for the pieces that the builder owns.
        if part.id in shelf.site.unavailable:
            most = 0
        packs = model.integer(f"{part.id} from {offer.shop}", 0, most)
        lines.append(Bought(part.id, offer, weighted([(packs, 1)])))
    return lines


def _supplies(model: Model, shelf: Shelf, pipe: Pipe, kept: int) -> tuple[list[Supply], list[Bought]]:
    """All that a pipe can be cut from, the builder's own first, and the lines that could be ordered."""
    rows = shelf.rows_of(pipe)
    # Where there is nothing but metres, the shop cuts to measure and no saw cut of the builder's is lost.
    loose = not any(row.stick_m for row in rows)
    own: list[Supply] = []
    sold: list[Supply] = []
    lines: list[Bought] = []
    for row in rows:
        length, by_metre = tenth_mm_down(row.stick_m or 1.0), row.stick_m == 0
        # A roll, or what a shop cuts of metres, has no end to keep.
        stays = 0 if by_metre else kept
        pieces = Counter(tenth_mm_down(piece) for piece in shelf.site.offcuts.get(row.id, ()))
        kinds = [Stick(row.id, piece, 0, count, keeps=kept) for piece, count in sorted(pieces.items())]
        if shelf.site.owned.get(row.id):
            kinds.append(Stick(row.id, length, 0, shelf.site.owned[row.id], by_metre, keeps=stays))
        own += [Supply(kind, Linear(constant=kind.most)) for kind in kinds]
        for line in _packs(model, shelf, row):
            (packs,) = line.packs.terms
            offer, most = line.offer, model.variables[packs].high
            cents, limit = offer.price_cents, longest_piece(row)
            sold_as = row.id, length, cents, most, by_metre, offer.pack, loose, offer.shop, limit
            kind = Stick(*sold_as, keeps=stays)
            sold.append(Supply(kind, line.packs))
            lines.append(line)
    return own + sold, lines


def longest_piece(row: Pipe) -> int | None:
    """The longest piece that a shop cuts of a row by the metre [0.1 mm]; None where there is no limit."""
    return None if row.stick_m or math.isinf(row.longest_m) else tenth_mm_down(row.longest_m)


def _bounds(
    model: Model, supplies: Sequence[Supply], cuts: Sequence[tuple[Var, Sequence[float]]], kerf_m: float
) -> None:
    """What every plan that can be laid keeps: length with saw cuts, and sticks for the longer pieces."""
    kinds = [supply.stick for supply in supplies]
    cut = 0 if any(kind.to_measure for kind in kinds) else tenth_mm_up(kerf_m)
    pieces = [(var, [tenth_mm_up(piece) for piece in list_]) for var, list_ in cuts]

    most = max(1, model.most({var: sum(list_) + cut * len(list_) for var, list_ in pieces}))

    def room(supply: Supply) -> Linear:
        """Length, and for each single length the cut that its last piece does not need."""
        kind = supply.stick
        if kind.by_metre:
            return supply.packs * (kind.length * kind.pack) + cut
        # More than could ever be needed counts as no more: a coil is not bought by the hundredth.
        return supply.packs * min((kind.length + cut) * kind.pack, most)

    needed = weighted((var, sum(list_) + cut * len(list_)) for var, list_ in pieces)
    model.at_least(ROLES[Concern.ORDER], total(room(supply) for supply in supplies), needed)
    longest = max((kind.length for kind in kinds if not kind.by_metre), default=0)
    metres = [supply for supply in supplies if supply.stick.by_metre]
    limits = [supply.stick.longest for supply in metres]
    if None not in limits and longest:
        alone = max(longest // 2, *(limit for limit in limits if limit is not None), 0)
        count = weighted((var, sum(1 for piece in list_ if piece > alone)) for var, list_ in pieces)
        # Metres hold no piece so long; a stick holds one that is over half the longest, a short one none.
        sticks = (supply for supply in supplies if not supply.stick.by_metre)
        holding = [s.packs * s.stick.pack for s in sticks if s.stick.length > alone]
        model.at_least(ROLES[Concern.ORDER], total(holding), count)
    if metres and longest:
        whole = weighted((var, sum(piece for piece in list_ if piece > longest)) for var, list_ in pieces)
        lengths = total(supply.packs * (supply.stick.length * supply.stick.pack) for supply in metres)
        model.at_least(ROLES[Concern.ORDER], lengths, whole)


def _alone(
    model: Model,
    shelf: Shelf,
    supplies: Sequence[Supply],
    cuts: Sequence[tuple[Var, Sequence[float]]],
    spending: Linear,
    kerf_m: float,
) -> None:
    """What a class's pieces cost even if it alone used the pipe: true of every plan, and a tight bound.

    Without it a relaxation buys a third of a stick for a third of a stick's pieces.
    """
    sticks, kerf = tuple(supply.stick for supply in supplies), tenth_mm_up(kerf_m)
    known = shelf.cuts_of(sticks, kerf)
    pieces = cuts_by_choice(cuts)

    def alone(var: Var) -> int:
        cut = tuple(sorted(map(tenth_mm_up, pieces[var])))
        if cut not in known:
            known[cut] = least_cost(cut, sticks, kerf)
        return known[cut]

    for group in model.groups:
        shelf.clock.check()
        costs = [(var, alone(var)) for var in group if pieces.get(var)]
        never = [var for var, cents in costs if cents == NO_STICKS]
        if never:
            model.at_least(ROLES[Concern.ORDER], weighted((var, -1) for var in never), 0)
        if costs:
            model.at_least(ROLES[Concern.ORDER], spending, weighted((v, max(0, cents)) for v, cents in costs))


def cuts_by_choice(cuts: Sequence[tuple[Var, Sequence[float]]]) -> dict[Var, list[float]]:
    """Pieces by choice; a choice may cut the same pipe as its run and as a stub."""
    merged: dict[Var, list[float]] = {}
    for var, list_ in cuts:
        merged.setdefault(var, []).extend(list_)
    return merged


def least_cost(pieces: Sequence[int], sticks: Sequence[Stick], kerf: int) -> int:
    """Least that sticks for these pieces cost [cents], or what could be proven of it; else NO_STICKS."""
    try:
        best = cheapest(pieces, sticks, kerf)
    except CuttingUndecidedError as undecided:
        return undecided.at_least
    return NO_STICKS if best is None else best[0]


def _freight(
    model: Model,
    shelf: Shelf,
    bought: Sequence[Bought],
    choices: Sequence[tuple[Var, Mapping[str, int]]],
) -> list[Freight]:
    """Freight of every shop ordered from, or the top-up to its free value where that is less."""
    found: list[Freight] = []
    step = money_step(shelf.catalog)
    only = _needs_shop(shelf, choices)
    many = sum(shop.freight_cents > 0 for shop in shelf.catalog.shops.values()) > FEW_SHOPS
    for shop in shelf.catalog.shops.values():
        lines = [line for line in bought if line.offer.shop == shop.id]
        if not lines:
            continue
        goods = total(line.packs * line.offer.price_cents for line in lines)
        used, unused = model.choice(f"order from {shop.id}"), model.choice(f"nothing from {shop.id}")
        model.exactly_one([used, unused])
        first = len(model.inequalities)
        for line in lines:
            most = sum(max(0, coef) * model.variables[var].high for var, coef in line.packs.terms.items())
            if len(line.packs.terms) == 1 and most:
                model.at_least(ROLES[Concern.ORDER], weighted([(used, most)]), line.packs)
        for group in model.groups:
            needing = [var for var in group if shop.id in only.get(var, ())]
            if needing:
                model.at_least(ROLES[Concern.ORDER], weighted([(used, 1)]), weighted((v, 1) for v in needing))
        closing = frozenset(var for line in lines for var in line.packs.terms)
        links = range(first, len(model.inequalities))
        order = Freight(shop, goods, used, unused, step=step, closing=closing, links=links)
        found.append(_charge(model, order, many=many))
    if found and not shelf.site.owned and not shelf.site.offcuts:
        model.at_least(ROLES[Concern.ORDER], weighted((one.used, 1) for one in found), 1)
    return found


def _charge(model: Model, order: Freight, *, many: bool) -> Freight:
    """What is paid for carriage if anything is ordered, and whether the order is topped up instead."""
    shop, used = order.shop, order.used
    if not shop.freight_cents:
        return order
    pays = model.integer(f"freight from {shop.id}", 0, shop.freight_cents // order.step)
    order = replace(order, pays=pays)
    if shop.free_from_cents is None:
        model.at_least(ROLES[Concern.ORDER], order.paid, weighted([(used, shop.freight_cents)]))
        return order
    topped = model.choice(f"top up the order from {shop.id}")
    charge = weighted([(used, shop.freight_cents), (topped, -shop.freight_cents)])
    model.at_least(ROLES[Concern.ORDER], order.paid, charge)
    short = weighted([(topped, shop.free_from_cents)]) - order.goods
    model.at_least(ROLES[Concern.ORDER], order.paid, short)
    if not many:
        return replace(order, topped=topped)
    untopped = model.choice(f"no top-up of the order from {shop.id}")
    model.exactly_one([topped, untopped])
    return replace(order, topped=topped, untopped=untopped)


def _needs_shop(shelf: Shelf, choices: Sequence[tuple[Var, Mapping[str, int]]]) -> dict[Var, set[str]]:
    """For each choice, the shops that alone sell some part of it."""
    needs: dict[Var, set[str]] = {}
    alone: dict[str, str | None] = {}
    for var, parts in choices:
        for part in parts:
            if part not in alone:
                alone[part] = _only_shop(shelf, part)
            shop = alone[part]
            if shop is not None:
                needs.setdefault(var, set()).add(shop)
    return needs


def _only_shop(shelf: Shelf, part: str) -> str | None:
    """The shop that alone sells a part of which the builder has none; None for pipe."""
    offers = {offer.shop for offer in shelf.catalog.part(part).offers}
    bought = part not in shelf.catalog.pipes and not shelf.site.owned.get(part)
    return offers.pop() if bought and len(offers) == 1 else None


def money_step(catalog: Catalog) -> int:
    """What every price, freight and free value is a multiple of [cents]: 100 where there are no cents."""
    money = [shop.freight_cents for shop in catalog.shops.values()]
    money += [shop.free_from_cents or 0 for shop in catalog.shops.values()]
    parts = (part for group in catalog.groups() for part in group.values())
    return math.gcd(*money, *(offer.price_cents for part in parts for offer in part.offers)) or 1
