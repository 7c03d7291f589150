"""A settler's inlet turned down: asked of drains into settlers alone, drawn, bought and lost head counted."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

import autoplan
from autoplan.catalog.mating import JointKind
from autoplan.catalog.parts import TurnStyle, Way
from autoplan.fittings.corner import Corner
from autoplan.fittings.ends import AtVessel
from autoplan.fittings.rim import OPEN_TURN, OverRim
from autoplan.fittings.wall import DOWN_INLET, ThroughWall
from autoplan.outcome import Finding, Status
from autoplan.problem.brief import SettlerInletBy
from autoplan.report.figures import end_words
from autoplan.rules.asked import Entering
from autoplan.rules.book import read_rules
from autoplan.rules.water.settler_inlet import settles
from tests.lines import ended
from tests.lists import with_row
from tests.rules.conftest import Plan
from tests.short_list import from_shortest_list
from tests.stored import kept, loaded, read

PROBLEM = """
catalog = "metric"
[tank]
volume = "600 L"
depth = "800 mm"
floor = "400 mm"
[settler]
volume = "200 L"
depth = "800 mm"
floor = "300 mm"
[sump]
volume = "500 L"
depth = "600 mm"
floor = "-500 mm"
[wishes]
turnover = "1.5/hour"
"""

ELBOW = Corner(90, TurnStyle.TIGHT, ("elbow-50-90",))


@pytest.fixture(scope="module")
def demo() -> Plan:
    """The demo as it is kept, its tank's drain of 50 mm by a seal through the settler's wall, turned down."""
    held = kept("four-beds")
    site, catalog = read(held["problem"])
    plan = Plan(site, catalog, loaded(held["drawing"]))
    line = replace(plan.drawing.runs["tank drain"], pipe="pn10-50-3m")
    seal = ThroughWall("settler", (), way=Way.SEAL, penetration="seal-50", centre_m=1.1, down=ELBOW)
    return plan.line(ended(line, "finish", end=seal))


def test_turned_down_or_not(demo: Plan) -> None:
    """With its turn it is in order, with a coupling in its place not; over the rim it turns down too."""
    (place,) = demo.findings("settler-inlet")
    assert place == "tank drain at settler"
    assert demo.findings("settler-inlet")[place].ok
    flat = demo.end("tank drain", "finish", down=None, inner_chain=("drain-coupling-50",))
    assert not flat.findings("settler-inlet")[place].ok
    rim = OverRim("settler", corner=OPEN_TURN, centre_m=1.4, mouth_m=1.3)
    over = demo.line(ended(demo.drawing.runs["tank drain"], "finish", end=rim))
    assert over.findings("settler-inlet")[place].ok


def test_only_drains_into_settlers(demo: Plan) -> None:
    """Not what leaves one, nor what a pump sends anywhere."""
    asked = {name for name, run in demo.site.runs.items() if settles(demo.site, run)}
    assert asked == {"tank drain"}
    (rule,) = [rule for rule in read_rules(demo.site).rules if rule.id == "settler-inlet"]
    for name, run in demo.site.runs.items():
        assert rule.admits(Entering(demo.site, run, down=True))
        assert rule.admits(Entering(demo.site, run, down=False)) is (name not in asked)


def test_the_turn_is_bought_joined_and_told(demo: Plan) -> None:
    """Last on the line, glued on the piece that passes the seal, counted once, in the words of the end."""
    survey, line = demo.survey, demo.drawing.runs["tank drain"]
    last = survey.assembled("tank drain").items[-1]
    assert (last.part, last.role) == ("elbow-50-90", DOWN_INLET)
    (joint,) = [one for one in survey.joints if one.run == "tank drain" and one.right == "elbow-50-90"][-1:]
    assert joint.kind in (JointKind.WELDED, JointKind.SCREWED)
    bare = demo.end("tank drain", "finish", down=None)
    assert survey.used_pieces()["elbow-50-90"] == bare.survey.used_pieces()["elbow-50-90"] + 1
    assert isinstance(line.finish, AtVessel)
    said = end_words(demo.catalog, line.finish, "settler")
    assert said.endswith("elbow 50 mm, 90 degrees, tight turned down inside")


def test_a_bulkhead_has_a_stub_between(demo: Plan) -> None:
    """Inside a bulkhead with sockets a stub of pipe carries the turn."""
    end = demo.drawing.runs["tank drain"].finish
    pipe = demo.drawing.runs["tank drain"].pipe
    wall = ThroughWall(
        end.at,
        (pipe,),
        way=Way.BULKHEAD,
        penetration="bulkhead-50",
        inner_chain=(pipe,),
        centre_m=1.1,
        down=ELBOW,
    )
    plan = demo.line(ended(demo.drawing.runs["tank drain"], "finish", end=wall))
    items = plan.survey.assembled("tank drain").items[-3:]
    assert [item.part for item in items] == ["bulkhead-50", pipe, "elbow-50-90"]
    joints = [one for one in plan.survey.joints if one.run == "tank drain"][-2:]
    assert all(joint.kind is not None for joint in joints)


def test_what_the_turn_takes_counts(demo: Plan) -> None:
    """The line loses by it just what the same turn loses along the way."""
    survey, flow = demo.survey, demo.survey.design_flow("tank drain")
    bare = demo.end("tank drain", "finish", down=None).survey
    more = survey.line("tank drain").loss(flow, survey.water) - bare.line("tank drain").loss(flow, bare.water)
    turn = ELBOW.resistance(demo.catalog, survey.pipe("tank drain"))
    narrower = survey.line("tank drain").resistances[-2:]
    assert turn in narrower
    assert more >= turn.loss(flow) - 1e-12
    assert more > 0.0


FOOT_MM, PIPE_MM = 350.0, 50.0
"""Foot of the stilling well over the settler's floor, and the pipe in it."""


