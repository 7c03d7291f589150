"""Water through time: closed forms, events on both sides, and every litre accounted for."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from autoplan.hydraulics.basins import TOLERANCE_M, Basin, Channel, History, Watch, Waters, walk
from autoplan.hydraulics.gravity import draw_down_time
from autoplan.hydraulics.passage import Drain, HeadTable, Pumped, SiphonFlow, start_level
from autoplan.hydraulics.stepping import Step, Stepper
from autoplan.hydraulics.water import GRAVITY

FOOT, INCH = 0.3048, 0.0254
CLOSE_M = 1e-7
"""Error of a step [m] where a walk is compared with a closed form."""


def orifice(area_m2: float, cd: float = 1.0) -> HeadTable:
    """Flow through a small opening, Q = Cd a sqrt(2 g H)."""
    heads = (1e-7, 10.0)
    return HeadTable(heads, tuple(cd * area_m2 * math.sqrt(2 * GRAVITY * head) for head in heads))


def opening(area_m2: float, at_m: float = 0.0) -> Drain:
    """A small opening that lets water fall free."""
    return Drain(None, at_m, orifice(area_m2), at_m)


def inflow(flow: float) -> Pumped:
    """A constant flow, whatever the levels."""
    return Pumped((0.0,), (flow,), -math.inf)


def missing(start: Waters, links: list[Channel], end: History) -> float:
    """Share of the water that is not accounted for [-]."""
    came = sum(end.moved_m3[link.name] for link in links if link.source is None)
    went = sum(end.moved_m3[link.name] for link in links if link.target is None)
    went += sum(end.spilled_m3.values())
    had = sum(start.volumes_m3.values()) + came
    return abs(had - went - sum(end.waters.volumes_m3.values())) / max(had, 1e-3)


@pytest.mark.parametrize(
    ("across", "outlet", "high", "low", "printed"),
    [
        (4 * FOOT, 5 * INCH**2, 6 * FOOT, 2 * FOOT, 94.0),
        (3 * FOOT, math.pi / 4 * (0.5 * INCH) ** 2, 4 * FOOT, 2 * FOOT, 757.0),
    ],
)
def test_draw_down(across: float, outlet: float, high: float, low: float, printed: float) -> None:
    """Two printed examples of a tank that empties through an opening (94 s; 757 s from memory)."""
    area = math.pi / 4 * across**2
    basin, watch = Basin("tank", area, 0.0, 10.0), Watch("tank", low, rising=False)
    links = [Channel("jet", "tank", None, opening(outlet))]
    start = Waters({"tank": area * high})
    end = walk([basin], links, start, 2000.0, [watch], CLOSE_M)
    closed = draw_down_time(area, outlet, 1.0, high, low)
    assert end.crossed_s[watch] == pytest.approx(closed, rel=1e-4)
    assert end.crossed_s[watch] == pytest.approx(printed, rel=0.007)
    assert missing(start, links, end) < 1e-9


def test_two_basins_come_level() -> None:
    """Through an opening under water, two basins meet after the draw-down time of their joint area.

    The difference z of the levels falls as dz/dt = -q (1/A1 + 1/A2), so A1 A2 / (A1 + A2) stands in for the
    area in Torricelli's closed form.
    """
    upper, lower = Basin("upper", 2.0, 0.0, 5.0), Basin("lower", 0.5, 0.0, 5.0)
    joint = 2.0 * 0.5 / 2.5
    drain = Drain(None, 0.0, orifice(1e-3, 0.6), 0.0)
    watch = Watch("lower", 1.5, rising=True)
    start = Waters({"upper": 2.0 * 2.0, "lower": 0.5 * 1.0})
    end = walk([upper, lower], [Channel("pipe", "upper", "lower", drain)], start, 4000.0, [watch], CLOSE_M)
    # Lower has risen 0.5 m, upper fallen 0.125 m: the difference is 0.375 of 1 m.
    assert end.crossed_s[watch] == pytest.approx(draw_down_time(joint, 1e-3, 0.6, 1.0, 0.375), rel=1e-4)
    # Whole: 4.5 m3 over 2.5 m2 stand 1.8 m high in both.
    assert upper.level(end.waters.volumes_m3["upper"]) == pytest.approx(1.8, abs=1e-5)
    assert lower.level(end.waters.volumes_m3["lower"]) == pytest.approx(1.8, abs=1e-5)


@pytest.mark.parametrize(("flow", "runs_over"), [(0.999, False), (1.001, True)])
def test_a_rim_is_met_from_either_side(flow: float, runs_over: bool) -> None:
    """An opening that passes its inflow at 1 m holds it under a rim there, and a thousandth more does not."""
    through = float(math.sqrt(2 * GRAVITY)) * 1e-3
    basin, watch = Basin("tank", 1.0, 0.0, 1.0), Watch("tank", 1.0, rising=True)
    links = [
        Channel("in", None, "tank", inflow(flow * through)),
        Channel("out", "tank", None, opening(1e-3)),
    ]
    start = Waters({"tank": 0.9})
    end = walk([basin], links, start, 48 * 3600.0, [watch], CLOSE_M)
    assert (watch in end.crossed_s) == (end.spilled_m3["tank"] > 0.0) == runs_over
    assert missing(start, links, end) < 1e-9


def test_a_basin_without_a_drain_runs_over_on_time() -> None:
    """Water reaches the rim after free volume / inflow; from then on as much spills as comes."""
    basin, watch = Basin("tank", 1.8, 0.2, 1.0), Watch("tank", 1.0, rising=True)
    links = [Channel("in", None, "tank", inflow(5e-4))]
    start = Waters({"tank": 1.8 * 0.7})
    end = walk([basin], links, start, 3600.0, [watch])
    assert end.crossed_s[watch] == pytest.approx(1.8 * 0.1 / 5e-4, rel=1e-6)
    over = end.highest_m["tank"] - 1.0
    assert end.spilled_m3["tank"] == pytest.approx(5e-4 * (3600 - 360) - 1.8 * over, rel=1e-4)
    assert 1.83 * 2 * math.sqrt(math.pi * 1.8) * over**1.5 == pytest.approx(5e-4, rel=1e-2)
    assert missing(start, links, end) < 1e-9


@pytest.mark.parametrize("area_m2", [0.05, 0.25, 1.0])
@pytest.mark.parametrize("flow", [1e-4, 6e-4, 2e-3])
def test_water_stands_no_higher_over_a_rim_than_its_weir(area_m2: float, flow: float) -> None:
    """Over the rim it comes to rest at the weir's head, Q = 1.83 L H^1.5, and was never told to be higher."""
    links = [Channel("in", None, "tank", inflow(flow))]
    end = walk([Basin("tank", area_m2, 0.0, 0.8)], links, Waters({"tank": 0.7 * area_m2}), 12 * 3600.0)
    head = (flow / (1.83 * 2 * math.sqrt(math.pi * area_m2))) ** (2 / 3)
    assert end.highest_m["tank"] - 0.8 == pytest.approx(head, abs=1e-4)


