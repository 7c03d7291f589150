"""Less inflow as a remedy: what is told works on the problem file, and a litre an hour more does not."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

import autoplan
from autoplan.advice.flow import Demand
from autoplan.catalog.parts import Catalog
from autoplan.outcome import Status
from tests.advice.impossible import solved
from tests.short_list import from_shortest_list
from tests.words import why_none

TANK = """
name = "A small pump"
[tank]
volume = "600 L"
depth = "750 mm"
floor = "150 mm"
wall = "6 mm"
shape = "square"
[sump]
volume = "500 L"
depth = "500 mm"
floor = "-450 mm"
[wishes]
turnover = "{turnover}/hour"
"""

LITRES = 600


@pytest.fixture(scope="module")
def catalog() -> Catalog:
    """A price list whose only pump gives 1600 L/h against nothing."""
    metric = autoplan.load_catalog("metric")
    return replace(metric, pumps={"pump-1600": metric.pumps["pump-1600"]})


def problem(turnover: float | str) -> str:
    """A tank of 600 L with so many turnovers an hour, from the short list."""
    return from_shortest_list(TANK.format(turnover=turnover))


@pytest.mark.parametrize("turnover", [2.5, pytest.param(4, marks=pytest.mark.long)])
def test_the_least_less(tmp_path: Path, catalog: Catalog, turnover: float) -> None:
    """With a turnover that the pump cannot lift, or cannot give at all, as much less as is needed is told."""
    path = tmp_path / "small.toml"
    path.write_text(problem(turnover))
    outcome = autoplan.design(autoplan.load_problem(path), catalog, top=1)
    assert outcome.status is Status.NONE
    assert outcome.clash is not None
    assert outcome.clash.rules == ("pump-duty",)
    said = " ".join(why_none(outcome))
    found = re.search(r'(\d+) L/h less to tank, (\d+) L/h in all \(turnover = "([\d.]+)/hour"\)', said)
    assert found is not None, said
    less, left = int(found[1]), int(found[2])
    assert less + left == turnover * LITRES
    assert float(found[3]) * LITRES == pytest.approx(left, abs=0.1)
    assert solved(tmp_path, catalog, problem(found[3]))
    assert not solved(tmp_path, catalog, problem((left + 1) / LITRES))


def test_every_run_has_its_part_of_less(tmp_path: Path) -> None:
    """A tank that asks for a tenth less has a tenth less in its drain, and what beds ask for stays."""
    path = tmp_path / "small.toml"
    beds = '[beds]\ncount = 2\narea = "1 m2"\nfloor = "550 mm"\n'
    path.write_text(problem(2) + beds)
    site = autoplan.load_problem(path).outline
    tank = Demand("tank", ("tank",), 1200.0)
    less = tank.at(site, 120)
    for name, flow in site.flows.items():
        change = {"tank drain": 0.9, "tank feed": 0.9, "bed drain 1": 1.0, "bed feed 1": 1.0}.get(name)
        if change is not None:
            assert less.flows[name].design_m3_s == pytest.approx(change * flow.design_m3_s)
    main = max(flow.design_m3_s for flow in site.flows.values())
    assert max(flow.design_m3_s for flow in less.flows.values()) == pytest.approx(main - 120 / 3.6e6)
    assert tank.told(site, 120) == 'turnover = "1.8/hour"'
