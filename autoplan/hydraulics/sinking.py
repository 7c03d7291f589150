"""What outlets still get when the water that their pump draws from sinks, their valves left as they were set.

All of it holds for any tree of pipes and is on the safe side: outlets get as much or more.
"""

from __future__ import annotations

from autoplan.hydraulics.pump import PumpCurve
from autoplan.hydraulics.search import crossing

POWER = 1.75
"""Least power of the flow that losses go with: smooth pipe, Blasius 1913; fittings and valves go with 2."""


def head_lacking(curve: PumpCurve, flow_m3_s: float, lost_m: float, sunk_m: float) -> float:
    """How much less head there is behind a pump, at most, once the water before it has sunk [m].

    As it sinks no outlet gets more than before, so the pump gives less, and so a little more head. With F the
    head that lacks, P the power lost in pipes and valves: each loss goes with the square of its flow at most,
    so P' >= sum of r^3 P >= sum of (3 r - 2) P by runs, r their flows over those before; and P' is what the
    outlets get, sum of q r (B - F), B the head lost on the way to each. So F Q' <= 2 B (Q - Q') with the
    largest B, or Q' <= 2 B Q / (2 B + F). The pump's head there less that at Q is what F is less than the
    water has sunk by.

    Args:
        curve: the pump's, at its speed.
        flow_m3_s: what it gave before [m3/s].
        lost_m: most head that was lost from it to any outlet, valves included, or more, over 0 [m].
        sunk_m: how far the water has sunk, 0 or more [m].

    Returns:
        0 to `sunk_m` [m].
    """
    if flow_m3_s > curve.run_out_m3_s:
        return sunk_m
    before = curve.head(flow_m3_s)

    def lacks_more(lacking_m: float) -> bool:
        given = 2.0 * lost_m * flow_m3_s / (2.0 * lost_m + lacking_m)
        return lacking_m < sunk_m - (curve.head(given) - before)

    return crossing(lacks_more, 0.0, sunk_m)[1] if sunk_m > 0.0 and lost_m > 0.0 else sunk_m


def share_left(lacking_m: float, own_m: float) -> float:
    """Share of its flow that an outlet still gets, at least [-].

    Head at the start of its own run falls by no more than behind the pump, for what is lost before is no more
    than it was. What that head is over the outlet is lost in the run and its valve, with at least the 1.75th
    power of the flow: s^1.75 >= 1 - F / H.

    Args:
        lacking_m: head that lacks behind the pump, as `head_lacking` [m].
        own_m: head at the start of its run over the outlet, before the water sank [m].
    """
    if lacking_m <= 0.0:
        return 1.0
    return float(max(0.0, 1.0 - lacking_m / own_m) ** (1.0 / POWER)) if own_m > 0.0 else 0.0


def own_head_asked(lacking_m: float, share: float) -> float:
    """Head at the start of its run over the outlet [m] with which it keeps a share of its flow, under 1."""
    return float(lacking_m / (1.0 - share**POWER))
