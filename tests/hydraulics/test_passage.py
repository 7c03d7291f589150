"""Flow from level to level: tables against the relations they stand for, drains, pumps and siphon starts."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from autoplan.hydraulics.conduit import Conduit, Resistance
from autoplan.hydraulics.gravity import part_full_inlet_head, standpipe_head
from autoplan.hydraulics.passage import (
    SHORTAGE_M,
    Drain,
    HeadTable,
    Pumped,
    hole_table,
    rim_weir,
    round_rim,
    start_level,
    table_of,
)
from autoplan.hydraulics.water import water_at

G = 9.80665
WATER = water_at(20.0)
PIPE = Conduit(0.045, 1.5e-6, 3.0, (Resistance(2.5, 0.045),))
FLOWS = [8e-3 * 0.002 ** (1 - step / 39) for step in range(40)]


@pytest.mark.parametrize(
    "head",
    [
        lambda flow: PIPE.loss(flow, WATER),
        lambda flow: part_full_inlet_head(flow, 0.045, 0.5),
        lambda flow: standpipe_head(flow, 0.045),
    ],
    ids=["full pipe", "part-full inlet", "standpipe"],
)
@pytest.mark.parametrize("share", [0.003, 0.01, 0.0234, 0.1, 0.33, 0.9])
def test_tables_keep_to_their_relation(head, share: float) -> None:
    """Between its points a table is within two per cent of the flow whose head was worked out."""
    flow = share * 8e-3
    assert table_of(head, FLOWS).at(head(flow))[0] == pytest.approx(flow, rel=0.02)


def test_a_power_is_kept_exactly() -> None:
    """Two points of an orifice, Q as the root of the head, give every point of it, and its slope."""
    table = HeadTable((0.01, 4.0), (0.1, 2.0))
    flow, slope = table.at(1.0)
    assert flow == pytest.approx(1.0)
    assert slope == pytest.approx(0.5)
    assert table.at(9.0)[0] == pytest.approx(3.0)


def test_nothing_flows_without_a_head() -> None:
    """At and under a head of 0 nothing flows; just over it the slope is finite."""
    table = HeadTable((0.01, 4.0), (0.1, 2.0))
    assert table.at(0.0) == table.at(-1.0) == (0.0, 0.0)
    assert table.at(1e-12)[1] == pytest.approx(10.0)


@pytest.mark.parametrize(
    ("heads", "flows"),
    [((1.0,), (1.0,)), ((0.0, 1.0), (0.5, 1.0)), ((1.0, 1.0), (0.5, 1.0)), ((1.0, 2.0), (1.0, 0.5))],
)
def test_a_table_must_rise(heads: tuple[float, ...], flows: tuple[float, ...]) -> None:
    """One point, a head of 0, and points that do not rise are refused."""
    with pytest.raises(ValueError, match=r"table of flow|must rise"):
        HeadTable(heads, flows)


def test_rim_is_a_weir_all_round() -> None:
    """1 m2 has a round rim of 3.545 m, over which 10 mm are 1.83 x 3.545 x 0.001 m3/s (Francis)."""
    assert round_rim(1.0) == pytest.approx(3.545, abs=5e-4)
    assert rim_weir(round_rim(1.0)).at(0.01)[0] == pytest.approx(1.83 * 3.545 * 0.01**1.5, rel=1e-3)


INLET, RUN = HeadTable((0.01, 1.0), (0.001, 0.1)), HeadTable((0.01, 1.0), (0.002, 0.02))


@pytest.mark.parametrize(
    ("above", "below", "flow"),
    [
        (1.0, 0.0, 0.0),  # at the lip
        (1.01, 0.0, 0.001),  # the inlet throttles: 0.01 m over it
        (1.5, 0.5, 0.02),  # the fall of 1 m to water over the outlet
        (1.5, 0.2, RUN.at(1.2)[0]),  # water under the outlet at 0.3 does not help
        (1.5, 2.0, 0.0),  # nothing runs back up
    ],
)
def test_a_drain_passes_the_lesser(above: float, below: float, flow: float) -> None:
    """Inlet or fall, whichever passes less; the fall ends at the outlet or at the water over it."""
    assert Drain(INLET, 1.0, RUN, 0.3).rate(above, below)[0] == pytest.approx(flow)


def test_slopes_are_those_of_the_flow() -> None:
    """Slopes by the levels above and below agree with small differences."""
    drain, step = Drain(INLET, 1.0, RUN, 0.3, open_share=0.5), 1e-6
    for above, below in [(1.005, 0.0), (1.5, 0.5), (1.5, 0.2), (1.4, 1.0)]:
        flow, by_above, by_below = drain.rate(above, below)
        up = drain.rate(above + step, below)[0] - flow
        down = drain.rate(above, below + step)[0] - flow
        assert by_above == pytest.approx(up / step, rel=1e-3, abs=1e-9)
        assert by_below == pytest.approx(down / step, rel=1e-3, abs=1e-9)


def test_blocked_drains() -> None:
    """Half blocked passes half of the flow at any level, fully blocked nothing."""
    whole = Drain(INLET, 1.0, RUN, 0.3).rate(1.5, 0.0)[0]
    assert Drain(INLET, 1.0, RUN, 0.3, open_share=0.5).rate(1.5, 0.0)[0] == pytest.approx(whole / 2)
    assert Drain(INLET, 1.0, RUN, 0.3, open_share=0.0).rate(1.5, 0.0)[0] == 0.0


@pytest.mark.parametrize(
    ("level", "flow"),
    [(2.0, 0.004), (1.5, 0.003), (1.2, 0.0024), (1.0, 0.002), (1.0 - SHORTAGE_M / 2, 0.001), (0.5, 0.0)],
)
def test_a_pump_follows_its_water(level: float, flow: float) -> None:
    """Between levels a pump's flow is on the chord; under its cover it fades over a centimetre."""
    assert Pumped((1.0, 2.0), (0.002, 0.004), 1.0).rate(level, 0.0)[0] == pytest.approx(flow)


