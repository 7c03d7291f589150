"""What a siphon brings to a small vessel below its bed: by the rule, by hand, and by a walk through hours."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

import autoplan
from autoplan.outcome import Outcome, Status
from autoplan.problem.site import Site
from autoplan.rules.book import read_rules
from autoplan.rules.water.surge import Surge, _flows, surged
from autoplan.verdict.hours.clockwork import Clockwork
from autoplan.verdict.hours.waterworks import Waterworks, bed_siphons
from tests.rules import by_hand
from tests.rules.conftest import Plan
from tests.rules.limits import at_least, crossed
from tests.rules.siphon_by_hand import Siphon
from tests.short_list import from_short_list, from_shorter_list
from tests.stored import stored
from tests.words import at

PROBLEMS = Path(__file__).parents[3] / "problems"

PROBLEM = """
catalog = "metric"
rules.drain-bore.small = "20 mm"
{rule}
[[vessel]]
name = "tank"
kind = "tank"
volume = "700 L"
depth = "750 mm"
floor = "300 mm"
turnover = "1/hour"
[[vessel]]
name = "bed"
kind = "bed"
area = "2 m2"
depth = "320 mm"
flood = "250 mm"
floor = "900 mm"
[[vessel]]
name = "filter"
kind = "biofilter"
volume = "30 L"
depth = "600 mm"
floor = "100 mm"
[[vessel]]
name = "sump"
kind = "sump"
volume = "900 L"
depth = "600 mm"
floor = "-600 mm"
[[junction]]
name = "split"
[[run]]
name = "tank drain"
kind = "gravity"
from = "tank"
to = "sump"
legs = ["1 m", "1 m"]
turns = [90]
[[run]]
name = "main"
kind = "pressure"
from = "sump"
to = "split"
legs = ["0.5 m", "0.5 m"]
turns = [90]
[[run]]
name = "tank feed"
kind = "pressure"
from = "split"
to = "tank"
legs = ["1 m", "1 m", "1 m"]
turns = [90, 90]
[[run]]
name = "bed feed"
kind = "pressure"
from = "split"
to = "bed"
legs = ["0.667 m", "0.667 m", "0.667 m"]
turns = [90, 90]
[[run]]
name = "bed drain"
kind = "gravity"
from = "bed"
to = "filter"
legs = ["0.75 m", "0.75 m"]
turns = [90]
[[run]]
name = "filter drain"
kind = "gravity"
from = "filter"
to = "sump"
legs = ["0.75 m", "0.75 m"]
turns = [90]
"""

OFF = "rules.surge.off = true"


def site(folder: Path, rule: str = "") -> Site:
    """A bed of 200 L a flood over a filter of 30 L."""
    path = folder / "filter.toml"
    path.write_text(from_shorter_list(PROBLEM.format(rule=rule)))
    return autoplan.load_problem(path).outline


@pytest.fixture(scope="module")
def held(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    """The cheapest design under the rule."""
    asked = site(tmp_path_factory.mktemp("held"))
    return autoplan.design(asked, autoplan.load_catalog("metric"), top=1)


@pytest.fixture(scope="module")
def loose() -> Outcome:
    """The cheapest design without it."""
    return stored("filter-runs-over", from_short_list(PROBLEM.format(rule=OFF)))


def plan_of(outcome: Outcome) -> Plan:
    """Its first design."""
    assert outcome.status is Status.PROVEN
    return Plan(outcome.site, outcome.catalog, outcome.designs[0].drawing)


def six_hours(plan: Plan) -> tuple[float, float]:
    """Water that the filter loses over its rim in six hours [m3], and the highest it stands [m]."""
    works = Waterworks(plan.survey, bed_siphons(plan.survey))
    seen = Clockwork(works, lambda _: works.as_designed()).walk(works.at_design(), 6 * 3600.0, 0.0).history
    return seen.spilled_m3["filter"], seen.highest_m["filter"]


def surge(plan: Plan) -> float:
    """Dry wall that the rule finds [m], whether or not it is in force."""
    (found,) = Surge({"freeboard": 0.020}).check(plan.survey)
    assert at(found) == "filter"
    return found.value / 1000


def test_without_the_rule_the_filter_runs_over(loose: Outcome) -> None:
    """The walk loses litres each hour that nobody would see coming, and the rule says so."""
    plan = plan_of(loose)
    assert six_hours(plan)[0] > 0.005
    assert surge(plan) < 0.020


def test_under_the_rule_it_does_not(held: Outcome, loose: Outcome) -> None:
    """Another design, no cheaper, of which the walk loses nothing; nothing was found by being sent back."""
    plan = plan_of(held)
    spilled, highest = six_hours(plan)
    assert spilled == 0.0
    assert surge(plan) >= 0.020
    assert plan.site.vessels["filter"].rim_m - highest >= surge(plan) - 1e-3
    assert held.solver.rejected == 0
    assert held.designs[0].objective >= loose.designs[0].objective


def brought(plan: Any) -> float:
    """What the siphon carries with the bed full [m3/s]: all of the fall from 1150 mm goes into its losses."""
    line, water = plan.drawing.runs["bed drain"], plan.drawing.levels["filter"].design_m
    fall = 1.150 - max(water, line.finish.centre_m + plan.catalog.pipes[line.pipe].outside_m / 2)
    lossy = plan.survey.line("bed drain")
    return by_hand.halved(lambda flow: lossy.loss(flow, plan.survey.water) <= fall, 1e-9, 1e-2)


def dry_mm(plan: Any) -> float:
    """Wall over the filter's water while its own drain passes on what the siphon carries [mm]."""
    filter_, sump = plan.site.vessels["filter"], plan.drawing.levels["sump"].design_m
    top = by_hand.passes(plan, "filter drain", brought(plan), sump)
    return float((filter_.floor_m + filter_.depth_m - top) * 1000)


