"""Loss coefficients K of fittings, each on the velocity head in a stated bore.

Handbooks differ by a factor of two on small fittings; each function names the one it uses, and takes the
larger where two apply. K holds for turbulent flow (Reynolds number from about 10 000); below that K rises,
but on velocity heads of a millimetre or two.
"""

from __future__ import annotations

from math import radians

from fluids.fittings import (
    K_ball_valve_Crane,
    K_branch_converging_Crane,
    K_branch_diverging_Crane,
    K_gate_valve_Crane,
    K_run_converging_Crane,
    K_run_diverging_Crane,
    K_swing_check_valve_Crane,
    Kv_to_K,
    bend_miter,
    bend_rounded,
    contraction_sharp,
    diffuser_sharp,
    entrance_sharp,
    v_lift_valve_Crane,
)
from fluids.friction import ft_Crane

from autoplan.hydraulics.friction import friction_factor

EXIT_K = 1.0
"""Pipe into a vessel: the whole velocity head is lost (Crane TP-410; every handbook)."""

RE_ENTRANT_K = 1.0
"""Pipe that stands out into the vessel: top of the range 0.8 (Munson) to 1.0 (White, after Idelchik)."""

PAIR_ALLOWANCE = 1.2
"""Two 45s close together against two far apart [-]; common practice, no source."""

BEND_REYNOLDS = 10_000.0
"""Reynolds number at which round bends are taken [-]: the low end of the flows in such systems."""

CHECK_LIFT_M_S = float(v_lift_valve_Crane(rho=983.2, style="swing check angled"))
"""Velocity that lifts the flap of a swing check valve of 100 fT out of the way, Crane TP-410, in the lightest
water that can be asked for [m/s]."""

_FLOW_SLACK = 1e-9


def turn_k(angle: int, style: str, bore_m: float, radius_over_bore: float, roughness_m: float) -> float:
    """K of a change of direction.

    Styles, with K at 90 degrees in a 50 mm bore:

    - "tight" (0.57; 0.68 in 25 mm): moulded elbow, Crane TP-410's standard elbow: 30 fT at 90 degrees, 16 fT
      at 45. Handbooks have 0.3 for smooth ones and 0.75 to 1.5 for threaded ones (Munson; White); the
      centreline radius is not used.
    - "mitred" (1.2): sharp inner corner, as of an elbow that is pushed into a hose: the larger of Crane's and
      Rennels' mitre bend, and never less than "tight".
    - "swept" (0.34 at radius 1.5): the larger of Rennels' and Crane's round bend, never above "tight".
    - "paired 45s" (0.57): two tight 45s times `PAIR_ALLOWANCE`, never above "tight"; 90 degrees only.
    - "bending" (0.35 at radius 20): the round bend of a pipe or hose that bends by itself, without the
      friction along the arc: legs are measured to the corner, and so already hold more than the arc.

    Args:
        angle: change of direction, more than 0 and up to 90 [degrees].
        style: "tight", "mitred", "swept", "paired 45s" or "bending".
        bore_m: bore on whose velocity head K stands [m].
        radius_over_bore: centreline radius over bore, more than 0 for "swept" and "bending" [-].
        roughness_m: absolute roughness of the bore [m].

    Returns:
        K [-].

    Raises:
        ValueError: unknown style, angle or radius out of range, or a pair that is not to make 90 degrees.
    """
    if not 0 < angle <= 90:
        raise ValueError(f"a turn is more than 0 and up to 90 degrees, not {angle}")
    _check_bores(bore_m)
    if style == "tight":
        return _tight_k(angle, bore_m)
    if style == "mitred":
        return max(_mitred_k(angle, bore_m), _tight_k(angle, bore_m))
    if style == "paired 45s":
        if angle != 90:
            raise ValueError(f"paired 45s turn 90 degrees, not {angle}")
        return min(2.0 * PAIR_ALLOWANCE * _tight_k(45, bore_m), _tight_k(90, bore_m))
    if style not in ("swept", "bending"):
        raise ValueError(f"unknown style of turn: {style}")
    if not radius_over_bore > 0.0:
        raise ValueError(f"radius over bore must be positive, not {radius_over_bore:g}")
    without_arc = style == "bending"
    return min(
        _round_k(angle, bore_m, radius_over_bore, roughness_m, without_arc=without_arc),
        _tight_k(angle, bore_m),
    )


