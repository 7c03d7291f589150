"""The steady flow of a drawing: against the rules' own arithmetic, a second method, and every odd case."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import root

from autoplan.fittings.valve import ValveSet
from autoplan.hydraulics.friction import velocity, velocity_head
from autoplan.hydraulics.water import water_at
from autoplan.verdict.steady.commissioning import commission
from autoplan.verdict.steady.network import Steady, ValveSetting, steady

TANK, BED = ("main", "tank feed"), ("main", "bed feed 1")
TINY = 1e-9


def forced(survey, flows) -> dict[str, float]:
    """What each way has left of its pump's head [m] after lift and the losses that the rules count."""
    pump = survey.pump_curve("sump")
    return {
        path[-1]: survey.level("sump")
        + pump.head(flows[path[0]])
        - survey.path_loss(path, flows)
        - survey.discharge_height(path[-1])
        for path in survey.pressure_paths
    }


def balances(survey, found: Steady) -> None:
    """Water that arrives at a junction or a vessel with a drain leaves it."""
    for place in (*survey.site.junctions, "tank", "bed 1"):
        came = sum(found.flows[run.name] for run in survey.site.runs.values() if run.finish == place)
        went = sum(found.flows[run.name] for run in survey.site.runs.values() if run.start == place)
        assert came == pytest.approx(went, abs=1e-12), place


def test_open_valves_spend_all_head(plan) -> None:
    """On every way lift and losses, by the rules' own sum, eat up what the pump gives."""
    found = steady(plan.survey)
    assert max(map(abs, forced(plan.survey, found.flows).values())) < 1e-7
    balances(plan.survey, found)
    assert found.pumps["sump"].flow_m3_s == pytest.approx(found.flows["main"], rel=1e-12)
    assert found.valves == {}
    assert found.spilled_m3_s == 0.0


def test_a_general_root_finder_agrees(plan) -> None:
    """Two equations, one a way, in the two outlets' flows give the same to 1e-6."""
    survey = plan.survey
    found = steady(survey)

    def residual(x: np.ndarray) -> list[float]:
        flows = {"main": (x[0] + x[1]) / 1e3, "tank feed": x[0] / 1e3, "bed feed 1": x[1] / 1e3}
        return list(forced(survey, flows).values())

    second = root(residual, [0.4, 0.1], method="hybr", tol=1e-13).x / 1e3
    assert max(map(abs, residual(second * 1e3))) < 1e-9
    assert [found.flows["tank feed"], found.flows["bed feed 1"]] == pytest.approx(second, rel=1e-6)


def test_set_valves_give_the_design_flows(plan) -> None:
    """Each leg flows as designed, and its valve takes just what the rules' arithmetic leaves over."""
    survey = plan.survey
    found = steady(survey, balanced=True)
    assert found.flows == pytest.approx(survey.flows_at(), rel=1e-9)
    left = forced(survey, survey.flows_at())
    assert set(found.valves) == {"tank feed", "bed feed 1"}
    for name, setting in found.valves.items():
        assert setting.loss_m == pytest.approx(left[name], abs=1e-7)
        head = velocity_head(velocity(survey.design_flow(name), survey.pipe(name).bore_m))
        assert setting.k == pytest.approx(setting.loss_m / head)
    for vessel in survey.site.vessels:
        assert found.levels[vessel] == pytest.approx(survey.standing_level(vessel, 1.0), abs=1e-9)


def test_settings_can_be_used_again(plan) -> None:
    """Valves left as they were set give the same flows, and others from a fuller sump or with one shut."""
    survey = plan.survey
    valves = steady(survey, balanced=True).valves
    again = steady(survey, settings=valves)
    assert again.flows == pytest.approx(survey.flows_at(), rel=1e-6)
    fuller = steady(survey, settings=valves, levels={"sump": survey.level("sump") + 0.1})
    assert fuller.flows["tank feed"] > again.flows["tank feed"]
    alone = steady(survey, settings=valves, shut=["bed feed 1"])
    assert alone.flows["bed feed 1"] == 0.0
    assert alone.flows["tank feed"] > again.flows["tank feed"]


