"""Fittings against second methods, their order, and their refusals."""

from __future__ import annotations

import pytest
from fluids.fittings import Darby3K, Hooper2K, K_ball_valve_Crane, bend_rounded, entrance_distance
from hypothesis import given
from hypothesis import strategies as st

from autoplan.catalog.parts import TurnStyle
from autoplan.hydraulics.fittings import (
    ball_valve_k,
    check_valve_k,
    contraction_k,
    crane_dividing_k,
    crane_joining_k,
    dividing_tee_k,
    entrance_k,
    expansion_k,
    gate_valve_k,
    joining_tee_k,
    k_from_kv,
    passage_k,
    turn_k,
)
from autoplan.hydraulics.friction import velocity, velocity_head
from autoplan.hydraulics.water import GRAVITY

INCH = 0.0254
PLASTIC = 1.5e-6
BORES = [0.013, 0.020, 0.025, 0.040, 0.050, 0.080, 0.100]
bores = st.floats(0.010, 0.2)


@pytest.mark.parametrize("bore", BORES)
def test_order_of_turns(bore: float) -> None:
    """A mitre costs more than a moulded elbow, that no less than paired 45s, those more than any bend."""
    mitred = turn_k(90, "mitred", bore, 1.0, PLASTIC)
    tight = turn_k(90, TurnStyle.TIGHT, bore, 1.0, PLASTIC)
    paired = turn_k(90, TurnStyle.PAIRED, bore, 1.0, PLASTIC)
    single = turn_k(45, TurnStyle.TIGHT, bore, 1.0, PLASTIC)
    swept = turn_k(90, TurnStyle.SWEPT, bore, 1.5, PLASTIC)
    bending = turn_k(90, TurnStyle.BEND, bore, 10.0, PLASTIC)
    assert mitred > tight >= paired > max(single, swept, bending)
    assert min(swept, bending) > 0.1


@pytest.mark.parametrize("bore", BORES[1:])
def test_turns_are_not_below_hooper_and_darby(bore: float) -> None:
    """At Reynolds 30 000 mitres cost no less than threaded elbows by Hooper's 2K or Darby's 3K.

    Moulded ones come to seven tenths of them and more, and paired ones to eight tenths of Hooper's.
    """
    mitred, tight = (turn_k(90, style, bore, 1.0, PLASTIC) for style in ("mitred", "tight"))
    paired = turn_k(90, "paired 45s", bore, 1.0, PLASTIC)
    hooper_tight = Hooper2K(Di=bore / INCH, Re=3e4, name="Elbow, 90°, Standard (R/D = 1), Screwed")
    hooper_paired = Hooper2K(
        Di=bore / INCH, Re=3e4, name="Elbow, 90°, Mitered (R/D = 1.5), 2 weld (45° angle)"
    )
    darby_tight = Darby3K(Di=bore, Re=3e4, name="Elbow, 90°, threaded, standard, (r/D = 1)")
    assert mitred >= max(hooper_tight, darby_tight)
    assert tight >= 0.7 * max(hooper_tight, darby_tight)
    assert paired >= 0.8 * hooper_paired


@pytest.mark.parametrize("bore", BORES)
@pytest.mark.parametrize("angle", [45, 90])
def test_sweep_against_miller(bore: float, angle: int) -> None:
    """A sweep of radius 1.5 costs one to three times Miller's bend at Reynolds 200 000."""
    miller = bend_rounded(bore, angle, Re=2e5, bend_diameters=1.5, roughness=PLASTIC, method="Miller")
    assert miller <= turn_k(angle, "swept", bore, 1.5, PLASTIC) <= 3.0 * miller


@given(bores, st.sampled_from([45, 90]), st.floats(0.05, 100.0), st.sampled_from(["swept", "bending"]))
def test_round_turns_stay_between_nothing_and_tight(
    bore: float, angle: int, radius: float, style: str
) -> None:
    """No radius makes a round turn free or dearer than a tight one."""
    assert 0.05 < turn_k(angle, style, bore, radius, PLASTIC) <= turn_k(angle, "tight", bore, 1.0, PLASTIC)


def test_bend_leaves_out_its_arc() -> None:
    """A hose on a wide radius costs less than the same bend with the friction of its arc."""
    assert turn_k(90, "bending", 0.025, 10.0, PLASTIC) < turn_k(90, "swept", 0.025, 10.0, PLASTIC)