def _tight_k(angle: int, bore_m: float) -> float:
    """K of a moulded elbow [-]."""
    return float(bend_rounded(bore_m, angle, method="Crane standard"))


def _mitred_k(angle: int, bore_m: float) -> float:
    """K of an elbow with a sharp inner corner [-]."""
    return float(max(bend_miter(angle, Di=bore_m, method="Crane"), bend_miter(angle, method="Rennels")))


def _round_k(
    angle: int, bore_m: float, radius_over_bore: float, roughness_m: float, *, without_arc: bool
) -> float:
    """K of a round bend [-], with or without the friction along its arc."""
    factor = friction_factor(BEND_REYNOLDS, roughness_m / bore_m)
    # Crane's table runs from radius 1 to 20 bores and is held at its ends outside.
    crane_radius = min(max(radius_over_bore, 1.0), 20.0)
    rennels = bend_rounded(bore_m, angle, fd=factor, bend_diameters=radius_over_bore, method="Rennels")
    crane = bend_rounded(bore_m, angle, bend_diameters=crane_radius, method="Crane")
    if without_arc:
        arc = radians(angle)
        rennels -= factor * arc * radius_over_bore
        crane -= ft_Crane(bore_m) * arc * crane_radius
    return float(max(rennels, crane))


SCREEN_K = 1.0 / 0.60**2
"""K of a screen on the velocity head in its openings: 1 / Cd^2, sharp-edged orifices of Cd 0.60 (the value
that the US EPA's stormwater model reference takes for an orifice)."""


def entrance_k(style: str) -> float:
    """K of the way from a vessel into a pipe, on the velocity head of the pipe.

    Args:
        style: "flush" (0.5, Crane TP-410), also of a pipe that stands out with a rim of a twentieth of its
            bore or more round it (Idelchik), or "re-entrant" (see `RE_ENTRANT_K`).

    Returns:
        K [-].

    Raises:
        ValueError: unknown style.
    """
    if style == "flush":
        return float(entrance_sharp(method="Crane"))
    if style == "re-entrant":
        return RE_ENTRANT_K
    raise ValueError(f"unknown style of entrance: {style}")


def contraction_k(wide_m: float, narrow_m: float) -> float:
    """K of a sudden contraction, 0.5 (1 - A2/A1) (Crane TP-410), on the velocity head of the narrow bore.

    Args:
        wide_m: bore upstream [m].
        narrow_m: bore downstream, no wider [m].

    Returns:
        K [-].

    Raises:
        ValueError: a bore that is not positive, or a narrow bore that is the wider.
    """
    _check_step(narrow_m, wide_m)
    return float(contraction_sharp(wide_m, narrow_m, method="Crane"))


def expansion_k(narrow_m: float, wide_m: float) -> float:
    """K of a sudden expansion, (1 - A1/A2)^2 (Borda-Carnot), on the velocity head of the narrow bore.

    Args:
        narrow_m: bore upstream, no wider [m].
        wide_m: bore downstream [m].

    Returns:
        K [-].

    Raises:
        ValueError: a bore that is not positive, or a narrow bore that is the wider.
    """
    _check_step(narrow_m, wide_m)
    return float(diffuser_sharp(narrow_m, wide_m, method="Rennels"))


def passage_k(before_m: float, passage_m: float, after_m: float) -> float:
    """K of a short passage between two pipes, on the velocity head of the passage.

    Each step is a sudden contraction or expansion, whichever way it goes. Nothing is credited for their being
    close together.

    Args:
        before_m: bore upstream [m].
        passage_m: bore of the passage [m].
        after_m: bore downstream [m].

    Returns:
        K [-].

    Raises:
        ValueError: a bore that is not positive.
    """
    return _step_k(before_m, passage_m, passage_m) + _step_k(passage_m, after_m, passage_m)


