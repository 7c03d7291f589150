"""What a plan measures, by arithmetic of this file's own on its drawing: heights, volumes, speeds.

Nothing here asks a rule. What pipes and inlets lose is the survey's, which other tests hold against
textbook values (tests/hydraulics, tests/rules/test_risers.py).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise
from typing import Any

G = 9.80665


def over_lip(flow: float, bore: float) -> float:
    """Head that a flow [m3/s] needs over a lip [m], the larger of weir and orifice.

    Q = 1.83 pi D H^1.5 and Q = 0.6 A sqrt(2 g H): US EPA, Storm Water Management Model reference manual.
    """
    weir = (flow / (1.83 * math.pi * bore)) ** (2 / 3)
    return max(weir, (flow / (0.6 * math.pi / 4 * bore**2)) ** 2 / (2 * G))


def stands(plan: Any, vessel: str, factor: float) -> float:
    """Where a vessel with one drain passes on a multiple of its design flow [m]."""
    (run,) = [run for run in plan.site.runs.values() if run.start == vessel]
    flow, start = factor * plan.site.flows[run.name].design_m3_s, plan.drawing.runs[run.name].start
    if plan.site.vessels[vessel].bed is not None:
        bore = plan.catalog.pipes[start.standpipe].bore_m
        return float(start.standpipe_top_m + over_lip(flow, bore))
    return over_inlet(plan, run.name, flow)


def over_inlet(plan: Any, run: str, flow: float) -> float:
    """Where the water stands at which a drain's inlet lets in a flow [m3/s] [m]."""
    return invert(plan, run) + float(plan.survey.inlet_head(run, flow))


def passes(plan: Any, run: str, flow: float, below: float) -> float:
    """Where the water stands at which a drain carries a flow [m3/s] to water below [m] [m].

    That over its inlet, or that which pushes it through the pipe, out under the water or over its crown.
    """
    line = plan.drawing.runs[run]
    crown = line.finish.centre_m + plan.catalog.pipes[line.pipe].outside_m / 2
    pushed = max(below, crown) + float(plan.survey.line(run).loss(flow, plan.survey.water))
    return max(over_inlet(plan, run, flow), pushed)


def invert(plan: Any, run: str) -> float:
    """The lowest point at which a drain through a wall takes water [m]: its pipe's, or its coupling's."""
    line = plan.drawing.runs[run]
    bores = [plan.catalog.pipes[line.pipe].bore_m]
    bores += [plan.catalog.adaptors[part].bore_m for part in line.start.chain]
    return float(line.start.centre_m - min(bores) / 2)


def dry_mm(plan: Any, vessel: str) -> float:
    """Wall over the water at one and a half times the design flow [mm]; a sump's water is the drawn one."""
    place = plan.site.vessels[vessel]
    top = plan.drawing.levels[vessel].design_m if vessel == "sump" else stands(plan, vessel, 1.5)
    return float((place.floor_m + place.depth_m - top) * 1000)


def deep_mm(plan: Any, vessel: str) -> float:
    """The drawn water over a vessel's floor [mm]."""
    return float((plan.drawing.levels[vessel].design_m - plan.site.vessels[vessel].floor_m) * 1000)


def fall_mm(plan: Any, run: str) -> float:
    """What is left of a drain's fall after its losses [mm]: a bed's from its floor, at three times its flow.

    It falls to the sump's water, or to the crown of its own end where that is higher.
    """
    line, water = plan.drawing.runs[run], plan.survey.water
    above, flow = plan.site.vessels[line.start.at], plan.site.flows[run].design_m3_s
    bed = above.bed is not None
    top = above.floor_m if bed else plan.drawing.levels[above.name].design_m
    crown = line.finish.centre_m + plan.catalog.pipes[line.pipe].outside_m / 2
    below = max(plan.drawing.levels[line.finish.at].design_m, crown)
    return float((top - below - plan.survey.line(run).loss((3 if bed else 1) * flow, water)) * 1000)


def air_mm(plan: Any, run: str) -> float:
    """From the highest water to the mouth of an inlet over the rim [mm]."""
    finish = plan.drawing.runs[run].finish
    return float((finish.mouth_m - stands(plan, finish.at, 1.5)) * 1000)


def hangs_mm(plan: Any, run: str) -> float:
    """From the crest of an inlet over the rim down to its mouth [mm]."""
    finish = plan.drawing.runs[run].finish
    return float((finish.centre_m - finish.mouth_m) * 1000)