@pytest.mark.parametrize("bore_m2", [5e-6, 1.5e-5, 5e-5])
def test_water_sinks_no_lower_than_its_drain(bore_m2: float) -> None:
    """What a wide drain empties in minutes, while a little comes in, is not told to fall under that drain."""
    basins = [
        Basin("upper", 0.67, 3.0, 3.8),
        Basin("middle", 1.15, 2.0, 2.8),
        Basin("lower", 1.37, 1.0, 1.8),
    ]
    little = Drain(orifice(2 * bore_m2), 3.022, orifice(bore_m2), 2.3)
    wide = Drain(orifice(2e-3), 2.615, orifice(1e-3), 1.346, open_share=0.5)
    links = [Channel("down", "upper", "middle", little), Channel("on", "middle", "lower", wide)]
    start = Waters({"upper": 0.67 * 0.63, "middle": 1.15 * 0.747, "lower": 1.37 * 0.58})
    end = walk(basins, links, start, 12 * 3600.0)
    assert end.lowest_m["middle"] == pytest.approx(2.615, abs=3e-4)


def test_gravel_takes_its_share() -> None:
    """A bed with 40 % of water fills in 40 % of the time."""
    basin, watch = Basin("bed", 1.2, 0.0, 0.3, water_share=0.4), Watch("bed", 0.25, rising=True)
    end = walk([basin], [Channel("in", None, "bed", inflow(1e-4))], Waters({"bed": 0.0}), 2000.0, [watch])
    assert end.crossed_s[watch] == pytest.approx(0.4 * 1.2 * 0.25 / 1e-4, rel=1e-6)


