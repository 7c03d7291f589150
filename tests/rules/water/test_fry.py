"""Fine mesh for fry and long slotted screens: both sides of the limit, what each lets through, the key."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

import autoplan
from autoplan.catalog.parts import Catalog, FixtureKind
from autoplan.errors import InputError
from autoplan.fittings.screen import InletScreen
from autoplan.problem.site import Site
from autoplan.problem.toml.write import expand_to_toml
from autoplan.rules.asked import Fitted
from autoplan.rules.book import read_rules
from tests.lines import put
from tests.rules.conftest import Plan
from tests.stored import kept, loaded, read

PROBLEM = '[tank]\nvolume = "1000 L"\n{said}\n[sump]\nvolume = "800 L"\n'


@pytest.fixture(scope="module")
def screened() -> Plan:
    """A small system with screens as it is kept."""
    held = kept("screens")
    site, catalog = read(held["problem"])
    return Plan(site, catalog, loaded(held["drawing"]))


@pytest.fixture(scope="module")
def catalog() -> Catalog:
    """The metric price list."""
    return autoplan.load_catalog("metric")


def load(folder: Path, said: str) -> Site:
    """The site of a tank over a sump with something said of the tank."""
    path = folder / "fry.toml"
    path.write_text(PROBLEM.format(said=said), encoding="utf-8")
    return autoplan.load_problem(path).outline


def fried(plan: Plan, screen: str, slot_mm: float) -> Plan:
    """The tank's drain with a screen of such openings against fry."""
    run = replace(plan.site.runs["tank drain"], fry=True)
    site = replace(plan.site, runs={**plan.site.runs, run.name: run})
    line = put(plan.drawing.runs["tank drain"], InletScreen(screen))
    return replace(plan, site=site).line(line).part(screen, slot_m=slot_mm / 1000)


@pytest.mark.parametrize(("slot_mm", "ok"), [(0.8, True), (1.0, True), (1.001, False), (2.5, False)])
def test_openings_hold_back_fry(screened: Plan, slot_mm: float, ok: bool) -> None:
    """One millimetre holds, a hair more does not, nor do the 2.5 mm that hold back fingerlings."""
    finding = fried(screened, "screen-mesh-40", slot_mm).findings("screens")["tank drain"]
    assert finding.ok is ok
    assert finding.limit == pytest.approx(1.0)


def test_only_mesh_is_admitted_against_fry(screened: Plan) -> None:
    """Of the price list's screens for a 40 mm pipe the rule allows the mesh alone."""
    plan = fried(screened, "screen-mesh-40", 0.8)
    (rule,) = [rule for rule in read_rules(plan.site).rules if rule.id == "screens"]
    run, pipe = plan.site.runs["tank drain"], plan.survey.pipe("tank drain")
    rows = [row for row in plan.catalog.fixtures.values() if row.takes(0.04)]
    asked = [Fitted(plan.site, plan.catalog, run, pipe, InletScreen, InletScreen(row.id)) for row in rows]
    fits = [row.kind for row, one in zip(rows, asked, strict=True) if row.open_m2 and rule.admits(one)]
    assert fits == [FixtureKind.MESH]


def test_mesh_clogs_sooner_and_long_slots_later(catalog: Catalog) -> None:
    """Three tenths of a mesh are clear, half of slots; one of thrice the area loses a ninth or less."""
    head = {
        row.kind: InletScreen(row.id).resistance(catalog).loss(750 / 3.6e6)
        for row in (catalog.fixtures[part] for part in ("screen-50", "screen-long-50", "screen-mesh-50"))
    }
    mesh = catalog.fixtures["screen-mesh-50"]
    passes = 0.60 * mesh.open_m2 * 0.3 * math.sqrt(2 * 9.80665 * head[FixtureKind.MESH])
    assert passes == pytest.approx(750 / 3.6e6, rel=1e-9)
    assert head[FixtureKind.LONG_SCREEN] <= head[FixtureKind.SCREEN] / 9


def test_each_kind_says_what_it_asks_for(catalog: Catalog) -> None:
    """A mesh comes off once fry are grown; a long screen says why it is long."""
    (mesh,) = InletScreen("screen-mesh-50").told(catalog)
    (long,) = InletScreen("screen-long-50").told(catalog)
    assert "lifted off once fry are grown" in mesh
    assert "half grown over" in long


def test_the_word_is_kept(tmp_path: Path) -> None:
    """`screen = "fry"` is a screen too, and the long form says it again; true is one without it."""
    site = load(tmp_path, 'screen = "fry"')
    assert (site.runs["tank drain"].screen, site.runs["tank drain"].fry) == (True, True)
    path = tmp_path / "long.toml"
    path.write_text(expand_to_toml(site), encoding="utf-8")
    assert autoplan.load_problem(path).outline.runs == site.runs
    plain = load(tmp_path, "screen = true").runs["tank drain"]
    assert (plain.screen, plain.fry) == (True, False)
    none = load(tmp_path, "").runs["tank drain"]
    assert (none.screen, none.fry) == (False, False)


@pytest.mark.parametrize("said", ['screen = "fish"', 'screen = "true"', "screen = 1"])
def test_a_wrong_word(tmp_path: Path, said: str) -> None:
    """Anything else is told with what would be right."""
    with pytest.raises(InputError) as found:
        load(tmp_path, said)
    (mistake,) = found.value.mistakes
    assert mistake.place == "tank.screen"
    assert '"fry" for a fine mesh' in mistake.remedy
