"""A child cannot open a drain: both halves of the rule, and what it costs."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

import autoplan
from autoplan.catalog.parts import Catalog
from autoplan.fittings.valve import ValveSet
from autoplan.outcome import Finding, Outcome, Status
from autoplan.problem.site import RunKind
from autoplan.report.render.plain import plain_text
from autoplan.report.render.show import report
from autoplan.rules.asked import Valved
from autoplan.rules.book import read_rules
from autoplan.rules.survey import Survey
from autoplan.rules.water.child_safe import ChildSafe
from tests.lines import the
from tests.short_list import from_short_list, from_shortest_list
from tests.stored import stored
from tests.words import at, why_none

PROBLEM = """
name = "Sludge to the garden, children about"
[tank]
volume = "500 L"
depth = "750 mm"
floor = "250 mm"
[settler]
volume = "150 L"
waste = true
waste_height = "50 mm"
[sump]
volume = "300 L"
depth = "500 mm"
floor = "-450 mm"
"""


def planned(folder: Path, extra: str = "", catalog: str | Catalog = "metric") -> Outcome:
    """The cheapest design of the small site with something added to its text."""
    path = folder / "waste.toml"
    path.write_text(from_shortest_list(PROBLEM) + extra, encoding="utf-8")
    found = autoplan.load_catalog(catalog) if isinstance(catalog, str) else catalog
    return autoplan.design(autoplan.load_problem(path), found, top=1)


@pytest.fixture(scope="module")
def outcome() -> Outcome:
    """With the rule in force, as it is by default."""
    return stored("children-about", from_short_list(PROBLEM))


def findings(outcome: Outcome, *, handle_off: bool, kind: RunKind = RunKind.GRAVITY) -> list[Finding]:
    """What the rule says of the waste drain with another valve, on a run of another kind."""
    site, drawing, catalog = outcome.site, outcome.designs[0].drawing, outcome.catalog
    valve = the(drawing.runs["settler waste"], ValveSet).valve
    row = replace(catalog.valves[valve], handle_off=handle_off)
    catalog = replace(catalog, valves={**catalog.valves, valve: row})
    run = replace(site.runs["settler waste"], kind=kind)
    site = replace(site, runs={**site.runs, run.name: run})
    (rule,) = [rule for rule in read_rules(site).rules if rule.id == "child-safe"]
    return [found for found in rule.check(Survey(site, catalog, drawing)) if at(found) == "settler waste"]


def test_the_check_asks_for_the_handle(outcome: Outcome) -> None:
    """A handle that comes off holds, one that stays does not; a valve on a pressure run is not asked."""
    (held,) = findings(outcome, handle_off=True)
    assert (held.ok, held.hard, held.value, held.limit) == (True, True, 1.0, 1.0)
    (broken,) = findings(outcome, handle_off=False)
    assert (broken.ok, broken.margin) == (False, -1.0)
    assert findings(outcome, handle_off=False, kind=RunKind.PRESSURE) == []


def test_what_is_offered(outcome: Outcome) -> None:
    """On the waste drain only valves whose handle comes off are offered, on a feed any."""
    (rule,) = [rule for rule in read_rules(outcome.site).rules if isinstance(rule, ChildSafe)]
    waste, feed = outcome.site.runs["settler waste"], outcome.site.runs["main"]
    plain, safe = outcome.catalog.valves["ball-50"], outcome.catalog.valves["ball-off-50"]
    assert rule.admits(Valved(waste, safe, outcome.catalog))
    assert not rule.admits(Valved(waste, plain, outcome.catalog))
    assert rule.admits(Valved(replace(feed, valve=True), plain, outcome.catalog))


def test_the_dearer_valve_is_bought_and_told(outcome: Outcome) -> None:
    """The drain's valve has its handle off, and the answer says so with value and limit."""
    valve = the(outcome.designs[0].drawing.runs["settler waste"], ValveSet).valve
    assert outcome.catalog.valves[valve].handle_off
    row = r"Each valve by which a vessel .* settler waste +1 +1 +holds"
    text = plain_text(report(outcome))
    assert re.search(row, text)
    assert "[child-safe]" in text


def test_switched_off_a_plain_valve_is_cheaper(tmp_path: Path) -> None:
    """Without the rule a plain valve comes in; putting one of the same ends there saves that much at least.

    Without freight: the order comes so near to where that is free that what is saved would be paid for it.
    """
    metric = autoplan.load_catalog("metric")
    catalog = replace(
        metric, shops={name: replace(shop, freight_cents=0) for name, shop in metric.shops.items()}
    )
    outcome, loose = (planned(tmp_path, extra, catalog) for extra in ("", "[rules.child-safe]\noff = true\n"))
    lines = (one.designs[0].drawing.runs["settler waste"] for one in (outcome, loose))
    before, after = (the(line, ValveSet).valve for line in lines)
    rows = catalog.valves
    assert rows[before].handle_off
    assert not rows[after].handle_off
    there = rows[before]
    alike = [row for row in rows.values() if (row.ends, row.style) == (there.ends, there.style)]
    plain = min(row.offers[0].price_cents for row in alike if not row.handle_off)
    saved = there.offers[0].price_cents - plain
    paid = [one.designs[0].verdict.cost.purchase for one in (outcome, loose)]
    assert saved > 0
    assert paid[0] - paid[1] >= saved / 100 - 1e-9
    assert "child-safe" not in {found.rule for found in loose.designs[0].verdict.findings}


def test_a_list_without_such_a_handle(outcome: Outcome) -> None:
    """Where no handle comes off there is no design, and the rule is named as what stands in the way."""
    rows = {part: replace(row, handle_off=False) for part, row in outcome.catalog.valves.items()}
    found = autoplan.design(outcome.site, replace(outcome.catalog, valves=rows), top=1)
    assert found.status is Status.NONE
    assert found.clash is not None
    assert "child-safe" in found.clash.rules
    assert any("This is no rule to drop" in said for said in why_none(found))
