"""Nothing is narrow on the way from a pump to a bed, unless the water is strained."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

import autoplan
from autoplan.catalog.parts import Catalog, Way
from autoplan.fittings.strainer import Strainer
from autoplan.outcome import Outcome, Status
from autoplan.rules.asked import InWall, Narrowed, OfPipe
from autoplan.rules.book import read_rules
from autoplan.rules.pressure.feed_bore import FeedBore
from tests.rules.conftest import Plan
from tests.short_list import from_short_list

ROW_OF_BEDS = Path(__file__).parents[3] / "problems" / "row-of-beds.toml"
LEAST = 0.016


def wet(plan: Plan, run: str) -> set[str]:
    """Every part with a bore that the water of a pressure run passes, its pipe and the tee it leaves."""
    line = plan.drawing.runs[run]
    parts = {line.pipe, *line.couplings, *(part for turn in line.turns for part in turn.pieces)}
    at_pump = line.start.at in plan.site.vessels
    for one in line.fittings:
        parts |= set() if at_pump and one is line.start else set(one.parts())
    junction = plan.drawing.junctions.get(line.start.at)
    if junction is not None and junction.tee is not None:
        parts.add(junction.tee)
    return {part for part in parts if getattr(plan.catalog.part(part), "bore_m", None)}


def bored(plan: Plan, *runs: str, least_m: float = LEAST) -> Plan:
    """The plan with all that lies on some runs as wide as the least, or a little wider."""
    for part in sorted({part for run in runs for part in wet(plan, run)}):
        plan = plan.part(part, bore_m=max(least_m, plan.catalog.part(part).bore_m))
    return plan


def rule_of(plan: Plan) -> FeedBore:
    """The rule as the plan's problem has it."""
    (rule,) = [rule for rule in read_rules(plan.site).rules if isinstance(rule, FeedBore)]
    return rule


def test_it_speaks_of_ways_to_beds(plan: Plan) -> None:
    """The main that leads to a bed and the bed's feed are judged, the tank's feed is not."""
    assert set(plan.findings("feed-bore")) == {"main", "bed feed 1"}


@pytest.mark.parametrize("run", ["main", "bed feed 1"])
def test_every_part_may_be_the_narrow_one(plan: Plan, run: str) -> None:
    """With all parts at 16 mm or wider the rule holds; a tenth less in any one of them breaks it."""
    wide = bored(plan, "main", "bed feed 1")
    assert wide.findings("feed-bore")[run].ok
    parts = wet(plan, run)
    assert len(parts) >= 2
    for part in sorted(parts):
        assert wide.part(part, bore_m=LEAST).findings("feed-bore")[run].ok, part
        found = wide.part(part, bore_m=LEAST - 0.0001).findings("feed-bore")[run]
        assert (found.ok, found.value) == (False, pytest.approx(15.9)), part


def test_what_joins_it_to_the_pump_is_left_out(plan: Plan) -> None:
    """Adaptors at the pump's outlet may be as narrow as that is."""
    wide = bored(plan, "main", "bed feed 1")
    chain = plan.drawing.runs["main"].start.chain
    assert chain
    for part in set(chain) - wet(plan, "main") - wet(plan, "bed feed 1"):
        assert wide.part(part, bore_m=0.010).findings("feed-bore")["main"].ok, part


def test_behind_a_strainer_nothing_is_asked(plan: Plan) -> None:
    """With a strainer drawn on the main the feed behind it is not judged, the main before it still is."""
    narrow = plan.put("main", Strainer("strainer-32-05")).pipe_of("bed feed 1", bore_m=0.010)
    assert set(narrow.findings("feed-bore")) == {"main"}