def siphon_bed(flow: float, *, starts: bool = True, stops: bool = True) -> History:
    """A bed of 0.48 m2 of water under a steady inflow, for six hours; its siphon runs alike over 10 mm."""
    trickle = HeadTable((0.001, 0.01), (1e-6, 1e-6 * 10**1.5))
    lip, cut_out, full = 0.25, 0.03, 4e-4
    constant = HeadTable((0.01, 1.0), (full * (1 - 1e-9), full))
    siphon = SiphonFlow(
        Drain(trickle, lip, None, -math.inf),
        Drain(constant, 0.0, None, -math.inf),
        start_level(trickle, lip, 1e-5) if starts else math.inf,
        cut_out if stops else -math.inf,
    )
    bed = Basin("bed", 1.2, 0.0, 0.32, 0.4)
    links = [Channel("in", None, "bed", inflow(flow)), Channel("siphon", "bed", None, siphon)]
    start = Waters({"bed": bed.volume(cut_out)})
    end = walk([bed], links, start, 6 * 3600.0)
    assert missing(start, links, end) < 1e-9
    return end


def test_a_siphon_bed_keeps_its_times() -> None:
    """Fill time is volume over inflow, drain time volume over siphon flow less inflow."""
    flow, full, lip, cut_out = 8e-5, 4e-4, 0.25, 0.03
    switches = siphon_bed(flow).switches
    primed = [switch.seconds for switch in switches if switch.running]
    broke = [switch.seconds for switch in switches if not switch.running]
    # The trickle takes a hundredth of a litre a second at most, over the last centimetre or less.
    head = 0.001 * 10 ** (2 / 3)
    volume = 0.48 * (lip + head - cut_out)
    assert broke[0] - primed[0] == pytest.approx(volume / (full - flow), rel=1e-3)
    assert primed[1] - broke[0] == pytest.approx(volume / flow, rel=0.01)
    assert primed[1] - broke[0] > volume / flow
    hours = 6 * flow * 3600 / volume * (1 - flow / full)
    assert len(primed) == pytest.approx(hours, abs=1)


@pytest.mark.parametrize(("flow", "starts"), [(0.99e-5, False), (1.05e-5, True)])
def test_a_siphon_needs_its_start_flow(flow: float, starts: bool) -> None:
    """Under the start flow the standpipe trickles for ever; over it the siphon primes."""
    trickle = HeadTable((0.001, 0.01), (1e-6, 1e-6 * 10**1.5))
    siphon = SiphonFlow(
        Drain(trickle, 0.25, None, -math.inf), opening(1e-3), start_level(trickle, 0.25, 1e-5), 0.03
    )
    bed = Basin("bed", 0.1, 0.0, 0.32)
    links = [Channel("in", None, "bed", inflow(flow)), Channel("siphon", "bed", None, siphon)]
    end = walk([bed], links, Waters({"bed": 0.1 * 0.25}), 12 * 3600.0)
    assert bool(end.switches) == starts
    assert missing(Waters({"bed": 0.1 * 0.25}), links, end) < 1e-9