@pytest.mark.parametrize("share", [0.9, 0.75, 0.6])
def test_a_pump_with_too_little(plan, share: float) -> None:
    """What cannot have its design flow has its valve wide open; nothing has more than its design flow."""
    survey = slowed(plan, share).survey
    found, free = steady(survey, balanced=True), steady(survey)
    short = False
    for name, setting in found.valves.items():
        asked = survey.design_flow(name)
        assert found.flows[name] <= asked * (1 + TINY)
        if found.flows[name] < asked * (1 - 1e-6):
            short = True
            assert setting == ValveSetting(0.0, 0.0)
    assert short is (found.flows["main"] < survey.design_flow("main") * (1 - 1e-6))
    assert found.flows["main"] <= free.flows["main"] * (1 + TINY)


def slowed(plan, share: float):
    """The plan with its pump at a share of its speed."""
    pump = replace(plan.drawing.pumps["sump"], mode="slowed", speed=share)
    return replace(plan, drawing=replace(plan.drawing, pumps={"sump": pump}))


def test_too_weak_to_lift_at_all(plan) -> None:
    """A pump whose shut-off head is under the lift moves nothing."""
    found = steady(slowed(plan, 0.3).survey)
    assert set(found.flows.values()) == {0.0}
    assert found.pumps["sump"].flow_m3_s == 0.0


def test_flat_out_is_full_speed(plan) -> None:
    """A slowed pump run flat out gives what the same pump gives at full speed."""
    assert steady(slowed(plan, 0.8).survey, flat_out=True).flows == steady(plan.survey).flows


@pytest.mark.parametrize("name", ["tank feed", "bed feed 1"])
def test_a_valve_shut(plan, name: str) -> None:
    """The other leg takes what the pump then gives, by the rules' own sum."""
    found = steady(plan.survey, shut=[name])
    (other,) = {"tank feed", "bed feed 1"} - {name}
    assert found.flows[name] == 0.0
    assert forced(plan.survey, found.flows)[other] == pytest.approx(0.0, abs=1e-7)
    balances(plan.survey, found)


def test_all_valves_shut(plan) -> None:
    """The pump stands at its shut-off head, and nothing moves."""
    found = steady(plan.survey, shut=["tank feed", "bed feed 1"])
    top = plan.survey.pump_curve("sump").shut_off_m
    assert found.pumps["sump"].head_m == top
    assert found.heads["split"] == pytest.approx(plan.survey.level("sump") + top)
    assert set(found.flows.values()) == {0.0}


def test_a_leg_without_a_valve_takes_what_comes(plan) -> None:
    """With a valve on the bed's leg only the bed is held to its flow, and the tank gets more."""
    survey = plan.without("tank feed", ValveSet).survey
    found = steady(survey, balanced=True)
    assert set(found.valves) == {"bed feed 1"}
    assert found.flows["bed feed 1"] == pytest.approx(survey.design_flow("bed feed 1"), rel=1e-9)
    assert found.flows["tank feed"] > survey.design_flow("tank feed")
    assert forced(survey, found.flows)["tank feed"] == pytest.approx(0.0, abs=1e-7)


def test_a_leg_that_is_to_carry_nothing_is_shut(plan) -> None:
    """Its valve lets through next to nothing, also when the setting is used again."""
    survey = plan.flow("bed feed 1", 0.0).survey
    found = steady(survey, balanced=True)
    assert found.flows["bed feed 1"] == 0.0
    assert found.flows["tank feed"] == pytest.approx(survey.design_flow("tank feed"), rel=1e-9)
    again = steady(survey, settings=found.valves)
    assert 0.0 <= again.flows["bed feed 1"] < 1.0 / 3.6e6
    assert again.flows["tank feed"] == pytest.approx(survey.design_flow("tank feed"), rel=1e-3)


