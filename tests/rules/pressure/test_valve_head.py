"""Which valves may throttle, and how much of a pump's head one may burn, or burn before that is told."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

import autoplan
from autoplan.fittings.valve import CheckValveSet, ValveSet, valve_resistance
from autoplan.hydraulics.fittings import gate_valve_k
from autoplan.outcome import Outcome, Status
from autoplan.problem.brief import PrintUnits
from autoplan.problem.site import RunKind
from autoplan.report.sections.judged import warning_texts
from autoplan.report.units import units_of
from autoplan.rules.asked import Valved
from autoplan.rules.book import read_rules
from autoplan.rules.pressure.branch_valve import BranchValve
from autoplan.rules.survey import Survey
from autoplan.verdict.steady.network import steady
from tests.lines import the
from tests.rules.conftest import Plan
from tests.short_list import from_shortest_list

PROBLEMS = Path(__file__).parents[3] / "problems"
NO_SUMP = PROBLEMS / "no-sump.toml"
FEED = "bed feed 1"


def test_it_burns_what_the_network_says(plan: Plan) -> None:
    """Of each valve the head is what the network leaves it, set for the design flows."""
    set_so = steady(plan.survey, balanced=True).valves
    found = plan.findings("valve-head")
    assert set(found) == set(set_so) == {"tank feed", FEED}
    for run, setting in set_so.items():
        assert found[run].value == pytest.approx(setting.loss_m, abs=1e-6)


@pytest.mark.parametrize(("off", "holds"), [(1e-4, True), (-1e-4, False)])
def test_both_sides_of_the_share(plan: Plan, off: float, holds: bool) -> None:
    """A share just over what the network says that the valve burns holds, one just under does not."""
    balanced = steady(plan.survey, balanced=True)
    share = balanced.valves[FEED].loss_m / balanced.pumps["sump"].head_m
    found = plan.rules({"valve-head": {"most": f"{100 * (share + off):.6f} %"}}).findings("valve-head")[FEED]
    assert (found.ok, found.hard, found.warning) == (holds, True, "")


@pytest.mark.parametrize(("off", "told"), [(1e-4, False), (-1e-4, True)])
def test_both_sides_of_what_is_told(plan: Plan, off: float, told: bool) -> None:
    """A share to tell from just under what the valve burns is a warning, one just over it says nothing."""
    balanced = steady(plan.survey, balanced=True)
    share = balanced.valves[FEED].loss_m / balanced.pumps["sump"].head_m
    found = plan.rules({"valve-head": {"tell": f"{100 * (share + off):.6f} %"}}).findings("valve-head")[FEED]
    assert (found.ok, found.hard, bool(found.warning)) == (not told, not told, told)


def test_three_fifths_of_the_head_by_itself(plan: Plan) -> None:
    """Without a word in the problem three fifths of what the pump gives at its duty are the limit."""
    (found,) = {round(found.limit, 9) for found in plan.findings("valve-head").values()}
    assert found == pytest.approx(steady(plan.survey, balanced=True).pumps["sump"].head_m * 0.6)


def designed(folder: Path, text: str, limit: str) -> Outcome:
    """The proven cheapest design of a problem under some limit."""
    file = folder / "problem.toml"
    file.write_text(from_shortest_list(f"{text}\n{limit}"), encoding="utf-8")
    outcome = autoplan.design(autoplan.load_problem(file), autoplan.load_catalog("metric"), top=1)
    assert (outcome.status, outcome.solver.rejected) == (Status.PROVEN, 0)
    return outcome


def burnt(outcome: Outcome) -> float:
    """The largest share of its pump's head that a valve of a design burns."""
    (design,) = outcome.designs
    survey = Survey(outcome.site, outcome.catalog, design.drawing)
    balanced = steady(survey, balanced=True)
    (pump,) = balanced.pumps.values()
    return max(one.loss_m for one in balanced.valves.values()) / pump.head_m


