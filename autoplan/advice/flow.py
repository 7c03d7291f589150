"""Less water: by how many litres an hour a vessel's inflow must fall for there to be a design."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from autoplan.advice.at_once import LITRES_PER_HOUR, refused_at_once
from autoplan.advice.case import Case, named
from autoplan.problem.flows import flows
from autoplan.problem.site import Site, Vessel
from autoplan.sentence import Amount, Text, say

MOST_SHARE = 0.9
"""Largest share of what a vessel asks for that is taken away in trying; common practice, no source [-]."""

STRIDE = 0.01
"""First step in looking for less flow, as a share of what is asked for; the next is twice that [-]."""

PER_HOUR = 3600.0

FINEST, PLACES = 10_000, 8
"""Parts of a turnover or flood an hour that are told apart, and digits in which it is written."""


@dataclass(frozen=True, slots=True)
class Demand:
    """Vessels that ask for water alike: how they are called, which they are, and how much in all [L/h]."""

    said: str
    vessels: tuple[str, ...]
    litres_per_hour: float

    def at(self, site: Site, less: int) -> Site:
        """The site with so many litres an hour less asked for."""
        share = 1 - less / self.litres_per_hour
        asking = {name: _asking(site.vessels[name], share) for name in self.vessels}
        vessels = {**site.vessels, **asking}
        slower = replace(site, vessels=vessels)
        return replace(slower, flows=flows(slower))

    def told(self, site: Site, less: int) -> str:
        """What to write for so much less."""
        first = self.at(site, less).vessels[self.vessels[0]]
        if first.bed is not None:
            return f'floods = "{first.bed.floods_per_s * PER_HOUR:.{PLACES}g}/hour"'
        return f'turnover = "{first.turnover_per_s * PER_HOUR:.{PLACES}g}/hour"'


def less_flow(case: Case) -> Iterator[Text]:
    """A sentence for tanks and for beds that with less inflow leave a design."""
    for demand in _demands(case.site):
        most = math.floor(MOST_SHARE * demand.litres_per_hour)
        what = f"less inflow to {demand.said}"
        if most < 1 or not case.begin(what):
            continue
        first = _guess(case, demand, most)
        least = case.remedy(what, lambda less, demand=demand: demand.at(case.site, less), first, most)  # type: ignore[misc]
        if least is not None:
            left = demand.litres_per_hour - least.step
            at_most = "" if least.proven else "at most "
            by, rest = (Amount(flow / LITRES_PER_HOUR, "L/h", 0) for flow in (least.step, left))
            in_all = say("{} in all ({})", rest, demand.told(case.site, least.step))
            yield say("{}{} less to {}, {}, would leave a design.", at_most, by, demand.said, in_all)


def _guess(case: Case, demand: Demand, most: int) -> int | None:
    """The least that the relaxation does not refuse [L/h less]; None where it refuses all that is tried.

    First what is refused at once, at no cost; from there on further and further, and back by halving. Far
    less may be refused again: siphons must start, drains must stay clean.
    """

    def refused(less: int) -> bool:
        site = demand.at(case.site, less)
        return bool(refused_at_once(site, case.book, case.workshop.shelf(site, case.book)))

    if refused(most):
        return None
    low, high = _between(refused, 0, most)
    stride = max(1, math.ceil(STRIDE * demand.litres_per_hour))
    while case.none_at(demand.at(case.site, high)):
        if high == most or not case.clock.allows("draft"):
            return None
        low, high, stride = high, min(most, high + stride), 2 * stride
    return _between(lambda less: case.none_at(demand.at(case.site, less)), low, high)[1]


def _between(none: Callable[[int], bool], low: int, high: int) -> tuple[int, int]:
    """Two neighbours of which the lower has none and the higher is not known to."""
    while high - low > 1:
        middle = (low + high) // 2
        if none(middle):
            low = middle
        else:
            high = middle
    return low, high


def _demands(site: Site) -> Iterator[Demand]:
    """What asks for water of its own: each tank and filter by itself, beds without a timer together."""
    beds = [
        name for name, vessel in site.vessels.items() if vessel.bed is not None and vessel.bed.timer is None
    ]
    for name, vessel in site.vessels.items():
        if vessel.bed is None and vessel.demand_m3_s > 0:
            yield Demand(name, (name,), vessel.demand_m3_s * LITRES_PER_HOUR)
    if beds:
        asked = sum(site.vessels[name].demand_m3_s for name in beds) * LITRES_PER_HOUR
        yield Demand(named(beds), tuple(beds), asked)


def _asking(vessel: Vessel, share: float) -> Vessel:
    """A vessel that asks for no more than a share of its inflow, in a number that can be written."""
    if vessel.bed is not None:
        return replace(
            vessel, bed=replace(vessel.bed, floods_per_s=_written(vessel.bed.floods_per_s * share))
        )
    return replace(vessel, turnover_per_s=_written(vessel.turnover_per_s * share))


def _written(per_s: float) -> float:
    """A rate [1/s] that is a whole number of its finest parts an hour, no larger."""
    return math.floor(per_s * PER_HOUR * FINEST + 1e-9) / FINEST / PER_HOUR