def test_a_burst_feed_takes_the_water(plan) -> None:
    """What runs out is the pump's flow less what still goes to the bed, and less from higher up."""
    survey = plan.survey
    low = steady(survey, burst="tank feed")
    assert low.spilled_m3_s == pytest.approx(low.pumps["sump"].flow_m3_s - low.flows["bed feed 1"], rel=1e-9)
    assert low.spilled_m3_s > steady(survey).flows["tank feed"]
    assert low.flows["tank feed"] == 0.0
    high = steady(survey, burst="tank feed", burst_m=1.0)
    assert high.spilled_m3_s < low.spilled_m3_s
    over = steady(survey, burst="tank feed", burst_m=50.0)
    assert over.spilled_m3_s == 0.0
    assert over.flows == pytest.approx(steady(survey, shut=["tank feed"]).flows, rel=1e-6)


def test_a_burst_by_hand(plan) -> None:
    """At a burst main the outlet's velocity head and the way into the pipe are all that is lost."""
    survey = plan.survey
    found = steady(survey, burst="main")
    flow, pump = found.spilled_m3_s, survey.pump_curve("sump")
    bore, passage = survey.pipe("main").bore_m, survey.pump_passage("main")
    lost = velocity_head(velocity(flow, bore)) + (0.0 if passage is None else passage.loss(flow))
    assert pump.head(flow) == pytest.approx(lost, abs=1e-7) or flow == pytest.approx(pump.run_out_m3_s)


def test_a_drain_burst_or_shut(plan) -> None:
    """A drain that comes apart spills its flow; one that is shut lets its vessel rise without end."""
    survey = plan.survey
    whole = steady(survey)
    burst = steady(survey, burst="tank drain")
    assert burst.spilled_m3_s == pytest.approx(whole.flows["tank drain"])
    assert burst.flows["tank drain"] == 0.0
    assert burst.flows["tank feed"] == whole.flows["tank feed"]
    shut = steady(survey, shut=["tank drain"])
    assert shut.levels["tank"] == math.inf
    assert shut.levels["bed 1"] == whole.levels["bed 1"] < math.inf
    still = steady(survey, shut=["tank drain", "tank feed"])
    assert still.levels["tank"] < math.inf


def test_a_stopped_pump(plan) -> None:
    """Nothing moves while inlets stand in air; an inlet under water siphons its vessel back."""
    survey = plan.survey
    assert set(steady(survey, stopped=["sump"]).flows.values()) == {0.0}
    high = survey.discharge_height("tank feed")
    under = steady(survey, stopped=["sump"], levels={"tank": high + 0.05})
    assert under.flows["tank feed"] < -1e-5
    assert under.flows["main"] == pytest.approx(under.flows["tank feed"] + under.flows["bed feed 1"])
    assert under.pumps == {}
    just_in_air = steady(survey, stopped=["sump"], levels={"tank": high - 0.001})
    assert set(just_in_air.flows.values()) == {0.0}


def test_cold_water_is_thicker(plan) -> None:
    """Less comes through with water at 5 degrees, more at 30."""
    flows = [steady(plan.survey, water=water_at(celsius)).flows["main"] for celsius in (5.0, 20.0, 30.0)]
    assert flows == sorted(flows)
    assert flows[0] < flows[2]


@pytest.mark.parametrize(
    "case",
    [{"shut": ["tank fed"]}, {"burst": "no run"}, {"levels": {"pond": 1.0}}, {"stopped": ["pond"]},
     {"settings": {"tank fed": ValveSetting(0.1, 1.0)}}],
)  # fmt: skip
def test_unknown_names_are_refused(plan, case) -> None:
    """A slip in a name is said, and not taken for a case without effect."""
    with pytest.raises(ValueError, match="the site has no"):
        steady(plan.survey, **case)


