"""What may stand on one pipe: turns, valves, and whatever else a rule does not allow it without."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import product
from typing import TypeVar

from autoplan.catalog.joining import Chain
from autoplan.catalog.parts import Catalog, End, Pipe, TurnStyle
from autoplan.fittings.base import Fitting, P
from autoplan.fittings.corner import Corner
from autoplan.fittings.kinds import OPTIONAL
from autoplan.fittings.valve import ValveSet
from autoplan.optimiser.options.making import Making, Offered
from autoplan.problem.site import Draw
from autoplan.rules.asked import Fitted, Turned, Valved
from autoplan.rules.quantities import FLAP, LOSS

W = TypeVar("W", bound=Fitting)


class OnPipe:
    """What a class may have on one pipe (`fittings.base.Offering`).

    Args:
        making: the class.
        pipe: first row of its family.
    """

    def __init__(self, making: Making, pipe: Pipe) -> None:
        self._making = making
        self.pipe = pipe
        self.catalog: Catalog = making.catalog
        self.upright = making.first.draw is Draw.STANDPIPE

    def of(self, rows: Mapping[str, P]) -> list[P]:
        """Rows of the price list that may be used."""
        return [row for row in rows.values() if row.id not in self._making.shelf.gone]

    def mates(self, one: End, other: End) -> bool:
        """Whether two ends join."""
        return self._making.shelf.joining.mates(one, other)

    def chains(self, one: End, other: End) -> tuple[Chain, ...]:
        """Adaptors between two ends, few and worth considering."""
        return self._making.chains(one, other)


def turns(making: Making, pipe: Pipe, angle: int) -> list[Corner]:
    """Ways to turn by an angle on one pipe, those in which the pipe bends by itself first."""
    ways = [
        way
        for way in Corner.ways(OnPipe(making, pipe), angle)
        if making.allows("turn", [Turned(run, angle, way.style) for run in making.members])
        and all(making.passes("turn", making.catalog.turns[part].bore_m) for part in way.pieces)
    ]
    # Pipe that bends by itself takes room that an elbow does not.
    bends = [way for way in ways if way.bends]
    return bends + _best(making, pipe, [way for way in ways if not way.bends])


def valves(making: Making, pipe: Pipe) -> list[ValveSet]:
    """Balancing valves with their adaptors; on the feeds of timed beds timed ones, whose power counts too."""
    timed = making.first.finish in making.site.timed_beds()
    return valves_of(making, pipe, ValveSet, "timed" if timed else "hand")


def valves_of(making: Making, pipe: Pipe, kind: type[ValveSet], style: str) -> list[ValveSet]:
    """Valves of a style with their adaptors."""
    on = OnPipe(making, pipe)
    ways = [
        way
        for row in making.shelf.valves(style)
        if making.allows("valve", [Valved(run, row, making.catalog) for run in making.members])
        and making.passes("valve", row.bore_m)
        for way in kind.of_row(on, row)
    ]
    return _best(making, pipe, ways)


def optional(making: Making, pipe: Pipe) -> list[tuple[Fitting, ...]]:
    """Whatever else must stand on this pipe, each kind with each other; nothing where all can do without."""
    each = [_ways(making, pipe, kind) for kind in OPTIONAL]
    return [tuple(one for one in chosen if one is not None) for chosen in product(*each)]


def _ways(making: Making, pipe: Pipe, kind: type[Fitting]) -> Sequence[Fitting | None]:
    """None where every rule allows the class without this kind, else those that the rules allow.

    Both where rows of the model say which.
    """

    def allowed(fitting: Fitting | None) -> bool:
        asked = (making.site, making.catalog)
        return making.allows(kind.word, [Fitted(*asked, run, pipe, kind, fitting) for run in making.members])

    without = allowed(None)
    if without and not (kind.by_rows and any(kind.suits(making.site, run) for run in making.members)):
        return [None]
    found = [way for way in kind.offered(OnPipe(making, pipe)) if allowed(way)]
    if not found:
        making.lost = kind.word
    if kind.by_rows:
        kinds = dict.fromkeys(map(type, found))
        found = [best for one in kinds for best in _best(making, pipe, _just(found, one))]
        return [None, *found] if without else found
    return _best(making, pipe, found) if kind.on_straight else found


def _just(ways: Sequence[Fitting], kind: type[Fitting]) -> list[Fitting]:
    """Those of just one kind: what another is as good as may go where that does not."""
    return [way for way in ways if type(way) is kind]


def _best(making: Making, pipe: Pipe, ways: Sequence[W]) -> list[W]:
    """Those that no other is as good as on every count."""
    offered = {id(way): _offered(making, pipe, way) for way in ways}
    by_offer = {id(offered[id(way)]): way for way in ways}
    return [by_offer[id(kept)] for kept in making.pareto(list(offered.values()))]


def _offered(making: Making, pipe: Pipe, way: Fitting) -> Offered:
    """A fitting with what counts of it: loss, joints, rating, power, flap."""
    catalog, corners = making.catalog, [one for one in way.corners() if isinstance(one, Corner)]
    found = [*(corner.resistance(catalog, pipe) for corner in corners), *way.resistances(catalog, pipe)]
    resistances = [one for one in found if one is not None]
    parts = (*(part for corner in corners for part in corner.pieces), *way.parts())
    ratings = [catalog.turns[part].rating_m for corner in corners for part in corner.pieces]
    loss = sum(one.k / one.bore_m**4 for one in resistances)
    score = (
        *making.score_parts(parts, loss, min((*ratings, *way.ratings_m(catalog)), default=math.inf)),
        way.watts(catalog),
        *making.score(sum(one.loss(0.0) for one in resistances), FLAP, LOSS),
        *_room(making, pipe, corners),
    )
    return Offered(parts, score, corners[0].style if corners else TurnStyle.TIGHT)


def _room(making: Making, pipe: Pipe, corners: Sequence[Corner]) -> tuple[float, ...]:
    """What turns take of the legs beside them [m], where heights and the plan make those so long."""
    if all(run.plan is None for run in making.members):
        return ()
    lengths = making.shelf.bench.lengths(pipe)
    return (sum(corner.takes_m(lengths) for corner in corners),)