def _step_k(before_m: float, after_m: float, reference_m: float) -> float:
    """K of one sudden step in bore, on the velocity head of the reference bore [-]."""
    _check_bores(before_m, after_m)
    narrow = min(before_m, after_m)
    k = contraction_k(before_m, after_m) if before_m > after_m else expansion_k(before_m, after_m)
    return k * (reference_m / narrow) ** 4


def ball_valve_k(seat_m: float, pipe_m: float, angle: float = 180.0) -> float:
    """K of an open ball valve, Crane TP-410: 3 fT plus the steps to its seat, on the pipe's velocity head.

    Args:
        seat_m: bore of the seat; a seat as wide as the pipe or wider counts as full bore [m].
        pipe_m: bore of the pipe [m].
        angle: whole angle of the taper to the seat; 180 is an abrupt step, the safe side [degrees].

    Returns:
        K [-].

    Raises:
        ValueError: a bore that is not positive.
    """
    _check_bores(seat_m, pipe_m)
    return float(K_ball_valve_Crane(D1=min(seat_m, pipe_m), D2=pipe_m, angle=angle))


def gate_valve_k(seat_m: float, pipe_m: float, angle: float = 180.0) -> float:
    """K of an open gate valve, Crane TP-410: 8 fT plus the steps to its seat, on the pipe's velocity head.

    Args:
        seat_m: bore of the seat; a seat as wide as the pipe or wider counts as full bore [m].
        pipe_m: bore of the pipe [m].
        angle: whole angle of the taper to the seat; 180 is an abrupt step, the safe side [degrees].

    Returns:
        K [-].

    Raises:
        ValueError: a bore that is not positive.
    """
    _check_bores(seat_m, pipe_m)
    return float(K_gate_valve_Crane(D1=min(seat_m, pipe_m), D2=pipe_m, angle=angle))


def check_valve_k(bore_m: float) -> float:
    """K of an open swing check valve, Crane TP-410: 100 fT, on the velocity head of its bore.

    Args:
        bore_m: bore [m].

    Returns:
        K [-]. It holds from `CHECK_LIFT_M_S` on; a spring-loaded valve needs its measured Kv.

    Raises:
        ValueError: a bore that is not positive.
    """
    _check_bores(bore_m)
    return float(K_swing_check_valve_Crane(D=bore_m, angled=True))


def k_from_kv(kv_m3_h: float, bore_m: float) -> float:
    """K that a measured Kv is worth, 1.6e9 d^4 / Kv^2, on the velocity head of a bore.

    Args:
        kv_m3_h: flow of cold water at a loss of 1 bar, more than 0 [m3/h].
        bore_m: bore on whose velocity head K is to stand [m].

    Returns:
        K [-].

    Raises:
        ValueError: Kv or bore that is not positive.
    """
    _check_bores(bore_m)
    if not kv_m3_h > 0.0:
        raise ValueError(f"Kv must be positive, not {kv_m3_h:g}")
    return float(Kv_to_K(kv_m3_h, bore_m))


def dividing_tee_k(
    to: str,
    flow_total: float,
    flow_leaving: float,
    bore_run_m: float,
    bore_branch_m: float,
    angle: float = 90.0,
) -> float:
    """K of a tee where flow divides, for design: `crane_dividing_k`, but never below 0.

    Args:
        to: "run" or "branch", the leg looked at.
        flow_total: flow arriving, more than 0 [m3/s].
        flow_leaving: flow that leaves by the leg looked at [m3/s].
        bore_run_m: bore of the run [m].
        bore_branch_m: bore of the branch [m].
        angle: between run and branch [degrees].

    Returns:
        K [-], on the velocity head of the total flow in the run's bore.

    Raises:
        ValueError: unknown leg, a bore or total that is not positive, or a part outside 0 to the total.
    """
    return max(0.0, crane_dividing_k(to, flow_total, flow_leaving, bore_run_m, bore_branch_m, angle))


