"""While the timed valves are shut, what else the pump feeds does not get too much."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from autoplan.hydraulics.pump import PumpCurve
from autoplan.hydraulics.search import crossing
from autoplan.line.water import site_water
from autoplan.outcome import Finding
from autoplan.places import OnRun
from autoplan.problem.flows import pressure_paths
from autoplan.problem.site import Run, Site
from autoplan.rules.base import ModelView, PumpChoice, Rule, Setting
from autoplan.rules.linear import Linear, total, weighted
from autoplan.rules.pressure.pump_duty import discharge_heights, duty_head
from autoplan.rules.quantities import CREST, LOSS, LOSS_AT_DESIGN, OVER_WATER, less
from autoplan.rules.survey import Survey
from autoplan.units import Dimension, tenth_mm_down, tenth_mm_up

FINEST = 25
"""The largest denominator of the fraction as which the overload factor squared enters the model."""

BEYOND = 20_000
"""Over the head of any pump, what a run may lose before it is as hopeless as with more [0.1 mm]."""


def stays_open(site: Site, run: Run) -> bool:
    """Whether a run is on the way to an outlet that stays open while timed valves are shut."""
    return any(run.name in path for path, _ in open_outlets(site))


def stays_open_shared(site: Site, run: Run) -> bool:
    """Whether it is on the way to a timed bed besides."""
    return stays_open(site, run) and not stays_open_alone(site, run)


def stays_open_alone(site: Site, run: Run) -> bool:
    """Whether it is on no way to a timed bed besides."""
    return any(run.name in own for _, own in open_outlets(site))


class TimerShut(Rule):
    """Flow of each outlet that stays open, every timed valve shut, <= overload factor x its design flow.

    Its valve was set with the timed ones open, to take what head it had too much of, X. Shut, more head is
    left for it. At f times its flow q it asks for lift + losses of its own runs + f^2 X; where the pump,
    giving no one else anything, has no more than that, the outlet gets no more. Overload is what the drains
    below it are sized for; a bell siphon must still break. Losses on runs that it shares with timed beds are
    left out, on the safe side.
    """

    id = "timer-shut"
    sentence = "With every timed valve shut, each outlet that stays open gets no more than its overload flow."
    source = "energy equation; overload factor: as the rule overload's"
    unit = "L/h"
    negotiable = True
    hint = ", or write a higher overload below [wishes], which makes the drains wider"
    settings = (
        Setting("siphon", Dimension.NUMBER, "50 %", "from memory", "over its flow for a bed with a siphon"),
    )
    reads = (
        less(LOSS_AT_DESIGN, stays_open_shared),
        less(LOSS, stays_open_alone),
        less(CREST, stays_open),
        less(OVER_WATER, stays_open),
    )

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only sites with timed beds."""
        return bool(site.timed_beds())

    def encode(self, draft: ModelView) -> None:
        """Lift + own loss at f q + f^2 X >= head at f q, X = head at Q - lift - loss at q, by outlet."""
        for path, own in open_outlets(draft.site):
            whole, part = (draft.site.flows[name].design_m3_s for name in (path[0], path[-1]))
            for case in draft.overloads():
                factor = self._allowed(draft.site, path[-1], case.factor)
                if whole <= factor * part:
                    continue
                for row in _rows(draft, path, own, factor):
                    draft.at_least(self.id, row, 0, case.when)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per outlet that stays open; value is the flow that it cannot exceed."""
        for path, own in open_outlets(survey.site):
            factor = self._allowed(survey.site, path[-1], survey.overload_factor())
            most = factor * survey.design_flow(path[-1])
            flow = flow_when_shut(survey, path, own)
            yield self.at_most(OnRun(path[-1]), flow, most, 0.01)

    def _allowed(self, site: Site, outlet: str, overload: float) -> float:
        """How many times its design flow an outlet may get."""
        vessel = site.vessels[site.runs[outlet].finish]
        siphon = vessel.bed is not None and vessel.bed.siphon
        return min(overload, 1 + self.values["siphon"]) if siphon else overload


def open_outlets(site: Site) -> list[tuple[tuple[str, ...], tuple[str, ...]]]:
    """Each way from a pump with timed beds to another vessel, and the part of it that is its own."""
    timed = site.timed_beds()
    paths = pressure_paths(site)
    shared = {name for path in paths if site.runs[path[-1]].finish in timed for name in path}
    clocked = {site.runs[path[0]].start for path in paths if path[-1] in shared}
    return [
        (path, tuple(name for name in path if name not in shared))
        for path in paths
        if site.runs[path[-1]].finish not in timed and site.runs[path[0]].start in clocked
    ]


def flow_when_shut(survey: Survey, path: Sequence[str], own: Sequence[str]) -> float:
    """The most that an outlet can get with every timed valve shut [m3/s], its own valve as set.

    As if the pump gave no one else anything; never more than the pump's whole design flow, for shutting
    valves makes no pump give more.
    """
    pumped = survey.run(path[0]).start
    wished, curve = survey.design_flow(path[-1]), survey.pump_curve(pumped)
    lift = survey.discharge_height(path[-1]) - survey.level(pumped)
    spare = max(0.0, duty_head(survey, pumped) - lift - survey.path_loss(path, survey.flows_at()))

    def has_head(flow: float) -> bool:
        lost = survey.path_loss(own, dict.fromkeys(own, flow))
        return curve.head(flow) >= lift + lost + spare * (flow / wished) ** 2

    most = min(survey.pump_flow(pumped), curve.run_out_m3_s)
    if most <= wished or has_head(most):
        return most
    return crossing(has_head, wished, most)[1]


def _rows(draft: ModelView, path: Sequence[str], own: Sequence[str], factor: float) -> Iterator[Linear]:
    """What must not be negative for one outlet, in parts of 0.1 mm: for a way in over the rim or not."""
    first, last = draft.site.runs[path[0]], draft.site.runs[path[-1]]
    square, parts = _fraction(factor * factor)
    flow = factor * draft.site.flows[last.name].design_m3_s
    pumps = draft.pumps(first.start)
    head = weighted(
        (var, square * tenth_mm_down(choice.head_m) - parts * tenth_mm_up(_head(choice, flow)))
        for var, choice in pumps
    )
    joints = draft.path_loss(own, factor) - total(draft.path_loss((name,), factor) for name in own)
    others = draft.path_loss(path, 1.0) - total(draft.run_loss(name) for name in own)
    alone = [_more(draft, name, factor, square, parts) for name in own]
    row = total((head, joints * parts, others * -square, *alone))
    hopeless = -square * (max(tenth_mm_up(choice.shut_off_m) for _, choice in pumps) + BEYOND)
    row = Linear({var: max(hopeless, coef) for var, coef in row.terms.items()}, row.constant)
    for height in discharge_heights(draft, last):
        yield row - (height - draft.level(first.start)) * (square - parts)


def _more(draft: ModelView, name: str, factor: float, square: int, parts: int) -> Linear:
    """What a run loses at more flow, in parts, less `square` times what it loses at its own: 0 or less.

    In pipe that is less than the square of the flow. A flap takes as much at any flow, or no less than that.
    What else stands on the run goes with the square, so `square` times or more: it is left out.
    """
    flow, water, ways = draft.site.flows[name].design_m3_s, site_water(draft.site), []
    for var, line in draft.each(LOSS, name):
        pipe = replace(line, resistances=())
        more = min(0.0, parts * pipe.loss(factor * flow, water) - square * pipe.loss(flow, water))
        flaps = sum(one.loss(0.0) for one in line.resistances)
        ways.append((var, tenth_mm_down(more - (square - parts) * flaps)))
    return weighted(ways)


def _fraction(square: float) -> tuple[int, int]:
    """Numerator and denominator of a square, rounded down where no denominator up to `FINEST` gives it."""
    for parts in range(1, FINEST + 1):
        if abs(parts * square - round(parts * square)) < 1e-9:
            return round(parts * square), parts
    return math.floor(FINEST * square), FINEST


def _head(choice: PumpChoice, flow_m3_s: float) -> float:
    """Head of a pump at a flow [m], 0 past its run-out."""
    curve = PumpCurve(choice.pump.curve).at_speed(choice.speed)
    return curve.head(flow_m3_s) if flow_m3_s <= curve.run_out_m3_s else 0.0