def test_rougher_bends_cost_no_less() -> None:
    """Roughness never makes a round turn cheaper."""
    smooth = turn_k(90, "swept", 0.025, 1.5, 0.0)
    assert turn_k(90, "swept", 0.025, 1.5, 1e-4) > smooth


def test_turn_refusals() -> None:
    """Unknown style, angle or radius out of range, and a pair for 45 degrees are refused."""
    for angle in (0, 91):
        with pytest.raises(ValueError, match="up to 90 degrees"):
            turn_k(angle, "tight", 0.05, 1.0, PLASTIC)
    with pytest.raises(ValueError, match="unknown style of turn"):
        turn_k(90, "kinked", 0.05, 1.0, PLASTIC)
    with pytest.raises(ValueError, match="paired 45s turn 90"):
        turn_k(45, "paired 45s", 0.05, 1.0, PLASTIC)
    with pytest.raises(ValueError, match="radius over bore"):
        turn_k(90, "swept", 0.05, 0.0, PLASTIC)
    with pytest.raises(ValueError, match="bore must be positive"):
        turn_k(90, "tight", 0.0, 1.0, PLASTIC)


def test_re_entrant_against_idelchik() -> None:
    """A thin pipe standing out by one bore costs 1.0 in Idelchik's table; unknown entrances are refused."""
    assert entrance_k("re-entrant") == pytest.approx(
        entrance_distance(0.05, t=0.0, l=0.05, method="Idelchik")
    )
    # With a coupling on it, a rim of a twentieth of its bore and more, it costs what a flush one does.
    thick = entrance_distance(0.05, t=0.05 * 0.05, l=0.05, method="Idelchik")
    assert entrance_k("flush") == pytest.approx(thick)
    with pytest.raises(ValueError, match="unknown style of entrance"):
        entrance_k("smooth")


@given(bores, bores)
def test_expansion_by_borda_carnot(a: float, b: float) -> None:
    """A sudden expansion loses the head of the velocity that is lost, (v1 - v2)^2 / 2g."""
    narrow, wide = sorted((a, b))
    flow = 1e-3
    lost = velocity_head(velocity(flow, narrow) - velocity(flow, wide))
    head = expansion_k(narrow, wide) * velocity_head(velocity(flow, narrow))
    assert head == pytest.approx(lost, rel=1e-6, abs=1e-9)


def test_steps_refuse_bores_the_wrong_way_round() -> None:
    """Equal bores cost nothing; reversed or missing ones are refused."""
    assert contraction_k(0.05, 0.05) == expansion_k(0.05, 0.05) == 0.0
    for function in (contraction_k, expansion_k):
        wide, narrow = (0.0501, 0.05) if function is expansion_k else (0.05, 0.0501)
        with pytest.raises(ValueError, match="wider than"):
            function(wide, narrow)
        with pytest.raises(ValueError, match="bore must be positive"):
            function(0.0, 0.0)


@given(bores, bores, bores)
def test_passage_is_the_sum_of_its_steps(before: float, passage: float, after: float) -> None:
    """Head lost over a passage is that of its two steps, each on its own narrow bore."""
    flow = 1e-3

    def step(a: float, b: float) -> float:
        k = contraction_k(a, b) if a > b else expansion_k(a, b)
        return k * velocity_head(velocity(flow, min(a, b)))

    head = passage_k(before, passage, after) * velocity_head(velocity(flow, passage))
    assert head == pytest.approx(step(before, passage) + step(passage, after), rel=1e-9)
    assert head >= 0.0


def test_passage_by_hand() -> None:
    """A 40 mm passage in a 50 mm pipe: 0.5 (1 - 0.64) + (1 - 0.64)^2 by hand; a plain one costs nothing."""
    assert passage_k(0.05, 0.04, 0.05) == pytest.approx(0.18 + 0.1296)
    assert passage_k(0.05, 0.05, 0.05) == 0.0


