"""A strainer at the pump where a mesh is asked for."""

from __future__ import annotations

from pathlib import Path

import pytest

import autoplan
from autoplan.fittings.strainer import Strainer
from autoplan.line.water import conduit_of
from autoplan.outcome import Outcome, Status
from autoplan.problem.site import RunKind
from autoplan.report import contract
from tests.rules.conftest import Plan
from tests.short_list import from_shortest_list

PROBLEM = Path(__file__).parents[3] / "problems" / "one-tank-one-bed.toml"
MESH = '\n[rules.strainer]\nmesh = "0.6 mm"\n'
STRAINER = Strainer("strainer-32-05")  # its row: mesh 0.5 mm, Kv 16 m3/h, rated 8 bar


def asked(plan: Plan, mesh: str) -> Plan:
    """The plan of a problem that asks for a mesh."""
    return plan.rules({"strainer": {"mesh": mesh}})


def test_none_is_asked_for_unless_a_mesh_is(plan: Plan) -> None:
    """The rule speaks of no run by itself, and with a mesh of just the line from the pump."""
    assert plan.findings("strainer") == {}
    (place,) = asked(plan, "0.5 mm").findings("strainer")
    run = plan.site.runs[place]
    assert (run.kind, run.start) == (RunKind.PRESSURE, "sump")


def test_a_line_without_one_is_as_coarse_as_its_bore(plan: Plan) -> None:
    """Where the strainer is missing the widest opening is the pipe's own."""
    ((place, found),) = asked(plan, "0.5 mm").findings("strainer").items()
    pipe = plan.catalog.pipes[plan.drawing.runs[place].pipe]
    assert not found.ok
    assert found.value == pytest.approx(pipe.bore_m * 1000)


@pytest.mark.parametrize(("mesh", "holds"), [("0.5 mm", True), ("0.49 mm", False)])
def test_its_mesh_is_no_wider_than_asked(plan: Plan, mesh: str, holds: bool) -> None:
    """A mesh of 0.5 mm does where 0.5 mm are asked for, and not where a hundredth less is."""
    (place,) = asked(plan, mesh).findings("strainer")
    (found,) = asked(plan, mesh).put(place, STRAINER).findings("strainer").values()
    assert found.ok is holds


def test_it_loses_as_through_half_its_mesh(plan: Plan) -> None:
    """At 4 m3/h half a Kv of 16 takes a quarter of a bar, 2.55 m of water; a Kv is for 1 bar of 10.2 m."""
    name = next(name for name, run in plan.site.runs.items() if run.start == "sump")
    bare = plan.drawing.runs[name]
    fitted = plan.put(name, STRAINER).drawing.runs[name]
    before, after = (conduit_of(plan.catalog, plan.site.runs[name], line) for line in (bare, fitted))
    water, flow = plan.survey.water, 4 / 3600
    assert after.loss(flow, water) - before.loss(flow, water) == pytest.approx(0.25 * 10.2, rel=0.005)


def test_a_weak_one_is_found_out(plan: Plan) -> None:
    """A strainer that holds half a metre is less than the pump's head against a closed valve."""
    name = next(name for name, run in plan.site.runs.items() if run.start == "sump")
    strong = plan.put(name, STRAINER)
    weak = strong.part(STRAINER.part, rating_m=0.5)
    assert strong.findings("pressure-rating")[name].ok
    assert not weak.findings("pressure-rating")[name].ok


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    """The cheapest design of the smallest shipped problem with a strainer asked for."""
    path = tmp_path_factory.mktemp("strainer") / "asked.toml"
    path.write_text(from_shortest_list(PROBLEM.read_text()) + MESH)
    problem = autoplan.load_problem(path)
    return autoplan.design(problem, autoplan.load_catalog(problem.catalog), top=1)


def test_it_is_chosen_bought_laid_and_told(found: Outcome) -> None:
    """One strainer stands in the line from the pump, is on the order, joined on both sides, and told."""
    assert found.status is Status.PROVEN
    (design,) = found.designs
    (line,) = (line for line in design.drawing.runs.values() if line.one(Strainer))
    (strainer,) = line.all(Strainer)
    assert found.catalog.strainers[strainer.part].mesh_m <= 0.0006
    assert [one.quantity for one in design.drawing.purchases if one.part == strainer.part] == [1.0]
    laid = design.verdict.lines[line.run]
    (place,) = (number for number, item in enumerate(laid.items) if item.part == strainer.part)
    beside = {laid.items[place - 1].part, laid.items[place + 1].part}
    joined = [joint for joint in design.verdict.joints if strainer.part in (joint.left, joint.right)]
    assert [joint.kind is not None for joint in joined] == [True, True]
    assert {part for joint in joined for part in (joint.left, joint.right)} - {strainer.part} == beside
    (run,) = (run for run in contract.outcome_json(found)["designs"][0]["runs"] if run["name"] == line.run)
    assert "strainer: " in run["told"]
    assert [item["role"] for item in run["line"]].count("strainer") == 1


@pytest.mark.long
def test_it_costs_more_than_none(tmp_path: Path, found: Outcome) -> None:
    """The same problem without it comes to less, by no more than a strainer with whatever joins it."""
    path = tmp_path / "none.toml"
    path.write_text(from_shortest_list(PROBLEM.read_text()))
    problem = autoplan.load_problem(path)
    plain = autoplan.design(problem, autoplan.load_catalog(problem.catalog), top=1)
    more = found.designs[0].objective - plain.designs[0].objective
    assert 0 < more <= 12.40 + 5.0
