"""The small plan's water worked out beside the code: heads, flows, litres from its drawing and price list.

A tank drains through its wall from a riser, a bed over a standpipe's lip, both into the sump, whose pump
feeds both through set valves. Nothing here is asked of the rules or the verdict.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from fluids.friction import friction_factor
from scipy.optimize import brentq, fsolve

from autoplan.fittings.riser import Riser
from autoplan.hydraulics.fittings import turn_k
from tests.lines import the

G, VISCOSITY = 9.80665, 1.0034e-6
"""Gravity [m/s2]; kinematic viscosity of water at 20 degrees Celsius [m2/s], handbooks, from memory."""

VOIDS, FADES_M = 0.4, 0.01
"""Water in gravel [-]; a pump that draws air still lifts a last centimetre under its cover [m]."""

TANK_FLOW, BED_FLOW = 1800 / 3.6e6, 200 / 3.6e6
"""What the plan's tank and bed are to get [m3/s]."""


@dataclass(frozen=True)
class Standing:
    """Water of the plan: heights above the datum [m] and the share of its design flows that it gets [-]."""

    tank_m: float
    bed_m: float
    sump_m: float
    share: float


def velocity_head(flow: float, bore: float) -> float:
    """V2/2g [m]."""
    return (flow / (math.pi / 4 * bore**2)) ** 2 / (2 * G)


def drain_bore(plan) -> float:
    """Narrowest bore at the tank's outlet [m]: its pipe or the coupling behind its seal."""
    drain = plan.drawing.runs["tank drain"]
    chain = (plan.catalog.adaptors[part].bore_m for part in drain.start.chain)
    return min(plan.catalog.pipes[drain.pipe].bore_m, *chain)


def invert(plan) -> float:
    """Height to which the tank falls through its outlet [m]."""
    return plan.drawing.runs["tank drain"].start.centre_m - drain_bore(plan) / 2


def lip(plan) -> float:
    """Top of the bed's standpipe [m]."""
    return plan.drawing.runs["bed drain 1"].floor.standpipe_top_m


def tank_stands(plan, flow: float) -> float:
    """Level of the tank for a flow down its drain [m].

    At the wall a pipe that stands out (K 1.0): critical depth, Q2 T = g A3 (Chow, 1959), with 2.0 velocity
    heads on it, or once it is drowned the projecting inlet of FHWA HDS-5, H/D = 0.54 + 0.0553 (1.811 V /
    sqrt D)2. Before it the riser: a mouth that stands free (K 1.0), the pipe from the middle of the floor up
    to the highest water by Colebrook's factor, the turn at the wall's foot.
    """
    bore = drain_bore(plan)

    def wet(angle: float) -> float:
        return bore**2 / 8 * (angle - math.sin(angle))

    def over(angle: float) -> float:
        return G * wet(angle) ** 3 / (bore * math.sin(angle / 2)) - flow**2

    angle = brentq(over, 1e-3, 2 * math.pi - 1e-9)
    head = bore / 2 * (1 - math.cos(angle / 2)) + 2.0 * (flow / wet(angle)) ** 2 / (2 * G)
    if head > bore:
        speed = flow / (math.pi / 4 * bore**2)
        head = max(head, bore * (0.54 + 0.0553 * (1.811 * speed / math.sqrt(bore)) ** 2))
    line, tank = plan.drawing.runs["tank drain"], plan.site.vessels["tank"]
    pipe, corner = plan.catalog.pipes[line.pipe], the(line, Riser).corner
    length = math.sqrt(tank.area_m2 / math.pi) + tank.water_max_m - tank.floor_m
    reynolds = flow / (math.pi / 4 * pipe.bore_m) / VISCOSITY
    k = 1.0 + friction_factor(Re=reynolds, eD=pipe.roughness_m / pipe.bore_m) * length / pipe.bore_m
    part = plan.catalog.turns[corner.pieces[0]]
    narrow = min(pipe.bore_m, part.bore_m)
    turn = turn_k(90, corner.style, narrow, part.radius_over_bore, pipe.roughness_m)
    riser = k * velocity_head(flow, pipe.bore_m) + turn * velocity_head(flow, narrow)
    return invert(plan) + head + riser


