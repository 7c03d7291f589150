"""Cement, tape, screws, washers, clamps, stands and saws: bought for what the choices take together.

A tin or a roll serves every joint, so what is bought is the total rounded up to packs, and the first pack is
needed as soon as one choice takes anything: said choice by choice, which keeps the relaxation honest.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from autoplan.catalog.parts import Sundry
from autoplan.line.needs import Want, rows_for
from autoplan.optimiser.model.model import Model
from autoplan.optimiser.model.purchase import Bought
from autoplan.optimiser.options.consumables import Counting, Needs
from autoplan.rules.base import Concern
from autoplan.rules.book import ROLES
from autoplan.rules.linear import Linear, Var, total, weighted

RULE = ROLES[Concern.SUNDRIES]

MOST_PACKS = 100
"""Most packs of one offer of a sundry that a plan may buy."""


@dataclass(frozen=True, slots=True)
class Taking:
    """A choice and what it takes: welded, and where drains are screwed."""

    var: Var
    welded: Needs
    screwed: Needs


@dataclass(frozen=True, slots=True)
class Stores:
    """The sundries in the model.

    Attributes:
        lines: every line that could be ordered.
        wants: what is wanted of each, as expressions of the choices, welded and screwed.
        rows: by want, the rows that meet it, with the amount of it that each covers.
        screwed: the choice that drains are screwed, or None where that is no choice.
    """

    lines: tuple[Bought, ...]
    wants: Mapping[Want, tuple[Linear, Linear]]
    rows: Mapping[Want, Sequence[tuple[str, Linear]]]
    screwed: Var | None


def encode_sundries(
    model: Model, counting: Counting, takings: Sequence[Taking], saws: Sequence[tuple[Var, tuple[Want, ...]]]
) -> Stores:
    """Write the sundries into the model.

    Args:
        model: gets the packs, and the choice between welded and screwed drains where it is open.
        counting: the shelf's sundries and their contents.
        takings: every choice that takes something.
        saws: every choice that needs holes, with the saws for them.
    """
    writer = _Writer(model, counting, takings)
    for var, wanted in saws:
        for want in wanted:
            writer.saw(want, var)
    return writer.stores()


class _Writer:
    def __init__(self, model: Model, counting: Counting, takings: Sequence[Taking]) -> None:
        self.model = model
        self.counting = counting
        self.shelf = counting.shelf
        self.takings = takings
        self.lines: dict[str, list[Bought]] = {}
        self.saws: dict[Want, list[Var]] = {}
        self.greediest: dict[Want, int] = {}
        self.screwed: Var | None = None
        either = counting.either and any(taking.welded != taking.screwed for taking in takings)
        if either:
            welded = model.choice("drains are welded")
            self.screwed = model.choice("drains are tape-and-screw")
            model.exactly_one([welded, self.screwed])

    def saw(self, want: Want, var: Var) -> None:
        """A choice that needs this saw."""
        self.saws.setdefault(want, []).append(var)

    def stores(self) -> Stores:
        wants: dict[Want, tuple[Linear, Linear]] = {}
        glued, taped = self._pairs("welded"), self._pairs("screwed")
        for want in sorted({*glued, *taped}):
            wants[want] = weighted(glued.get(want, ())), weighted(taped.get(want, ()))
        for want, needs in wants.items():
            self.greediest[want] = max(map(self._most, needs))
        self.greediest |= dict.fromkeys(self.saws, 1)
        covers = self._covers([*wants, *sorted(self.saws)])
        for want, (welded, screwed) in wants.items():
            supply = total(amount for _, amount in covers[want])
            self._cover(supply, welded, screwed)
            self._first_pack(welded, screwed, covers[want])
        for want, needing in sorted(self.saws.items()):
            self._once(total(amount for _, amount in covers[want]), needing)
        for want in self.saws:
            wants[want] = (Linear(), Linear())
        lines = tuple(line for found in self.lines.values() for line in found)
        return Stores(lines, wants, covers, self.screwed)

    def _pairs(self, way: str) -> dict[Want, list[tuple[Var, int]]]:
        """By want, the choices that take it and how much, welded or screwed."""
        pairs: dict[Want, list[tuple[Var, int]]] = {}
        for taking in self.takings:
            needs: Needs = getattr(taking, way)
            for want, amount in needs.items():
                pairs.setdefault(want, []).append((taking.var, amount))
        return pairs

    def _covers(self, wants: Sequence[Want]) -> dict[Want, list[tuple[str, Linear]]]:
        """By want, the rows that meet it and how much of it each covers; a row for many is shared out."""
        rows = {want: self._rows(want) for want in wants}
        users: dict[str, list[Want]] = {}
        for want, found in rows.items():
            for row in found:
                users.setdefault(row.id, []).append(want)
        covers: dict[Want, list[tuple[str, Linear]]] = {want: [] for want in wants}
        for part, using in users.items():
            content = self.counting.content(part)
            most = sum(-(-self.greediest[want] // content) for want in using)
            supply = self._supply(self.shelf.catalog.sundries[part], most)
            if len(using) == 1:
                covers[using[0]].append((part, supply * content))
                continue
            shares = [
                weighted([(self.model.integer(f"{part} for {want}", 0, MOST_PACKS * 100), 1)])
                for want in using
            ]
            self.model.at_least(RULE, supply, total(shares))
            for want, share in zip(using, shares, strict=True):
                covers[want].append((part, share * content))
        return covers

    def _rows(self, want: Want) -> list[Sundry]:
        return [row for row in rows_for(self.shelf.catalog, want) if row.id not in self.shelf.gone]

    def _supply(self, row: Sundry, pieces: int) -> Linear:
        """Pieces of a row, owned and bought; no more than could be needed."""
        lines = []
        for offer in row.offers:
            stock = self.shelf.stock(row.id, offer)
            most = min(-(-pieces // offer.pack), MOST_PACKS if stock is None else stock)
            if row.id in self.shelf.site.unavailable:
                most = 0
            packs = self.model.integer(f"{row.id} from {offer.shop}", 0, most)
            lines.append(Bought(row.id, offer, weighted([(packs, 1)])))
        self.lines[row.id] = lines
        owned = self.shelf.site.owned.get(row.id, 0)
        return total(line.packs * line.offer.pack for line in lines) + owned

    def _cover(self, supply: Linear, welded: Linear, screwed: Linear) -> None:
        """Enough for the way that drains are joined."""
        if self.screwed is None:
            self.model.at_least(RULE, supply, screwed if self.counting.screwed else welded)
            return
        if welded.terms == screwed.terms:
            self.model.at_least(RULE, supply, welded)
            return
        free = self._most(welded)
        self.model.at_least(RULE, supply + weighted([(self.screwed, free)]), welded)
        free = self._most(screwed)
        self.model.at_least(RULE, supply + free - weighted([(self.screwed, free)]), screwed)

    def _most(self, needs: Linear) -> int:
        """The most that any set of choices takes: of each group the greediest."""
        return self.model.most(needs.terms)

    def _first_pack(self, welded: Linear, screwed: Linear, covers: Sequence[tuple[str, Linear]]) -> None:
        """A pack is opened as soon as one choice takes anything in either way of joining drains."""
        parts = [part for part, _ in covers]
        if any(self.shelf.site.owned.get(part) for part in parts):
            return
        needing = [var for var in welded.terms if var in screwed.terms]
        if self.screwed is None:
            needing = list((screwed if self.counting.screwed else welded).terms)
        self._once(total(line.packs for part in parts for line in self.lines[part]), needing)

    def _once(self, supply: Linear, needing: Sequence[Var]) -> None:
        """At least one, where some choice of a group needs it."""
        groups: dict[int, list[Var]] = {}
        for var in sorted(set(needing)):
            groups.setdefault(self.model.group_of(var), []).append(var)
        for _, inside in sorted(groups.items()):
            self.model.at_least(RULE, supply, weighted((var, 1) for var in inside))
