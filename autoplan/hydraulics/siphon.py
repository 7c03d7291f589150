"""Bell siphons: when one starts, how fast it empties its bed, how often it floods.

A bell siphon is a standpipe in a bed's floor with a bell over it. Water rises to the standpipe's lip, runs
down it as a film, and once it runs fast enough to carry the air away the pipe fills and pulls the bed down to
the bell's cut-outs, where air gets in and the siphon breaks.
"""

from __future__ import annotations

from collections.abc import Callable
from math import pi, sqrt

from numpy.polynomial.legendre import leggauss

from autoplan.hydraulics.conduit import Resistance
from autoplan.hydraulics.gravity import self_venting_flow
from autoplan.hydraulics.water import GRAVITY

PRIMING_FROUDE = 0.51
"""Froude number V / sqrt(g D) from which a standpipe surely fills [-].

Its lip is drowned there: weir and orifice, Q = 1.83 pi D H^1.5 and Q = 0.6 A sqrt(2 g H) (US EPA, Storm
Water Management Model reference manual), cross at H = 0.36 D, where V = 0.51 sqrt(g D). No air comes in over
the lip any more, and what is in the pipe is carried down: a long bubble stands against 0.35 sqrt(g D) in an
upright pipe (Davies and Taylor 1950, from memory). Under `gravity.SELF_VENTING_FROUDE` = 0.3 a pipe surely
vents and never fills (Simpson 1968; Hills 1983). Between the two some start and some trickle for ever.
"""

BELL_K = 3.5
"""Cut-outs (sharp entrance, 0.5), the way up the ring, two square turns at the top (mitre, 1.2 each) and what
is left for gravel, on the velocity head in the ring between bell and standpipe; handbook values, from memory.
"""

POISSON = 0.4
"""Poisson's ratio of plastics; common practice, no source [-]."""

DENSITY = 1000.0
"""Of water, where the last tenth of a per cent does not count [kg/m3]."""

CLOSED_M2 = 1e-8
"""A ring too narrow for any water [m2]."""

_DEPTHS = tuple(zip(*(row.tolist() for row in leggauss(12)), strict=True))
"""Of Gauss's rule: places from -1 to 1, and their weights [-]."""


def start_flow(bore_m: float, froude: float = PRIMING_FROUDE, flare_share: float = 1.0) -> float:
    """Least inflow that surely makes a standpipe run full and the siphon start, Q = Fr A sqrt(g D) [m3/s].

    A flared top turns the film inwards and starts it sooner: at `flare_share` of that flow.

    Args:
        bore_m: bore of the standpipe, more than 0 [m].
        froude: pipe Froude number at the limit, more than 0 [-].
        flare_share: 1 for a plain top, less for a flared one [-].

    Raises:
        ValueError: a number that is not positive, or a share over 1.
    """
    if not 0.0 < flare_share <= 1.0:
        raise ValueError(f"the share must be over 0 and at most 1, not {flare_share:g}")
    return flare_share * self_venting_flow(bore_m, froude)


def ring_area(bell_inside_m: float, standpipe_outside_m: float) -> float:
    """Area between a bell and what stands in it, pi / 4 (D^2 - d^2) [m2]; 0 where it does not fit."""
    return max(0.0, pi / 4 * (bell_inside_m**2 - standpipe_outside_m**2))


def bell_resistance(bell_inside_m: float, standpipe_outside_m: float) -> Resistance:
    """What a bell puts in the water's way: `BELL_K` on the velocity head in its ring.

    A bell that does not go over what stands in it lets next to nothing past.

    Args:
        bell_inside_m, standpipe_outside_m: diameters of the ring [m].
    """
    area = max(ring_area(bell_inside_m, standpipe_outside_m), CLOSED_M2)
    return Resistance(BELL_K, sqrt(4 * area / pi))


def caves_in_at(outside_m: float, wall_m: float, length_m: float, modulus_pa: float) -> float:
    """Suction that makes a bell cave in [m of water]: that of a short tube whose ends stay round.

    p = 2.42 E / (1 - nu^2)^0.75 x (t / D)^2.5 / (L / D - 0.45 sqrt(t / D)): D. F. Windenburg and C. Trilling,
    Trans. ASME 56, 1934, from memory; nu 0.4 for plastics. Of a very long tube it says too little.

    Args:
        outside_m, wall_m, length_m: outside diameter, thickness, and length between what holds it round [m].
        modulus_pa: of elasticity [Pa].

    Raises:
        ValueError: a measure or modulus that is not positive, or a tube too short for it.
    """
    slender, thin = length_m / outside_m, wall_m / outside_m
    if not (thin > 0.0 and modulus_pa > 0.0 and slender > 0.45 * sqrt(thin)):
        raise ValueError("a tube needs a wall, a modulus and some length to cave in")
    modulus = 2.42 * modulus_pa / (1.0 - POISSON**2) ** 0.75
    return float(modulus * thin**2.5 / (slender - 0.45 * sqrt(thin)) / (DENSITY * GRAVITY))


def emptying_time(
    water_area_m2: float,
    from_m: float,
    to_m: float,
    inflow_m3_s: float,
    siphon_m3_s: Callable[[float], float],
) -> float:
    """Time a running siphon takes to draw its bed down [s]; infinite where it does not out-run the inflow.

    t = integral of A dh / (Q(h) - q), by Gauss's rule with 12 depths: within a millionth of the closed form
    for a siphon whose flow goes with the root of the head and falls to a third.

    Args:
        water_area_m2: water per depth: area times void fraction [m2].
        from_m, to_m: depth of water at the start and at the end [m].
        inflow_m3_s: inflow meanwhile, 0 or more [m3/s].
        siphon_m3_s: flow of the siphon [m3/s] at a depth of water [m].
    """
    middle, half = (from_m + to_m) / 2.0, (from_m - to_m) / 2.0
    time = 0.0
    for place, weight in _DEPTHS:
        gains = siphon_m3_s(middle + half * place) - inflow_m3_s
        if gains <= 0.0:
            return float("inf")
        time += weight * water_area_m2 * half / gains
    return time


def floods_per_second(filling_s: float, emptying_s: float) -> float:
    """Floods in a second of a bed that fills and empties in turn [1/s]; 0 where no water comes and goes."""
    takes = filling_s + emptying_s
    return 1.0 / takes if takes > 0.0 else 0.0
