"""What a siphon brings to a small vessel below its bed: by the rule, by hand, and by a walk through hours."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

import autoplan
from autoplan.outcome import Outcome, Status
from autoplan.problem.site import Site
from autoplan.rules.book import read_rules
from autoplan.rules.surge import Surge, surged
from autoplan.verdict.clockwork import Clockwork
from autoplan.verdict.waterworks import Waterworks, bed_siphons
from tests.rules.conftest import Plan
from tests.short_list import from_short_list

PROBLEMS = Path(__file__).parents[2] / "problems"

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
length = "2 m"
turns = [90]
[[run]]
name = "main"
kind = "pressure"
from = "sump"
to = "split"
length = "1 m"
turns = [90]
[[run]]
name = "tank feed"
kind = "pressure"
from = "split"
to = "tank"
length = "3 m"
turns = [90, 90]
[[run]]
name = "bed feed"
kind = "pressure"
from = "split"
to = "bed"
length = "2 m"
turns = [90, 90]
[[run]]
name = "bed drain"
kind = "gravity"
from = "bed"
to = "filter"
length = "1.5 m"
turns = [90]
[[run]]
name = "filter drain"
kind = "gravity"
from = "filter"
to = "sump"
length = "1.5 m"
turns = [90]
"""

OFF = "rules.surge.off = true"


def site(folder: Path, rule: str = "") -> Site:
    """A bed of 200 L a flood over a filter of 30 L."""
    path = folder / "filter.toml"
    path.write_text(from_short_list(PROBLEM.format(rule=rule)))
    return autoplan.load_problem(path)


@pytest.fixture(scope="module")
def held(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    """The cheapest design under the rule."""
    asked = site(tmp_path_factory.mktemp("held"))
    return autoplan.design(asked, autoplan.load_catalog("metric"), top=1)


@pytest.fixture(scope="module")
def loose(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    """The cheapest design without it."""
    asked = site(tmp_path_factory.mktemp("loose"), OFF)
    return autoplan.design(asked, autoplan.load_catalog("metric"), top=1)


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
    (found,) = Surge({"freeboard": 0.010}).check(plan.survey)
    assert found.place == "filter"
    return found.value / 1000


def test_without_the_rule_the_filter_runs_over(loose: Outcome) -> None:
    """The walk loses litres each hour that nobody would see coming, and the rule says so."""
    plan = plan_of(loose)
    assert six_hours(plan)[0] > 0.005
    assert surge(plan) < 0.010


def test_under_the_rule_it_does_not(held: Outcome, loose: Outcome) -> None:
    """Another design, no cheaper, of which the walk loses nothing; nothing was found by being sent back."""
    plan = plan_of(held)
    spilled, highest = six_hours(plan)
    assert spilled == 0.0
    assert surge(plan) >= 0.010
    assert plan.site.vessels["filter"].rim_m - highest >= surge(plan) - 1e-3
    assert held.solver.rejected == 0
    assert held.designs[0].objective >= loose.designs[0].objective


def test_both_sides_of_the_wall(held: Outcome) -> None:
    """A filter lower by its margin is just high enough, by a tenth of a millimetre more it is not."""
    plan = plan_of(held)
    depth, spare = plan.site.vessels["filter"].depth_m, surge(plan) - 0.010
    for lower, ok in ((spare - 1e-5, True), (spare + 1e-4, False)):
        assert plan.vessel("filter", depth_m=depth - lower).findings("surge")["filter"].ok is ok


def test_a_wide_vessel_holds_the_flood(held: Outcome) -> None:
    """On 20 m2 the 0.4 x 2 m2 x 0.25 m of a flood stand 10 mm high, whatever its drain passes."""
    plan = plan_of(held)
    wide = plan.vessel("filter", area_m2=20.0)
    vessel = wide.site.vessels["filter"]
    assert vessel.rim_m - wide.survey.level("filter") - surge(wide) == pytest.approx(0.010, abs=1e-6)


def test_a_rule_that_mostly_has_nothing_to_say() -> None:
    """Beds that empty into a sump or a pumped tank: that is for the sump's own rules."""
    concerned = [path.name for path in PROBLEMS.glob("*.toml") if Surge.concerns(autoplan.load_problem(path))]
    assert concerned == []


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
