"""Velocity, Reynolds number and friction of full round pipes (Darcy-Weisbach)."""

from __future__ import annotations

from math import pi

from fluids.friction import Clamond

from autoplan.hydraulics.water import GRAVITY, Water

LAMINAR_BELOW = 2000.0
"""Reynolds number up to which 64/Re is taken [-]: the textbook limit, common to Moody's chart and White."""

TURBULENT_FROM = 2040.0
"""Reynolds number from which turbulence can sustain itself in a pipe [-]: Avila et al., Science 333, 2011."""

ROUGHEST = 0.05
"""Greatest relative roughness that Colebrook's equation and Moody's chart cover [-]."""


def velocity(flow_m3_s: float, bore_m: float) -> float:
    """Mean velocity in a full pipe, v = 4 Q / (pi d^2).

    Args:
        flow_m3_s: flow, 0 or more [m3/s].
        bore_m: bore, more than 0 [m].

    Returns:
        Velocity [m/s].

    Raises:
        ValueError: negative flow, or a bore that is not positive.
    """
    if not flow_m3_s >= 0.0:
        raise ValueError(f"flow must be 0 or more, not {flow_m3_s:g} m3/s")
    if not bore_m > 0.0:
        raise ValueError(f"bore must be positive, not {bore_m:g} m")
    return flow_m3_s / (0.25 * pi * bore_m * bore_m)


def velocity_head(velocity_m_s: float) -> float:
    """Head that a velocity is worth, v^2 / 2g.

    Args:
        velocity_m_s: mean velocity [m/s].

    Returns:
        Velocity head [m].
    """
    return 0.5 * velocity_m_s * velocity_m_s / GRAVITY


def reynolds(flow_m3_s: float, bore_m: float, water: Water) -> float:
    """Reynolds number of a full pipe, v d / nu.

    Args:
        flow_m3_s: flow, 0 or more [m3/s].
        bore_m: bore, more than 0 [m].
        water: gives the kinematic viscosity.

    Returns:
        Reynolds number [-].

    Raises:
        ValueError: negative flow, or a bore that is not positive.
    """
    return velocity(flow_m3_s, bore_m) * bore_m / water.viscosity_m2_s


def friction_factor(reynolds: float, relative_roughness: float) -> float:
    """Darcy friction factor on the safe side through the transition.

    Laminar (64/Re) up to Re 2000; Colebrook-White, solved as by D. Clamond (Ind. Eng. Chem. Res. 48, 2009),
    from Re 2040. Between them it rises linearly. From 2040 to about 4000, where a pipe may run either way,
    the turbulent factor is the larger and is taken, so friction head never falls as flow rises.

    Args:
        reynolds: Reynolds number, more than 0 [-].
        relative_roughness: absolute roughness over bore, 0 to 0.05 [-].

    Returns:
        Darcy friction factor [-].

    Raises:
        ValueError: a Reynolds number that is not positive, or a roughness outside 0 to 0.05.
    """
    if not reynolds > 0.0:
        raise ValueError(f"Reynolds number must be positive, not {reynolds:g}")
    if not 0.0 <= relative_roughness <= ROUGHEST:
        raise ValueError(f"relative roughness must be 0 to {ROUGHEST:g}, not {relative_roughness:g}")
    if reynolds <= LAMINAR_BELOW:
        return 64.0 / reynolds
    turbulent = _colebrook(max(reynolds, TURBULENT_FROM), relative_roughness)
    if reynolds >= TURBULENT_FROM:
        return turbulent
    laminar = 64.0 / LAMINAR_BELOW
    share = (reynolds - LAMINAR_BELOW) / (TURBULENT_FROM - LAMINAR_BELOW)
    return laminar + share * (turbulent - laminar)


def grown(roughness_m: float, grown_m: float, bore_m: float) -> float:
    """Roughness of a pipe that has at least so much by what grows in it, as far as `ROUGHEST` [m].

    Friction never falls as roughness rises, so the rougher of new and grown is the worse at any flow.

    Args:
        roughness_m: roughness as new [m].
        grown_m: roughness of what grows in it [m].
        bore_m: bore; it stays as it is [m].

    Returns:
        Roughness that counts [m].
    """
    return max(roughness_m, min(grown_m, ROUGHEST * bore_m))


def _colebrook(reynolds: float, relative_roughness: float) -> float:
    """Colebrook-White factor, solved to machine precision without scipy [-]."""
    return float(Clamond(reynolds, relative_roughness, False))


def friction_head(
    flow_m3_s: float, bore_m: float, length_m: float, roughness_m: float, water: Water
) -> float:
    """Head lost to friction in a full straight pipe, h = f (L/d) v^2 / 2g (Darcy-Weisbach).

    Args:
        flow_m3_s: flow, 0 or more [m3/s].
        bore_m: bore, more than 0 [m].
        length_m: length, 0 or more [m].
        roughness_m: absolute roughness of the bore, up to a twentieth of it [m].
        water: gives the kinematic viscosity.

    Returns:
        Head loss [m].

    Raises:
        ValueError: negative flow or length, a bore that is not positive, or a roughness outside its range.
    """
    speed = velocity(flow_m3_s, bore_m)
    if not length_m >= 0.0:
        raise ValueError(f"length must be 0 or more, not {length_m:g} m")
    if not 0.0 <= roughness_m <= ROUGHEST * bore_m:
        raise ValueError(f"roughness {roughness_m:g} m is not 0 to {ROUGHEST:g} of a bore of {bore_m:g} m")
    if speed == 0.0 or length_m == 0.0:
        return 0.0
    number = reynolds(flow_m3_s, bore_m, water)
    if number <= LAMINAR_BELOW:
        # Hagen-Poiseuille, which is the same but holds for the smallest flows, where 64/Re overflows.
        return 32.0 * water.viscosity_m2_s * length_m * speed / (GRAVITY * bore_m * bore_m)
    factor = friction_factor(number, min(roughness_m / bore_m, ROUGHEST))
    return factor * length_m / bore_m * velocity_head(speed)
