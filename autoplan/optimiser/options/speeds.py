"""The ways to run a pump: throttled at full speed, or slowed."""

from __future__ import annotations

import math
from collections.abc import Iterator

from autoplan.catalog.parts import Pump
from autoplan.hydraulics.pump import PumpCurve, watts_at_speed
from autoplan.optimiser.options.shelf import LEAST_SPEED
from autoplan.rules.base import PumpChoice

SPEEDS = (1.0, 0.95, 0.9, 0.85, 0.8, 0.75, 0.7, 0.65, 0.6, 0.55, LEAST_SPEED)
"""Speeds at which a pump that can be slowed is offered, as shares of full speed."""


def pump_choices(pump: Pump, flow_m3_s: float) -> Iterator[PumpChoice]:
    """The ways to run one pump that still give the flow at all."""
    full = PumpCurve(pump.curve)
    for speed in SPEEDS if pump.slowable else (1.0,):
        curve = full.at_speed(speed)
        if flow_m3_s > curve.run_out_m3_s:
            continue
        head = curve.head(flow_m3_s)
        if head <= 0 or math.isnan(head):
            continue
        mode = "throttled" if speed == 1.0 else "slowed"
        yield PumpChoice(pump, mode, speed, head, curve.shut_off_m, watts_at_speed(pump.watts, speed))
