"""Random trees of pipes behind a pump, judged as drawings, against a general root finder."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import root

from autoplan.drawing import DrawnJunction
from autoplan.fittings.ends import LineEnd
from autoplan.fittings.valve import ValveSet
from autoplan.hydraulics.friction import velocity, velocity_head
from autoplan.problem.site import Flow, Junction
from autoplan.rules.survey import Survey
from autoplan.verdict.steady.network import steady
from tests.lines import ended, put, the, without


class Grower:
    """Grows a tree on the small plan: a junction feeds two runs, each to an outlet or another junction."""

    def __init__(self, plan, seed: int) -> None:
        self.plan = plan
        self.draw = random.Random(seed)
        keep = ("tank drain", "bed drain 1")
        self.runs = {name: plan.site.runs[name] for name in keep}
        self.drawn = {name: plan.drawing.runs[name] for name in keep}
        self.flows = {name: plan.site.flows[name] for name in keep}
        self.joints: dict[str, DrawnJunction] = {}
        self.tee = plan.drawing.junctions["split"].tee

    def survey(self) -> Survey:
        """The tree as a drawing measured up."""
        self.run("main", "main", "sump", self.junction("main", depth=0))
        site = replace(
            self.plan.site,
            runs=self.runs,
            flows=self.flows,
            junctions={name: Junction(name) for name in self.joints},
        )
        drawing = replace(self.plan.drawing, runs=self.drawn, junctions=self.joints)
        return Survey(site, self.plan.catalog, drawing)

    def junction(self, above: str, depth: int) -> str:
        """A junction below a run, and all that it feeds."""
        name = f"junction {len(self.joints)}"
        self.joints[name] = DrawnJunction(name, self.tee, ())
        behind = [f"{name} {side}" for side in ("left", "right")]
        for run in behind:
            if depth < 3 and self.draw.random() < 0.5:
                self.run(run, "bed feed 1", name, self.junction(run, depth + 1))
            else:
                self.run(run, self.draw.choice(("tank feed", "bed feed 1")), name, None)
        ports = [above, *behind]
        self.draw.shuffle(ports)
        self.joints[name] = replace(self.joints[name], ports=tuple(ports))
        return name

    def run(self, name: str, like: str, start: str, finish: str | None) -> None:
        """A run drawn like one of the plan's, of another length and, to an outlet, another height."""
        drawn = replace(self.plan.drawing.runs[like], run=name, length_m=self.draw.uniform(0.3, 6.0))
        run = replace(self.plan.site.runs[like], name=name, start=start, finish=finish or "tank")
        drawn = ended(drawn, "start", at=start)
        if finish is None:
            height = self.draw.uniform(1.1, 1.5)
            drawn = ended(drawn, "finish", at="tank", centre_m=height)
            flow = self.draw.uniform(1e-5, 1e-4)
        else:
            drawn = ended(without(drawn, ValveSet), "finish", end=LineEnd(finish))
            flow = sum(self.flows[run].design_m3_s for run in self.flows if run.startswith(f"{finish} "))
        self.runs[name], self.drawn[name], self.flows[name] = run, drawn, Flow(flow, flow)


def left_over(survey: Survey, flows: dict[str, float]) -> dict[str, float]:
    """Head left at each outlet [m] after lift and the losses that the rules count."""
    pump = survey.pump_curve("sump")
    flow = min(flows["main"], pump.run_out_m3_s)
    return {
        path[-1]: survey.level("sump")
        + pump.head(flow)
        - survey.path_loss(path, flows)
        - survey.discharge_height(path[-1])
        for path in survey.pressure_paths
    }


def all_flows(survey: Survey, outlets: dict[str, float]) -> dict[str, float]:
    """Flow of every pressure run from those of the outlets [m3/s]."""
    flows = dict.fromkeys((run.name for run in survey.pressure_runs()), 0.0)
    for path in survey.pressure_paths:
        for name in path:
            flows[name] += outlets[path[-1]]
    return flows


@pytest.mark.parametrize("seed", range(20))
def test_a_general_root_finder_agrees(plan, seed: int) -> None:
    """Outlets that flow agree to 1e-6 with the root of one energy equation a way; the others are too high."""
    survey = Grower(plan, seed).survey()
    found = steady(survey)
    outlets = [path[-1] for path in survey.pressure_paths]
    wet = [name for name in outlets if found.flows[name] > 0.0]

    def flows_of(x: np.ndarray) -> dict[str, float]:
        given = dict.fromkeys(outlets, 0.0) | {
            name: abs(flow) for name, flow in zip(wet, x * 1e-4, strict=True)
        }
        return all_flows(survey, given)

    def residual(x: np.ndarray) -> list[float]:
        left = left_over(survey, flows_of(x))
        return [left[name] for name in wet]

    draw = random.Random(seed)
    begin = [found.flows[name] * 1e4 * draw.uniform(0.8, 1.2) for name in wet]
    second = root(residual, begin, method="hybr", tol=1e-13, options={"maxfev": 5000}).x
    assert max(map(abs, residual(second))) < 1e-8, "the second method found no root"
    flows = flows_of(second)
    for name, flow in flows.items():
        assert found.flows[name] == pytest.approx(flow, abs=1e-6 * found.flows["main"])
    left = left_over(survey, flows)
    assert all(left[name] <= 1e-7 for name in outlets if name not in wet)


