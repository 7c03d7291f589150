"""A settler's inlet turned down: asked of drains into settlers alone, drawn, bought and lost head counted."""

from __future__ import annotations

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
from autoplan.outcome import Status
from autoplan.report.figures import end_words
from autoplan.rules.asked import Entering
from autoplan.rules.book import read_rules
from autoplan.rules.water.settler_inlet import settles
from tests.lines import ended
from tests.rules.conftest import Plan
from tests.short_list import from_shorter_list
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


def test_the_rule_decides_what_is_bought(tmp_path: Path) -> None:
    """With it the cheapest design ends turned down, or over the rim; without, flat for no more money."""
    found = {}
    for word, rule in (("on", ""), ("off", "[rules.settler-inlet]\noff = true\n")):
        path = tmp_path / f"{word}.toml"
        path.write_text(from_shorter_list(PROBLEM + rule), encoding="utf-8")
        found[word] = autoplan.design(autoplan.load_problem(path), autoplan.load_catalog("metric"), top=1)
        assert found[word].status is Status.PROVEN
        assert found[word].solver.rejected == 0
    on, off = (found[word].designs[0] for word in ("on", "off"))
    end = on.drawing.runs["tank drain"].finish
    assert isinstance(end, OverRim) or (isinstance(end, ThroughWall) and end.down is not None)
    assert off.objective <= on.objective