@pytest.mark.parametrize(("flow", "breaks"), [(3.9e-4, True), (4.1e-4, False)])
def test_a_siphon_must_outrun_its_inflow(flow: float, breaks: bool) -> None:
    """It breaks while it passes more than comes, and never where it passes less."""
    assert any(not switch.running for switch in siphon_bed(flow).switches) == breaks


def test_a_siphon_that_cannot_start_or_stop() -> None:
    """One that never primes leaves the bed full and trickling; one that never breaks leaves it empty."""
    never = siphon_bed(8e-5, starts=False)
    assert not never.switches
    assert never.lowest_m["bed"] == pytest.approx(0.03)
    assert never.waters.volumes_m3["bed"] > 0.48 * 0.25
    always = siphon_bed(8e-5, stops=False)
    assert [switch.running for switch in always.switches] == [True]
    # Within its last 10 mm its flow falls with the head, so a fifth of it stands a fifth as high.
    assert always.waters.volumes_m3["bed"] == pytest.approx(0.48 * 0.01 * 8e-5 / 4e-4, rel=1e-3)


def test_a_pump_that_loses_its_water_fades() -> None:
    """A pump that loses all it lifts stops within a centimetre under its cover, and is timed at it."""
    sump, watch = Basin("sump", 1.0, 0.0, 1.0), Watch("sump", 0.1, rising=False)
    links = [Channel("burst", "sump", None, Pumped((0.0,), (1e-3,), 0.1))]
    start = Waters({"sump": 0.4})
    end = walk([sump], links, start, 7200.0, [watch])
    assert end.crossed_s[watch] == pytest.approx(0.3 / 1e-3, rel=1e-6)
    assert 0.09 - 1e-6 <= end.lowest_m["sump"] < 0.095
    assert missing(start, links, end) < 1e-9


def test_a_turn_inside_a_step_counts() -> None:
    """The highest level of a basin that first rises and then falls is not missed between steps."""
    upper, lower = Basin("upper", 0.2, 1.0, 3.0), Basin("lower", 1.0, 0.0, 2.0)
    links = [
        Channel("down", "upper", "lower", opening(1e-3, 1.0)),
        Channel("out", "lower", None, opening(5e-4)),
    ]
    start = Waters({"upper": 0.4, "lower": 0.1})
    coarse = walk([upper, lower], links, start, 3600.0)
    fine = walk([upper, lower], links, start, 3600.0, tolerance_m=1e-8)
    assert fine.highest_m["lower"] > fine.lowest_m["lower"] + 0.1
    assert coarse.highest_m["lower"] == pytest.approx(fine.highest_m["lower"], abs=5e-4)


@pytest.mark.parametrize(("off_m", "rests"), [(0.0, True), (1e-6, True), (0.001, False)])
def test_water_that_runs_as_it_comes_is_not_walked_in_steps(
    monkeypatch: pytest.MonkeyPatch, off_m: float, rests: bool
) -> None:
    """At its level of rest a night takes a step and carries what comes; a millimetre off it takes many."""
    steps: list[float] = []
    step = Stepper.step

    def counted(self: Stepper, seconds: float, *given: Any) -> Step:
        steps.append(seconds)
        return step(self, seconds, *given)

    monkeypatch.setattr(Stepper, "step", counted)
    flow, bore, night = 1e-4, 1e-4, 43_200.0
    rest = (flow / bore) ** 2 / (2 * GRAVITY)
    links = [Channel("in", None, "tank", inflow(flow)), Channel("out", "tank", None, opening(bore))]
    start = Waters({"tank": rest + off_m})
    end = walk([Basin("tank", 1.0, 0.0, 1.0)], links, start, night)
    assert (len(steps) == 1) is rests
    assert end.moved_m3["in"] == pytest.approx(flow * night)
    assert end.waters.volumes_m3["tank"] == pytest.approx(rest, abs=5e-5)
    assert missing(start, links, end) < 1e-9


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"area_m2": 0.0}, "area"),
        ({"rim_m": 0.0}, "rim"),
        ({"water_share": 0.0}, "share"),
        ({"water_share": 1.1}, "share"),
    ],
)
def test_a_basin_must_be_one(change: dict[str, float], reason: str) -> None:
    """Area, height and share of water out of their ranges are refused."""
    with pytest.raises(ValueError, match=reason):
        Basin("b", **{"area_m2": 1.0, "floor_m": 0.0, "rim_m": 1.0, **change})