def bed_stands(plan, flow: float) -> float:
    """Level of the bed for a flow over its lip [m].

    A weir all round, Q = 1.83 pi D H^1.5, or once that is drowned an orifice, Q = 0.6 A sqrt(2 g H).
    """
    floor = plan.drawing.runs["bed drain 1"].floor
    bore = plan.catalog.pipes[floor.standpipe or plan.drawing.runs["bed drain 1"].pipe].bore_m
    return lip(plan) + max((flow / (1.83 * math.pi * bore)) ** (2 / 3), velocity_head(flow, bore) / 0.6**2)


def share_of_flows(plan, sump_m: float) -> float:
    """What tank and bed get over their design flows as the sump stands at a level [-].

    The valves are set at the drawn level, so that each path spends there all the head that the pump has over
    its lift; in turbulent flow losses go with the square of the flow.
    """
    curve = plan.catalog.pumps[plan.drawing.pumps["sump"].part].curve
    drawn = plan.drawing.levels["sump"].design_m
    flows = {"tank feed": TANK_FLOW, "bed feed 1": BED_FLOW}

    def pump(flow: float) -> float:
        return float(np.interp(flow, *zip(*curve, strict=True)))

    # A line over a rim is full to its crest's top; no matter here, where only a change of level counts.
    lifts = {name: plan.drawing.runs[name].rim.centre_m for name in flows}
    spent = {name: drawn + pump(TANK_FLOW + BED_FLOW) - lift for name, lift in lifts.items()}

    def missing(shares: np.ndarray) -> list[float]:
        whole = sum(share * flow for share, flow in zip(shares, flows.values(), strict=True))
        return [
            sump_m + pump(whole) - lifts[name] - spent[name] * share**2
            for name, share in zip(flows, shares, strict=True)
        ]

    return float(fsolve(missing, [1.0, 1.0])[0])


def whole_m3(plan) -> float:
    """All water outside the pipes [m3]: as drawn, with the bed empty."""
    levels, vessels = plan.drawing.levels, plan.site.vessels
    return sum((levels[n].design_m - vessels[n].floor_m) * vessels[n].area_m2 for n in ("tank", "sump"))


def in_tank(plan, level: float) -> float:
    """Water in the tank at a level [m3]."""
    tank = plan.site.vessels["tank"]
    return (level - tank.floor_m) * tank.area_m2


def in_bed(plan, level: float) -> float:
    """Water in the bed at a level [m3]."""
    bed = plan.site.vessels["bed 1"]
    return (level - bed.floor_m) * bed.area_m2 * VOIDS


def sump_without(plan, *elsewhere_m3: float) -> float:
    """Level of the sump with so much of the whole elsewhere [m]."""
    sump = plan.site.vessels["sump"]
    return sump.floor_m + (whole_m3(plan) - sum(elsewhere_m3)) / sump.area_m2


def standing(plan, held_m3: float = 0.0) -> Standing:
    """The system as it runs with the bed full, and so much more water held in the tank [m3]."""
    now = Standing(0.0, 0.0, plan.drawing.levels["sump"].design_m, 1.0)
    for _ in range(20):
        share = share_of_flows(plan, now.sump_m)
        tank, bed = tank_stands(plan, TANK_FLOW * share), bed_stands(plan, BED_FLOW * share)
        sump = sump_without(plan, in_tank(plan, tank), in_bed(plan, bed), held_m3)
        now = replace(now, tank_m=tank, bed_m=bed, sump_m=sump, share=share)
    return now


def cover(plan) -> float:
    """Water that the pump needs over the sump's floor [m], by its row of the price list."""
    return plan.catalog.pumps[plan.drawing.pumps["sump"].part].cover_m


def in_pipes(plan) -> float:
    """Water in the pressure pipes and the tank's drain [m3]: pi/4 D2 L of each."""
    pipes, runs = plan.catalog.pipes, plan.drawing.runs
    full = ("main", "tank feed", "bed feed 1", "tank drain")
    return sum(math.pi / 4 * pipes[runs[n].pipe].bore_m ** 2 * runs[n].length_m for n in full)


def within_reach(plan, least_m: float) -> float:
    """What a pump lifts out of the sump down to a level, with all that tank and bed let go meanwhile [m3]."""
    sump = plan.site.vessels["sump"]
    left = (least_m - sump.floor_m) * sump.area_m2
    return whole_m3(plan) - in_tank(plan, invert(plan)) - in_bed(plan, lip(plan)) - left
