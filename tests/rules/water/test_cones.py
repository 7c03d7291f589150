"""Waste out of a cone: from its tip, drawn, told and judged so; a flat floor as ever."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

import autoplan
from autoplan.errors import InputError
from autoplan.optimiser.model.draft import Draft
from autoplan.outcome import Design, Outcome, SolverReport, Status
from autoplan.problem.site import Site
from autoplan.problem.toml.write import expand_to_toml
from autoplan.report.render.plain import plain_text
from autoplan.report.sections.drilling import TIP, holes, holes_of
from autoplan.report.units import SI
from autoplan.rules.book import read_rules
from autoplan.verdict.hours.filling import filling
from autoplan.verdict.judge import judge
from tests.rules.conftest import Plan
from tests.rules.test_waste import PROBLEM
from tests.short_list import from_shorter_list
from tests.stored import kept, loaded, read

WASTE = "settler waste"


def load(folder: Path, cone: str) -> Site:
    """The site with a cone under its settler."""
    path = folder / "cone.toml"
    text = PROBLEM.replace("[settler]\n", f"[settler]\n{cone}\n", 1)
    path.write_text(from_shorter_list(text), encoding="utf-8")
    return autoplan.load_problem(path).outline


@pytest.fixture(scope="module")
def flat() -> Plan:
    """The system with a flat settler, as it is kept."""
    held = kept("sludge-to-the-garden")
    site, catalog = read(held["problem"])
    return Plan(site, catalog, loaded(held["drawing"]))


def coned(plan: Plan, over_mm: float) -> Plan:
    """A cone of 200 mm under the settler, its waste drawn so far over the tip."""
    deep = plan.vessel("settler", cone_m=0.2)
    tip = plan.site.vessels["settler"].floor_m - 0.2
    return deep.end(WASTE, "start", centre_m=tip + over_mm / 1000)


@pytest.mark.parametrize(("over_mm", "ok"), [(0.0, True), (1.0, True), (1.1, False), (252.0, False)])
def test_both_sides_of_the_tip(flat: Plan, over_mm: float, ok: bool) -> None:
    """At the tip, or a millimetre over it as it is marked, all of it comes out; from any higher not."""
    found = coned(flat, over_mm).findings("waste-drain")
    assert found[f"{WASTE}: over the tip of its cone"].ok is ok


def test_a_flat_floor_has_no_tip(flat: Plan) -> None:
    """Nothing is said of a tip, and its hole keeps a strip of wall to the floor."""
    assert [place for place in flat.findings("waste-drain") if "tip" in place] == []
    assert f"{WASTE} at settler" in flat.findings("hole-place")
    assert f"{WASTE} at settler" not in coned(flat, 0.0).findings("hole-place")


def test_every_way_to_build_starts_at_the_tip(tmp_path: Path) -> None:
    """Whatever it is made of, a waste drain out of a cone is drawn from its lowest point."""
    site = load(tmp_path, 'cone = "200 mm"')
    tip = site.vessels["settler"].floor_m - 0.2
    draft = Draft(site, autoplan.load_catalog("metric"), read_rules(site))
    starts = {candidate.drawn[WASTE].start.centre_m for _, candidate in draft.candidates(WASTE)}  # type: ignore[attr-defined]
    assert sorted(starts) == [pytest.approx(tip)]


def test_the_tip_is_told(flat: Plan) -> None:
    """Among the holes it is one in the floor, and the text says how deep it lies."""
    plan = coned(flat, 0.0)
    verdict = judge(plan.site, plan.catalog, read_rules(plan.site), plan.drawing)
    design = Design(1, True, 0.0, 0.0, plan.drawing, verdict)
    outcome = Outcome(Status.PROVEN, plan.site, plan.catalog, (design,), SolverReport(0.0, 0.0, 0, 1, {}))
    (hole,) = [hole for hole in holes_of(outcome, design) if hole.run == WASTE]
    assert (hole.place, hole.around, hole.centre_m) == ("floor", TIP, None)
    text = " ".join(plain_text(holes(outcome, design, SI)).split())
    assert "leaves by the tip of the cone, 200.0 mm under the foot of the upright wall" in text


def test_its_water_is_filled_in(flat: Plan) -> None:
    """A cone of 200 mm under 0.1875 m2 holds a third of their product, 12.5 L."""
    more = filling(coned(flat, 0.0).survey).total_m3 - filling(flat.survey).total_m3
    assert flat.site.vessels["settler"].area_m2 == pytest.approx(0.1875)
    assert more * 1000 == pytest.approx(12.5)


def test_written_out_and_wrong(tmp_path: Path) -> None:
    """The long form keeps it; a tank has no cone, and none is 0 deep."""
    site = load(tmp_path, 'cone = "200 mm"')
    assert site.vessels["settler"].cone_m == pytest.approx(0.2)
    assert site.vessels["settler"].lowest_m == pytest.approx(site.vessels["settler"].floor_m - 0.2)
    path = tmp_path / "long.toml"
    text = expand_to_toml(site)
    path.write_text(text, encoding="utf-8")
    assert autoplan.load_problem(path).outline.vessels == site.vessels
    path.write_text(text.replace('kind = "tank"', 'kind = "tank"\ncone = "100 mm"', 1), encoding="utf-8")
    with pytest.raises(InputError, match="only a settler or a biofilter has one"):
        autoplan.load_problem(path)
    with pytest.raises(InputError, match="too small"):
        load(tmp_path, 'cone = "0 mm"')
    assert replace(site.vessels["settler"], cone_m=0.0).lowest_m == site.vessels["settler"].floor_m
