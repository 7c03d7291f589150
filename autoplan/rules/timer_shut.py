"""While the timed valves are shut, what else the pump feeds does not get too much."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from autoplan.catalog.parts import Way
from autoplan.hydraulics.pump import PumpCurve
from autoplan.hydraulics.search import crossing
from autoplan.outcome import Finding
from autoplan.problem.graph import pressure_paths
from autoplan.problem.site import Site, Vessel
from autoplan.rules.base import FAR, Candidate, Draft, PumpChoice, Rule
from autoplan.rules.linear import Linear, weighted
from autoplan.rules.pump_duty import duty_head
from autoplan.rules.survey import Survey
from autoplan.rules.turnover import LITRES_PER_HOUR
from autoplan.units import tenth_mm_down, tenth_mm_up

PARTS = 4
"""The square of the overload factor enters the model in quarters, rounded down; 1.5 squared is nine."""


class TimerShut(Rule):
    """Flow of each outlet that stays open, every timed valve shut, <= overload factor x its design flow.

    Its valve was set with the timed ones open, to take what head it had too much of, X. Shut, more head is
    left for it. At f times its flow q it asks for lift + losses + f^2 X; where the pump, giving no one else
    anything, has no more than that, the outlet gets no more. Overload is what the drains below it are sized
    for.
    """

    id = "timer-shut"
    sentence = "With every timed valve shut, each outlet that stays open gets no more than its overload flow."
    source = "energy equation; overload factor: as the rule overload's"
    unit = "L/h"
    negotiable = True

    @classmethod
    def concerns(cls, site: Site) -> bool:
        """Only sites with timed beds."""
        return bool(site.timed_beds())

    def encode(self, draft: Draft) -> None:
        """Lift + loss at f q + f^2 (head at Q - lift - loss at q) >= head at f q, for each open outlet."""
        for path, own in open_outlets(draft.site):
            whole, part = (draft.site.flows[name].design_m3_s for name in (path[0], path[-1]))
            for case in draft.overloads():
                if whole <= case.factor * part:
                    continue
                draft.at_least(self.id, _left(draft, path, own, case.factor), 0, case.when)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per outlet that stays open; value is the flow that it cannot exceed."""
        for path, _ in open_outlets(survey.site):
            most = survey.overload_factor() * survey.design_flow(path[-1])
            flow = flow_when_shut(survey, path)
            yield self.at_most(path[-1], flow * LITRES_PER_HOUR, most * LITRES_PER_HOUR, 0.01)


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


def flow_when_shut(survey: Survey, path: Sequence[str]) -> float:
    """The most that an outlet can get with every timed valve shut [m3/s], its own valve as set.

    As if the pump gave no one else anything; never more than the pump's whole design flow, for shutting
    valves makes no pump give more.
    """
    pumped = survey.run(path[0]).start
    own, curve = survey.design_flow(path[-1]), survey.pump_curve(pumped)
    lift = survey.discharge_height(path[-1]) - survey.level(pumped)
    spare = max(0.0, duty_head(survey, pumped) - lift - survey.path_loss(path, survey.flows_at()))

    def has_head(flow: float) -> bool:
        asked = lift + survey.path_loss(path, dict.fromkeys(path, flow)) + spare * (flow / own) ** 2
        return curve.head(flow) >= asked

    most = min(survey.pump_flow(pumped), curve.run_out_m3_s)
    if most <= own or has_head(most):
        return most
    return crossing(has_head, own, most)[1]


def _left(draft: Draft, path: Sequence[str], own: Sequence[str], factor: float) -> Linear:
    """What the row of one outlet comes to, in parts of 0.1 mm; losses that lie on shared runs left out."""
    site = draft.site
    first, last = site.runs[path[0]], site.runs[path[-1]]
    square, flow = math.floor(PARTS * factor * factor + 1e-9), site.flows[path[-1]].design_m3_s
    lift = weighted(
        (var, tenth_mm_up(_top(site.vessels[last.finish], candidate, last.name)))
        for var, candidate in draft.candidates(last.run_class)
    ) - draft.level(first.start)
    head = weighted(
        (var, square * tenth_mm_down(c.head_m) - PARTS * tenth_mm_up(_head(c, factor * flow)))
        for var, c in draft.pumps(first.start)
    )
    # Each run's loss was rounded up by less than a step.
    more = draft.path_loss(own, factor) - len(own)
    row = head + lift * (PARTS - square) + more * PARTS - draft.path_loss(path, 1.0) * square
    return Linear({var: max(-square * FAR, coef) for var, coef in row.terms.items()}, row.constant)


def _top(vessel: Vessel, candidate: Candidate, run: str) -> float:
    """The highest that a run may have to lift to [m]: over the rim where it is, through a wall at the rim."""
    finish = candidate.drawn[run].finish
    if finish.way is Way.OVER_RIM and finish.centre_m is not None:
        return finish.centre_m + candidate.pipe.outside_m / 2
    return vessel.rim_m


def _head(choice: PumpChoice, flow_m3_s: float) -> float:
    """Head of a pump at a flow [m], 0 past its run-out."""
    curve = PumpCurve(choice.pump.curve).at_speed(choice.speed)
    return curve.head(flow_m3_s) if flow_m3_s <= curve.run_out_m3_s else 0.0
