"""What a siphon sucks at is glued, also where all other drains are made with tape and a screw."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

import autoplan
from autoplan.catalog.mating import JointKind
from autoplan.catalog.parts import Catalog, SundryKind
from autoplan.outcome import Design
from autoplan.problem.flows import under_suction
from autoplan.problem.site import BedDrain, Site
from autoplan.rules.book import read_rules
from autoplan.rules.survey import Survey
from tests.one_bed import one_bed
from tests.optimiser.conftest import cut_down

DRAIN = "bed drain 1"
PROBLEMS = Path(__file__).parents[3] / "problems"

SHELF = """drain-40-3m pn10-32-3m pn16-25-3m pn16-20-metre drain-bend-40-45 drain-sweep-40-90 drain-tee-40
    drain-coupling-40 elbow-32-90 elbow-25-90 elbow-25-45 seal-40 bulkhead-25 bush-25-20 union-female-32-1
    union-female-25-34 tee-32 tee-25 tee-32-25 bush-32-25 ball-32 ball-25 pump-1600 pump-2200
    bell-75 guard-110 snorkel-6"""


OFF = "".join(
    f"[rules.{rule}]\noff = true\n"
    for rule in ("drinking-water", "feed-handle", "feed-bore", "siphon-start", "full-bed-start")
)
"""Rules that ask for more parts than the shelf has, and have nothing to do with it."""


def drawn(plan: Any, *, screwed: bool, glued: tuple[str, ...] = ()) -> Any:
    """The plan with its drains made so."""
    return replace(plan, drawing=replace(plan.drawing, screwed_drains=screwed, glued=glued))


@pytest.mark.parametrize(
    ("screwed", "glued", "ok"), [(False, (), True), (True, (), False), (True, (DRAIN,), True)]
)
def test_taped_joints_under_suction(plan, screwed: bool, glued: tuple[str, ...], ok: bool) -> None:
    """A screwed siphon drain is refused for each of its sockets, a glued one holds beside screwed drains."""
    made = drawn(plan, screwed=screwed, glued=glued)
    found = made.findings("siphon-tight")
    assert list(found) == [DRAIN]
    sockets = [joint for joint in plan.survey.joints if joint.run == DRAIN and joint.kind is JointKind.WELDED]
    assert found[DRAIN].ok is ok
    assert found[DRAIN].value == (0 if ok else len(sockets))
    taped = {joint.run for joint in made.survey.joints if joint.kind is JointKind.SCREWED}
    assert ("tank drain" in taped) is screwed


def test_a_bed_without_a_siphon(plan) -> None:
    """Its standpipe runs by gravity, and may be screwed."""
    bed = plan.site.vessels["bed 1"]
    plain = drawn(plan, screwed=True).vessel("bed 1", bed=replace(bed.bed, drain=BedDrain.STANDPIPE))
    assert plain.findings("siphon-tight") == {}
    (rule,) = (rule for rule in read_rules(plan.site).rules if rule.id == "siphon-tight")
    assert type(rule).concerns(plan.site)
    assert not type(rule).concerns(plain.site)


def site_of(name: str, *changes: tuple[str, str], folder: Path) -> Site:
    """A shipped problem's first site, with other words in its file."""
    text = (PROBLEMS / f"{name}.toml").read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    path = folder / "problem.toml"
    path.write_text(text, encoding="utf-8")
    return autoplan.load_problem(path).outline


def test_suction_ends_where_air_comes_in(tmp_path: Path) -> None:
    """Of a vented collector no piece is under suction but the drains of the beds, with siphons."""
    shared = site_of("row-of-beds", ('"any"', '"shared"'), folder=tmp_path)
    beds = [name for name, vessel in shared.vessels.items() if vessel.bed is not None and vessel.bed.siphon]
    own = {run.name for run in shared.runs.values() if run.start in beds}
    assert own
    assert set(under_suction(shared)) == own
    assert "tank drain" in shared.runs


def made(folder: Path, rules: str = "") -> Design:
    """The cheapest design of a bed with a siphon whose builder wants drains screwed."""
    path = folder / "bed.toml"
    path.write_text(one_bed() + '[wishes]\ndrain_joints = "screwed"\n' + OFF + rules)
    catalog = cut_down(autoplan.load_catalog("metric"), SHELF)
    (design,) = autoplan.design(autoplan.load_problem(path), catalog, top=1).designs
    return design