def test_what_the_siphon_brings(held: Outcome) -> None:
    """Over four times the bed's inflow of 400 L/h; by textbook losses it is as much to 3 per cent."""
    plan = plan_of(held)
    hand = Siphon(plan.site, plan.catalog, plan.drawing, "bed drain").flow(0.250)
    assert brought(plan) == pytest.approx(hand, rel=0.03)
    assert plan.survey.design_flow("bed drain") == pytest.approx(400 / 3.6e6)
    assert hand > 4 * 400 / 3.6e6


def test_both_sides_of_the_wall(held: Outcome) -> None:
    """A filter that keeps 20 mm of wall is just high enough; a sixteenth of a millimetre less is not."""

    def lower(plan: Any, by_mm: float) -> Any:
        return plan.vessel("filter", depth_m=plan.site.vessels["filter"].depth_m - by_mm / 1000)

    crossed(plan_of(held), at_least("surge", "filter", 20.0, dry_mm, lower, past_mm=0.06))


def test_a_wide_vessel_holds_the_flood(held: Outcome) -> None:
    """On 20 m2 the 0.4 x 2 m2 x 0.25 m of a flood stand 10 mm high, whatever its drain passes."""
    plan = plan_of(held)
    wide = plan.vessel("filter", area_m2=20.0)
    vessel = wide.site.vessels["filter"]
    assert vessel.rim_m - wide.survey.level("filter") - surge(wide) == pytest.approx(0.010, abs=1e-6)


def changed(folder: Path, *changes: tuple[str, str]) -> Site:
    """The problem with some of its text changed."""
    path, text = folder / "changed.toml", PROBLEM.format(rule="")
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    path.write_text(from_shorter_list(text))
    return autoplan.load_problem(path).outline


BED_DRAIN, FILTER_DRAIN = 'from = "bed"\nto = "filter"', 'from = "filter"\nto = "sump"'
TANK_DRAIN = 'from = "tank"\nto = "sump"'


def test_whom_it_concerns(tmp_path: Path) -> None:
    """A plain standpipe brings no surge, and of what a pump empties nothing is said."""
    standing = ('flood = "250 mm"', 'flood = "250 mm"\ndrain = "standpipe"')
    assert not Surge.concerns(changed(tmp_path, standing))
    assert Surge.concerns(changed(tmp_path))
    assert not Surge.concerns(autoplan.load_problem(PROBLEMS / "one-tank-one-bed.toml").outline)
    assert not Surge.concerns(autoplan.load_problem(PROBLEMS / "no-sump.toml").outline)