@pytest.fixture(scope="module")
def welled(demo: Plan) -> Plan:
    """The demo with a well of 160 mm in place of the turn, its foot 350 mm over the settler's floor."""
    settler = demo.site.vessels["settler"]
    long_m = settler.rim_m - settler.floor_m - FOOT_MM / 1000
    level = settler.floor_m + 0.6
    return demo.end(
        "tank drain",
        "finish",
        down=None,
        well="well-160",
        well_m=long_m,
        centre_m=level - PIPE_MM / 2000,
        inner_chain=("drain-coupling-50",),
    )


def test_a_well_in_place_of_the_turn(welled: Plan) -> None:
    """With a stilling well it is in order, bought, joined by nothing, told with its length."""
    assert all(found.ok for found in welled.findings("settler-inlet").values())
    assert welled.survey.used_pieces()["well-160"] == 1
    assert not any("well-160" in (one.left, one.right) for one in welled.survey.joints)
    finish = welled.drawing.runs["tank drain"].finish
    assert "stilling well" in end_words(welled.catalog, finish, "settler")


@pytest.mark.parametrize(
    ("what", "inside", "past"),
    [
        # Design flow over the area inside, at 0.1 m/s.
        ("speed in its well", {"flow": 0.999}, {"flow": 1.001}),
        ("width of its well", {"inside_m": 0.1}, {"inside_m": 0.0999}),
        ("length of its well", {"tallest": 0.0}, {"tallest": -0.001}),
        ("foot of its well under it", {"centre": 0.5}, {"centre": -0.5}),
        ("foot of its well over the floor", {"off": 0.5}, {"off": -0.5}),
    ],
)
def test_both_sides_of_a_wells_measures(
    welled: Plan, what: str, inside: dict[str, float], past: dict[str, float]
) -> None:
    """Fast, narrow, short, too little under the inlet, too near the floor: just inside holds, past it not."""
    assert measured(welled, **inside)[f"tank drain: {what}"].ok
    assert not measured(welled, **past)[f"tank drain: {what}"].ok