def test_a_bed_to_come_later_is_not_measured(plan) -> None:
    """Its feed is capped: nothing is timed there, and what it would take goes to the tank, wide open."""
    later = plan.run("bed feed 1", later=True).vessel("bed 1", spare=True).survey
    facts = commission(later, steady(later, balanced=True))
    (tank,) = facts.outlets
    assert tank.run == "tank feed"
    assert tank.flow_m3_s == pytest.approx(tank.design_m3_s, rel=1e-9)
    assert tank.open_m3_s == pytest.approx(steady(later, shut=["bed feed 1"]).flows["tank feed"], rel=1e-9)
    assert tank.open_m3_s > 1.01 * steady(later).flows["tank feed"]
    assert [level.vessel for level in facts.levels] == [
        name for name in later.site.vessels if name != "bed 1"
    ]


def test_commissioning_tells_bucket_flows_and_levels(plan) -> None:
    """Each outlet's flow with valves set is its design flow; levels are what the rules expect at it."""
    survey = plan.survey
    facts = commission(survey, steady(survey, balanced=True))
    assert [(outlet.run, outlet.vessel) for outlet in facts.outlets] == [
        ("tank feed", "tank"),
        ("bed feed 1", "bed 1"),
    ]
    wide = steady(survey)
    for outlet in facts.outlets:
        assert outlet.flow_m3_s == pytest.approx(outlet.design_m3_s, rel=1e-9)
        assert outlet.open_m3_s == pytest.approx(wide.flows[outlet.run], rel=1e-9)
        assert outlet.valve_run == outlet.run
        assert outlet.valve_loss_m > 0.0
    # With the bed full the sump is 100 mm lower: the pump's head less that is what the same K's are left.
    low = {outlet.run: outlet.low_m3_s for outlet in facts.outlets}
    pump, whole = survey.pump_curve("sump"), sum(outlet.flow_m3_s for outlet in facts.outlets)
    crest = survey.crest("tank feed")
    heads = [
        pump.head(flow) + level - crest
        for flow, level in ((whole, survey.level("sump")), (sum(low.values()), survey.low_level("sump")))
    ]
    # Losses go with the flow to a power between 1.75 (smooth pipe) and 2 (fittings).
    ratio = low["tank feed"] / facts.outlets[0].flow_m3_s
    assert ratio < 0.995
    assert ratio**2 - 2e-3 < heads[1] / heads[0] < ratio**1.75 + 2e-3
    levels = {level.vessel: level for level in facts.levels}
    assert list(levels) == list(survey.site.vessels)
    # One bed of 1 m2 holds 0.4 x 0.25 m of water, and takes it out of a sump of 1 m2.
    assert levels["sump"].low_m == pytest.approx(levels["sump"].water_m - 0.1)
    # Drawn levels are rounded to a tenth of a millimetre.
    assert levels["tank"].water_m == pytest.approx(survey.standing_level("tank", 1.0), abs=1e-4)
    assert levels["tank"].low_m is None


def test_where_it_begins_does_not_matter(plan) -> None:
    """Beginning from other flows, or from the answer, leads to the same flows."""
    plain = steady(plan.survey)
    for near in (plain.flows, dict.fromkeys(plan.site.runs, 0.0), dict.fromkeys(plan.site.runs, 1e-3)):
        assert steady(plan.survey, near=near).flows == pytest.approx(plain.flows, abs=1e-10)


@pytest.mark.parametrize(("off_m", "as_drawn"), [(0.9e-4, True), (-0.9e-4, True), (1.1e-4, False)])
def test_levels_to_measure_are_those_drawn(plan, off_m: float, as_drawn: bool) -> None:
    """Drawn levels are rounded to a tenth of a millimetre, and one sheet tells one level of a vessel."""
    found = plan.survey.standing_level("tank", 1.0)
    survey = plan.water("tank", (found + off_m - plan.survey.level("tank")) * 1000).survey
    facts = commission(survey, steady(survey, balanced=True))
    told = next(level.water_m for level in facts.levels if level.vessel == "tank")
    assert told == pytest.approx(found + off_m if as_drawn else found, abs=1e-9)