def test_ball_valve() -> None:
    """A narrower seat costs more, a gentler taper less, and a seat wider than the pipe is full bore."""
    full = ball_valve_k(0.05, 0.05)
    assert ball_valve_k(0.06, 0.05) == full
    assert ball_valve_k(0.04, 0.05) > ball_valve_k(0.045, 0.05) > full
    assert ball_valve_k(0.04, 0.05, angle=16.0) < ball_valve_k(0.04, 0.05)
    assert ball_valve_k(0.04, 0.05) == pytest.approx(K_ball_valve_Crane(D1=0.04, D2=0.05, angle=180.0))
    with pytest.raises(ValueError, match="bore must be positive"):
        ball_valve_k(0.0, 0.05)


def test_a_gate_valve() -> None:
    """8 fT wide open (Crane TP-410), 8/3 of a ball valve's 3 fT; steps to a narrower seat add to it."""
    assert gate_valve_k(0.05, 0.05) == pytest.approx(8 / 3 * ball_valve_k(0.05, 0.05))
    assert gate_valve_k(0.06, 0.05) == gate_valve_k(0.05, 0.05)
    assert gate_valve_k(0.04, 0.05) > gate_valve_k(0.045, 0.05) > gate_valve_k(0.05, 0.05)


def test_ball_valve_covers_its_own_passage() -> None:
    """A reduced ball valve costs no less than a sudden passage of its seat alone."""
    seat, pipe = 0.04, 0.05
    assert ball_valve_k(seat, pipe) >= passage_k(pipe, seat, pipe) * (pipe / seat) ** 4


@given(st.floats(0.5, 200.0), bores)
def test_kv_by_its_definition(kv: float, bore: float) -> None:
    """At a flow of Kv in m3/h of water of 1000 kg/m3 the loss is 1 bar."""
    head = k_from_kv(kv, bore) * velocity_head(velocity(kv / 3600.0, bore))
    # The library rounds the factor to 1.6e9; exact it is 1.599e9.
    assert head * GRAVITY * 1000.0 == pytest.approx(1e5, rel=1e-3)


def test_valve_refusals() -> None:
    """A Kv or bore of nothing is refused."""
    with pytest.raises(ValueError, match="Kv must be positive"):
        k_from_kv(0.0, 0.05)
    with pytest.raises(ValueError, match="bore must be positive"):
        check_valve_k(-0.05)


@given(st.floats(0.0, 1.0), bores, st.floats(0.3, 1.0), st.sampled_from(["run", "branch"]))
def test_tees_for_design_are_not_below_crane_nor_zero(
    share: float, run: float, ratio: float, leg: str
) -> None:
    """Design values are Crane's where those are positive, and 0 where they are not."""
    total = 1e-3
    for design, crane in ((dividing_tee_k, crane_dividing_k), (joining_tee_k, crane_joining_k)):
        raw = crane(leg, total, share * total, run, ratio * run)
        assert design(leg, total, share * total, run, ratio * run) == max(0.0, raw)


def test_dividing_tee_legs_are_not_mixed_up() -> None:
    """The flow given is that of the leg named: a branch with most of the flow costs the most."""
    most = dividing_tee_k("branch", 1e-3, 0.9e-3, 0.05, 0.03)
    least = dividing_tee_k("branch", 1e-3, 0.1e-3, 0.05, 0.03)
    assert most > least
    assert dividing_tee_k("run", 1e-3, 1e-3, 0.05, 0.05) == 0.0


def test_joining_tee_by_hand() -> None:
    """From the run of a full-size 90 degree tee, Crane's K = 1.55 q - q^2 with q the branch's share."""
    assert joining_tee_k("run", 1e-3, 0.75e-3, 0.05, 0.05) == pytest.approx(1.55 * 0.25 - 0.25**2)


def test_tee_refusals() -> None:
    """Unknown legs, no total, and parts beyond it by more than rounding are refused."""
    assert dividing_tee_k("run", 1e-3, 1e-3 * (1 + 1e-12), 0.05, 0.05) == 0.0
    with pytest.raises(ValueError, match="a run and a branch"):
        dividing_tee_k("trunk", 1e-3, 1e-3, 0.05, 0.05)
    with pytest.raises(ValueError, match="total flow must be positive"):
        joining_tee_k("run", 0.0, 0.0, 0.05, 0.05)
    for part in (-1e-6, 1.001e-3):
        with pytest.raises(ValueError, match="part of the flow"):
            joining_tee_k("run", 1e-3, part, 0.05, 0.05)
