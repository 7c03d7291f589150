"""How much a design has to spare: the least height that is left over what the rules ask.

A builder who has money over wants a system that forgives: a drain with a little scale in it, a tank set a
little low, a pump a little worn. What forgives is height, and every one of these is a height of water: the
fall that a drain has left, the dry wall at overload, the water over the pump with the beds full, the room in
the sump when the power fails, the head that the pump has left.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator
from dataclasses import replace
from typing import TypeVar

from autoplan.errors import Mistake
from autoplan.outcome import Finding
from autoplan.problem.brief import Assumption, Brief
from autoplan.problem.problem import Problem
from autoplan.problem.site import Site
from autoplan.rules.base import Concern
from autoplan.rules.book import ALL, ROLES

Some = TypeVar("Some", Site, Problem)

MARGIN = "margin"
"""The word for ranking by it."""

OVER_CHEAPEST = 0.10
"""What may be spent over the cheapest design where no budget is given; common practice, no source [-]."""

HEIGHTS = tuple(kind.id for kind in ALL if kind.spares)
"""Rules whose margins are heights of water that choices can widen."""

IN_MM = {"mm": 1.0, "m": 1000.0}


def least_margin(findings: Iterable[Finding]) -> Finding | None:
    """The finding with the least height to spare; None where no rule of heights was judged."""
    heights = [found for found in findings if found.rule in HEIGHTS]
    return min(heights, key=margin_mm, default=None)


def margin_mm(found: Finding) -> float:
    """The margin of a finding of heights [mm]."""
    return found.margin * IN_MM[found.unit]


def with_budget(asked: Some, cheapest: float) -> Some:
    """The same with a budget a share over its cheapest design's cost, for want of one, as an assumption."""
    budget = math.floor(cheapest * (1 + OVER_CHEAPEST) * 100 + 1e-6) / 100
    why = f"{OVER_CHEAPEST:.0%} over the cheapest design, to be spent on margin"
    assumed = Assumption("wishes.budget", f"{budget:.2f}", "common practice, no source", why)
    return replace(asked, wishes=replace(asked.wishes, budget=budget)).assuming(assumed)


def off_mistakes(site: Brief, off: Collection[str]) -> Iterator[Mistake]:
    """Rules that are off, without which a ranking by margin means nothing: the budget, or all of heights."""
    if ROLES[Concern.BUDGET] in off:
        problem = "ranking by margin spends up to the budget, and this rule is off"
        yield Mistake(site.file, f"rules.{ROLES[Concern.BUDGET]}.off", problem, "take it out")
    if set(HEIGHTS) <= set(off):
        problem = "ranking by margin needs a rule of heights, and all of them are off"
        yield Mistake(site.file, "rules", problem, f"leave one of {', '.join(HEIGHTS)} on")