def under_mm(plan: Any, run: str) -> float:
    """How deep the mouth of a drain over a rim lies under the drawn water [mm]; less than 0 over it."""
    finish = plan.drawing.runs[run].finish
    return float((plan.drawing.levels[finish.at].design_m - finish.mouth_m) * 1000)


def strip_mm(plan: Any, run: str, side: str) -> float:
    """Wall between a hole and the rim [mm]."""
    end = getattr(plan.drawing.runs[run], side)
    rim = plan.site.vessels[end.at].floor_m + plan.site.vessels[end.at].depth_m
    return float((rim - end.centre_m - plan.catalog.penetrations[end.penetration].hole_m / 2) * 1000)


def beds_full_mm(plan: Any) -> float:
    """Water over the sump's floor with the one bed full [mm]: 1 m2 x 250 mm, two fifths of it water."""
    return deep_mm(plan, "sump") - 1.0 * 0.250 * 0.4 / plan.site.vessels["sump"].area_m2 * 1000


def run_back_mm(plan: Any) -> float:
    """Wall over the sump's water when tank, pressure pipes and the tank's drain have run back to it [mm]."""
    tank, pipes = plan.site.vessels["tank"], ("main", "tank feed", "bed feed 1", "tank drain")
    back = (plan.drawing.levels["tank"].design_m - invert(plan, "tank drain")) * tank.area_m2
    for line in (plan.drawing.runs[name] for name in pipes):
        back += math.pi / 4 * plan.catalog.pipes[line.pipe].bore_m ** 2 * line.length_m
    return dry_mm(plan, "sump") - back / plan.site.vessels["sump"].area_m2 * 1000


def speed(plan: Any, run: str) -> float:
    """Mean velocity at the design flow [m/s]."""
    bore = plan.catalog.pipes[plan.drawing.runs[run].pipe].bore_m
    return float(plan.site.flows[run].design_m3_s / (math.pi / 4 * bore**2))


def starts(plan: Any, run: str) -> float:
    """Inflow that starts a siphon [m3/s]: a tenth over V = 0.51 sqrt(g D), with a flare seven tenths."""
    start = plan.drawing.runs[run].start
    bore, share = plan.catalog.pipes[start.standpipe].bore_m, 1.0 if start.siphon.flare is None else 0.7
    return float(1.1 * share * 0.51 * math.sqrt(G * bore) * math.pi / 4 * bore**2)


def asked_of_the_pump(plan: Any, feed: str, margin: float = 1.1, flow: float = 1.0) -> float:
    """Head at the design flow, or so many times it [m]: from the sump with the bed full to the crest, losses.

    They are those of walls with 0.15 mm of growth, and a tenth over.
    """
    finish = plan.drawing.runs[feed].finish
    crest = finish.centre_m + plan.catalog.pipes[plan.drawing.runs[feed].pipe].outside_m / 2
    low = plan.site.vessels["sump"].floor_m + beds_full_mm(plan) / 1000
    lost = plan.survey.path_loss(("main", feed), plan.survey.flows_at(flow), grown_m=0.00015)
    return float(crest - low + margin * lost)


def pump_gives(plan: Any, flow: float | None = None) -> float:
    """Head of the pump at a flow [m3/s], or its design flow [m]: between two points of its curve."""
    flow = plan.site.flows["main"].design_m3_s if flow is None else flow
    curve = plan.catalog.pumps[plan.drawing.pumps["sump"].part].curve
    before, after = next((a, b) for a, b in pairwise(curve) if b[0] >= flow)
    share = (flow - before[0]) / (after[0] - before[0])
    return float(before[1] + share * (after[1] - before[1]))


def halved(holds: Callable[[float], bool], low: float, high: float) -> float:
    """The value up to which something holds, by halving."""
    assert holds(low)
    assert not holds(high)
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if holds(middle) else (low, middle)
    return low


def paid(plan: Any) -> int:
    """Goods and freight of the order [cents]."""
    goods: dict[str, int] = {}
    for line in plan.drawing.purchases:
        (offer,) = [one for one in plan.catalog.part(line.part).offers if one.shop == line.shop]
        goods[line.shop] = goods.get(line.shop, 0) + line.packs * offer.price_cents
    shops = [(plan.catalog.shops[name], cents) for name, cents in goods.items()]
    free = (shop.free_from_cents is not None and cents >= shop.free_from_cents for shop, cents in shops)
    freight = (0 if none else shop.freight_cents for none, (shop, _) in zip(free, shops, strict=True))
    return sum(goods.values()) + sum(freight)
