"""Water that falls: part-full drains, overflows, siphons and draw-down."""

from __future__ import annotations

from math import cos, inf, pi, sin, sqrt

from autoplan.hydraulics.friction import velocity, velocity_head
from autoplan.hydraulics.search import crossing
from autoplan.hydraulics.water import GRAVITY

WEIR_COEFFICIENT = 1.83
"""Sharp-edged weir, Q = 1.83 L H^1.5 [m^0.5/s]: Francis, in SI; used by the US EPA for storm-water risers."""

ORIFICE_COEFFICIENT = 0.60
"""Discharge coefficient of a sharp-edged opening [-]."""

SELF_VENTING_FROUDE = 0.3
"""Froude number V / sqrt(g D) below which an upright drain lets air past [-]: Simpson 1968, Hills 1983."""

# Submerged inlet control of round culverts, H/D = Y + c (1.811 Q / (A sqrt D))^2 in SI, by entrance: FHWA,
# Hydraulic Design Series 5, "square edge with headwall" (entrance K 0.5) and "thin wall projecting" (0.9).
# (K, Y, c); coefficients from memory.
_SQUARE_EDGE = (0.5, 0.67, 0.0398)
_PROJECTING = (0.9, 0.54, 0.0553)
_CULVERT_SI = 1.811


def part_full_inlet_head(flow_m3_s: float, bore_m: float, entrance_k: float) -> float:
    """Head above the invert that a horizontal round drain with a free outlet needs at its inlet.

    The flow passes critical depth y just inside: H = y + (1 + K) v^2 / 2g there. As y nears the crown this
    tends to H = D + (1 + K) v^2 / 2g of the full bore. Once H is over the crown the inlet may also throttle
    like an orifice: then the submerged inlet control of FHWA HDS-5 is worked out too and the larger taken
    (between its square-edged and projecting inlets by K; rounded inlets count as square-edged).

    Args:
        flow_m3_s: flow, 0 or more [m3/s].
        bore_m: bore, more than 0 [m].
        entrance_k: entrance loss on the velocity head at critical depth, 0 or more [-].

    Returns:
        Head above the invert [m]; it never falls as flow rises.

    Raises:
        ValueError: negative flow or entrance loss, or a bore that is not positive.
    """
    if not entrance_k >= 0.0:
        raise ValueError(f"entrance loss must be 0 or more, not {entrance_k:g}")
    speed_full = velocity(flow_m3_s, bore_m)
    if speed_full == 0.0:
        return 0.0
    angle = _critical_angle(flow_m3_s, bore_m)
    speed = flow_m3_s / _wet_area(angle, bore_m)
    head = _depth(angle, bore_m) + (1.0 + entrance_k) * velocity_head(speed)
    if head <= bore_m:
        return head
    return max(head, _submerged_inlet_head(speed_full, bore_m, entrance_k))


def _critical_angle(flow_m3_s: float, bore_m: float) -> float:
    """Angle at the centre over the wet arc at critical depth [rad]."""

    def below(angle: float) -> bool:
        area = _wet_area(angle, bore_m)
        width = bore_m * sin(0.5 * angle)
        critical = area * sqrt(GRAVITY * area / width) if width > 0.0 else inf
        return critical < flow_m3_s

    _, angle = crossing(below, 1e-6, 2.0 * pi)
    return angle


def _wet_area(angle: float, bore_m: float) -> float:
    """Area of the segment of a circle under water [m2]; angle at the centre over the wet arc [rad]."""
    return 0.125 * bore_m * bore_m * (angle - sin(angle))


def _depth(angle: float, bore_m: float) -> float:
    """Depth of that segment [m]."""
    return 0.5 * bore_m * (1.0 - cos(0.5 * angle))


def _submerged_inlet_head(speed_full_m_s: float, bore_m: float, entrance_k: float) -> float:
    """Head above the invert when the inlet itself throttles, FHWA HDS-5 [m]."""
    (k_square, y_square, c_square), (k_projecting, y_projecting, c_projecting) = _SQUARE_EDGE, _PROJECTING
    share = min(max((entrance_k - k_square) / (k_projecting - k_square), 0.0), 1.0)
    number = _CULVERT_SI * speed_full_m_s / sqrt(bore_m)
    square = y_square + c_square * number * number
    projecting = y_projecting + c_projecting * number * number
    return bore_m * (square + share * (projecting - square))


