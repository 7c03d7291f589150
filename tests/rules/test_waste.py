"""Waste of the filters: by a drain that falls far enough, else by a hand pump."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

import autoplan
from autoplan.catalog.naming import name_of
from autoplan.errors import InputError
from autoplan.fittings.valve import ValveSet
from autoplan.hydraulics.basins import walk
from autoplan.line.water import inlet_of
from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.options.making import NoOptionError
from autoplan.optimiser.search.solve import Ending
from autoplan.outcome import Finding, Outcome
from autoplan.problem.brief import HandPumpWish
from autoplan.problem.site import RunKind, Site
from autoplan.problem.toml.write import expand_to_toml
from autoplan.report.render.plain import plain_text
from autoplan.report.render.show import report
from autoplan.rules.book import read_rules
from autoplan.rules.survey import Survey
from autoplan.rules.water.waste_drain import WasteDrain
from autoplan.verdict.faults.scenarios import NIGHT_S, Scenarios
from autoplan.verdict.hours.waterworks import Waterworks
from autoplan.verdict.steady.network import steady
from autoplan.verdict.steady.supplies import Supplies
from tests.rules.conftest import Plan
from tests.rules.limits import at_least, crossed
from tests.searched import searched
from tests.stored import stored
from tests.words import by_place

PROBLEM = """
name = "Sludge to the garden"
[tank]
volume = "500 L"
depth = "750 mm"
floor = "250 mm"
[settler]
volume = "150 L"
waste = true
waste_height = "50 mm"
[biofilter]
volume = "150 L"
floor = "50 mm"
waste = true
waste_height = "1 m"
[sump]
volume = "300 L"
depth = "500 mm"
floor = "-450 mm"
"""


def load(folder: Path, text: str) -> Site:
    """The site of a text."""
    path = folder / "waste.toml"
    path.write_text(text, encoding="utf-8")
    return autoplan.load_problem(path).outline


@pytest.mark.parametrize(("ground", "height_m"), [("", 0.0), ('ground = "300 mm"\n', 0.3)])
def test_where_nothing_is_said_it_ends_on_the_ground_there(
    tmp_path: Path, ground: str, height_m: float
) -> None:
    """The open end lies on the ground at the filter, and the assumption says so."""
    text = PROBLEM.replace('waste = true\nwaste_height = "50 mm"', f"{ground}waste = true", 1)
    site = load(tmp_path, text.replace("[tank]", '[tank]\nground = "600 mm"'))
    assert site.junctions["settler waste end"].open_m == pytest.approx(height_m)
    (told,) = [one for one in site.assumptions if one.place == "settler.waste_height"]
    assert told.text == ("300 mm" if ground else "0 mm")


@pytest.fixture(scope="module")
def outcome() -> Outcome:
    """Its cheapest design."""
    return stored("sludge-to-the-garden", PROBLEM)


def findings(outcome: Outcome, site: Site, hand: Mapping[str, str] | None = None) -> dict[str, Finding]:
    """What the rule says of the design on a changed site, with other hand pumps."""
    drawing = outcome.designs[0].drawing
    if hand is not None:
        drawing = replace(drawing, hand_pumps=hand)
    (rule,) = [rule for rule in read_rules(site).rules if rule.id == "waste-drain"]
    return by_place(rule.check(Survey(site, outcome.catalog, drawing)))


def test_gravity_where_it_falls_and_by_hand_where_not(outcome: Outcome) -> None:
    """The settler stands high enough over its place, the biofilter does not; neither is in the balance."""
    site, drawing = outcome.site, outcome.designs[0].drawing
    run = site.runs["settler waste"]
    assert (run.kind, run.waste, run.valve) == (RunKind.GRAVITY, True, True)
    assert site.flows[run.name].design_m3_s == 0
    line = drawing.runs[run.name]
    assert line.one(ValveSet) is not None
    foot = inlet_of(line).centre_m
    assert foot is not None
    assert foot - site.vessels["settler"].floor_m < 0.1
    assert list(drawing.hand_pumps) == ["biofilter"]
    assert {item.place for item in site.assumptions} >= {"settler.waste_by", "biofilter.waste_by"}


JET_MM = 0.6**2 / (2 * 9.80665) * 1000
"""Velocity head at 0.6 m/s: 18.36 mm."""


def to_spare_mm(plan: Any) -> float:
    """The fall to the open end at 50 mm, less what the pipe and its jet take at 0.6 m/s [mm]."""
    flow = 0.6 * math.pi / 4 * plan.catalog.pipes[plan.drawing.runs["settler waste"].pipe].bore_m ** 2
    lost = plan.survey.line("settler waste").loss(flow, plan.survey.water) * 1000
    return float(plan.drawing.levels["settler"].design_m * 1000 - 50.0 - lost - JET_MM)


def end_raised(plan: Any, by_mm: float) -> Any:
    """The open end of the waste drain moved up."""
    end = plan.site.junctions["settler waste end"]
    moved = replace(end, open_m=end.open_m + by_mm / 1000)
    return replace(plan, site=replace(plan.site, junctions={**plan.site.junctions, end.name: moved}))


def test_fall_just_enough(outcome: Outcome) -> None:
    """The open end raised by what is to spare still flushes; a hundredth of a millimetre more does not."""
    plan = Plan(outcome.site, outcome.catalog, outcome.designs[0].drawing)
    crossed(plan, at_least("waste-drain", "settler waste", 0.0, to_spare_mm, end_raised))


def test_head_by_hand(outcome: Outcome) -> None:
    """4 m along, 347 mm down of 36.2 mm, an inlet, a ball valve, three pairs of 45s, the jet, at 0.6 m/s.

    Re = 0.6 x 0.0362 / 1.004e-6 = 21 600; f = 0.0254 by Prandtl for a smooth pipe, 0.316 / Re^0.25 = 0.0261
    by Blasius: f L / D = 3.05 to 3.13. K: 0.5 for an inlet with a coupling on it (Idelchik); a pair of 45s no
    more than an elbow of 30 fT, 0.628 in its bore of 34 mm, (36.2 / 34)^4 as much in the pipe's; the valve's
    seat of 34 mm 3 fT and the steps to it and from it: 0.17 (Crane TP-410).
    """
    pipe = outcome.catalog.pipes[outcome.designs[0].drawing.runs["settler waste"].pipe]
    assert pipe.bore_m == 0.0362
    pairs = 3 * 0.628 * (36.2 / 34) ** 4
    least, most = ((friction + 0.5 + 0.17 + pairs + 1.0) * JET_MM for friction in (3.05, 3.13))
    assert least < findings(outcome, outcome.site)["settler waste"].limit < most


def test_hand_pump_lifts_and_reaches(outcome: Outcome) -> None:
    """As much as it can lift and reach holds, a millimetre more does not; none at all is nothing."""
    site, part = outcome.site, outcome.designs[0].drawing.hand_pumps["biofilter"]
    row = outcome.catalog.fixtures[part]

    def wished(lift: float, reach: float) -> Site:
        return replace(site, hand_pumps=(HandPumpWish("biofilter", lift, reach),))

    most = wished(row.lift_m, row.reach_m)
    assert all(found.ok for found in findings(outcome, most).values())
    assert not findings(outcome, wished(row.lift_m + 0.001, 1))["biofilter: lift by hand"].ok
    assert not findings(outcome, wished(0.1, row.reach_m + 0.001))["biofilter: hose"].ok
    assert not findings(outcome, most, {})["biofilter: hose"].ok


def test_the_model_asks_the_rule(outcome: Outcome) -> None:
    """No hand pump of the list reaches 50 m: none is admitted, unless the rule is off."""
    far = replace(outcome.site, hand_pumps=(HandPumpWish("biofilter", 0.5, 50.0),))
    with pytest.raises(NoOptionError, match="hand pump"):
        Draft(far, outcome.catalog, read_rules(far))
    book = read_rules(far).without("waste-drain")
    assert Draft(far, outcome.catalog, book).hand_pumps()["biofilter"]


def test_the_model_knows_the_fall(outcome: Outcome) -> None:
    """With the open end at the settler's highest water no level drives it, and the search says so.

    Its leg is measured: on the plan the geometry alone would say so.
    """
    high = outcome.site.vessels["settler"].water_max_m - 0.02
    end = replace(outcome.site.junctions["settler waste end"], open_m=high)
    site = replace(outcome.site, junctions={**outcome.site.junctions, end.name: end})
    drain = replace(site.runs["settler waste"], legs_m=(2.0,), turns=(), plan=None)
    site = replace(site, runs={**site.runs, drain.name: drain})
    for book, ending in (
        (read_rules(site), Ending.NONE),
        (read_rules(site).without(WasteDrain.id), Ending.PROVEN),
    ):
        assert searched(site, outcome.catalog, book).ranking.ending is ending


def test_told_and_bought(outcome: Outcome) -> None:
    """The list has both, and the text says where the pipe ends and that its valve stays shut."""
    text = " ".join(plain_text(report(outcome)).split())
    assert "valve shut, its handle taken off, but to flush" in text
    assert "end in the open, 50 mm above the height that the problem counts from (0)" in text
    part = outcome.designs[0].drawing.hand_pumps["biofilter"]
    assert (
        f"Waste of biofilter: pumped out by hand over the rim with {name_of(outcome.catalog, part)}." in text
    )
    assert part in {line.part for line in outcome.designs[0].drawing.purchases}


def test_long_form(tmp_path: Path, outcome: Outcome) -> None:
    """Written out and read again it is the same; a waste drain must end in the open, and nothing else may."""
    text = expand_to_toml(outcome.site)
    again = load(tmp_path, text)
    assert (again.runs, again.junctions) == (outcome.site.runs, outcome.site.junctions)
    assert again.hand_pumps == outcome.site.hand_pumps
    for old, new, said in (
        ("waste = true", "waste = false", "an open end"),
        ('open = "50 mm"\n', "", "waste drain is a gravity run"),
        ('[hand_pumps."biofilter"]', "[hand_pumps.filter]", "no vessel is called"),
    ):
        changed = text.replace(old, new)
        assert changed != text
        with pytest.raises(InputError, match=said):
            load(tmp_path, changed)


BEDS = '[beds]\ncount = 2\narea = "1 m2"\nfloor = "-200 mm"\nscreen = true\n'


def test_in_series_too(tmp_path: Path) -> None:
    """Waste, overflow and screens stand in series too; the last filter has its screen on each line."""
    text = PROBLEM.replace("-450 mm", "-900 mm").replace("[tank]\n", "[tank]\noverflow = true\n")
    text = text.replace("[biofilter]\n", "[biofilter]\nscreen = true\n")
    text += BEDS + '[distances]\nsettler_waste = "2 m"\ntank_overflow = "3 m"\n'
    site = load(tmp_path, 'arrangement = "series"\n' + text)
    assert site.runs["settler waste"].length_m == pytest.approx(2.0)
    assert site.runs["settler waste"].idle
    assert site.runs["tank overflow"].idle
    assert [wish.vessel for wish in site.hand_pumps] == ["biofilter"]
    screened = {name for name, run in site.runs.items() if run.screen}
    assert screened == {"bed feed 1", "bed feed 2", "bed drain 1", "bed drain 2"}


def test_without_a_sump_there_is_no_place_for_them(tmp_path: Path) -> None:
    """No filter has waste where the beds are the filter, and a pumped tank has no drain to screen."""
    tank = '[tank]\nvolume = "500 L"\nscreen = true\noverflow = true\n'
    with pytest.raises(InputError) as caught:
        load(
            tmp_path,
            'arrangement = "no sump"\n' + tank + BEDS + '[settler]\nvolume = "150 L"\nwaste = true\n',
        )
    places = {mistake.place for mistake in caught.value.mistakes}
    assert {"tank.screen", "tank.overflow", "settler"} <= places


def test_a_blocked_filter_does_not_run_out_by_its_waste(outcome: Outcome) -> None:
    """With the only drain shut the water has no other way: the waste drain's own valve is shut."""
    survey = Survey(outcome.site, outcome.catalog, outcome.designs[0].drawing)
    works = Waterworks(survey, {})
    assert works.overflows == ()
    assert ("settler waste",) not in works.paths
    solution = steady(survey, shut=("settler drain",))
    assert solution.flows["settler waste"] == 0.0
    assert solution.levels["settler"] == math.inf


def test_a_waste_drain_that_comes_apart_empties_its_filter(outcome: Outcome) -> None:
    """Off before its valve it lets the settler run down to the foot of its wall."""
    survey = Survey(outcome.site, outcome.catalog, outcome.designs[0].drawing)
    works, settler = Waterworks(survey, {}), outcome.site.vessels["settler"]
    trials = Scenarios(works, Supplies(works))
    (off,) = [t for t in trials.all() if (t.place, t.what) == ("settler waste", "comes apart")]
    (mood,) = trials.moods
    end = walk(works.basins, off.links(mood), off.start(mood), NIGHT_S)
    basin = next(basin for basin in works.basins if basin.name == "settler")
    left = basin.level(end.waters.volumes_m3["settler"]) - settler.floor_m
    assert left == pytest.approx(survey.control_height("settler waste") - settler.floor_m, abs=3e-3)
    assert left < 0.1
    held = survey.control_height("settler drain") - survey.control_height("settler waste")
    assert end.moved_m3["settler waste"] > held * settler.area_m2
