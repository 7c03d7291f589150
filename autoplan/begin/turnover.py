"""How often the fish tank's water passes: as usual, unless its drain then runs too slow to stay clean."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import cache

from autoplan.begin.usual import MOST_FLOODS, bed_water, vessels, volume
from autoplan.catalog.materials import Grade
from autoplan.catalog.parts import Catalog, Pipe
from autoplan.problem.tables.defaults import TURNOVER
from autoplan.rules.water.drain_bore import DrainBore
from autoplan.rules.water.drain_velocity import DrainVelocity
from autoplan.units import Dimension, read

LEAST, MOST = 1.0, 2.0
"""Turnovers an hour that are usual; common practice, no source."""

USUAL = "1 to 2 is usual"

STEP = 0.05
"""Turnovers are tried in steps of so much an hour."""


def turnover_of(said: Mapping[str, str], catalog: Catalog) -> tuple[float, str]:
    """Turnover [1/h] of the fish tank, and half a sentence on why it is that.

    Without a sump it is no more than the beds can flood. Else it is the usual one, or where the tank's drain
    then runs under the speed that the rule drain-velocity asks for, in the cheapest pipe that drain-bore and
    drinking-water allow, the nearest between `LEAST` and `MOST` at which it does not; where there is none,
    the usual one.
    """
    usual = read(TURNOVER.text, Dimension.RATE) * 3600
    tank = volume(said["tank.volume"])
    if "sump" not in vessels(said):
        most = MOST_FLOODS * bed_water(said) / tank
        if most < usual:
            return max(0.01, math.floor(most * 100) / 100), "no more than the beds can flood"
        return usual, USUAL
    steps = [round(LEAST + step * STEP, 2) for step in range(round((MOST - LEAST) / STEP) + 1)]
    for rate in sorted(steps, key=lambda rate: abs(rate - usual)):
        if stays_clean(tank * rate / 3600, catalog):
            same = math.isclose(rate, usual)
            return rate, USUAL if same else f"so that its drain stays clean; {USUAL}"
    return usual, f"{USUAL}; its drain is slow at any of these, so flush it now and then"


def stays_clean(flow_m3_s: float, catalog: Catalog) -> bool:
    """Whether a flow keeps solids moving in the cheapest rigid pipe that it may drain through.

    That is none sold for drains: only a builder who asks for it gets one, and the file does not.
    """
    limits = _limits()
    least = limits["large"] if flow_m3_s > limits["above"] + 1e-12 else limits["small"]
    rigid = [
        pipe for pipe in catalog.pipes.values() if not pipe.bend_radius_m and pipe.grade is not Grade.DRAIN
    ]
    fitting = [pipe for pipe in rigid if pipe.bore_m >= least]
    if not fitting:
        return False
    usual = min(fitting, key=lambda pipe: (_by_the_metre(pipe), pipe.bore_m))
    return flow_m3_s >= limits["speed"] * math.pi / 4 * usual.bore_m**2


@cache
def _limits() -> Mapping[str, float]:
    """The settings of drain-bore, and the speed of drain-velocity, in SI."""
    bores = {setting.key: read(setting.default, setting.dimension) for setting in DrainBore.settings}
    return {**bores, "speed": read(DrainVelocity.settings[0].default, Dimension.VELOCITY)}


def _by_the_metre(pipe: Pipe) -> float:
    """What a metre costs in the cheapest shop, in cents."""
    return min(offer.price_cents / offer.pack for offer in pipe.offers) / (pipe.stick_m or 1.0)