def test_what_is_offered(plan: Plan) -> None:
    """Pipe, wall parts and narrow places are admitted from 16 mm on; anything on the tank's feed."""
    rule, runs = rule_of(plan), plan.site.runs
    pipe = plan.catalog.pipes["pn16-20-metre"]
    wall = next(part for part in plan.catalog.penetrations.values() if part.way is Way.BULKHEAD)

    def admits(run: str, bore_m: float) -> set[bool]:
        return {
            rule.admits(OfPipe(plan.site, runs[run], replace(pipe, bore_m=bore_m))),
            rule.admits(InWall(plan.site, runs[run], "bed 1", False, replace(wall, bore_m=bore_m))),
            rule.admits(Narrowed(plan.site, runs[run], bore_m)),
        }

    assert admits("bed feed 1", 0.016) == {True}
    assert admits("bed feed 1", 0.0159) == {False}
    assert admits("main", 0.0159) == {False}
    assert admits("tank feed", 0.0159) == {True}


def test_the_builder_may_change_it(plan: Plan) -> None:
    """13 mm asked for admits what 16 mm does not; a strainer asked for admits all, one switched off not."""
    thin = Narrowed(plan.site, plan.site.runs["bed feed 1"], 0.013)
    assert not rule_of(plan).admits(thin)
    assert rule_of(plan.rules({"feed-bore": {"least": "13 mm"}})).admits(thin)
    strained = plan.rules({"strainer": {"mesh": "0.5 mm"}})
    assert rule_of(strained).admits(thin._replace(site=strained.site))
    off = plan.rules({"strainer": {"mesh": "0.5 mm", "off": True}})
    assert not rule_of(off).admits(thin._replace(site=off.site))


def designed(folder: Path, more: str = "") -> Outcome:
    """The cheapest design of two beds in a row, each with a drain of its own."""
    text = re.sub("count = 4", "count = 2", ROW_OF_BEDS.read_text(encoding="utf-8"))
    path = folder / "row.toml"
    path.write_text(from_short_list(text.replace('"any"', '"each"')) + more, encoding="utf-8")
    problem = autoplan.load_problem(path)
    return autoplan.design(problem, autoplan.load_catalog(problem.catalog), top=1)


def narrowest_feed(outcome: Outcome) -> float:
    """The narrowest place on the way to a bed [mm]."""
    (design,) = outcome.designs
    plan = Plan(outcome.site, outcome.catalog, design.drawing)
    runs = [name for name in plan.site.runs if name.startswith(("main", "trunk", "bed feed"))]
    return min(_bore_mm(outcome.catalog, part) for run in runs for part in wet(plan, run))


def _bore_mm(catalog: Catalog, part: str) -> float:
    bore: float = getattr(catalog.part(part), "bore_m", 0.0)
    return 1000 * bore


@pytest.mark.long
def test_it_decides_on_a_shipped_row_of_beds(tmp_path: Path) -> None:
    """By itself the row is fed through seats of 15.5 mm; with the rule through more than 16 mm, for more."""
    held = designed(tmp_path)
    loose = designed(tmp_path, "\n[rules.feed-bore]\noff = true\n")
    assert narrowest_feed(loose) < 16 <= narrowest_feed(held)
    assert loose.designs[0].objective < held.designs[0].objective


def test_tees_that_are_all_too_narrow_are_its_doing(tmp_path: Path) -> None:
    """Where no tee of a list is wide enough the rule is named, and not that parts do not mate."""
    path = tmp_path / "narrow.toml"
    text = (ROW_OF_BEDS.parent / "one-tank-one-bed.toml").read_text(encoding="utf-8")
    path.write_text(from_short_list(text), encoding="utf-8")
    problem = autoplan.load_problem(path)
    catalog = autoplan.load_catalog(problem.catalog)
    thin = {part: replace(tee, bore_m=min(tee.bore_m, 0.0159)) for part, tee in catalog.tees.items()}
    found = autoplan.design(problem, replace(catalog, tees=thin), top=1, time_limit=30)
    assert found.status is Status.NONE
    assert found.clash is not None
    assert "feed-bore" in found.clash.rules
    assert "joint-fit" not in found.clash.rules
