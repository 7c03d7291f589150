"""A drain whose mouth hangs below the water: how deep, how far off the floor, and what it siphons."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

import autoplan
from autoplan.errors import InputError
from autoplan.fittings.rim import OverRim
from autoplan.hydraulics.basins import walk
from autoplan.problem.brief import Mouth
from autoplan.problem.site import Entry
from autoplan.problem.toml.write import expand_to_toml
from autoplan.report.contract import outcome_json
from autoplan.rules.asked import DrawnSo
from autoplan.rules.beds.free_outlet import FreeOutlet
from autoplan.rules.book import read_rules
from autoplan.verdict.hours.waterworks import Waterworks
from tests.rules import by_hand
from tests.rules.conftest import Plan
from tests.rules.limits import drilled
from tests.short_list import from_shortest_list
from tests.walk import PROBLEMS, Problem, Walk

RUN = "tank drain"

FULL_BED_M = 0.4 * 1.0 * 0.25 / (0.6 / 0.6)
"""By how much the sump falls as the bed fills [m]: two fifths of 1 m2 by 250 mm, of 600 L in 600 mm."""


def asked(plan: Plan, mouth: Mouth = Mouth.BELOW_WATER, run: str = RUN) -> Plan:
    """The plan with a drain that is asked to hang so."""
    runs = {**plan.site.runs, run: replace(plan.site.runs[run], mouth=mouth)}
    return replace(plan, site=replace(plan.site, runs=runs))


def hung(plan: Plan, mouth_m: float) -> Plan:
    """The plan with the tank's drain over the sump's rim down to that height above the datum [m]."""
    return plan.end(RUN, "finish", mouth_m=mouth_m)


@pytest.mark.parametrize(("off_mm", "ok"), [(-0.01, True), (0.01, False)])
def test_how_deep_it_hangs(plan: Plan, off_mm: float, ok: bool) -> None:
    """With the bed full 50 mm stand over it (common practice, no source), and a hair less is too little."""
    low = plan.drawing.levels["sump"].design_m - FULL_BED_M
    found = hung(asked(plan), low - 0.050 + off_mm / 1000).findings("drowned-mouth")[RUN]
    assert found.ok is ok
    assert found.limit == pytest.approx(50.0)


@pytest.mark.parametrize(("off_mm", "ok"), [(0.01, True), (-0.01, False)])
def test_how_near_the_floor_it_hangs(plan: Plan, off_mm: float, ok: bool) -> None:
    """50 mm from the floor at least (common practice, no source)."""
    floor = plan.site.vessels["sump"].floor_m
    found = hung(asked(plan), floor + 0.050 + off_mm / 1000).findings("drowned-mouth")
    assert found[f"{RUN}: clear of the floor"].ok is ok


def test_nothing_is_asked_of_a_free_mouth_or_of_a_wall(plan: Plan) -> None:
    """As a run says; where it says nothing, as wished of the whole; a drain in a wall has no mouth."""
    assert not asked(plan, Mouth.FREE).findings("drowned-mouth")
    assert not plan.findings("drowned-mouth")
    wished = plan.wishes(mouth=Mouth.BELOW_WATER)
    assert not wished.findings("drowned-mouth")[RUN].ok
    assert RUN not in asked(wished, Mouth.FREE).findings("drowned-mouth")
    assert RUN not in drilled(asked(plan)).findings("drowned-mouth")


def test_feeds_and_beds_are_never_hung_in_water(plan: Plan) -> None:
    """A wish for the whole is for drains, and for vessels that hold water all the time."""
    site = plan.wishes(mouth=Mouth.BELOW_WATER).site
    hangs = {name for name, run in site.runs.items() if site.mouth_of(run) is Mouth.BELOW_WATER}
    assert hangs == {"tank drain", "bed drain 1"}
    into_bed = replace(site.runs[RUN], finish="bed 1")
    assert site.mouth_of(into_bed) is Mouth.FREE
    assert site.mouth_of(replace(site.runs[RUN], plan=None)) is Mouth.FREE


@pytest.mark.parametrize("deep", [False, True])
def test_the_inlet_decides_what_is_siphoned(plan: Plan, deep: bool) -> None:
    """With the pump off the tank falls to its drain's invert by either mouth: there air comes in."""
    sump = plan.drawing.levels["sump"]
    hangs = hung(plan, sump.design_m - 0.4) if deep else plan
    rim = hangs.drawing.runs[RUN].rim
    assert rim is not None
    assert rim.mouth_m is not None
    assert (rim.mouth_m < sump.design_m) is deep
    works = Waterworks(hangs.survey, {})
    end = walk(works.basins, works.drains(), works.at_design(), 12 * 3600.0)
    (tank,) = [basin for basin in works.basins if basin.name == "tank"]
    level = tank.level(end.waters.volumes_m3["tank"])
    assert level == pytest.approx(by_hand.invert(hangs, RUN), abs=1e-3)
    assert level >= by_hand.invert(hangs, RUN) - 1e-6
    assert not sum(end.spilled_m3.values())