def measured(plan: Plan, **at: float) -> dict[str, Finding]:
    """What is found with one measure of the well brought to its limit, times or plus something."""
    end, settler = plan.drawing.runs["tank drain"].finish, plan.site.vessels["settler"]
    if "flow" in at:
        area = math.pi / 4 * plan.catalog.siphons["well-160"].inside_m ** 2
        plan = plan.flow("tank drain", at["flow"] * 0.1 * area / plan.site.flows["tank drain"].design_m3_s)
    if "inside_m" in at:
        plan = plan.part("well-160", inside_m=at["inside_m"])
    if "tallest" in at:
        plan = plan.part("well-160", tallest_m=end.well_m + at["tallest"])
    if "centre" in at:
        foot = settler.floor_m + FOOT_MM / 1000
        plan = plan.end("tank drain", "finish", centre_m=foot + (100 + PIPE_MM / 2 + at["centre"]) / 1000)
    if "off" in at:
        long_m = settler.rim_m - settler.floor_m - (150 + at["off"]) / 1000
        plan = plan.end("tank drain", "finish", well_m=long_m)
    return plan.findings("settler-inlet")


def test_what_is_asked_for_by_name(demo: Plan, welled: Plan) -> None:
    """Asked for a stilling well a turn does not do, nor the other way round; over the rim is turned down."""
    for by, turn, well in ((SettlerInletBy.WELL, False, True), (SettlerInletBy.TURN, True, False)):
        for plan, held in ((demo, turn), (welled, well)):
            found = plan.wishes(settler_inlet=by).findings("settler-inlet")["tank drain at settler"]
            assert found.ok is held
    site = demo.wishes(settler_inlet=SettlerInletBy.WELL).site
    (rule,) = [rule for rule in read_rules(site).rules if rule.id == "settler-inlet"]
    drain, well = site.runs["tank drain"], demo.catalog.siphons["well-160"]
    assert not rule.admits(Entering(site, drain, down=True, over_rim=True))
    assert rule.admits(Entering(site, drain, down=False, well=well, outside_m=0.05))
    assert not rule.admits(Entering(site, drain, down=False, well=well, outside_m=0.0761))


@pytest.mark.parametrize(
    ("wish", "dear", "welled"),
    [('settler_inlet = "stilling well"', False, True), ("", False, False), ("", True, True)],
)
def test_asked_for_or_chosen_by_price(tmp_path: Path, wish: str, dear: bool, welled: bool) -> None:
    """A well is bought where it is asked for, or where turns have become dear and no rim is crossed."""
    path = tmp_path / "problem.toml"
    path.write_text(from_shortest_list(f"{PROBLEM}{wish}\n"), encoding="utf-8")
    problem, catalog = autoplan.load_problem(path), autoplan.load_catalog("metric")
    if dear:
        tight = [row.id for row in catalog.turns.values() if row.angle == 90]
        for part in tight:
            offers = tuple(replace(offer, price_cents=5000) for offer in catalog.turns[part].offers)
            catalog = with_row(catalog, part, offers=offers)
    outcome = autoplan.design(problem, catalog, top=1)
    assert (outcome.status, outcome.solver.rejected) == (Status.PROVEN, 0)
    end = outcome.designs[0].drawing.runs["tank drain"].finish
    assert (isinstance(end, ThroughWall) and bool(end.well)) is welled
    if welled:
        settler = outcome.site.vessels["settler"]
        pipe = outcome.catalog.pipes[outcome.designs[0].drawing.runs["tank drain"].pipe]
        least = settler.rim_m - settler.water_min_m + pipe.outside_m + 0.1
        assert least - 1e-9 <= end.well_m < least + 0.001


def test_the_rule_decides_what_is_bought(tmp_path: Path) -> None:
    """With it the cheapest design ends turned down, or over the rim; without, flat for no more money."""
    found = {}
    for word, rule in (("on", ""), ("off", "[rules.settler-inlet]\noff = true\n")):
        path = tmp_path / f"{word}.toml"
        path.write_text(from_shortest_list(PROBLEM + rule), encoding="utf-8")
        found[word] = autoplan.design(autoplan.load_problem(path), autoplan.load_catalog("metric"), top=1)
        assert found[word].status is Status.PROVEN
        assert found[word].solver.rejected == 0
    on, off = (found[word].designs[0] for word in ("on", "off"))
    end = on.drawing.runs["tank drain"].finish
    assert isinstance(end, OverRim) or (isinstance(end, ThroughWall) and end.down is not None)
    assert off.objective <= on.objective