@pytest.mark.parametrize("seed", range(20))
def test_valves_take_what_is_left(plan, seed: int) -> None:
    """Set for the design flows, valves take what lift and losses leave, and where one is short it is open."""
    survey = Grower(plan, seed).survey()
    found = steady(survey, balanced=True)
    assert set(found.valves) == {path[-1] for path in survey.pressure_paths}
    left = left_over(survey, {name: max(0.0, flow) for name, flow in found.flows.items()})
    for name, setting in found.valves.items():
        asked = survey.design_flow(name)
        assert found.flows[name] <= asked * (1 + 1e-9)
        if found.flows[name] > asked * (1 - 1e-9):
            assert setting.loss_m == pytest.approx(left[name], abs=1e-6)
        else:
            assert setting.loss_m == 0.0
            assert left[name] <= 1e-6
    again = steady(survey, settings=found.valves)
    for name, flow in found.flows.items():
        assert again.flows[name] == pytest.approx(flow, abs=1e-6 * found.flows["main"])


def test_the_trees_are_worth_the_trouble(plan) -> None:
    """Among them are trees of many outlets, outlets that stay dry, and pumps with too little and enough."""
    surveys = [Grower(plan, seed).survey() for seed in range(20)]
    assert max(len(survey.pressure_paths) for survey in surveys) >= 6
    open_flows = [steady(survey).flows for survey in surveys]
    assert any(flow == 0.0 for flows in open_flows for flow in flows.values())
    short = {
        any(found.flows[name] < survey.design_flow(name) * 0.999 for name in found.valves)
        for survey in surveys
        for found in [steady(survey, balanced=True)]
    }
    assert short == {True, False}


@pytest.mark.parametrize("seed", range(20))
def test_a_burst_run_spends_all_head(plan, seed: int) -> None:
    """Up to where a run came apart, its tee at the split flow and its exit use up what the pump gives."""
    survey = Grower(plan, seed).survey()
    draw = random.Random(seed)
    path = draw.choice([path for path in survey.pressure_paths if len(path) > 1])
    burst = draw.choice(path[1:])
    height = draw.uniform(0.0, 0.6)
    found = steady(survey, burst=burst, burst_m=height)
    assert found.spilled_m3_s > 0.0
    assert all(found.flows[name] == 0.0 for name in path[path.index(burst) :])
    flows = found.flows | {burst: found.spilled_m3_s}
    before = path[: path.index(burst)]
    lost = survey.path_loss(before, flows) + survey.junction_loss(before[-1], burst, flows)
    lost += velocity_head(velocity(found.spilled_m3_s, survey.pipe(burst).bore_m))
    pump = survey.pump_curve("sump")
    given = survey.level("sump") + pump.head(flows["main"])
    assert given - lost == pytest.approx(height, abs=1e-7) or flows["main"] == pump.run_out_m3_s


def test_a_valve_on_a_trunk_sets_what_has_none_of_its_own(plan) -> None:
    """A trunk's valve counts only while something behind it has none, and then holds their sum."""
    survey = next(
        survey
        for survey in (Grower(plan, seed).survey() for seed in range(20))
        if any(len(path) == 3 for path in survey.pressure_paths)
    )
    path = next(path for path in survey.pressure_paths if len(path) == 3)
    trunk, last = path[1:]
    valved = put(survey.drawn(trunk), the(survey.drawn(last), ValveSet))
    runs = {**survey.drawing.runs, trunk: valved}
    useless = Survey(survey.site, survey.catalog, replace(survey.drawing, runs=runs))
    assert trunk not in steady(useless, balanced=True).valves
    runs = {**runs, last: without(survey.drawn(last), ValveSet)}
    useful = Survey(survey.site, survey.catalog, replace(survey.drawing, runs=runs))
    found = steady(useful, balanced=True)
    assert trunk in found.valves
    assert last not in found.valves
    assert found.flows[trunk] <= useful.design_flow(trunk) * (1 + 1e-9)
    # Far less is asked of the whole than the pump has, so every valve holds its flow.
    assert found.flows[trunk] == pytest.approx(useful.design_flow(trunk), rel=1e-9)
