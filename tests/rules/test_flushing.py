"""Flushing points on drains that are too slow to stay clean, against narrower and faster pipe."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import pytest

import autoplan
from autoplan.catalog.naming import name_of
from autoplan.catalog.parts import Catalog
from autoplan.errors import InputError
from autoplan.fittings.base import Role
from autoplan.fittings.flushing import FlushTee
from autoplan.line.row import Line
from autoplan.outcome import Finding, Outcome, Status
from autoplan.report.render.plain import plain_text
from autoplan.report.render.show import report
from autoplan.rules.asked import Fitted
from autoplan.rules.book import read_rules
from autoplan.rules.survey import Survey
from autoplan.rules.water.flushing_point import FlushingPoint
from tests.lines import changed, redrawn, the, without
from tests.short_list import from_short_list, from_shortest_list
from tests.stored import stored
from tests.words import by_place

BASE = Path("problems/one-tank-one-bed.toml").read_text(encoding="utf-8")
WISH = "\n[wishes]\nflushing_points = true\n"
METRIC = autoplan.load_catalog("metric")


def designed(folder: Path, extra: str, catalog: Catalog = METRIC) -> Outcome:
    """The cheapest design of the smallest shipped problem with something added."""
    path = folder / "flush.toml"
    path.write_text(from_shortest_list(BASE) + extra, encoding="utf-8")
    found = autoplan.design(autoplan.load_problem(path), catalog, top=1)
    assert found.status is Status.PROVEN
    return found


def drain(outcome: Outcome) -> Line:
    """The tank's drain as drawn."""
    return outcome.designs[0].drawing.runs["tank drain"]


@pytest.fixture(scope="module")
def outcome() -> Outcome:
    """With flushing points wished for."""
    return stored("flushing-points", from_short_list(BASE) + WISH)


def findings(outcome: Outcome, rule_id: str, line: Line | None = None) -> Mapping[str, Finding]:
    """What a rule says, or what it says with another drain of the tank."""
    drawing = outcome.designs[0].drawing
    (rule,) = [rule for rule in read_rules(outcome.site).rules if rule.id == rule_id]
    survey = Survey(outcome.site, outcome.catalog, redrawn(drawing, line or drain(outcome)))
    return by_place(rule.check(survey))


def test_only_where_wished(tmp_path: Path) -> None:
    """Left out there is none, and the warning is as it was."""
    plain = designed(tmp_path, "")
    assert drain(plain).one(FlushTee) is None
    assert not findings(plain, "flushing-point")
    slow = findings(plain, "drain-velocity")["tank drain"]
    assert not slow.ok
    assert "flush it now and then; flushing_points = true below [wishes] adds a tee" in slow.warning


def test_a_slow_drain_has_one(outcome: Outcome) -> None:
    """At 0.23 m/s it does: tee and plug are on the line, joined and bought, and the warning names them."""
    tee, plug = the(drain(outcome), FlushTee).parts()
    assert findings(outcome, "flushing-point")["tank drain"].ok
    slow = findings(outcome, "drain-velocity")["tank drain, flushed by its tee and plug"]
    assert not slow.ok
    assert slow.warning.endswith("flush it now and then by its tee and plug.")
    (bare,) = findings(outcome, "drain-velocity", without(drain(outcome), FlushTee)).values()
    assert bare.warning.endswith("keeps solids moving: flush it now and then.")
    verdict = outcome.designs[0].verdict
    line = verdict.lines["tank drain"]
    (at,) = [i for i, item in enumerate(line.items) if item.role is Role.FLUSH_TEE]
    (side,) = [side for side in line.sides if side.at == at]
    assert (line.items[at].part, side.item.part) == (tee, plug)
    (joint,) = [joint for joint in verdict.joints if joint.right == plug]
    assert joint.kind is not None
    assert {tee, plug} <= {line.part for line in outcome.designs[0].drawing.purchases}
    text, catalog = " ".join(plain_text(report(outcome)).split()), outcome.catalog
    assert f"flushing point: {name_of(catalog, tee)} with {name_of(catalog, plug)}, to put a hose in" in text


def test_missing_or_not_fitting(outcome: Outcome) -> None:
    """Without its parts, or with a plug of another size, it is missing."""
    bare, odd = without(drain(outcome), FlushTee), changed(drain(outcome), FlushTee, plug="plug-75")
    assert not findings(outcome, "flushing-point", bare)["tank drain"].ok
    assert not findings(outcome, "flushing-point", odd)["tank drain"].ok


