"""What a drawing's pumps can give and what the pipes ask of them, as curves of head against flow."""

from __future__ import annotations

from collections.abc import Mapping

from autoplan.hydraulics.pump import PumpCurve
from autoplan.outcome import HeadFlow, PumpCurves
from autoplan.rules.survey import Survey
from autoplan.verdict.steady.network import ValveSetting, steady

POINTS = 8
"""Points of a system curve besides its foot."""

FASTEST = 1.2
"""Speed of the pump, over its own, to which the system curve is followed [-]."""


def pump_curves(survey: Survey, settings: Mapping[str, ValveSetting]) -> dict[str, PumpCurves]:
    """Curves by pumped vessel, with the valves as set.

    The system curve is where the pump would run if it were faster or slower (affinity laws, Crane TP-410),
    the water of its vessel and of all that it feeds as drawn, other pumps as they are. The pump's own go down
    to a head of 0, carried on where the price list ends before.

    Args:
        survey: the drawing measured.
        settings: its valves as set for the design flows.
    """
    return {vessel: _curves(survey, vessel, settings) for vessel in survey.site.pumped_vessels()}


def _curves(survey: Survey, vessel: str, settings: Mapping[str, ValveSetting]) -> PumpCurves:
    curve = survey.pump_curve(vessel).carried_on()
    foot = _foot(survey, vessel)
    least = (foot / curve.shut_off_m) ** 0.5
    found: list[HeadFlow] = [(0.0, foot)]
    for step in range(1, POINTS + 1):
        share = least + (FASTEST - least) * step / POINTS
        points = tuple((flow * share, head * share * share) for flow, head in curve.points)
        answer = steady(survey, settings=settings, curves={vessel: PumpCurve(points)}, pressure_only=True)
        duty = answer.pumps[vessel]
        if duty.flow_m3_s > found[-1][0] and duty.head_m >= found[-1][1]:
            found.append((duty.flow_m3_s, duty.head_m))
    met = steady(survey, settings=settings, pressure_only=True).pumps[vessel]
    full = PumpCurve(survey.catalog.pumps[survey.drawing.pumps[vessel].part].curve)
    return PumpCurves(curve.points, full.carried_on().points, tuple(found), (met.flow_m3_s, met.head_m))


def _foot(survey: Survey, vessel: str) -> float:
    """Head at which the first outlet of a pump begins to run [m]: from its water to the lowest outlet."""
    heights = []
    for path in survey.pressure_paths:
        if survey.run(path[0]).start == vessel:
            water = survey.level(survey.run(path[-1]).finish)
            heights.append(max(survey.discharge_height(path[-1], water), water))
    return max(0.0, min(heights) - survey.level(vessel))
