"""Beds to come later: all is sized for them, only capped tees are built, and adding one has its price."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest

import autoplan
from autoplan.catalog.parts import Fixture, FixtureKind, TurnStyle
from autoplan.errors import InputError
from autoplan.fittings.base import Role
from autoplan.fittings.cap import EndCap
from autoplan.fittings.corner import Corner
from autoplan.fittings.rim import OverRim
from autoplan.line.later import later_lines
from autoplan.line.row import Line
from autoplan.outcome import Finding, Outcome
from autoplan.problem.flows import Reach, reaches
from autoplan.problem.site import Site
from autoplan.problem.toml.load import load_problem
from autoplan.problem.toml.write import expand_to_toml
from autoplan.report.contract import outcome_json
from autoplan.report.render.plain import plain_text
from autoplan.report.render.show import report
from autoplan.rules.balance import flood_drawdown
from autoplan.rules.book import read_rules
from autoplan.rules.survey import Survey
from tests.lines import put, redrawn, the, without
from tests.short_list import gone
from tests.stored import stored
from tests.words import by_place

PROBLEM = Path("problems/spare-beds.toml")
METRIC = autoplan.load_catalog("metric")
LITRES_H = 3.6e6
DOWN = Corner(90, TurnStyle.TIGHT, ("elbow-25-90",))


@pytest.fixture(scope="module")
def outcome() -> Outcome:
    """The cheapest design of the shipped problem."""
    return stored("spare-beds", PROBLEM.read_text(encoding="utf-8"))


def load(folder: Path, old: str, new: str) -> Site:
    """The shipped problem with a text replaced."""
    text = PROBLEM.read_text(encoding="utf-8")
    assert old in text
    path = folder / "spare.toml"
    path.write_text(text.replace(old, new), encoding="utf-8")
    return load_problem(path).outline


def drawn(outcome: Outcome, name: str) -> Line:
    """A run as drawn."""
    return outcome.designs[0].drawing.runs[name]


def test_sized_for_all_of_them(tmp_path: Path, outcome: Outcome) -> None:
    """Flows, pump duty and the sump's lowest level are those of three beds built at once."""
    three = load(tmp_path, "count = 2\nspare_beds = 1", "count = 3")
    assert three.flows == outcome.site.flows
    assert outcome.site.flows["main"].design_m3_s * LITRES_H == pytest.approx(1500 + 3 * 200)
    pump = outcome.designs[0].verdict.pumps["sump"]
    assert pump.duty_flow_m3_s * LITRES_H == pytest.approx(2100)
    assert flood_drawdown(outcome.site, "sump") == pytest.approx(flood_drawdown(three, "sump"))


def test_only_a_capped_stub_is_built(outcome: Outcome) -> None:
    """Of the third bed's feed there is a stub and a cap, joined and bought; of its drain there is nothing."""
    verdict = outcome.designs[0].verdict
    feed, drain = verdict.lines["bed feed 3"], verdict.lines["bed drain 3"]
    assert [item.role for item in feed.items][-2:] == [Role.PIPE, Role.CAP]
    assert (len(feed.needed_m), drain.items, drain.needed_m) == (1, (), ())
    assert all(joint.kind is not None for joint in verdict.joints if joint.run == "bed feed 3")
    assert not [joint for joint in verdict.joints if joint.run == "bed drain 3"]
    survey = Survey(outcome.site, METRIC, outcome.designs[0].drawing)
    used = survey.used_pieces()
    bought = Counter({line.part: round(line.quantity) for line in outcome.designs[0].drawing.purchases})
    assert used[cap_of(outcome)] == 1
    assert all(bought[part] == count for part, count in used.items())
    assert not [at for name, _, end in survey.ends() if "3" in name for at in [end.at]]


def test_nothing_hangs_of_a_drain_to_come_later(outcome: Outcome) -> None:
    """A drain drawn over the sump's rim for later is none of the plan's pieces."""
    drawing, rim = outcome.designs[0].drawing, OverRim(at="sump", centre_m=0.15, corner=DOWN, mouth_m=0.05)
    later = drawing.runs["bed drain 3"]
    over = redrawn(drawing, later.with_ends(later.start, rim))
    assert later.later
    assert Survey(outcome.site, METRIC, over).hangs("bed drain 3") == 0.0


def test_it_stands_under_the_pump(outcome: Outcome) -> None:
    """The stub is a dead end: whatever the pump gives reaches its cap."""
    assert reaches(outcome.site)["bed feed 3"] is Reach.WHOLE
    assert reaches(outcome.site)["bed feed 2"] is Reach.TO_VALVE


def cap_of(outcome: Outcome) -> str:
    """The cap on the spare feed."""
    return the(drawn(outcome, "bed feed 3"), EndCap).part


def findings(outcome: Outcome, feed: Line | None = None) -> dict[str, Finding]:
    """What the rule says, or what it says with another spare feed."""
    drawing = outcome.designs[0].drawing
    (rule,) = [rule for rule in read_rules(outcome.site).rules if rule.id == "spare-bed"]
    survey = Survey(outcome.site, METRIC, redrawn(drawing, feed or drawn(outcome, "bed feed 3")))
    return by_place(rule.check(survey))


def test_open_or_wrongly_capped(outcome: Outcome) -> None:
    """Without a cap, or with one for other pipe, water would run out of it."""
    feed = drawn(outcome, "bed feed 3")
    assert findings(outcome)["bed feed 3"].ok
    assert not findings(outcome, without(feed, EndCap))["bed feed 3"].ok
    assert not findings(outcome, put(feed, EndCap("cap-75")))["bed feed 3"].ok