def test_a_siphon_primes_where_the_trickle_reaches_its_start_flow() -> None:
    """Over a 20 mm lip, 100 L/h stand (Q / (1.83 pi D))^(2/3) = 3.9 mm high: the weir of a standpipe."""
    flow = 100 / 3.6e6
    trickle = table_of(lambda q: standpipe_head(q, 0.02), FLOWS)
    by_hand = (flow / (1.83 * math.pi * 0.02)) ** (2 / 3)
    assert start_level(trickle, 0.25, flow) - 0.25 == pytest.approx(by_hand, rel=0.01)


def test_a_hole_as_a_table() -> None:
    """0.6 a sqrt(2 g h) over its centre, to a thousandth; down from its top edge it fades to nothing."""
    table, area = hole_table(0.011), math.pi / 4 * 0.011**2
    for head in (0.006, 0.02, 0.1, 0.21, 1.0):
        assert table.at(head + 0.0055)[0] == pytest.approx(0.6 * area * math.sqrt(2 * G * head), rel=1e-3)
    top = table.at(0.011)[0]
    assert 0.0 < table.at(0.004)[0] < table.at(0.008)[0] < top
    assert table.at(0.0) == (0.0, 0.0)


@pytest.mark.parametrize(("above", "by_hole", "by_lip"), [(0.03, 0, 0), (0.2, 1, 0), (0.27, 1, 1)])
def test_a_standpipe_with_a_hole(above: float, by_hole: int, by_lip: int) -> None:
    """Under the hole nothing runs, under the lip the hole alone, over it both; a clogged hole lets none."""
    lip = rim_weir(0.15)
    drain = Drain(lip, 0.25, None, -math.inf, 1.0, hole_table(0.010), 0.035)
    hole = 0.6 * math.pi / 4 * 0.010**2 * math.sqrt(2 * G * max(0.0, above - 0.04))
    weir = 1.83 * 0.15 * max(0.0, above - 0.25) ** 1.5
    flow, slope, back = drain.rate(above, -1.0)
    assert flow == pytest.approx(by_hole * hole + by_lip * weir, rel=1e-3)
    assert (slope > 0.0) is bool(by_hole)
    assert back == 0.0
    assert replace(drain, foot=None).rate(above, -1.0)[0] == pytest.approx(by_lip * weir, rel=1e-3)
    assert replace(drain, open_share=0.5).rate(above, -1.0)[0] == pytest.approx(flow / 2)


def test_the_pipe_below_limits_hole_and_lip_together() -> None:
    """What the pipe cannot take does not run, by whichever opening it comes."""
    pipe = HeadTable((0.1, 1.0), (1e-5, 3e-5))
    drain = Drain(rim_weir(0.15), 0.25, pipe, -math.inf, 1.0, hole_table(0.010), 0.035)
    assert drain.rate(0.3, 0.0)[0] == pytest.approx(pipe.at(0.3)[0])
