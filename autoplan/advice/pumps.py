"""What a pump would have to give, what the strongest gives, and what keeps those that give enough out."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from autoplan.advice.at_once import giving
from autoplan.advice.case import Case
from autoplan.advice.heights import LeastRaise
from autoplan.hydraulics.pump import PumpCurve
from autoplan.problem.flows import pressure_paths
from autoplan.rules.balance import highest_lift, pumped_flow
from autoplan.rules.base import Concern, Given
from autoplan.sentence import Amount, Text, say

MOST_NAMED = 3
"""Pumps of which it is told what keeps them out."""


@dataclass(frozen=True, slots=True)
class PumpNeed:
    """Whether no pump gives a vessel's duty even with the least losses, and the numbers in a sentence."""

    lacking: bool
    sentence: Text


def duty(case: Case, vessel: str) -> PumpNeed:
    """What a vessel's pump has to give at least, and what the strongest gives that may be used."""
    site, flow = case.site, pumped_flow(case.site, vessel)
    pumps = giving(site, case.workshop.shelf(site, case.book), vessel)
    lift, loss = highest_lift(site, vessel), _least_loss(case, vessel)
    needed = lift + (1 + case.book.given(Given.LIFT_MARGIN)) * loss
    best = max(pumps, key=lambda pump: (PumpCurve(pump.curve).head(flow), pump.id), default=None)
    head = 0.0 if best is None else PumpCurve(best.curve).head(flow)
    has: Text = "no pump to be had gives any"
    if best is not None:
        has = say("the strongest pump to be had, {}, gives {}", best.id, Amount(head, "m", 2))
    lifts = say("the lift is at least {}", _down(lift))
    if loss >= 0.01:
        margin = say("with the margin on these {}", _down(needed))
        lifts = say("{} and the losses at least {}, {}", lifts, _down(loss), margin)
    gives = say("at {} {}", Amount(flow, "L/h", 0), has)
    return PumpNeed(head < needed, say("From the lowest water of {} {}; {}.", vessel, lifts, gives))


def unsuited(case: Case) -> Iterator[Text]:
    """What keeps the pumps out that give enough, where a rule's rows do."""
    rows = case.vain.plain
    if rows is None:
        return
    vessel = case.site.pumped_vessels()[0]
    share = 1 + case.book.given(Given.LIFT_MARGIN)
    needed = highest_lift(case.site, vessel) + share * _least_loss(case, vessel)
    strong = [
        (var, one) for var, one in rows.draft.pumps(vessel) if one.head_m >= needed and one.speed == 1.0
    ]
    for var, choice in sorted(strong, key=lambda pair: (pair[1].head_m, pair[1].pump.id))[:MOST_NAMED]:
        others = [rule.id for rule in case.book.rules if rule.role is not Concern.LIFT]
        if not rows.none_with(var):
            continue
        keeping = [rule for rule in others if not rows.none_with(var, (rule,))]
        if keeping:
            gives = Amount(choice.head_m, "m", 2)
            yield say("{} would give {}, and is kept out by {}.", choice.pump.id, gives, ", ".join(keeping))


def _least_loss(case: Case, vessel: str) -> float:
    """The least that is lost on the way to the vessel where that is most [m]; 0 where nothing is drafted."""
    if case.vain.plain is None:
        return 0.0
    draft = case.vain.plain.draft
    paths = [path for path in pressure_paths(case.site) if case.site.runs[path[0]].start == vessel]
    least = LeastRaise(draft)
    return max(least.of(draft.path_loss(path, 1.0, grown=True)) for path in paths) / 10_000


def _down(metres: float) -> Amount:
    """A head [m] to be told, rounded down to whole centimetres."""
    return Amount(math.floor(100 * metres + 1e-6) / 100, "m", 2)