def test_the_model_keeps_it(tmp_path: Path) -> None:
    """A limit under what the cheapest design burns is kept by a dearer one, found without a refusal."""
    text = (PROBLEMS / "one-tank-one-bed.toml").read_text(encoding="utf-8")
    free, held = (designed(tmp_path, text, f'[rules.valve-head]\nmost = "{most} %"\n') for most in (60, 38))
    assert burnt(held) <= 0.38 < burnt(free) <= 0.6
    assert free.designs[0].objective < held.designs[0].objective


def test_a_check_valve_is_not_set(plan: Plan) -> None:
    """A way with a check valve alone has nothing to throttle."""
    bare = plan.without(FEED, ValveSet).put(FEED, CheckValveSet("check-20"))
    assert set(bare.findings("valve-head")) == {"tank feed"}


def test_it_decides_on_a_shipped_problem(tmp_path: Path) -> None:
    """The weakest pump of the list is too strong for two small beds on a bench: by default it is slowed.

    The problem says that its valves may burn more, which is told with a cure, and costs less than that pump.
    """
    text = NO_SUMP.read_text(encoding="utf-8")
    by_default, own = text.split("[rules.valve-head]")
    usual, said = designed(tmp_path, by_default, ""), designed(tmp_path, text, "")
    assert own
    (pump,) = usual.designs[0].drawing.pumps.values()
    assert pump.mode == "slowed"
    assert burnt(usual) <= 0.6 < burnt(said) <= 0.65
    assert said.designs[0].objective < usual.designs[0].objective
    si = units_of(PrintUnits.SI)
    told = [text for text in warning_texts(said.designs[0], si) if "of its pump's head" in text]
    assert len(told) == 2
    assert "A weaker pump, a slowed one" in told[0]


def branch_valve(plan: Plan) -> BranchValve:
    """The rule on balancing valves."""
    (rule,) = [rule for rule in read_rules(plan.site).rules if isinstance(rule, BranchValve)]
    return rule


def test_a_gate_may_not_throttle(plan: Plan) -> None:
    """A gate in place of the ball on a feed is refused, by either half; on a drain it is open or shut."""
    part = the(plan.drawing.runs[FEED], ValveSet).valve
    assert plan.findings("branch-valve")[FEED].ok
    gate = plan.part(part, style="gate")
    assert not gate.findings("branch-valve")[FEED].ok
    row, rule, runs = gate.catalog.valves[part], branch_valve(plan), plan.site.runs
    assert not rule.admits(Valved(runs[FEED], row, gate.catalog))
    assert rule.admits(Valved(runs[FEED], plan.catalog.valves[part], plan.catalog))
    assert rule.admits(Valved(replace(runs[FEED], valve=False), row, gate.catalog))
    assert rule.admits(Valved(replace(runs[FEED], kind=RunKind.GRAVITY), row, gate.catalog))
    assert rule.admits(Valved(runs[FEED], plan.catalog.valves["check-20"], plan.catalog))
    assert rule.admits(Valved(runs[FEED], plan.catalog.valves["timed-20"], plan.catalog))


def test_a_gate_has_a_handle(plan: Plan) -> None:
    """A child turns it as well, so that on a feed it is asked for its handle."""
    part = the(plan.drawing.runs[FEED], ValveSet).valve
    gate = plan.part(part, style="gate", handle_off=False)
    assert not gate.findings("feed-handle")[FEED].ok


def test_a_gate_loses_by_crane(plan: Plan) -> None:
    """Its resistance is Crane's 8 fT with the steps to its seat, not a ball's."""
    part = the(plan.drawing.runs[FEED], ValveSet).valve
    gate = plan.part(part, style="gate", kv_m3_h=None)
    pipe = gate.catalog.pipes[gate.drawing.runs[FEED].pipe]
    seat = gate.catalog.valves[part].bore_m
    assert valve_resistance(gate.catalog, pipe, part).k == gate_valve_k(seat, pipe.bore_m)
