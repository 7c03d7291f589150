"""One limit of one rule, and how a plan is brought to it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from autoplan.catalog.parts import TurnStyle, Way
from autoplan.fittings.corner import Corner
from autoplan.fittings.wall import ThroughWall
from autoplan.outcome import Finding

Change = Callable[[Any], Any]


@dataclass(frozen=True)
class Case:
    """One limit: rule, place of the finding (or how a plan tells it), and plans inside and past it."""

    rule: str
    place: str | Change
    inside: Change
    past: Change


def at_least(
    rule: str,
    place: str,
    limit_mm: float,
    measured: Callable[[Any], float],
    lower: Callable[[Any, float], Any],
    past_mm: float = 0.01,
) -> Case:
    """A least measure stated here: what `measured` finds on the drawing is lowered to it, give or take."""

    def lowered(plan: Any, extra_mm: float) -> Any:
        return lower(plan, measured(plan) - limit_mm + extra_mm)

    return Case(rule, place, lambda plan: lowered(plan, -0.01), lambda plan: lowered(plan, past_mm))


def at_most(
    rule: str,
    place: str,
    limit_mm: float,
    measured: Callable[[Any], float],
    lift: Callable[[Any, float], Any],
    past_mm: float = 0.01,
) -> Case:
    """A greatest measure stated here: what `measured` finds on the drawing is lifted to it, give or take."""

    def lifted(plan: Any, extra_mm: float) -> Any:
        return lift(plan, limit_mm - measured(plan) + extra_mm)

    return Case(rule, place, lambda plan: lifted(plan, -0.01), lambda plan: lifted(plan, past_mm))


def by_flow(rule: str, place: str, run: str, share: Callable[[Any], float], sense: int) -> Case:
    """A flow brought to its limit, a share of what it is; `sense` is the way that breaks the rule."""

    def at(plan: Any, off: float) -> Any:
        return plan.flow(run, share(plan) * (1 + off))

    return Case(rule, place, lambda plan: at(plan, -sense * 1e-6), lambda plan: at(plan, sense * 1e-6))


def bent_over(plan: Any, run: str) -> Any:
    """A run of poly line that bends by itself over the rim, 300 mm down to where its mouth is."""
    mouth = plan.drawing.runs[run].finish.mouth_m
    return plan.run(run, pipe="poly-19-metre").end(
        run, "finish", corner=Corner(90, TurnStyle.BEND, ()), centre_m=mouth + 0.300
    )


def drilled(plan: Any) -> Any:
    """The tank's drain ending in a push-in seal in the sump's wall, 30 mm of wall over its hole of 64 mm."""
    stop = ("drain-coupling-50",)
    rim = plan.site.vessels["sump"].rim_m
    hole = ThroughWall(
        at="sump",
        chain=stop,
        way=Way.SEAL,
        centre_m=rim - 0.030 - 0.032,
        penetration="seal-50",
        inner_chain=stop,
    )
    return plan.end("tank drain", "finish", end=hole)


def crossed(plan: Any, case: Case) -> tuple[Finding, Finding]:
    """What the rule finds just inside the limit, where it holds, and just past it, where it does not."""
    place = case.place if isinstance(case.place, str) else case.place(plan)
    inside, past = (side(plan).findings(case.rule)[place] for side in (case.inside, case.past))
    assert inside.ok, inside
    assert not past.ok, past
    assert past.margin < 0
    assert past.margin < inside.margin
    return inside, past


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
