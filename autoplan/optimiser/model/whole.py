"""What is bought whole and stands alone: vessels, and hand pumps for waste."""

from __future__ import annotations

from autoplan.catalog.parts import FixtureKind
from autoplan.optimiser.model.model import Model
from autoplan.optimiser.options.making import NoOptionError
from autoplan.optimiser.options.shelf import Shelf
from autoplan.problem.site import Site
from autoplan.rules.asked import ByHand, OnShelf
from autoplan.rules.base import Concern
from autoplan.rules.book import ROLES, RuleBook
from autoplan.rules.linear import Var


def encode_tubs(model: Model, site: Site, shelf: Shelf, book: RuleBook) -> list[tuple[Var, str]]:
    """The vessels that are bought: a choice each that is made.

    Raises:
        NoOptionError: one is not to be had.
    """
    built: list[tuple[Var, str]] = []
    for vessel in site.vessels.values():
        if vessel.part is None:
            continue
        if vessel.part in shelf.gone:
            asked = OnShelf(shelf.catalog.vessels[vessel.part], site)
            refused = book.refusing(asked) or (ROLES[Concern.STOCK],)
            raise NoOptionError(vessel.name, "vessel to be had", refused)
        built.append((model.choice(f"{vessel.part} as {vessel.name}"), vessel.part))
        model.exactly_one([built[-1][0]])
    return built


def encode_hand_pumps(
    model: Model, site: Site, shelf: Shelf, book: RuleBook
) -> dict[str, list[tuple[Var, str]]]:
    """By vessel whose waste is pumped out by hand, the pumps that will do; of each one is chosen.

    Raises:
        NoOptionError: none will do.
    """
    built = {}
    for wish in site.hand_pumps:
        rows = [row for row in shelf.catalog.fixtures.values() if row.kind is FixtureKind.HAND_PUMP]
        able = [row.id for row in rows if not book.refusing(ByHand(wish, row))]
        found = [part for part in able if part not in shelf.gone]
        if not found:
            raise NoOptionError(wish.vessel, "hand pump for its waste", book.deciding(ByHand))
        built[wish.vessel] = [(model.choice(f"{wish.vessel} by {part}"), part) for part in found]
        model.exactly_one([var for var, _ in built[wish.vessel]])
    return built