def test_time_does_not_run_back() -> None:
    """A negative time is refused; none at all changes nothing."""
    basin, start = Basin("b", 1.0, 0.0, 1.0), Waters({"b": 0.5})
    with pytest.raises(ValueError, match="time"):
        walk([basin], [], start, -1.0)
    assert walk([basin], [], start, 0.0).waters.volumes_m3 == {"b": 0.5}


@st.composite
def systems(draw: st.DrawFn) -> tuple[list[Basin], list[Channel], Waters]:
    """A cascade of two to five basins, a pump back up, and siphons among the drains."""
    count = draw(st.integers(2, 5))
    basins, links, volumes = [], [], {}
    for number in range(count):
        floor = float(count - number)
        share = draw(st.sampled_from([1.0, 0.4]))
        basin = Basin(f"b{number}", draw(st.floats(0.05, 3.0)), floor, floor + 0.8, share)
        basins.append(basin)
        volumes[basin.name] = basin.volume(floor + draw(st.floats(0.0, 0.8)))
        if number + 1 < count:
            lip = floor + draw(st.floats(0.0, 0.7))
            bore = draw(st.floats(1e-5, 3e-3))
            drain = Drain(orifice(2 * bore), lip, orifice(bore), floor - draw(st.floats(0.0, 1.0)))
            passage = (
                drain if draw(st.booleans()) else SiphonFlow(drain, opening(bore, floor), lip + 0.02, floor)
            )
            links.append(Channel(f"d{number}", basin.name, f"b{number + 1}", passage))
    flow, cover = draw(st.floats(0.0, 2e-3)), 1.0 + draw(st.floats(0.01, 0.5))
    links.append(Channel("pump", basins[-1].name, "b0", Pumped((1.0, 1.8), (flow, 1.2 * flow), cover)))
    return basins, links, Waters(volumes)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(systems())
def test_no_litre_is_lost(system: tuple[list[Basin], list[Channel], Waters]) -> None:
    """Whatever stands where, water is conserved to 1e-9, and levels stay between floor and rim."""
    basins, links, start = system
    end = walk(basins, links, start, 8 * 3600.0)
    assert missing(start, links, end) < 1e-9
    for basin in basins:
        level = basin.level(end.waters.volumes_m3[basin.name])
        # A step may miss by the tolerance, and so may the next before the flow out of it has stopped.
        assert basin.floor_m - 3 * TOLERANCE_M <= level <= basin.rim_m + 0.05
        assert end.lowest_m[basin.name] - 1e-9 <= level <= end.highest_m[basin.name] + 1e-9
        assert end.spilled_m3[basin.name] >= -1e-9


@settings(max_examples=40, deadline=None, derandomize=True)
@given(systems())
def test_extremes_are_those_of_a_finer_walk(system: tuple[list[Basin], list[Channel], Waters]) -> None:
    """Highest and lowest water are told to a millimetre, also where they fall between two steps."""
    basins, links, start = system
    told = walk(basins, links, start, 4 * 3600.0)
    finer = walk(basins, links, start, 4 * 3600.0, tolerance_m=1e-7)
    assert told.highest_m == pytest.approx(finer.highest_m, abs=1e-3)
    assert told.lowest_m == pytest.approx(finer.lowest_m, abs=1e-3)