@pytest.mark.parametrize(("over_mm", "ok"), [(1.01, True), (0.99, False)])
def test_how_deep_a_siphon_may_open(plan: Plan, over_mm: float, ok: bool) -> None:
    """What hangs under the lowest water lies deeper as the sump runs, and is hung at a whole millimetre."""
    site = asked(plan, run="bed drain 1").site
    rim = plan.drawing.runs["bed drain 1"].finish
    assert isinstance(rim, OverRim)
    deep = plan.end("bed drain 1", "finish", under_m=FULL_BED_M + 0.050).drawing.runs["bed drain 1"]
    settings = {"free-outlet": {"depth": f"{1000 * FULL_BED_M + 50 + over_mm} mm"}}
    (rule,) = (
        one for one in read_rules(replace(site, rule_settings=settings)).rules if isinstance(one, FreeOutlet)
    )
    assert rule.little_under(DrawnSo(site, plan.catalog, deep)) is ok
    assert rule.little_under(DrawnSo(site, plan.catalog, plan.drawing.runs["bed drain 1"]))
    # A tank's drain is no siphon.
    from_tank = plan.end(RUN, "finish", under_m=5.0).drawing.runs[RUN]
    assert rule.little_under(DrawnSo(site, plan.catalog, from_tank))


@pytest.mark.parametrize(("depth_mm", "ok"), [(99.9, True), (100.2, False)])
def test_a_siphon_that_opens_too_deep_is_found(plan: Plan, depth_mm: float, ok: bool) -> None:
    """100 mm under the running water at most, counted to the mouth and not to the crest."""
    mouth = plan.drawing.levels["sump"].design_m - depth_mm / 1000
    assert plan.end("bed drain 1", "finish", mouth_m=mouth).findings("free-outlet")["bed drain 1"].ok is ok


PROBLEM = """
name = "A tank over a sump"
[[vessel]]
name = "tank"
kind = "tank"
volume = "500 L"
depth = "750 mm"
floor = "150 mm"
[[vessel]]
name = "sump"
kind = "sump"
volume = "300 L"
depth = "500 mm"
floor = "-450 mm"
[[run]]
name = "drain"
kind = "gravity"
from = "tank"
to = "sump"
level = "1.2 m"
entry = "over the rim"
mouth = "{mouth}"
[[run]]
name = "main"
kind = "pressure"
from = "sump"
to = "tank"
level = "1.6 m"
"""


def answered(folder: Path, mouth: str, more: str = "") -> Problem:
    """The JSON of the cheapest design."""
    file = folder / "problem.toml"
    file.write_text(from_shortest_list(PROBLEM.format(mouth=mouth) + more), encoding="utf-8")
    problem = autoplan.load_problem(file)
    return dict(outcome_json(autoplan.design(problem, autoplan.load_catalog("metric"), top=1)))


