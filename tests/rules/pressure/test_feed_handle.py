"""A child cannot starve a vessel: valves on feeds have handles that come off."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

import autoplan
from autoplan.catalog.parts import Catalog, Valve
from autoplan.fittings.valve import ValveSet
from autoplan.outcome import Outcome
from autoplan.problem.site import RunKind
from autoplan.rules.asked import Valved
from autoplan.rules.book import read_rules
from autoplan.rules.pressure.feed_handle import FeedHandle
from tests.lines import the
from tests.rules.conftest import Plan

NO_SUMP = Path(__file__).parents[3] / "problems" / "no-sump.toml"
FEED = "bed feed 1"


def rule_of(plan: Plan) -> FeedHandle:
    """The rule as the plan's problem has it."""
    (rule,) = [rule for rule in read_rules(plan.site).rules if isinstance(rule, FeedHandle)]
    return rule


def with_valves(plan: Plan, **changes: object) -> Plan:
    """The plan with something changed in every row of a valve."""
    rows = {part: replace(row, **changes) for part, row in plan.catalog.valves.items()}
    return replace(plan, catalog=replace(plan.catalog, valves=rows))


def valve(plan: Plan) -> str:
    """The valve on the bed's feed."""
    return the(plan.drawing.runs[FEED], ValveSet).valve


def test_the_check_asks_for_the_handle(plan: Plan) -> None:
    """On either feed a handle that comes off holds, one that stays does not."""
    assert set(plan.findings("feed-handle")) == {"tank feed", FEED}
    off = plan.part(valve(plan), handle_off=True).findings("feed-handle")[FEED]
    assert (off.ok, off.hard, off.value, off.limit) == (True, True, 1.0, 1.0)
    stays = plan.part(valve(plan), handle_off=False).findings("feed-handle")[FEED]
    assert (stays.ok, stays.margin) == (False, -1.0)


def test_what_has_no_handle_is_not_asked(plan: Plan) -> None:
    """A valve that a clock opens, a drain's, and a run without a valve are left aside."""
    timed = plan.part(valve(plan), style="timed", handle_off=False)
    assert FEED not in timed.findings("feed-handle")
    drain = replace(plan.site.runs[FEED], kind=RunKind.GRAVITY)
    drained = replace(plan, site=replace(plan.site, runs={**plan.site.runs, FEED: drain}))
    assert FEED not in drained.part(valve(plan), handle_off=False).findings("feed-handle")
    assert FEED not in plan.without(FEED, ValveSet).findings("feed-handle")


def test_what_is_offered(plan: Plan) -> None:
    """On a feed only hand valves whose handle comes off; timed and check valves, and any on a drain."""
    rule, runs, catalog = rule_of(plan), plan.site.runs, plan.catalog

    def admits(row: Valve, run: str = FEED, of: Catalog = catalog) -> bool:
        return rule.admits(Valved(runs[run], row, of))

    assert admits(catalog.valves["ball-off-20"])
    assert not admits(catalog.valves["ball-20"])
    assert admits(catalog.valves["timed-20"])
    assert admits(catalog.valves["check-20"])
    assert admits(catalog.valves["ball-20"], run="tank drain")
    assert admits(catalog.valves["ball-20"], of=with_valves(plan, handle_off=False).catalog)


def test_a_list_that_does_not_say(plan: Plan) -> None:
    """Where no row says that a handle comes off nothing is judged, and that is told; else nothing is."""
    silent = with_valves(plan, handle_off=False)
    assert silent.findings("feed-handle") == {}
    (said,) = rule_of(silent).unjudged(silent.survey)
    assert "No valve of the price list says" in str(said)
    assert list(rule_of(plan).unjudged(plan.survey)) == []
    one = silent.part(valve(plan), handle_off=True)
    assert one.findings("feed-handle")[FEED].ok


def designed(folder: Path, more: str = "") -> Outcome:
    """The cheapest design of the shipped problem without a sump."""
    path = folder / "no-sump.toml"
    path.write_text(NO_SUMP.read_text(encoding="utf-8") + more, encoding="utf-8")
    problem = autoplan.load_problem(path)
    return autoplan.design(problem, autoplan.load_catalog(problem.catalog), top=1)


@pytest.mark.long
def test_it_decides_on_a_shipped_problem(tmp_path: Path) -> None:
    """Two valves with handles that come off cost what their rows cost more than the plain ones."""
    held, loose = designed(tmp_path), designed(tmp_path, "\n[rules.feed-handle]\noff = true\n")
    valves = [
        [the(one.designs[0].drawing.runs[f"bed feed {bed}"], ValveSet).valve for bed in (1, 2)]
        for one in (held, loose)
    ]
    rows = held.catalog.valves
    assert all(rows[part].handle_off for part in valves[0])
    assert not any(rows[part].handle_off for part in valves[1])
    cents = [sum(rows[part].offers[0].price_cents for part in both) for both in valves]
    paid = [one.designs[0].verdict.cost.purchase for one in (held, loose)]
    assert paid[0] - paid[1] == pytest.approx((cents[0] - cents[1]) / 100)
