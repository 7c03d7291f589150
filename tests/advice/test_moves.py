"""A vessel that is moved in trying is where it would be if its floor were written so."""

from __future__ import annotations

import pytest

from autoplan.advice.moves import Move
from autoplan.problem.site import Site
from autoplan.problem.toml.load import problem_from

BEDS = tuple(f"bed {number}" for number in (1, 2, 3))


def site(heights: str = "", **floors: int) -> Site:
    """A tank, three beds and a sump, some of them elsewhere than usual [mm]."""
    tank, beds, sump = (
        floors.get(name, usual) for name, usual in (("tank", 300), ("beds", 650), ("sump", -400))
    )
    text = f"""
[tank]
volume = "900 L"
depth = "800 mm"
floor = "{tank} mm"
[beds]
count = 3
area = "1 m2"
floor = "{beds} mm"
bed_drains = "shared"
[sump]
volume = "800 L"
depth = "700 mm"
floor = "{sump} mm"
{heights}
"""
    return problem_from(text, "moved.toml").outline


@pytest.mark.parametrize(
    "heights", ["", '[heights]\nfeeds = "on the ground"\nbed_to_sump = "buried 300 mm"\n']
)
@pytest.mark.parametrize("by_mm", [40, -40])
@pytest.mark.parametrize(
    ("name", "vessels"),
    [("tank", ("tank",)), ("sump", ("sump",)), ("beds", BEDS)],
    ids=["tank", "sump", "beds"],
)
def test_lines_go_along(name: str, vessels: tuple[str, ...], by_mm: int, heights: str) -> None:
    """What lies over its rim or under it moves with it, what lies on the ground or in it does not."""
    usual = {"tank": 300, "beds": 650, "sump": -400}[name]
    moved = Move(name, vessels, by_mm > 0, 1).at(site(heights), abs(by_mm))
    written = site(heights, **{name: usual + by_mm})
    for run in written.runs.values():
        mine = moved.runs[run.name]
        assert (mine.vent_m is None) is (run.vent_m is None)
        assert mine.vent_m is None or mine.vent_m == pytest.approx(run.vent_m)
        assert mine.plan is not None
        assert run.plan is not None
        assert (mine.plan.height_m is None) is (run.plan.height_m is None)
        assert mine.plan.height_m is None or mine.plan.height_m == pytest.approx(run.plan.height_m)
    for junction in written.junctions.values():
        assert moved.junctions[junction.name].height_m == pytest.approx(junction.height_m)
    for vessel in written.vessels.values():
        mine_too = moved.vessels[vessel.name]
        assert (mine_too.floor_m, mine_too.water_min_m) == pytest.approx((vessel.floor_m, vessel.water_min_m))
