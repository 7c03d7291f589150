"""What is worked out to be drawn agrees with what was worked out to be told."""

from __future__ import annotations

from itertools import pairwise

import pytest

from autoplan.outcome import Design, HeadFlow, LevelTrace, Outcome, TraceOf
from tests.stored import kept, stored


@pytest.fixture(scope="module", params=["small", "two-beds-on-clocks", "two-drains"])
def outcome(request: pytest.FixtureRequest) -> Outcome:
    """A bell siphon, timers, and a tank with an overflow."""
    return stored(request.param, str(kept(request.param)["problem"]))


@pytest.fixture(scope="module")
def design(outcome: Outcome) -> Design:
    """Its one design."""
    return outcome.designs[0]


def _trace(design: Design, what: TraceOf) -> LevelTrace:
    (found,) = [trace for trace in design.verdict.traces if trace.what is what]
    return found


def _head(curve: tuple[HeadFlow, ...], flow: float) -> float:
    """Head of a curve at a flow, on the straight line between its points."""
    for (q0, h0), (q1, h1) in pairwise(curve):
        if q0 <= flow <= q1:
            return h0 + (flow - q0) / (q1 - q0) * (h1 - h0)
    raise AssertionError(f"{flow} is not on the curve")


def test_traces_are_short_and_in_order(design: Design) -> None:
    """A hundred points at most, time never going back."""
    for trace in design.verdict.traces:
        assert 2 <= len(trace.points) <= 100
        assert trace.points[0][0] == pytest.approx(0.0)
        assert all(a[0] <= b[0] for a, b in pairwise(trace.points))


def test_floods_go_as_low_as_the_hours_say(design: Design) -> None:
    """The lowest water of the trace is that of the hours with every bed full at once, to 2 mm."""
    trace = _trace(design, TraceOf.FLOODS)
    (told,) = [sump for sump in design.verdict.running[0].sumps if sump.vessel == trace.vessel]
    assert min(level for _, level in trace.points) == pytest.approx(told.lowest_m, abs=0.002)
    assert max(level for _, level in trace.points) <= told.highest_m + 0.002
    assert trace.off_s is None


def test_a_power_cut_rises_as_high_as_the_fault_says(outcome: Outcome, design: Design) -> None:
    """The highest water of the trace leaves no less to the rim than the fault of that name, and about that.

    The fault speaks of the vessel where least is left, which need not be the pumped one.
    """
    trace = _trace(design, TraceOf.POWER_CUT)
    (fault,) = [fault for fault in design.verdict.faults if fault.name == "power cut"]
    left = outcome.site.vessels[trace.vessel].rim_m - max(level for _, level in trace.points)
    assert left >= fault.margin_m - 0.001
    if fault.where == trace.vessel:
        assert left == pytest.approx(fault.margin_m, abs=0.003)


def test_the_power_comes_back(design: Design) -> None:
    """Until the power fails the water stands, and an hour after it is back it stands there again."""
    trace = _trace(design, TraceOf.POWER_CUT)
    assert trace.off_s is not None
    assert trace.on_s is not None
    before = [level for seconds, level in trace.points if seconds < trace.off_s]
    away = [level for seconds, level in trace.points if trace.off_s < seconds < trace.on_s]
    assert max(before) - min(before) < 0.001
    assert min(away) >= before[0]
    assert trace.points[-1][1] == pytest.approx(before[0], abs=0.005)


def test_water_rests_where_it_can_run_no_further(outcome: Outcome, design: Design) -> None:
    """A vessel drained by gravity rests no higher than it runs, the pumped one as filling says."""
    resting = design.verdict.resting
    assert set(resting) == set(outcome.site.vessels)
    filling = design.verdict.filling
    assert filling is not None
    for moving in filling.moving:
        assert resting[moving.vessel] == pytest.approx(moving.high_m, abs=0.03)
    for name, level in design.drawing.levels.items():
        vessel = outcome.site.vessels[name]
        assert vessel.floor_m - 1e-9 <= resting[name] <= vessel.rim_m
        if name not in outcome.site.pumped_vessels():
            assert resting[name] <= level.design_m + 1e-6


def test_curves_meet_where_the_pump_runs(design: Design) -> None:
    """The point where a pump runs lies on its own curve and, to 5 cm, on the system's."""
    for vessel, curves in design.verdict.curves.items():
        flow, head = curves.met
        assert head == pytest.approx(_head(curves.at_speed, flow), abs=1e-6)
        assert head == pytest.approx(_head(curves.system, flow), abs=0.05)
        told = design.verdict.pumps[vessel]
        # The valves are set for the design flow, so the pump gives no more, and no less where it can.
        assert flow <= told.duty_flow_m3_s * 1.001
        assert design.drawing.pumps[vessel].speed == pytest.approx(
            curves.at_speed[-1][0] / curves.at_full_speed[-1][0]
        )


def test_a_system_curve_rises(design: Design) -> None:
    """Flow and head of the system's curve only rise from the head at which the first outlet runs."""
    for curves in design.verdict.curves.values():
        assert curves.system[0][0] == 0.0
        assert len(curves.system) > 4
        assert all(a[0] < b[0] and a[1] <= b[1] for a, b in pairwise(curves.system))


def test_a_saw_cut_has_its_width(design: Design) -> None:
    """Sticks are cut with the 3 mm that the rules take where a problem says nothing."""
    assert design.verdict.saw_cut_m == pytest.approx(0.003)
