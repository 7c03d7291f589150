"""What a pump would have to give, what the strongest gives, and what keeps those that give enough out."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from autoplan.advice.at_once import LITRES_PER_HOUR, giving
from autoplan.advice.case import Case
from autoplan.advice.heights import Least
from autoplan.hydraulics.pump import PumpCurve
from autoplan.problem.graph import pressure_paths
from autoplan.rules.balance import highest_lift, pumped_flow
from autoplan.rules.base import Given, Role

MOST_NAMED = 3
"""Pumps of which it is told what keeps them out."""


@dataclass(frozen=True, slots=True)
class Duty:
    """Whether no pump gives a vessel's duty even with the least losses, and the numbers in a sentence."""

    lacking: bool
    sentence: str


def duty(case: Case, vessel: str) -> Duty:
    """What a vessel's pump has to give at least, and what the strongest gives that may be used."""
    site, flow = case.site, pumped_flow(case.site, vessel)
    pumps = giving(site, case.workshop.shelf(site, case.book), vessel)
    lift, loss = highest_lift(site, vessel), _least_loss(case, vessel)
    needed = (1 + case.book.given(Given.LIFT_MARGIN)) * (lift + loss)
    best = max(pumps, key=lambda pump: (PumpCurve(pump.curve).head(flow), pump.id), default=None)
    head = 0.0 if best is None else PumpCurve(best.curve).head(flow)
    has = "no pump to be had gives any"
    if best is not None:
        has = f"the strongest pump to be had, {best.id}, gives {head:.2f} m"
    losses = f" and the losses at least {_down(loss):.2f} m" if loss >= 0.01 else ""
    return Duty(
        head < needed,
        f"From the lowest water of {vessel} the lift is at least {_down(lift):.2f} m{losses}, "
        f"with the margin {_down(needed):.2f} m; "
        f"at {flow * LITRES_PER_HOUR:.0f} L/h {has}.",
    )


def unsuited(case: Case) -> Iterator[str]:
    """What keeps the pumps out that give enough, where a rule's rows do."""
    rows = case.vain.plain
    if rows is None:
        return
    vessel = case.site.pumped_vessels()[0]
    share = 1 + case.book.given(Given.LIFT_MARGIN)
    needed = share * (highest_lift(case.site, vessel) + _least_loss(case, vessel))
    strong = [
        (var, one) for var, one in rows.draft.pumps(vessel) if one.head_m >= needed and one.speed == 1.0
    ]
    for var, choice in sorted(strong, key=lambda pair: (pair[1].head_m, pair[1].pump.id))[:MOST_NAMED]:
        others = [rule.id for rule in case.book.rules if rule.role is not Role.LIFT]
        if not rows.none_with(var):
            continue
        keeping = [rule for rule in others if not rows.none_with(var, (rule,))]
        if keeping:
            gives = f"{choice.pump.id} would give {choice.head_m:.2f} m"
            yield f"{gives}, and is kept out by {', '.join(keeping)}."


def _least_loss(case: Case, vessel: str) -> float:
    """The least that is lost on the way to the vessel where that is most [m]; 0 where nothing is drafted."""
    if case.vain.plain is None:
        return 0.0
    draft = case.vain.plain.draft
    paths = [path for path in pressure_paths(case.site) if case.site.runs[path[0]].start == vessel]
    least = Least(draft)
    return max(least.of(draft.path_loss(path, 1.0)) for path in paths) / 10_000


def _down(metres: float) -> float:
    """Rounded down to whole centimetres [m]."""
    return math.floor(100 * metres + 1e-6) / 100
