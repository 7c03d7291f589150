"""One limit of one rule, and how a plan is brought to it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

Change = Callable[[Any], Any]


@dataclass(frozen=True)
class Case:
    """One limit: rule, place of the finding (or how a plan tells it), and plans inside and past it."""

    rule: str
    place: str | Change
    inside: Change
    past: Change


def by_margin(rule: str, place: str, move: Callable[[Any, float], Any], least: float = 0.01) -> Case:
    """A limit that is approached by moving something by the finding's own margin [mm], give or take."""

    def moved(plan: Any, extra: float) -> Any:
        return move(plan, plan.findings(rule)[place].margin + extra)

    return Case(rule, place, lambda plan: moved(plan, -0.01), lambda plan: moved(plan, least))


def scaled_to_limit(rule: str, place: str, run: str, sense: int) -> Case:
    """A velocity brought to its limit by the flow; `sense` is the way that breaks the rule."""

    def at(plan: Any, share: float) -> Any:
        finding = plan.findings(rule)[place]
        return plan.flow(run, finding.limit / finding.value * share)

    return Case(rule, place, lambda plan: at(plan, 1 - sense * 1e-6), lambda plan: at(plan, 1 + sense * 1e-6))


def packs(plan: Any, part: str, more: int) -> Any:
    """An order with more or fewer packs of a part."""
    lines = tuple(
        replace(line, packs=line.packs + more) if line.part == part else line
        for line in plan.drawing.purchases
    )
    return replace(plan, drawing=replace(plan.drawing, purchases=lines))


def owning(plan: Any, part: str, pieces: int) -> Any:
    """A builder who has some of a part already."""
    return replace(plan, site=replace(plan.site, owned={part: pieces}))
