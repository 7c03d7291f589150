"""What every step of building one class of runs needs to know, and how options are weighed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from operator import gt
from types import MappingProxyType
from typing import Any, TypeVar

from autoplan.catalog.joining import Chain, Need
from autoplan.catalog.parts import Catalog, End, TurnStyle
from autoplan.errors import AutoplanError
from autoplan.hydraulics.conduits import Array
from autoplan.line.water import site_water
from autoplan.optimiser.options.shelf import Shelf
from autoplan.problem.site import Run, RunKind, Site
from autoplan.rules.asked import Narrowed
from autoplan.rules.base import Given
from autoplan.rules.book import RuleBook
from autoplan.rules.quantities import LOSS, LOSS_AT_DESIGN, RATING, Better, Quantity, Seen

Measure = TypeVar("Measure", float, Array)

MOST_ADAPTORS = 1
"""Adaptors between a pipe and its valve or wall part on either side; common practice, no source."""

MOST_ASKED = 3
"""The same where the joint must come apart or give: the part that does, and what brings it in."""


ROOM = "room for its turns at these heights and distances"
"""What a run lacks where there are parts for it, and no way to lay them from its start to its end."""


class NoOptionError(AutoplanError):
    """A class has no way to be built at all; names the class and the rules that refused the last options.

    Attributes:
        run_class, what: the class, and what it lacks.
        rules: those that refused something, in the order in which they first did.
        refused: what each of them refused last, as far as that is known.
    """

    def __init__(
        self,
        run_class: str,
        what: str,
        rules: Sequence[str],
        refused: Mapping[str, str] = MappingProxyType({}),
    ) -> None:
        self.run_class = run_class
        self.what = what
        self.rules = tuple(rules)
        self.refused = refused
        super().__init__(f"{run_class}: no {what} is admitted")

    def bare(self) -> NoOptionError:
        """Itself without where it came through, or all that the draft was made of would be kept with it."""
        return self.with_traceback(None)

    def __reduce__(self) -> tuple[type[NoOptionError], tuple[object, ...]]:
        return NoOptionError, (self.run_class, self.what, self.rules, dict(self.refused))


@dataclass(frozen=True, slots=True)
class Offered:
    """Parts of a candidate before it is drawn.

    Attributes:
        parts: in the order in which they are drawn.
        score: what to compare them by beside money; less is better in every place.
        style: of a turn, in the order of which ties are broken.
    """

    parts: tuple[str, ...]
    score: tuple[float, ...]
    style: TurnStyle = TurnStyle.TIGHT


class Making:
    """One class under way.

    Args:
        site, shelf, book: the problem, the parts that may be used, the rules in force.
        run_class: name of the class.
        members: its runs.
        ranked: as for `Workshop`.
    """

    def __init__(
        self,
        site: Site,
        shelf: Shelf,
        book: RuleBook,
        run_class: str,
        members: Sequence[Run],
        *,
        ranked: bool = True,
    ) -> None:
        self.site = site
        self.shelf = shelf
        self.catalog: Catalog = shelf.catalog
        self.book = book
        self.run_class = run_class
        self.members = members
        self.ranked = ranked
        self.first = members[0]
        self.pressed = self.first.kind is RunKind.PRESSURE
        self.water = site_water(site)
        self.refused: dict[str, str] = {}
        self.lost = "pipe"
        self.cramped = False
        self.seen = Seen(site, shelf.catalog, self.water, shelf.shut_off_m, book.given(Given.GROWN))
        self._asked: dict[str, Need] = {}
        self._passing: dict[float, bool] = {}

    def allows(self, what: str, asked: Iterable[object]) -> bool:
        """Whether no rule refuses any of some things; else it is noted what they are, and which rule does."""
        refused = self.book.first_refusing(*asked)
        if refused is not None:
            self.note(what, refused)
        return refused is None

    def note(self, what: str, rule_id: str) -> None:
        """Remember what was refused last, and by which rule."""
        self.lost = what
        self.cramped = self.cramped or what == ROOM
        self.refused[rule_id] = what

    @property
    def lacking(self) -> NoOptionError:
        """Why there is nothing: room, where one pipe at least had all of its parts, else what went last."""
        what = ROOM if self.cramped else self.lost
        return NoOptionError(self.run_class, what, list(self.refused), self.refused)

    def asked(self, side: str) -> Need:
        """The highest that the rules ask of the joint at one end of any run of the class."""
        if side not in self._asked:
            self._asked[side] = max(self.book.asks_of_end(self.site, run, side) for run in self.members)
        return self._asked[side]

    def chains(self, a: End, b: End, need: Need = Need.JOIN) -> tuple[Chain, ...]:
        """Adaptors between two openings, few and worth considering; none lets a pump's head through."""
        most = MOST_ADAPTORS if need is Need.JOIN else MOST_ASKED
        found = self.shelf.chains(a, b, under_pressure=self.pressed, need=need, most=most)
        return tuple(chain for chain in found if self.passes("adaptor", chain.bore_m))

    def passes(self, what: str, bore_m: float) -> bool:
        """Whether no rule refuses a place of this bore [m] on any run of the class; else as `allows`."""
        if bore_m not in self._passing:
            asked = [Narrowed(self.site, run, bore_m) for run in self.members]
            self._passing[bore_m] = self.allows(what, asked)
        return self._passing[bore_m]

    def read(self, run: Run) -> Mapping[Quantity[Any], Better]:
        """What the rules in force read of a run, and which way is never worse to any of them."""
        found: dict[Quantity[Any], Better] = {}
        for rule in self.book.weighing:
            for quantity, better in rule.declares(self.site, run):
                agreed = found.setdefault(quantity, better) is better
                found[quantity] = better if agreed else Better.NEITHER
        covered = {(less, better) for quantity, better in found.items() for less in quantity.covers}
        return {quantity: better for quantity, better in found.items() if (quantity, better) not in covered}

    @cached_property
    def _reads(self) -> Mapping[Quantity[Any], set[Better]]:
        """The same of all runs of the class."""
        found: dict[Quantity[Any], set[Better]] = {}
        for run in self.members:
            for quantity, better in self.read(run).items():
                found.setdefault(quantity, set()).add(better)
        return found

    def score(self, measure: float, *quantities: Quantity[Any]) -> tuple[float, ...]:
        """What more of any of these quantities comes with, turned as the rules ask: less is better."""
        ways = {better for quantity in quantities for better in self._reads.get(quantity, ())}
        if not ways:
            return ()
        better = ways.pop() if len(ways) == 1 else Better.NEITHER
        return tuple(directed(measure, better))

    def score_parts(self, parts: Sequence[str], loss: float, rating_m: float) -> tuple[float, ...]:
        """Loss, joints and rating."""
        enough = min(rating_m, self.shelf.shut_off_m)
        losses = self.score(loss, LOSS, LOSS_AT_DESIGN)
        return (*losses, float(len(parts)), *self.score(enough, RATING))

    def pareto(self, options: Sequence[Offered]) -> list[Offered]:
        """Options that no other is as good as on every count, money among them."""
        kept: list[Offered] = []
        bills = {id(option): self.shelf.bill(option.parts) for option in options}

        def beats(one: Offered, other: Offered) -> bool:
            return no_worse(one.score, other.score) and self.shelf.no_dearer(bills[id(one)], bills[id(other)])

        for option in sorted(options, key=lambda o: (o.score, o.style, o.parts)):
            self.shelf.clock.check()
            if not any(beats(other, option) for other in kept):
                kept = [other for other in kept if not beats(option, other)]
                kept.append(option)
        return kept


def directed(measure: Measure, better: Better) -> list[Measure]:
    """A measure turned so that less is better: twice where neither way is sure to be no worse."""
    return {Better.LESS: [measure], Better.MORE: [-measure], Better.NEITHER: [measure, -measure]}[better]


def no_worse(a: Sequence[float], b: Sequence[float]) -> bool:
    """Whether a is no greater than b in any place."""
    return not any(map(gt, a, b))
