"""The rules of beds with a weep hole: both sides of each limit on one small plan, and what they decide.

Hole, Q = 0.6 a sqrt(2 g h) over its centre, and the time to run empty by it: Torricelli, for a sharp edge.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

import autoplan
from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.options.making import NoOptionError
from autoplan.outcome import Status
from autoplan.rules.book import read_rules
from tests.rules.conftest import Plan
from tests.rules.limits import Case, crossed
from tests.weeps import answer, problem

G = 9.80665
WET_M2, HOLE_M2 = 0.4, math.pi / 4 * 0.006**2
"""Water surface of the bed between its stones, and the hole of 6 mm that is drilled."""


@pytest.fixture(scope="module")
def weeping() -> Plan:
    """The plan of the cheapest design."""
    outcome = answer()
    assert outcome.status is Status.PROVEN
    return Plan(outcome.site, outcome.catalog, outcome.designs[0].drawing)


def leaks_l_h() -> float:
    """What the hole lets out of the full bed, 210 mm over its centre [L/h]."""
    return 0.6 * HOLE_M2 * math.sqrt(2 * G * 0.21) * 3.6e6


def empties_min() -> float:
    """Time to run empty from 250 mm to half a hole over its centre at 40 mm [min]."""
    fallen = math.sqrt(0.21) - math.sqrt(0.003)
    return 2 * WET_M2 * fallen / (0.6 * HOLE_M2 * math.sqrt(2 * G)) / 60


def asked(rule: str, key: str, value: str) -> Callable[[Any], Any]:
    """A plan with a setting of a rule given."""
    return lambda plan: plan.rules({rule: {key: value}})


def spare(off: float) -> Callable[[Any], Any]:
    """A plan whose rule asks for all of the inflow that the hole leaves for the lip, and so much more."""
    share = 200 / (200 + leaks_l_h())
    return asked("weep-lip", "spare", f"{(share + off) * 100:.9f} %")


CASES = (
    Case("weep-lip", "bed 1", spare(-1e-5), spare(1e-5)),
    Case(
        "weep-empty",
        "bed 1",
        asked("weep-empty", "within", f"{empties_min() * 60 + 0.01} s"),
        asked("weep-empty", "within", f"{empties_min() * 60 - 0.01} s"),
    ),
    Case(
        "drain-hole",
        "bed 1: drain hole",
        asked("drain-hole", "least", "6 mm"),
        asked("drain-hole", "least", "6.001 mm"),
    ),
    Case(
        "drain-hole",
        "bed 1: bore of the standpipe",
        lambda plan: plan.pipe_of("bed drain 1", bore_m=0.0120001),
        lambda plan: plan.pipe_of("bed drain 1", bore_m=0.0119999),
    ),
)


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.rule} {case.place}")
def test_both_sides_of_the_limit(weeping: Plan, case: Case) -> None:
    """Just inside the rule holds; just past it does not."""
    inside, past = crossed(weeping, case)
    assert inside.hard
    assert past.hard


def test_every_rule_holds(weeping: Plan) -> None:
    """The plan that is spoiled is itself in order; nothing is said of floods, which the bed has none of."""
    book = read_rules(weeping.site)
    found = [finding for rule in book.rules for finding in rule.check(weeping.survey) if finding.hard]
    assert [finding for finding in found if not finding.ok] == []
    assert {"weep-lip", "weep-empty", "drain-hole", "guard-rim"} <= {finding.rule for finding in found}
    said = {assumed.place for assumed in book.assumptions}
    assert {"rules.weep-lip.spare", "rules.weep-empty.within"} <= said
    assert not {place for place in said if place.startswith(("rules.flood-rate", "rules.timer"))}


def test_values_by_hand(weeping: Plan) -> None:
    """324 L/h come, 124 leak and a fifth must go over the lip; empty in 72 of 180 minutes."""
    (lip,) = weeping.findings("weep-lip").values()
    (empty,) = weeping.findings("weep-empty").values()
    assert lip.value == pytest.approx(200 + leaks_l_h(), rel=1e-6)
    assert lip.limit == pytest.approx(leaks_l_h() / 0.8, rel=1e-6)
    assert empty.value == pytest.approx(empties_min(), rel=1e-6)
    assert empty.limit == 180.0


@pytest.mark.parametrize(("hole_mm", "lip", "empty"), [(3, True, False), (6, True, True), (10, False, True)])
def test_the_hole_that_is_drilled_counts(weeping: Plan, hole_mm: float, lip: bool, empty: bool) -> None:
    """3 mm take 5 hours to empty the bed; 10 mm let out 344 L/h, which is more than comes."""
    floor = weeping.drawing.runs["bed drain 1"].floor
    assert floor is not None
    assert floor.drain_hole is not None
    drilled = replace(floor.drain_hole, hole_m=hole_mm / 1000)
    plan = weeping.end("bed drain 1", "start", drain_hole=drilled)
    assert plan.findings("weep-lip")["bed 1"].ok is lip
    assert plan.findings("weep-empty")["bed 1"].ok is empty


def test_a_drawing_without_its_hole_is_refused(weeping: Plan) -> None:
    """A standpipe that nobody drilled keeps its bed full for good."""
    plan = weeping.end("bed drain 1", "start", drain_hole=None)
    assert not plan.findings("weep-empty")["bed 1"].ok


def draft(beds: str, more: str = "") -> Draft:
    """The model of the problem with that said of its bed, and under those rules."""
    site = problem(f'drain = "weep hole"\n{beds}', more=more).outline
    return Draft(site, autoplan.load_catalog("metric"), read_rules(site))


@pytest.mark.parametrize(
    ("beds", "rule", "setting"),
    [
        # 12 mm leak 496 L/h; with 100 L/h of floods beside it 17 % go over the lip.
        ('floods = "1/hour"\nhole = "12 mm"', "weep-lip", 'spare = "16 %"'),
        ('hole = "3 mm"', "weep-empty", 'within = "6 hours"'),
    ],
)
def test_what_leaves_no_way_to_build_the_drain(beds: str, rule: str, setting: str) -> None:
    """A hole too wide for its feed, or too small for its bed, is refused by its rule alone."""
    off = '\n[rules.drain-hole]\nleast = "1 mm"\n'
    with pytest.raises(NoOptionError, match="bed drain") as caught:
        draft(beds, off)
    assert rule in caught.value.rules
    assert draft(beds, f"{off}[rules.{rule}]\n{setting}\n").candidates("bed drain")


def test_a_wide_hole_asks_for_a_wide_standpipe() -> None:
    """Half of a standpipe's bore may be hole: every way to build a drain with 12 mm has 24 mm or more."""
    for hole_mm, least in ((6, 0.012), (12, 0.024)):
        model = draft(f'floods = "3/hour"\nhole = "{hole_mm} mm"')
        bores = {
            model.catalog.pipes[candidate.drawn["bed drain 1"].pipe].bore_m
            for _, candidate in model.candidates(model.site.runs["bed drain 1"].run_class)
        }
        assert min(bores) >= least
        assert hole_mm == 12 or min(bores) < 0.024
