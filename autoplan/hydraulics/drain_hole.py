"""Beds that a timer floods: what leaks by the drain hole, how soon a bed fills, how soon it is empty.

A plain standpipe sets the flood's height by its lip; a small hole drilled in its side near the floor lets the
bed run empty once the feed is shut. Water leaves the hole as by a sharp-edged opening, Q = Cd a sqrt(2 g h)
with h over the hole's centre, and what is under its top edge counts as left standing.
"""

from __future__ import annotations

from math import inf, log1p, pi, sqrt

from autoplan.hydraulics.friction import velocity_head
from autoplan.hydraulics.gravity import ORIFICE_COEFFICIENT, draw_down_time
from autoplan.hydraulics.water import GRAVITY

DRILL_M = 0.001
"""Drills come in whole millimetres [m]."""


def hole_flow(hole_m: float, head_m: float, cd: float = ORIFICE_COEFFICIENT) -> float:
    """Flow through a drowned hole, Q = Cd a sqrt(2 g h): Torricelli, with a sharp edge's coefficient.

    Args:
        hole_m: diameter, more than 0 [m].
        head_m: water over its centre, 0 or more [m].
        cd: discharge coefficient, more than 0 [-].

    Returns:
        Flow [m3/s].

    Raises:
        ValueError: a diameter or coefficient that is not positive, or a negative head.
    """
    _check(hole_m, cd)
    if not head_m >= 0.0:
        raise ValueError(f"the head must be 0 or more, not {head_m:g} m")
    return cd * pi / 4 * hole_m * hole_m * sqrt(2.0 * GRAVITY * head_m)


def head_over_hole(hole_m: float, flow_m3_s: float, cd: float = ORIFICE_COEFFICIENT) -> float:
    """Head at which a drowned hole lets out a flow, h = (Q / (Cd a))^2 / (2 g): `hole_flow` turned round.

    Args:
        hole_m: diameter, more than 0 [m].
        flow_m3_s: flow, 0 or more [m3/s].
        cd: discharge coefficient, more than 0 [-].

    Returns:
        Water over its centre [m].

    Raises:
        ValueError: a diameter or coefficient that is not positive, or a negative flow.
    """
    _check(hole_m, cd)
    if not flow_m3_s >= 0.0:
        raise ValueError(f"the flow must be 0 or more, not {flow_m3_s:g} m3/s")
    return velocity_head(flow_m3_s / (cd * pi / 4 * hole_m * hole_m))


def filling_time(
    wet_m2: float, hole_m: float, inflow_m3_s: float, head_m: float, cd: float = ORIFICE_COEFFICIENT
) -> float:
    """Time in which an empty bed fills to a head over its drain hole, which leaks all the while.

    With h = x^2 and k = Cd a sqrt(2 g) the balance A dh/dt = q - k sqrt(h) gives
    t = 2 A / k^2 (q ln(q / (q - k x)) - k x), and t = A h / q without a leak. What stands under the hole's
    centre counts as there already.

    Args:
        wet_m2: water per depth, area times void fraction, more than 0 [m2].
        hole_m: diameter of the hole, more than 0 [m].
        inflow_m3_s: inflow, more than 0 [m3/s].
        head_m: water over the hole's centre at the end, 0 or more [m].
        cd: discharge coefficient, more than 0 [-].

    Returns:
        Time [s]; infinite where the hole lets out at that head what comes in.

    Raises:
        ValueError: an area, diameter, inflow or coefficient that is not positive, or a negative head.
    """
    if not (wet_m2 > 0.0 and inflow_m3_s > 0.0):
        raise ValueError(f"area and inflow must be positive, not {wet_m2:g} m2 and {inflow_m3_s:g} m3/s")
    leak = hole_flow(hole_m, head_m, cd)
    if leak >= inflow_m3_s:
        return inf
    if leak == 0.0:
        return 0.0
    share = leak / inflow_m3_s
    # ln(1 / (1 - s)) - s loses all its digits for a small leak; there it is s^2 / 2 + s^3 / 3 + s^4 / 4.
    gone = share**2 / 2 + share**3 / 3 + share**4 / 4 if share < 1e-4 else -log1p(-share) - share
    return 2.0 * wet_m2 * head_m / inflow_m3_s * gone / share**2


def running_empty_time(wet_m2: float, hole_m: float, head_m: float, cd: float = ORIFICE_COEFFICIENT) -> float:
    """Time in which a bed without inflow runs empty by its drain hole, down to the hole's top edge.

    The closed form of `gravity.draw_down_time`; under the top edge the hole runs part full and only trickles.

    Args:
        wet_m2: water per depth, area times void fraction, more than 0 [m2].
        hole_m: diameter of the hole, more than 0 [m].
        head_m: water over the hole's centre at the start, half the diameter or more [m].
        cd: discharge coefficient, more than 0 [-].

    Returns:
        Time [s].

    Raises:
        ValueError: an area, diameter or coefficient that is not positive, or a head under the top edge.
    """
    _check(hole_m, cd)
    return draw_down_time(wet_m2, pi / 4 * hole_m * hole_m, cd, head_m, hole_m / 2)


def least_hole(wet_m2: float, head_m: float, seconds: float, cd: float = ORIFICE_COEFFICIENT) -> float:
    """The smallest hole in whole millimetres by which a bed runs empty in a time.

    Args:
        wet_m2: water per depth, area times void fraction, more than 0 [m2].
        head_m: water over the hole's centre at the start, more than 0 [m].
        seconds: time there is, more than 0 [s].
        cd: discharge coefficient, more than 0 [-].

    Returns:
        Its diameter [m]; one whose top edge is over the water at the start always does.

    Raises:
        ValueError: an area, head, time or coefficient that is not positive.
    """
    if not (wet_m2 > 0.0 and head_m > 0.0 and seconds > 0.0 and cd > 0.0):
        raise ValueError("area, head, time and coefficient must be positive")
    steps = 1
    while steps * DRILL_M / 2 < head_m:
        if running_empty_time(wet_m2, steps * DRILL_M, head_m, cd) <= seconds:
            break
        steps += 1
    return steps * DRILL_M


def _check(hole_m: float, cd: float) -> None:
    if not (hole_m > 0.0 and cd > 0.0):
        raise ValueError(f"hole and coefficient must be positive, not {hole_m:g} m and {cd:g}")