def crane_dividing_k(
    to: str,
    flow_total: float,
    flow_leaving: float,
    bore_run_m: float,
    bore_branch_m: float,
    angle: float = 90.0,
) -> float:
    """K of a tee where flow divides, as in Crane TP-410 (2009) chapter 2; may be negative.

    Args:
        to: "run" or "branch", the leg looked at.
        flow_total: flow arriving, more than 0 [m3/s].
        flow_leaving: flow that leaves by the leg looked at [m3/s].
        bore_run_m: bore of the run [m].
        bore_branch_m: bore of the branch [m].
        angle: between run and branch [degrees].

    Returns:
        K [-], on the velocity head of the total flow in the run's bore.

    Raises:
        ValueError: unknown leg, a bore or total that is not positive, or a part outside 0 to the total.
    """
    run, branch = _tee_flows(to, flow_total, flow_leaving)
    _check_bores(bore_run_m, bore_branch_m)
    formula = K_branch_diverging_Crane if to == "branch" else K_run_diverging_Crane
    return float(formula(bore_run_m, bore_branch_m, run, branch, angle))


def joining_tee_k(
    frm: str,
    flow_total: float,
    flow_arriving: float,
    bore_run_m: float,
    bore_branch_m: float,
    angle: float = 90.0,
) -> float:
    """K of a tee where flows join, for design: `crane_joining_k`, but never below 0.

    Args:
        frm: "run" or "branch", the leg looked at.
        flow_total: flow leaving, more than 0 [m3/s].
        flow_arriving: flow that arrives by the leg looked at [m3/s].
        bore_run_m: bore of the run [m].
        bore_branch_m: bore of the branch [m].
        angle: between run and branch [degrees].

    Returns:
        K [-], on the velocity head of the total flow in the run's bore.

    Raises:
        ValueError: unknown leg, a bore or total that is not positive, or a part outside 0 to the total.
    """
    return max(0.0, crane_joining_k(frm, flow_total, flow_arriving, bore_run_m, bore_branch_m, angle))


def crane_joining_k(
    frm: str,
    flow_total: float,
    flow_arriving: float,
    bore_run_m: float,
    bore_branch_m: float,
    angle: float = 90.0,
) -> float:
    """K of a tee where flows join, as in Crane TP-410 (2009) chapter 2; may be negative.

    Args:
        frm: "run" or "branch", the leg looked at.
        flow_total: flow leaving, more than 0 [m3/s].
        flow_arriving: flow that arrives by the leg looked at [m3/s].
        bore_run_m: bore of the run [m].
        bore_branch_m: bore of the branch [m].
        angle: between run and branch [degrees].

    Returns:
        K [-], on the velocity head of the total flow in the run's bore.

    Raises:
        ValueError: unknown leg, a bore or total that is not positive, or a part outside 0 to the total.
    """
    run, branch = _tee_flows(frm, flow_total, flow_arriving)
    _check_bores(bore_run_m, bore_branch_m)
    formula = K_branch_converging_Crane if frm == "branch" else K_run_converging_Crane
    return float(formula(bore_run_m, bore_branch_m, run, branch, angle))


def _tee_flows(leg: str, total: float, part: float) -> tuple[float, float]:
    """Flows in run and branch, when `part` of `total` goes by the leg looked at [m3/s]."""
    if leg not in ("run", "branch"):
        raise ValueError(f"a tee has a run and a branch, not {leg}")
    if not total > 0.0:
        raise ValueError(f"total flow must be positive, not {total:g} m3/s")
    if not -_FLOW_SLACK * total <= part <= total * (1.0 + _FLOW_SLACK):
        raise ValueError(f"part of the flow must be 0 to {total:g} m3/s, not {part:g}")
    part = min(max(part, 0.0), total)
    return (part, total - part) if leg == "run" else (total - part, part)


def _check_bores(*bores_m: float) -> None:
    """Refuse a bore that is not positive."""
    for bore in bores_m:
        if not bore > 0.0:
            raise ValueError(f"bore must be positive, not {bore:g} m")


def _check_step(narrow_m: float, wide_m: float) -> None:
    """Refuse a step whose narrow side is the wider; the formulas would give a small K without a word."""
    _check_bores(narrow_m, wide_m)
    if narrow_m > wide_m:
        raise ValueError(f"narrow bore {narrow_m:g} m is wider than {wide_m:g} m")