def test_a_bed_below_a_bed_passes_on_what_its_siphon_carries(tmp_path: Path) -> None:
    """The filter gets the lower bed's siphon alone, and of that bed itself nothing is said."""
    lower = """
[[vessel]]
name = "lower bed"
kind = "bed"
area = "2 m2"
depth = "320 mm"
flood = "250 mm"
floor = "700 mm"
[[run]]
name = "lower drain"
kind = "gravity"
from = "lower bed"
to = "filter"
legs = ["0.75 m", "0.75 m"]
turns = [90]
"""
    found = changed(
        tmp_path,
        (BED_DRAIN, 'from = "bed"\nto = "lower bed"'),
        ("[[junction]]", f"{lower}[[junction]]"),
        ('floor = "900 mm"', 'floor = "1300 mm"'),
    )
    assert surged(found) == {"filter": ("lower drain",)}


def test_only_its_own_water_grows(tmp_path: Path) -> None:
    """In a drain that filter and tank share, the tank's water stays what it is."""
    shared = """
[[junction]]
name = "wye"
[[run]]
name = "shared drain"
kind = "gravity"
from = "wye"
to = "sump"
legs = ["1 m"]
[[junction]]
name = "split"
"""
    joined = (
        (FILTER_DRAIN, 'from = "filter"\nto = "wye"'),
        (TANK_DRAIN, 'from = "tank"\nto = "wye"'),
        ('[[junction]]\nname = "split"\n', shared),
    )
    found = changed(tmp_path, *joined)
    design = {name: flow.design_m3_s for name, flow in found.flows.items()}
    flows = _flows(found, "filter", 3.0)
    assert flows["filter drain"] == pytest.approx(3 * design["filter drain"])
    assert flows["shared drain"] == pytest.approx(design["tank drain"] + 3 * design["filter drain"])
    assert {name for name in flows if flows[name] != design[name]} == {"filter drain", "shared drain"}


@pytest.mark.long
def test_a_tank_below_the_filter_holds_what_comes(tmp_path: Path) -> None:
    """Where the vessel further down has room for the flood, the one above drains against the raised water."""
    below = changed(
        tmp_path,
        (FILTER_DRAIN, 'from = "filter"\nto = "tank"'),
        (
            'volume = "700 L"\ndepth = "750 mm"\nfloor = "300 mm"',
            'volume = "900 L"\ndepth = "750 mm"\nfloor = "0 mm"',
        ),
        ('turnover = "1/hour"', 'turnover = "1/hour"\nwater_min = "350 mm"\nwater_max = "450 mm"'),
        ('floor = "100 mm"', 'floor = "300 mm"'),
    )
    assert surged(below) == {"tank": ("bed drain",), "filter": ("bed drain",)}
    outcome = autoplan.design(below, autoplan.load_catalog("metric"), top=1)
    assert outcome.solver.rejected == 0
    plan = plan_of(outcome)
    found = plan.findings("surge")
    assert six_hours(plan)[0] == 0.0
    # 200 L on the tank's surface, over its design level.
    tank = plan.site.vessels["tank"]
    held = plan.survey.level("tank") + 0.2 / tank.area_m2
    assert tank.rim_m - found["tank"].value / 1000 <= held + 1e-6
    assert all(finding.ok for finding in found.values())


def test_what_lies_further_down_is_told_too(held: Outcome) -> None:
    """Were the sump not pumped, the flood would come to it as well, and it is looked at first."""
    runs = held.site.runs
    still = {name: run for name, run in runs.items() if run.kind != "pressure"}
    assert surged(replace(held.site, runs=still)) == {"sump": ("bed drain",), "filter": ("bed drain",)}
    assert surged(held.site) == {"filter": ("bed drain",)}


def test_it_is_in_the_book(held: Outcome) -> None:
    """Its freeboard is an assumption where it concerns a site."""
    places = {assumed.place for assumed in read_rules(held.site).assumptions}
    assert "rules.surge.freeboard" in places
