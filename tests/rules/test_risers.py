"""A vessel behind a riser stands higher than the water at its wall by what the riser takes."""

from __future__ import annotations

import math
from typing import Any

import pytest

from autoplan.catalog.parts import TurnStyle
from autoplan.fittings.riser import Riser
from autoplan.hydraulics.gravity import part_full_inlet_head
from autoplan.line.water import inlet_bore, inlet_of

DRAIN = "tank drain"
G = 9.80665


def by_hand(plan: Any, flow_m3_s: float) -> float:
    """Loss [m] in the riser: Darcy-Weisbach after Swamee and Jain at 20 degrees, entrance 1.0 (White, after
    Idelchik), two 45s of 16 fT each (Crane TP-410) with fT of the bore in rough flow."""
    drawn, vessel = plan.drawing.runs[DRAIN], plan.site.vessels["tank"]
    pipe = plan.catalog.pipes[drawn.pipe]
    speed = flow_m3_s / (math.pi / 4 * pipe.bore_m**2)
    reynolds = speed * pipe.bore_m / 1.004e-6
    friction = 0.25 / math.log10(pipe.roughness_m / pipe.bore_m / 3.7 + 5.74 / reynolds**0.9) ** 2
    length = math.sqrt(vessel.area_m2 / math.pi) + vessel.water_max_m - vessel.floor_m
    assert drawn.turns[0].style is TurnStyle.PAIRED
    k = 1.0 + 2 * 16 * 0.25 / math.log10(0.046e-3 / pipe.bore_m / 3.7) ** 2
    return (k + friction * length / pipe.bore_m) * speed**2 / (2 * G)


@pytest.mark.parametrize("factor", [0.5, 1.0, 1.5, 2.5])
def test_what_a_riser_takes(plan, factor: float) -> None:
    """Over the head at the wall the tank needs entrance, turn and friction of the riser, to a fifth."""
    flow = factor * plan.survey.design_flow(DRAIN)
    drawn = plan.drawing.runs[DRAIN]
    assert drawn.one(Riser) is not None
    at_wall = part_full_inlet_head(flow, inlet_bore(plan.catalog, drawn), inlet_of(drawn).inlet_k)
    assert plan.survey.inlet_head(DRAIN, flow) - at_wall == pytest.approx(by_hand(plan, flow), rel=0.2)


def test_without_a_riser_nothing_is_added(plan) -> None:
    """A plain hole in the wall asks for the head of its inlet and no more."""
    flow = plan.survey.design_flow(DRAIN)
    bare = plan.without(DRAIN, Riser)
    drawn = plan.drawing.runs[DRAIN]
    at_wall = part_full_inlet_head(flow, inlet_bore(plan.catalog, drawn), inlet_of(drawn).inlet_k)
    assert bare.survey.inlet_head(DRAIN, flow) == pytest.approx(at_wall)


def test_the_hole_is_drilled_for_it(plan) -> None:
    """The level that the drawing promises is the one at which the riser passes the design flow, to 1 mm."""
    drawn, level = plan.drawing.runs[DRAIN], plan.drawing.levels["tank"].design_m
    bore = inlet_bore(plan.catalog, drawn)
    flow = plan.survey.design_flow(DRAIN)
    at_wall = part_full_inlet_head(flow, bore, inlet_of(drawn).inlet_k)
    invert = drawn.start.centre_m - bore / 2
    assert level - invert == pytest.approx(at_wall + by_hand(plan, flow), abs=2e-3)
    assert level - invert > at_wall + 3e-3