def test_from_a_problem_to_a_cut_piece(tmp_path: Path) -> None:
    """A stranger walks it; the pipe goes on down to 50 mm under the water, is bought, and counts."""
    free, deep = (answered(tmp_path, mouth) for mouth in ("free", "below water"))
    assert deep["status"] == "proven"
    ends, lengths, losses = [], [], []
    for answer in (free, deep):
        (design,) = answer["designs"]
        assert Walk(answer, design, {}).all() > 0
        drain = next(run for run in design["runs"] if run["name"] == "drain")
        ends.append(drain["ends"][1]["mouth_above_floor_mm"])
        lengths.append(drain["length_m"])
        losses.append(drain["loss_mm"])
    (design,) = deep["designs"]
    (water,) = (level["water_mm"] for level in design["levels"] if level["vessel"] == "sump")
    # No bed: the water stands as it runs. A mark is a whole millimetre.
    assert ends[1] == math.floor(water + 450 - 50 + 1e-6)
    assert ends[1] < water + 450 < ends[0]
    assert lengths[1] - lengths[0] == pytest.approx((ends[0] - ends[1]) / 1000, abs=0.06)
    assert losses[1] > losses[0]
    assert deep["designs"][0]["objective"] >= free["designs"][0]["objective"]
    assert "under the running water" in str(design["told"]["holes"])
    assert "under the running water" not in str(free["designs"][0]["told"]["holes"])


def test_where_the_water_is_too_low_there_is_no_design(tmp_path: Path) -> None:
    """Of 500 mm of wall 80 mm stay dry: none holds 371 mm of water over a mouth 50 mm off the floor."""
    shallow = '[rules.drowned-mouth]\ndepth = "{} mm"\n'
    for depth, status in ((140, "proven"), (371, "none")):
        assert answered(tmp_path, "below water", shallow.format(depth))["status"] == status


def test_what_a_run_says_is_written_back(tmp_path: Path) -> None:
    """The long form has the mouth of each run that says it, and the wish."""
    file = tmp_path / "problem.toml"
    file.write_text(PROBLEM.format(mouth="below water"), encoding="utf-8")
    problem = autoplan.load_problem(file)
    file.write_text(expand_to_toml(problem), encoding="utf-8")
    again = autoplan.load_problem(file)
    assert again.outline.runs == problem.outline.runs
    assert problem.outline.runs["drain"].mouth is Mouth.BELOW_WATER
    assert problem.outline.runs["drain"].entry is Entry.OVER_RIM


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('level = "1.2 m"', 'legs = ["600 mm", "600 mm"]', "only a drain on the plan"),
        ('entry = "over the rim"', 'entry = "wall"', "comes through the wall"),
        ('"below water"', '"deep"', "is not known here"),
        ('level = "1.6 m"', 'level = "1.6 m"\nmouth = "free"', "only a drain on the plan"),
    ],
)
def test_what_has_no_mouth(tmp_path: Path, old: str, new: str, said: str) -> None:
    """A measured drain, one through the wall, a feed, and a word that is not known: each is told."""
    file = tmp_path / "problem.toml"
    text = PROBLEM.format(mouth="below water")
    assert old in text
    file.write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(InputError) as wrong:
        autoplan.load_problem(file)
    (mistake,) = [one for one in wrong.value.mistakes if one.place.endswith(".mouth")]
    assert said in mistake.problem


def test_a_bed_holds_no_mouth_under_water(tmp_path: Path) -> None:
    """Its water goes up and down."""
    text = (PROBLEMS / "two-drains.toml").read_text(encoding="utf-8")
    drain = 'name = "surface drain"'
    file = tmp_path / "problem.toml"
    for mouth, wrong in (("free", 0), ("below water", 1)):
        file.write_text(text.replace(drain, f'{drain}\nmouth = "{mouth}"'), encoding="utf-8")
        if not wrong:
            assert autoplan.load_problem(file).outline.runs["surface drain"].mouth is Mouth.FREE
            continue
        with pytest.raises(InputError, match="goes up and down"):
            autoplan.load_problem(file)
