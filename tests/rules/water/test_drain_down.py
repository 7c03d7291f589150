"""Where it freezes: which lines hold water when all is off, and the cock that lets it out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

import autoplan
from autoplan.fittings.drain_down import DrainDown
from autoplan.line.route import Leg, Toward
from autoplan.outcome import Finding, Outcome, Status
from autoplan.problem.low import APART_M, low_pools
from autoplan.problem.site import Site
from autoplan.rules.asked import Fitted
from autoplan.rules.survey import Survey
from autoplan.rules.water.drain_down import HOLDS_M, DrainDownRule
from tests.lines import put, redrawn
from tests.short_list import from_shortest_list
from tests.stored import kept, stored

DEMO = Path("problems/four-beds.toml").read_text(encoding="utf-8")
COCK = DrainDown("tee-50-25", "cock-25")


@pytest.fixture(scope="module")
def outcome() -> Outcome:
    """One tank and one bed, frost told of."""
    found = stored("small", str(kept("small")["problem"]))
    return replace(found, site=replace(found.site, wishes=replace(found.site.wishes, frost=True)))


def site_of(folder: Path, feeds: str, *, frost: bool = True) -> Site:
    """The demo with its feeds at another height."""
    path = folder / "frost.toml"
    said = f'[heights]\nfeeds = "{feeds}"\n\n[wishes]\nfrost = {str(frost).lower()}\n'
    path.write_text(DEMO.replace("[wishes]\n", said), encoding="utf-8")
    return autoplan.load_problem(path).outline


def found(outcome: Outcome, *legs: Leg, stands: int | None = None) -> list[Finding]:
    """What the check says of the tank's drain with other legs, a cock on one of them or none."""
    drawing = outcome.designs[0].drawing
    drain = replace(drawing.runs["tank drain"], legs=legs)
    if stands is not None:
        drain = replace(put(drain, COCK), stands=stands)
    survey = Survey(outcome.site, outcome.catalog, redrawn(drawing, drain))
    return list(DrainDownRule({}).check(survey))


def dip(deep_m: float) -> Iterator[Leg]:
    """Down, along and up again by half of what it went down and a metre more down at the end."""
    yield Leg(deep_m, Toward.DOWN, -deep_m)
    yield Leg(1.0, Toward.ALONG, 0.0)
    yield Leg(deep_m, Toward.UP, deep_m)


def test_a_buried_line_holds_water(tmp_path: Path) -> None:
    """Below the rims at both its ends all that is joined at that height is one pool, the main in it."""
    (pool,) = low_pools(site_of(tmp_path, "buried 300 mm"))
    assert {"main", "tank feed", "trunk 1", "bed feed 4"} <= set(pool)


def test_a_line_over_the_sumps_rim_runs_back(tmp_path: Path) -> None:
    """The demo's sump has its rim 100 mm over the ground: a main 200 mm over it falls back to the pump."""
    site = site_of(tmp_path, "200 mm")
    assert low_pools(site) == ()

    def with_rim(rim_m: float) -> Site:
        sump = site.vessels["sump"]
        sump = replace(sump, depth_m=rim_m - sump.floor_m)
        return replace(site, vessels={**site.vessels, "sump": sump})

    # A rim at the line's own height keeps the water in it, one 6 mm lower does not.
    assert low_pools(with_rim(0.2))
    assert low_pools(with_rim(0.2 - APART_M - 0.001)) == ()


def test_one_class_of_lines_gets_it_where_frost_is_told_of(tmp_path: Path) -> None:
    """In the model a cock goes on one line of the pool, not on four, and nowhere without frost."""
    catalog, rule = autoplan.load_catalog("metric"), DrainDownRule({})
    pipe = catalog.pipes["pn10-50-3m"]

    def asks(site: Site) -> list[str]:
        def allows(name: str, cock: DrainDown | None) -> bool:
            return rule.admits(Fitted(site, catalog, site.runs[name], pipe, DrainDown, cock))

        # Whoever is not allowed without is allowed with, and the other way round.
        assert all(allows(name, None) is not allows(name, COCK) for name in site.runs)
        return [name for name in site.runs if not allows(name, None)]

    site = site_of(tmp_path, "buried 300 mm")
    (only,) = asks(site)
    assert only in low_pools(site)[0]
    assert asks(site_of(tmp_path, "buried 300 mm", frost=False)) == []
    assert asks(site_of(tmp_path, "200 mm")) == []


def test_the_check_finds_what_stays(outcome: Outcome) -> None:
    """A drain that dips holds water unless a cock hangs on its lowest leg; one that falls holds none."""
    (bare,) = found(outcome, *dip(0.3))
    assert not bare.ok
    (served,) = found(outcome, *dip(0.3), stands=1)
    assert served.ok
    (beside,) = found(outcome, Leg(0.1, Toward.ALONG, 0.0), *dip(0.3), stands=0)
    assert not beside.ok
    assert found(outcome, Leg(0.3, Toward.DOWN, -0.3), Leg(1.0, Toward.ALONG, 0.0)) == []


@pytest.mark.parametrize(("deep_m", "stays"), [(HOLDS_M - 0.001, False), (HOLDS_M + 0.001, True)])
def test_what_the_fall_of_hand_takes_out(outcome: Outcome, deep_m: float, stays: bool) -> None:
    """Ten millimetres leave by the fall that a line is laid with; more stays. Common practice, no source."""
    assert bool(found(outcome, *dip(deep_m))) is stays


def test_without_frost_nothing_is_said(outcome: Outcome) -> None:
    """The rule does not concern a site where it does not freeze."""
    mild = replace(outcome.site, wishes=replace(outcome.site.wishes, frost=False))
    assert not DrainDownRule.concerns(mild)
    assert found(replace(outcome, site=mild), *dip(0.3)) == []


def test_it_is_bought_told_and_looked_after(tmp_path: Path) -> None:
    """Searched with its feeds buried a system has one cock, on a line of the pool, and the rule holds."""
    base = Path("problems/one-tank-one-bed.toml").read_text(encoding="utf-8")
    path = tmp_path / "frost.toml"
    extra = '\n[heights]\nfeeds = "buried 300 mm"\n[wishes]\nfrost = true\n'
    path.write_text(from_shortest_list(base) + extra, encoding="utf-8")
    outcome = autoplan.design(autoplan.load_problem(path), autoplan.load_catalog("metric"), top=1)
    assert outcome.status is Status.PROVEN
    design = outcome.designs[0]
    with_cock = [name for name, line in design.drawing.runs.items() if line.one(DrainDown) is not None]
    assert len(with_cock) == 1
    assert with_cock[0] in low_pools(outcome.site)[0]
    assert any(one.part.startswith("cock-") for one in design.drawing.purchases)
    told = [one for one in design.verdict.findings if one.rule == "drain-down"]
    assert told
    assert all(one.ok for one in told)
