"""The rim of a vessel that is dug in: both sides of either limit, and when nothing is said."""

from __future__ import annotations

from pathlib import Path

import pytest

from autoplan import load_problem
from autoplan.rules.water.sump_rim import SumpRim, dug_in
from tests.rules.conftest import Plan

PROBLEMS = Path(__file__).parents[3] / "problems"

RUN_OFF, CHILDREN = "sump: run-off", "sump: children"


@pytest.mark.parametrize(
    ("rim_mm", "dry", "safe"),
    [(99.9, False, False), (100.0, True, False), (599.9, True, False), (600.0, True, True)],
)
def test_both_sides_of_both_limits(plan: Plan, rim_mm: float, dry: bool, safe: bool) -> None:
    """100 mm over the ground keep run-off out, 600 mm a child (common practice; from memory)."""
    floor = plan.site.vessels["sump"].floor_m
    deep = plan.vessel("sump", depth_m=1.0, ground_m=floor + 1.0 - rim_mm / 1000)
    found = deep.findings("sump-rim")
    assert (found[RUN_OFF].ok, found[CHILDREN].ok) == (dry, safe)
    assert found[RUN_OFF].value == pytest.approx(rim_mm)
    assert not any(finding.hard for finding in found.values())


def test_a_cover_is_for_children_alone(plan: Plan) -> None:
    """Under a lid nobody falls in, but run-off does."""
    assert set(plan.vessel("sump", cover=True).findings("sump-rim")) == {RUN_OFF}


@pytest.mark.parametrize(("floor_mm", "said"), [(0.0, False), (-0.9, False), (-1.1, True)])
def test_only_of_what_is_dug_in(plan: Plan, floor_mm: float, said: bool) -> None:
    """A floor on the ground, or a hair under it, is no pit."""
    vessel = plan.site.vessels["sump"]
    stands = plan.vessel("sump", ground_m=vessel.floor_m - floor_mm / 1000)
    assert dug_in(stands.site.vessels["sump"]) is said
    assert (RUN_OFF in stands.findings("sump-rim")) is said
    assert SumpRim.concerns(stands.site) is said


def test_the_demo_has_just_enough_against_run_off(plan: Plan) -> None:
    """Its sump of 700 mm stands 600 mm in the ground: 100 mm over it, which keep run-off out and no child."""
    vessel = load_problem(PROBLEMS / "four-beds.toml").outline.vessels["sump"]
    found = plan.vessel("sump", ground_m=0.0, floor_m=vessel.floor_m, depth_m=vessel.depth_m)
    findings = found.findings("sump-rim")
    assert findings[RUN_OFF].ok
    assert not findings[CHILDREN].ok
    assert "lay a lid on it" in findings[CHILDREN].warning
