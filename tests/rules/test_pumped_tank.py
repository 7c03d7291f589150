"""A pump in the fish tank: its level moves with the beds and must leave the fish enough."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from autoplan.optimiser.search.solve import Ending
from tests.rules import by_hand
from tests.rules.conftest import Plan
from tests.rules.limits import at_least, crossed
from tests.searched import searched
from tests.stored import stored
from tests.words import at

PROBLEM = Path(__file__).parents[2] / "problems" / "no-sump.toml"
FISH = "tank: water for the fish"


@pytest.fixture(scope="module")
def bench() -> Plan:
    """The cheapest design of the shipped problem without a sump."""
    outcome = stored("no-sump", PROBLEM.read_text(encoding="utf-8"))
    return Plan(outcome.site, outcome.catalog, outcome.designs[0].drawing)


def test_both_beds_full_leave_the_fish_their_water(bench: Plan) -> None:
    """Two beds of 40 L on a tank of 450 L over 600 mm, 0.75 m2: the level falls by 107 mm."""
    found = bench.findings("sump-low")
    assert set(found) == {"tank", FISH}
    running = bench.drawing.levels["tank"].design_m * 1000
    assert found[FISH].value == pytest.approx(running - 80 / 0.75)
    assert found[FISH].limit == pytest.approx(360)
    assert found["tank"].value == pytest.approx(found[FISH].value)


def test_both_sides_of_the_lowest_water(bench: Plan) -> None:
    """360 mm are left for the fish when 80 L are gone: a hundredth of a millimetre less is too little."""
    lowest = at_least(
        "sump-low",
        FISH,
        360.0,
        lambda plan: by_hand.deep_mm(plan, "tank") - 80 / 0.75,
        lambda plan, mm: plan.water("tank", -mm),
    )
    crossed(bench, lowest)


@pytest.mark.parametrize(("room_m", "ending"), [(0.100, Ending.NONE), (0.110, Ending.PROVEN)])
def test_the_model_knows_the_lowest_water(bench: Plan, room_m: float, ending: Ending) -> None:
    """A range of water too narrow for the beds' 107 mm leaves no design; one just wide enough does."""
    tank = bench.site.vessels["tank"]
    narrow = replace(tank, water_min_m=tank.water_max_m - room_m)
    site = replace(bench.site, vessels={**bench.site.vessels, "tank": narrow})
    assert searched(site, bench.catalog).ranking.ending is ending


def test_without_a_sump_the_run_back_stays_in_the_tank(bench: Plan) -> None:
    """With the power off what stands in the pipes comes back to the tank, and stays under its rim."""
    (finding,) = bench.findings("sump-high").values()
    assert at(finding) == "tank"
    assert finding.ok
