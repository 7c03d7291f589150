"""Room for a shower in a power cut: both sides of the limit by hand, and what a shipped problem lacks."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from autoplan import load_problem
from autoplan.rules.water.rain_room import RainRoom, rain_m3
from tests.rules import by_hand
from tests.rules.conftest import Plan

PROBLEMS = Path(__file__).parents[3] / "problems"


def test_the_shower_by_hand(plan: Plan) -> None:
    """30 mm on a tank of 1200 L / 800 mm, a bed of 1 m2 and a sump of 600 L / 600 mm: 3.5 m2, 105 L."""
    assert plan.site.wishes.rain_m == pytest.approx(0.03)
    assert rain_m3(plan.site, "sump") == pytest.approx(0.105)
    (finding,) = plan.findings("rain-room").values()
    assert (finding.limit, finding.unit) == (pytest.approx(105.0), "L")
    assert finding.value == pytest.approx(by_hand.run_back_mm(plan) * 1.0)
    assert not finding.hard


@pytest.mark.parametrize(("share", "ok"), [(0.999, True), (1.001, False)])
def test_both_sides_of_the_room(plan: Plan, share: float, ok: bool) -> None:
    """A shower that just fills what the power cut leaves fits, and a thousandth more does not."""
    room = by_hand.run_back_mm(plan) / 1000 * 1.0
    (finding,) = plan.wishes(rain_m=share * room / 3.5).findings("rain-room").values()
    assert finding.ok is ok
    assert "has room for {value} of rain" in finding.warning


def test_under_a_roof_nothing_is_said(plan: Plan) -> None:
    """With rain = "0 mm" there is no finding, and its setting is none of the site's concern."""
    dry = plan.wishes(rain_m=0.0)
    assert dry.findings("rain-room") == {}
    assert not RainRoom.concerns(dry.site)
    assert RainRoom.concerns(plan.site)


def test_what_drains_elsewhere_brings_no_rain(plan: Plan) -> None:
    """Rain on a vessel comes to the pumped vessel that it drains to, and to no other."""
    runs = {name: run for name, run in plan.site.runs.items() if name != "tank drain"}
    assert rain_m3(replace(plan.site, runs=runs), "sump") == pytest.approx(0.03 * (1.0 + 1.0))


def test_the_demo_in_a_shower() -> None:
    """30 mm on 1600/900 + 220/850 + 200/800 + 4 x 1.2 + 1000/700 L/mm: 8.515 m2, 255 L into its sump."""
    site = load_problem(PROBLEMS / "four-beds.toml").outline
    assert rain_m3(site, "sump") * 1000 == pytest.approx(255.5, abs=0.1)
