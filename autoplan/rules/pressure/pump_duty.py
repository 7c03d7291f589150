"""The pump lifts the whole design flow to every outlet, with a margin."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import accumulate

from autoplan.catalog.naming import name_of
from autoplan.catalog.parts import Pump
from autoplan.fittings.ends import AtVessel
from autoplan.fittings.rim import OverRim
from autoplan.hydraulics.pump import PumpCurve
from autoplan.line.route import LEVEL_M
from autoplan.outcome import Finding
from autoplan.places import InVessel
from autoplan.problem.flows import pressure_paths
from autoplan.problem.site import Run, Site
from autoplan.problem.standing import begins_at
from autoplan.rules.balance import flood_drawdown, over_its_end, pumped_flow, way_top
from autoplan.rules.base import Concern, Given, Mend, ModelView, Rule, Setting
from autoplan.rules.heights import DATUM, AtLeast, WaterOf
from autoplan.rules.linear import Linear, weighted
from autoplan.rules.quantities import CREST, GROWN_LOSS, OVER_WATER, less, pumped
from autoplan.rules.survey import Survey
from autoplan.sentence import Amount, Text, say
from autoplan.units import Dimension, tenth_mm_down, tenth_mm_up


class PumpDuty(Rule):
    """Head at the design flow >= lift from low water + (1 + margin) x losses, on every path.

    The margin is on what is not known well: a lift can be measured. Losses are those of pipe after a year,
    when something has grown on its walls; overload, bucket times and what the pump gives flat out go by new
    pipe, in which more flows.
    Lift counts from the pumped vessel's lowest water to the top of the pipe where it discharges, or to the
    water there where it opens under water; where the line goes higher on its way, to the underside of the
    pipe there, which water must pass before it can draw on what hangs behind. Branches that need less are
    throttled by their valves.
    """

    id = "pump-duty"
    sentence = "The pump gives every outlet its flow from the lowest sump water, with the margin to spare."
    source = "energy equation; margin and roughness: from memory"
    unit = "m"
    negotiable = True
    role = Concern.LIFT
    mended_by = frozenset(
        (
            Mend.HEIGHTS,
            Mend.FLOW,
        )
    )
    spares = True
    settings = (
        Setting(
            "margin",
            Dimension.NUMBER,
            "10 %",
            "from memory",
            "losses counted over those worked out",
            Given.LIFT_MARGIN,
        ),
        # HR Wallingford's tables for pumped mains of waste water have 0.15 mm as normal at 1.5 m/s.
        Setting(
            "roughness",
            Dimension.LENGTH,
            "0.15 mm",
            "from memory",
            "roughness of pipe from the pump after a year",
            Given.GROWN,
        ),
    )
    reads = (less(GROWN_LOSS, pumped), less(CREST, pumped), less(OVER_WATER, pumped))

    def pumps_at_once(self, site: Site, vessel: str, pumps: Sequence[Pump]) -> Iterator[AtLeast]:
        """No pump lifts water from further down than its head at the design flow."""
        flow = pumped_flow(site, vessel)
        heads = ((PumpCurve(pump.curve).head(flow), pump.id) for pump in pumps)
        yield from lifted_at_once(self.id, site, vessel, flow, *max(heads))

    def encode(self, draft: ModelView) -> None:
        """Inequalities per path: for outlets over a rim, through a wall, and under water."""
        share = 1 + self.values["margin"]
        for path in draft.pressure_paths():
            first, last = draft.site.runs[path[0]], draft.site.runs[path[-1]]
            head = weighted((var, tenth_mm_down(choice.head_m)) for var, choice in draft.pumps(first.start))
            drawdown = tenth_mm_up(flood_drawdown(draft.site, first.start))
            lost = _times_up(draft.path_loss(path, 1.0, grown=True), share)
            left = head + draft.level(first.start) - drawdown - lost - draft.reserve
            for height in (*discharge_heights(draft, last), *_on_the_way(draft, path)):
                draft.at_least(self.id, left, height)

    def check(self, survey: Survey) -> Iterator[Finding]:
        """One finding per path; value is the head the pump has at the design flow."""
        for path in survey.pressure_paths:
            vessel = survey.run(path[0]).start
            has = duty_head(survey, vessel)
            needs = required_head(survey, path, 1 + self.values["margin"], self.values["roughness"])
            yield self.not_under(InVessel(survey.run(path[-1]).finish), has, needs, tolerance=1e-7)

    def unjudged(self, survey: Survey) -> Iterator[Text]:
        """What a pump gives past the end of its curve, where that ends before its head is 0."""
        for part in dict.fromkeys(pump.part for pump in survey.drawing.pumps.values()):
            curve = PumpCurve(survey.catalog.pumps[part].curve)
            (flow, head), (most, _) = curve.points[-1], curve.carried_on().points[-1]
            if head > 0.0:
                yield say(
                    "The curve of the {} ends at {} and {}: flat out it counts as giving up to {}, maybe "
                    "too much.",
                    name_of(survey.catalog, part),
                    Amount(head, "m", 2),
                    Amount(flow, "L/h", 0),
                    Amount(most, "L/h", 0),
                )


def lifted_at_once(
    rule: str, site: Site, vessel: str, flow_m3_s: float, head_m: float, pump: str
) -> Iterator[AtLeast]:
    """What the strongest pump asks of a vessel's level: it lifts water from no further down than its head.

    Args:
        rule: id of the rule that asks.
        site: the problem.
        vessel: where the pump stands.
        flow_m3_s: what it must give [m3/s].
        head_m: what it has at that flow [m].
        pump: its part id.
    """
    drawdown = tenth_mm_up(flood_drawdown(site, vessel))
    gives = say("{} gives {} at {}", pump, Amount(head_m, "m", 2), Amount(flow_m3_s, "L/h", 0))
    for path in pressure_paths(site):
        if site.runs[path[0]].start != vessel:
            continue
        to = site.vessels[site.runs[path[-1]].finish]
        most = max(to.water_min_m, way_top(site, path))
        low = tenth_mm_down(most) - tenth_mm_down(head_m) + drawdown
        lifts = say("must lift water to {} for {}", Amount(most, "mm", 0), to.name)
        yield AtLeast(rule, WaterOf(vessel), DATUM, low, say("{}, and {}", gives, lifts))


def discharge_heights(draft: ModelView, last: Run) -> tuple[Linear, ...]:
    """What a pressure run must lift to [0.1 mm, up]: over a rim, through a wall, to the water over it.

    Whichever way is chosen, one of them is its height and the others no more than it.
    """
    over, through, under = [], [], []
    vessel = draft.site.vessels[last.finish]
    for (var, crest), (_, above) in zip(
        draft.each(CREST, last.name), draft.each(OVER_WATER, last.name), strict=True
    ):
        if crest is not None:
            over.append((var, tenth_mm_up(crest)))
            # No overload level is over the rim, so this asks for no more than the lift over it.
            through.append((var, tenth_mm_down(crest - vessel.rim_m)))
            under.append((var, tenth_mm_down(crest - vessel.rim_m)))
        elif above is not None:
            # No water is under its lowest, so this asks for no more than the lift through the wall.
            over.append((var, tenth_mm_down(vessel.water_min_m + above)))
            through.append((var, tenth_mm_up(above)))
            # The level at overload is never under that at design.
            under.append((var, tenth_mm_down(above)))
        else:
            # No water is under its lowest, and no overload level over the rim.
            over.append((var, tenth_mm_down(vessel.water_min_m)))
            through.append((var, tenth_mm_down(vessel.water_min_m - vessel.rim_m)))
    heights = weighted(over), draft.overload_level(last.finish) + weighted(through)
    drowned = len(under) < len(over)
    return (*heights, draft.level(last.finish) + weighted(under)) if drowned else heights


def _on_the_way(draft: ModelView, path: tuple[str, ...]) -> Iterator[Linear]:
    """How high the line goes before its last end [0.1 mm, up], where that may be more than at its end."""
    last = draft.site.runs[path[-1]]
    lowest, top = draft.site.vessels[last.finish].water_min_m, way_top(draft.site, path)
    if top > lowest:
        yield Linear({}, tenth_mm_up(top))
    height = None if last.plan is None else last.plan.height_m
    if height is not None and over_its_end(draft.site, last):
        # Over the rim it ends as high as it runs; to a hole in the wall it comes down.
        high, low = tenth_mm_up(height), tenth_mm_down(lowest)
        yield weighted(
            (var, low if above is None else high) for var, above in draft.each(OVER_WATER, last.name)
        )


def _times_up(losses: Linear, share: float) -> Linear:
    """Losses times a share of 1 or more, each rounded up [0.1 mm]."""
    terms = {var: math.ceil(share * loss - 1e-9) for var, loss in losses.terms.items()}
    return Linear(terms, math.ceil(share * losses.constant - 1e-9))


def required_head(survey: Survey, path: tuple[str, ...], share: float, grown_m: float) -> float:
    """Head [m] that a path asks of its pump at design flow: lift from low water plus losses.

    Args:
        survey: the drawing.
        path: runs from the pump on.
        share: by what losses are multiplied [-].
        grown_m: roughness of pipe after a year [m].
    """
    low = survey.low_level(survey.run(path[0]).start)
    lift = max(survey.discharge_height(path[-1]), _highest(survey, path)) - low
    return lift + share * survey.path_loss(path, survey.flows_at(), grown_m=grown_m)


def _highest(survey: Survey, path: tuple[str, ...]) -> float:
    """Underside of the pipe at the highest place of a path before its last end [m].

    By its legs, from the pump's outlet or a tee on; minus infinity where none are known on the plan.
    """
    tops = [-math.inf]
    for name in path:
        drawn, begins = survey.drawn(name), begins_at(survey.site, survey.run(name))
        if survey.run(name).plan is None or begins is None:
            continue
        heights = list(accumulate((leg.rise_m for leg in drawn.legs), initial=begins))
        if isinstance(drawn.finish, AtVessel):
            heights.pop()
        if isinstance(drawn.finish, OverRim) and drawn.finish.centre_m is not None:
            heights = [height for height in heights if height < drawn.finish.centre_m - LEVEL_M]
        tops += [height - survey.pipe(name).outside_m / 2 for height in heights]
    return max(tops)


def duty_head(survey: Survey, vessel: str) -> float:
    """Head [m] of the drawn pump at its design flow; 0 past its run-out."""
    curve, flow = survey.pump_curve(vessel), survey.pump_flow(vessel)
    return curve.head(flow) if flow <= curve.run_out_m3_s else 0.0
