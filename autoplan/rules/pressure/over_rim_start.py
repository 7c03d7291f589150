"""The pump starts the water over the rim where the running inlet opens under water behind it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import ClassVar

from autoplan.outcome import Finding
from autoplan.places import OnRun
from autoplan.problem.site import Guard, Run, RunKind, Site
from autoplan.rules.balance import flood_drawdown
from autoplan.rules.base import FAR, Given, ModelView, Rule, Setting
from autoplan.rules.linear import Linear, weighted
from autoplan.rules.pressure.pump_duty import duty_head
from autoplan.rules.quantities import (
    DROWNED_CREST,
    FLAP,
    GROWN_LOSS,
    HOLE_TOP,
    INLET,
    drains,
    less,
    pumped,
)
from autoplan.rules.survey import Survey
from autoplan.units import Dimension, tenth_mm_down, tenth_mm_up

PARTS = range(5, 41)
"""In the model the factor on crest over water is rounded up to so many parts: 10 / 7 for a half."""

CLOSE = 1.005
"""Few parts that come this near are taken: rows stay small however many ways there are."""

FREE = 30_000
"""Under any water by more than a pump could lack, 3 m [0.1 mm]: frees ways that the rule does not concern."""

ROUNDED = 2.1e-4
"""Tolerance of the water over a hole [m]: in the model how far a vessel sinks is rounded to a tenth of a
millimetre, and so is the hole of the drain that holds it."""

POWER = 1.75
"""Least power of the flow that losses go with: smooth pipe, Blasius 1913; fittings and valves go with 2."""


class OverRimStart(Rule):
    """Head at the start of the inlet's own run >= water + flap + (crest - water) / (1 - share^1.75).

    Running, an inlet that goes over a rim and down under water lifts to the water, for its down-leg hangs on
    the crest. As it starts that leg is full of air and the crest counts. All that the head H at the start of
    the run does over the water W is lost in the run and its valve, with at least the 1.75th power of the
    flow. With the crest C in place of W it lets through the share s of the design flow, or more, if
    H - C >= s^1.75 (H - W); H is then no less than running, since the pump gives less. (Energy equation.)
    The flap of a check valve takes as much at any flow: H - C - F >= s^1.75 (H - W - F).
    From s on the leg fills: see over-rim-fill. Meanwhile the vessel stands lower, and still over a
    siphon-break hole, which would feed the leg with air.
    """

    id = "over-rim-start"
    sentence = "The pump brings enough over the rim to fill an inlet's down-leg, its valve as set."
    source = "energy equation; margin and share: from memory"
    unit = "m"
    negotiable = True
    less_telling = True
    settings = (
        Setting("margin", Dimension.NUMBER, "10 %", "from memory", "head kept over what is required"),
        Setting("share", Dimension.NUMBER, "50 %", "from memory", "share of the design flow at the start"),
    )
    borrows: ClassVar[Mapping[str, Given]] = {"roughness": Given.GROWN}
    reads = (
        *(less(quantity, pumped) for quantity in (GROWN_LOSS, DROWNED_CREST, FLAP, HOLE_TOP)),
        # The less head a drain's inlet takes, the less its vessel falls as the pump starts.
        less(INLET, drains),
    )

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Whether any inlet may open under water."""
        return any(set(site.guards(run)) - {Guard.AIR_GAP} for run in site.runs.values())

    @property
    def share(self) -> float:
        """Share of the design flow at the start [-]; none of 1 or more can be had from a crest at all."""
        return min(self.values["share"], 0.99)

    @property
    def factor(self) -> float:
        """By how much crest over water counts [-]."""
        return float(1.0 / (1.0 - self.share**POWER))

    def encode(self, draft: ModelView) -> None:
        """An inequality per path on which such an inlet may be, times the parts of the factor."""
        margin, (parts, whole) = 1 + self.values["margin"], _fraction(self.factor)
        for path in draft.pressure_paths():
            first, last = draft.site.runs[path[0]], draft.site.runs[path[-1]]
            lowest = tenth_mm_down(draft.site.vessels[last.finish].water_min_m)
            # Crests are over the lowest water and not over the datum, which may lie far below.
            crests, free = [], -whole * FREE
            for (var, crest), (_, flap) in zip(
                draft.each(DROWNED_CREST, last.name), draft.each(FLAP, last.name), strict=True
            ):
                over = None if crest is None else parts * (tenth_mm_up(crest) - lowest)
                crests.append((var, free if over is None else over + whole * tenth_mm_up(flap)))
            if all(crest == free for _, crest in crests):
                continue
            head = weighted(
                (var, tenth_mm_down(choice.head_m / margin)) for var, choice in draft.pumps(first.start)
            )
            drawdown = tenth_mm_up(flood_drawdown(draft.site, first.start))
            lost = draft.path_loss(path, 1.0, grown=True) - draft.run_loss(last.name, grown=True)
            # More than any pump overcomes: pump-duty refuses what loses more, and the row stays short.
            most = FAR + max(head.terms.values(), default=0)
            before = Linear({var: min(loss, most) for var, loss in lost.terms.items()}, lost.constant)
            there = head + draft.level(first.start) - drawdown - before
            water = draft.level(last.finish) * (parts - whole)
            draft.at_least(self.id, there * whole + water - lowest * parts, weighted(crests))
            self._drown(draft, last)

    def _drown(self, draft: ModelView, inlet: Run) -> None:
        """The vessel falls no further than to a hole's upper edge, by what its drains' inlets say."""
        lowest, depths = draft.site.vessels[inlet.finish].water_min_m, []
        for var, edge in draft.each(HOLE_TOP, inlet.name):
            depths.append((var, FAR if edge is None else tenth_mm_down(lowest - edge)))
        for run in draft.site.runs.values():
            drains = run.kind is RunKind.GRAVITY and run.start == inlet.finish and not run.idle
            if drains and any(depth != FAR for _, depth in depths):
                draft.at_least(self.id, weighted(depths) + draft.inlet_rise(run.name, self.share), 0)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per such inlet: the head that the pump has there over its vessel's water.

        One more per hole: the water over its upper edge as the pump starts.
        """
        for path in survey.pressure_paths:
            vessel, name = survey.run(path[0]).start, path[-1]
            end = survey.drawn(name).rim
            if end is None or end.guard is Guard.AIR_GAP:
                continue
            flows, water = survey.flows_at(), survey.level(survey.run(name).finish)
            rough = self.values["roughness"]
            before = survey.path_loss(path, flows, grown_m=rough)
            before -= survey.line(name).loss(flows[name], survey.water, rough)
            head = duty_head(survey, vessel) / (1 + self.values["margin"])
            there = survey.low_level(vessel) + head - before
            flap = survey.line(name).loss(0.0, survey.water)
            limit = (survey.crest(name) - water) / (1 - self.share**POWER) + flap
            yield self.not_under(OnRun(name), there - water, limit, 1e-7)
            if end.air_hole_m is not None:
                low = survey.standing_level(end.at, self.share)
                edge = end.air_hole_m + end.air_hole_width_m / 2
                yield self.not_under(OnRun(name, "water over its hole"), low - edge, 0.0, ROUNDED)


def _fraction(factor: float) -> tuple[int, int]:
    """Numerator and denominator of a factor, rounded up: in the fewest parts that are close, else nearest."""
    pairs = [(math.ceil(factor * whole - 1e-9), whole) for whole in PARTS]
    near = [pair for pair in pairs if pair[0] <= CLOSE * factor * pair[1]]
    return near[0] if near else min(pairs, key=lambda pair: pair[0] / pair[1])