def kinds(design: Design, run: str) -> set[JointKind | None]:
    """How the socket joints of a run are made."""
    both = {JointKind.WELDED, JointKind.SCREWED}
    return {joint.kind for joint in design.verdict.joints if joint.run == run} & both


def test_screwed_drains_but_for_the_siphon(tmp_path: Path) -> None:
    """The tank's drain is screwed as asked and the siphon's glued; without the rule both are screwed."""
    design = made(tmp_path)
    assert kinds(design, DRAIN) == {JointKind.WELDED}
    assert kinds(design, "tank drain") == {JointKind.SCREWED}
    loose = made(tmp_path, "[rules.siphon-tight]\noff = true\n")
    assert kinds(loose, DRAIN) == kinds(loose, "tank drain") == {JointKind.SCREWED}


def used(design: Design, catalog: Catalog, kind: SundryKind) -> float:
    """How much of a sundry the joints of a design take."""
    bought = design.drawing.purchases
    return sum(
        line.quantity
        for line in bought
        if line.part in catalog.sundries and catalog.sundries[line.part].kind is kind
    )


def one_row(catalog: Catalog, kind: SundryKind, content: float, cents: int) -> Catalog:
    """The price list with a single row of a sundry, that holds so much and costs so much."""
    first = next(row for row in catalog.sundries.values() if row.kind is kind)
    others = {name: row for name, row in catalog.sundries.items() if row.kind is not kind}
    (offer, *_) = first.offers
    row = replace(first, content=content, offers=(replace(offer, price_cents=cents, pack=1, stock=None),))
    return replace(catalog, sundries={**others, first.id: row})


@pytest.mark.parametrize(
    ("share", "tails", "saves"),
    [(1.02, JointKind.WELDED, False), (0.98, JointKind.SCREWED, True)],
    ids=["the tin is enough", "the tin is short"],
)
def test_without_the_rule_nothing_that_it_allows_is_lost(
    tmp_path: Path, share: float, tails: JointKind, saves: bool
) -> None:
    """Screwed drains and a glued tail are offered beside each other: no rule less makes a design dearer.

    A tin of cement holds a little more or less than they take beside the pressure pipe. Where it is enough,
    screws for the tail too would take a second box, and cement for all drains a second tin. Where it is
    short the tail is screwed, as no rule forbids.
    """
    catalog = cut_down(autoplan.load_catalog("metric"), SHELF)
    design = made(tmp_path)
    screws, cement = (used(design, catalog, kind) for kind in (SundryKind.SCREW, SundryKind.CEMENT))
    catalog = one_row(catalog, SundryKind.CEMENT, share * cement, 10_000)
    catalog = one_row(catalog, SundryKind.SCREW, screws if tails is JointKind.WELDED else 100, 5_000)
    found = []
    for rules in ("", "[rules.siphon-tight]\noff = true\n"):
        path = tmp_path / "either.toml"
        path.write_text(one_bed() + '[wishes]\ndrain_joints = "any"\n' + OFF + rules)
        outcome = autoplan.design(autoplan.load_problem(path), catalog, top=1)
        assert outcome.solver.rejected == 0
        found += outcome.designs
    kept, loose = found
    assert (loose.objective < kept.objective) is saves
    assert loose.objective <= kept.objective
    assert kinds(loose, "tank drain") == {JointKind.SCREWED}
    assert kinds(loose, DRAIN) == {tails}


def test_screws_are_counted_for_what_is_screwed(tmp_path: Path) -> None:
    """A screw for each screwed socket, as the joints of the drawing have them."""
    path = tmp_path / "bed.toml"
    path.write_text(one_bed() + '[wishes]\ndrain_joints = "screwed"\n' + OFF)
    catalog = cut_down(autoplan.load_catalog("metric"), SHELF)
    outcome = autoplan.design(autoplan.load_problem(path), catalog, top=1)
    (design,) = outcome.designs
    survey = Survey(outcome.site, outcome.catalog, design.drawing)
    screwed = sum(joint.kind is JointKind.SCREWED for joint in survey.joints)
    assert screwed > 0
    found = [one for one in design.verdict.findings if one.rule == "sundries" and "screw" in str(one.place)]
    assert found
    assert all(one.ok for one in found)
    assert outcome.solver.rejected == 0