def standpipe_head(
    flow_m3_s: float, bore_m: float, cd: float = ORIFICE_COEFFICIENT, weir: float = WEIR_COEFFICIENT
) -> float:
    """Head above the lip of an upright overflow pipe: the larger of weir and orifice.

    Weir all round the lip, Q = 1.83 pi D H^1.5; once drowned, orifice, Q = Cd A sqrt(2 g H) (US EPA, Storm
    Water Management Model reference manual). Larger because whichever passes less at a head controls.

    Args:
        flow_m3_s: flow, 0 or more [m3/s].
        bore_m: bore at the lip, more than 0 [m].
        cd: discharge coefficient of the orifice [-].
        weir: coefficient of the weir [m^0.5/s].

    Returns:
        Head above the lip [m].

    Raises:
        ValueError: negative flow, or a bore or coefficient that is not positive.
    """
    _check_positive(cd=cd, weir=weir)
    speed = velocity(flow_m3_s, bore_m)
    over_lip = float((flow_m3_s / (weir * pi * bore_m)) ** (2.0 / 3.0))
    return max(over_lip, velocity_head(speed / cd))


def pipe_froude(flow_m3_s: float, bore_m: float) -> float:
    """Pipe Froude number of a drain as if it ran full, V / sqrt(g D) [-].

    L. L. Simpson, Chem. Eng., 1968; P. D. Hills, Chem. Eng., 1983 (both from memory).

    Args:
        flow_m3_s: flow, 0 or more [m3/s].
        bore_m: bore, more than 0 [m].

    Returns:
        The number [-].

    Raises:
        ValueError: negative flow, or a bore that is not positive.
    """
    return velocity(flow_m3_s, bore_m) / sqrt(GRAVITY * bore_m)


def self_venting_flow(bore_m: float, froude: float = SELF_VENTING_FROUDE) -> float:
    """Greatest flow at which an upright drain still lets air past, Q = Fr A sqrt(g D).

    L. L. Simpson, Chem. Eng., 1968; P. D. Hills, Chem. Eng., 1983 (Fr 0.3; both from memory).

    Args:
        bore_m: bore, more than 0 [m].
        froude: pipe Froude number, more than 0 [-].

    Returns:
        Flow [m3/s].

    Raises:
        ValueError: bore or Froude number that is not positive.
    """
    _check_positive(bore_m=bore_m, froude=froude)
    return froude * 0.25 * pi * bore_m * bore_m * sqrt(GRAVITY * bore_m)


def draw_down_time(
    area_m2: float, outlet_area_m2: float, cd: float, head_from_m: float, head_to_m: float
) -> float:
    """Time for a vessel without inflow to empty through an opening from one head to another.

    t = 2 A (sqrt(h1) - sqrt(h2)) / (Cd a sqrt(2 g)), from Torricelli, for a small opening.

    Args:
        area_m2: water surface, more than 0 [m2].
        outlet_area_m2: area of the opening, more than 0 [m2].
        cd: discharge coefficient, more than 0 [-].
        head_from_m: head over the opening at the start [m].
        head_to_m: head at the end, 0 to `head_from_m` [m].

    Returns:
        Time [s].

    Raises:
        ValueError: an area or coefficient that is not positive, or a head that is negative or rises.
    """
    _check_positive(area_m2=area_m2, outlet_area_m2=outlet_area_m2, cd=cd)
    if not 0.0 <= head_to_m <= head_from_m:
        raise ValueError(f"the head must fall to 0 or more, not go from {head_from_m:g} to {head_to_m:g} m")
    drop = sqrt(head_from_m) - sqrt(head_to_m)
    return 2.0 * area_m2 * drop / (cd * outlet_area_m2 * sqrt(2.0 * GRAVITY))


def _check_positive(**values: float) -> None:
    """Refuse a value that is not positive, by its name."""
    for name, value in values.items():
        if not value > 0.0:
            raise ValueError(f"{name} must be positive, not {value:g}")