@pytest.mark.parametrize(("below", "asked"), [(1e-6, True), (-1e-6, False)])
def test_limit_of_speed(outcome: Outcome, below: float, asked: bool) -> None:
    """A drain just slower than the limit needs one, one just faster does not."""
    survey = Survey(outcome.site, outcome.catalog, outcome.designs[0].drawing)
    limit = f"{survey.velocity('tank drain') + below!r} m/s"
    site = replace(outcome.site, rule_settings={"flushing-point": {"below": limit}})
    assert bool(findings(replace(outcome, site=site), "flushing-point")) is asked


def test_weighed_against_a_narrower_pipe(tmp_path: Path) -> None:
    """Where narrow pipe may be used it costs less than tee and plug; where it is dear, they do."""
    narrow = f'{WISH}survives = "nothing"\n[rules.drain-bore]\nsmall = "25 mm"\n'
    fast = designed(tmp_path, narrow)
    survey = Survey(fast.site, METRIC, fast.designs[0].drawing)
    assert drain(fast).one(FlushTee) is None
    assert survey.velocity("tank drain") >= 0.3
    dear = {
        name: replace(pipe, offers=tuple(replace(o, price_cents=o.price_cents * 20) for o in pipe.offers))
        if pipe.bore_m < 0.031 and pipe.outside_m > 0.026
        else pipe
        for name, pipe in METRIC.pipes.items()
    }
    slow = designed(tmp_path, narrow, replace(METRIC, pipes=dear))
    assert drain(slow).one(FlushTee) is not None


def test_switched_off(tmp_path: Path) -> None:
    """Without the rule none is bought, wished for or not."""
    loose = designed(tmp_path, f"{WISH}[rules.flushing-point]\noff = true\n")
    assert drain(loose).one(FlushTee) is None


def asked_of(problem: str, said: str, run: str, bore_m: float, folder: Path) -> bool:
    """Whether a drain of a shipped problem in pipe of a bore needs a flushing point, by what is wished."""
    text = Path(f"problems/{problem}.toml").read_text(encoding="utf-8")
    path = folder / "problem.toml"
    path.write_text(text.replace("[wishes]", f"[wishes]\n{said}", 1), encoding="utf-8")
    site = autoplan.load_problem(path).outline
    (rule,) = (rule for rule in read_rules(site).rules if isinstance(rule, FlushingPoint))
    pipe = replace(METRIC.pipes["pn10-50-6m"], bore_m=bore_m)
    without = Fitted(site, METRIC, site.runs[run], pipe, FlushTee, None)
    assert rule.admits(without) is not rule.asks(site, site.runs[run], pipe)
    return rule.asks(site, site.runs[run], pipe)


@pytest.mark.parametrize(
    ("problem", "said", "asked"),
    [
        ("four-beds", "", True),
        ("four-beds", "flushing_points = true", True),
        ("four-beds", "flushing_points = false", False),
        ("timed-beds", "", False),
        ("timed-beds", "flushing_points = true", True),
    ],
)
def test_ahead_of_a_settler(tmp_path: Path, problem: str, said: str, asked: bool) -> None:
    """In a wide pipe a drain to a settler has one unless none is wanted, one to a sump where wished."""
    assert asked_of(problem, said, "tank drain", 0.100, tmp_path) is asked
    assert not asked_of(problem, said, "tank drain", 0.020, tmp_path)


def test_not_behind_it(tmp_path: Path) -> None:
    """What leaves the settler is clean."""
    assert not asked_of("four-beds", "flushing_points = true", "settler drain", 0.100, tmp_path)


@pytest.mark.parametrize(("share", "asked"), [(1.001, True), (0.999, False)])
def test_limit_of_the_bore(tmp_path: Path, share: float, asked: bool) -> None:
    """2400 L/h at 0.3 m/s fill 53.2 mm: in a thousandth more it is too slow."""
    bore = math.sqrt(2.4 / 3600 / 0.3 * 4 / math.pi)
    assert bore == pytest.approx(0.0532, abs=1e-4)
    assert asked_of("four-beds", "", "tank drain", bore * share, tmp_path) is asked


def test_other_words_for_it(tmp_path: Path) -> None:
    """Nothing but true, false and the one word is taken."""
    with pytest.raises(InputError, match="ahead of a settler"):
        asked_of("four-beds", 'flushing_points = "behind"', "tank drain", 0.1, tmp_path)
