"""What lifts out with a pump: the tee beside it, with what comes apart behind the tee."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

import autoplan
from autoplan.catalog.joining import Need
from autoplan.outcome import Status
from autoplan.rules.book import read_rules
from tests.short_list import from_shortest_list
from tests.words import by_place

APART = "union-female-32-1"
"""A part that comes apart."""


def near(plan, length_m: float):
    """The plan with its tee so far from the pump."""
    run = replace(plan.site.runs["main"], legs_m=(length_m,), turns=(), plan=None)
    return replace(plan, site=replace(plan.site, runs={**plan.site.runs, "main": run}))


def places(plan) -> set[str]:
    """Where something must come apart, filters aside."""
    feeds = "main", "bed feed", "tank feed"
    return {place for place in plan.findings("comes-apart") if place.startswith(feeds)}


BEHIND = {"tank feed at split", "bed feed 1 at split"}
AT_PUMP = {"main at sump"}


@pytest.mark.parametrize(
    ("length_m", "expected"),
    [(0.3, BEHIND), (0.5, BEHIND), (0.501, AT_PUMP), (2.0, AT_PUMP)],
)
def test_a_tee_beside_the_pump_lifts_out_with_it(plan, length_m: float, expected: set[str]) -> None:
    """Up to half a metre from the pump what comes apart is behind the tee, further off at the pump."""
    there = near(plan, length_m)
    assert places(there) == expected
    book, runs = read_rules(there.site), there.site.runs
    asked = {
        f"{name} at {runs[name].start}"
        for name in ("main", "tank feed", "bed feed 1")
        if book.asks_at(there.site, runs[name], runs[name].start) is Need.COME_APART
    }
    assert asked == expected
    assert all(book.asks_at(there.site, run, run.finish) is Need.JOIN for run in (runs["main"],))


def test_behind_the_tee_each_run_comes_apart(plan) -> None:
    """A run behind the tee with a union holds, one without does not."""
    there = near(plan, 0.3)
    for chain, held in (((APART,), True), ((), False)):
        found = there.end("tank feed", "start", chain=chain).findings("comes-apart")["tank feed at split"]
        assert (found.ok, found.limit) == (held, 1.0)


def test_nothing_lifts_out_where_it_is_not_wished(plan) -> None:
    """With no way at all the pump alone is lifted out, however near its tee."""
    rules = near(plan, 0.3).rules({"comes-apart": {"tee_within": "0 mm"}})
    assert places(rules) == AT_PUMP


def test_timed_beds_have_their_unions_behind_the_tee(tmp_path: Path) -> None:
    """The tee of a shipped problem stands 0.4 m from its pump: both lift out together."""
    path = tmp_path / "timed-beds.toml"
    path.write_text(from_shortest_list(Path("problems/timed-beds.toml").read_text(encoding="utf-8")))
    outcome = autoplan.design(autoplan.load_problem(path), autoplan.load_catalog("metric"), top=1)
    assert outcome.status is Status.PROVEN
    assert outcome.solver.rejected == 0
    found = by_place(one for one in outcome.designs[0].verdict.findings if one.rule == "comes-apart")
    assert {"tank feed at split", "trunk 1 at split"} <= set(found)
    assert all(one.ok for one in found.values())