def closes(row: Fixture, pipe: str) -> bool:
    """Whether a row is a cap for pipe of that size, glued or screwed on."""
    own = METRIC.pipes[pipe].end
    return row.kind is FixtureKind.CAP and row.end is not None and row.end[1:] == own[1:]


def test_no_cap_no_such_pipe(outcome: Outcome) -> None:
    """Pipe for which the price list has no cap is not chosen for feeds of which one comes later."""
    caps = {row.id for row in METRIC.fixtures.values() if closes(row, drawn(outcome, "bed feed 3").pipe)}
    assert cap_of(outcome) in caps
    site = replace(outcome.site, unavailable=frozenset({*caps, *gone("shortest")}))
    found = autoplan.design(site, METRIC, top=1)
    assert cap_of(found) not in caps
    assert found.designs[0].drawing.runs["bed feed 3"].pipe != drawn(outcome, "bed feed 3").pipe


def test_what_adding_one_takes(outcome: Outcome) -> None:
    """What the second bed's runs are made of beyond its tee, its siphon, a coupling; at cheapest offers."""
    drawing, lines = outcome.designs[0].drawing, outcome.designs[0].verdict.lines
    later = later_lines(outcome.site, METRIC, [drawing.runs["bed feed 3"], drawing.runs["bed drain 3"]])
    parts: Counter[str] = Counter()
    for name in ("bed feed 2", "bed drain 2"):
        tee = len(drawing.runs[name].start.chain) + 1 if name.startswith("bed feed") else 0
        parts.update(item.part for item in lines[name].items[tee:] if item.length_m is None)
    floor = drawing.runs["bed drain 2"].floor
    assert floor is not None
    siphon = floor.siphon
    assert siphon is not None
    assert siphon.flare is None
    parts.update(part for part in (siphon.bell, siphon.guard, siphon.snorkel) if part is not None)
    told = Counter({line.part: int(line.quantity) for line in later if line.part not in METRIC.pipes})
    # It is the last along the trunk and turns out of it by a corner of its own.
    (corner,) = [part for part in (told - parts).elements() if part in METRIC.turns]
    (coupling,) = [part for part in (told - parts).elements() if part not in METRIC.turns]
    assert METRIC.turns[corner].angle == 90
    assert not parts - told
    pipe = METRIC.pipes[drawing.runs["bed feed 3"].pipe]
    assert len(METRIC.adaptors[coupling].ends) == 2
    assert all(end.size == pipe.end.size for end in METRIC.adaptors[coupling].ends)
    for line in later:
        if line.part not in METRIC.pipes:
            offers = METRIC.part(line.part).offers
            assert line.cents == min(o.price_cents * -(-int(line.quantity) // o.pack) for o in offers)
    lengths = {METRIC.pipes[line.part].family: line.quantity for line in later if line.part in METRIC.pipes}
    over = drawing.runs["bed feed 3"].rim
    assert over is not None
    assert over.centre_m is not None
    # 0.5 and 1.4 m on the plan and 106 mm inside, 100 mm over the sump's rim at 0.1 m; up, and down again.
    length = 1.9 + 0.106 + (over.centre_m - 0.2) + over.drop_m
    if floor.standpipe is not None and METRIC.pipes[floor.standpipe].family == pipe.family:
        assert floor.standpipe_top_m is not None
        length += floor.standpipe_top_m - outcome.site.vessels["bed 2"].floor_m
    assert 0.9 * length < lengths[pipe.family] <= length


def test_growth_is_told(outcome: Outcome) -> None:
    """The text and the JSON say what comes later and what it takes."""
    text = " ".join(plain_text(report(outcome)).split())
    assert "sized for bed 3 as well" in text
    assert "bed feed 3: to come later; capped now" in text
    (design,) = outcome_json(outcome)["designs"]  # type: ignore[misc, union-attr]
    growth = design["growth"]  # type: ignore[index, call-overload]
    assert growth["next"] == "bed 3"  # type: ignore[index, call-overload]
    assert sum(part["cost"] for part in growth["parts"]) == pytest.approx(growth["cost"])  # type: ignore[index, union-attr, call-overload, misc, arg-type]
    assert f"about {growth['cost']:.2f} EUR" in text  # type: ignore[index, call-overload]


def test_long_form_and_mistakes(tmp_path: Path, outcome: Outcome) -> None:
    """Written out and read again it is the same; only a bed fed from a junction may come later."""
    text = expand_to_toml(outcome.site)
    path = tmp_path / "long.toml"
    path.write_text(text, encoding="utf-8")
    again = load_problem(path).outline
    assert (again.vessels, again.runs) == (outcome.site.vessels, outcome.site.runs)
    path.write_text(
        text.replace('name = "sump"\nkind = "sump"', 'name = "sump"\nkind = "sump"\nspare = true')
    )
    with pytest.raises(InputError, match='no "spare"'):
        load_problem(path)
    with pytest.raises(InputError, match="no bed yet"):
        load(tmp_path, "count = 2", "count = 0")
    with pytest.raises(InputError, match="41 beds"):
        load(tmp_path, "count = 2", "count = 40")
    path.write_text(text.replace('from = "bed 3"\nto = "sump"', 'from = "bed 3"\nto = "bed tee 1"'))
    with pytest.raises(InputError, match="one feed from a junction"):
        load_problem(path)
