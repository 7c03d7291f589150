"""Clamps on hose: as many as the pump's head asks for, and none where the end is always open."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

import autoplan
from autoplan.catalog.mating import JointKind
from autoplan.catalog.parts import SundryKind
from autoplan.outcome import Finding, Outcome, Status
from autoplan.problem.site import RunKind, Site
from autoplan.rules.book import read_rules
from autoplan.rules.survey import Survey
from tests.words import at, by_place

BASE = Path("problems/one-tank-one-bed.toml").read_text(encoding="utf-8")


def planned(folder: Path, extra: str = "") -> Outcome:
    """The smallest shipped problem, its bed kept full by a standpipe, with its pressure runs in hose."""
    path = folder / "hose.toml"
    drains = '[wishes]\ndrain_grade = "drain"\n'
    text = BASE.replace("[beds]\n", '[beds]\ndrain = "standpipe"\n') + drains + extra
    path.write_text(text, encoding="utf-8")
    site, catalog = autoplan.load_problem(path), autoplan.load_catalog("metric")
    others = [row.id for row in catalog.pipes.values() if row.rating_m > 0 and row.end.system != "hose"]
    return autoplan.design(replace(site, unavailable=frozenset(others)), catalog, top=1)


@pytest.fixture(scope="module")
def hosed(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    """The cheapest design in hose."""
    found = planned(tmp_path_factory.mktemp("hose"))
    assert found.status is Status.PROVEN
    return found


def findings(hosed: Outcome, change: Callable[[Survey], None] | None = None) -> dict[str, Finding]:
    """What the rule says of the design, its survey changed."""
    survey = Survey(hosed.site, hosed.catalog, hosed.designs[0].drawing)
    if change is not None:
        change(survey)
    (rule,) = [rule for rule in read_rules(hosed.site).rules if rule.id == "hose-clamps"]
    return by_place(rule.check(survey))


def clamped(survey: Survey, run: str, kind: JointKind, *, first: bool) -> None:
    """One barb in a run's hose made otherwise: the first of them, or the last."""
    made = list(survey.joints)
    barbs = [
        n
        for n, joint in enumerate(made)
        if joint.run == run and joint.kind in (JointKind.BARB, JointKind.CLAMPED)
    ]
    at = barbs[0 if first else -1]
    made[at] = replace(made[at], kind=kind)
    survey.__dict__["joints"] = tuple(made)


def test_all_of_it_by_hand(hosed: Outcome) -> None:
    """Both ends of the main are under the head; of a leg what lies before its valve, and no more."""
    site: Site = hosed.site
    found = findings(hosed)
    assert all(one.ok for one in found.values())
    for run in site.runs.values():
        if run.kind is RunKind.PRESSURE:
            assert found[run.name].value == found[run.name].limit > 0
            past = found.get(f"{run.name}: past its last valve")
            assert (past is not None) is run.valve
            assert past is None or past.limit == past.value == 0
    sizes = [one for place, one in found.items() if place.startswith("hose clamp ")]
    assert sum(one.limit for one in sizes) == sum(
        found[run.name].limit for run in site.runs.values() if run.kind is RunKind.PRESSURE
    )


def test_one_clamp_too_few_and_one_too_many(hosed: Outcome) -> None:
    """The first barb of a leg left bare, or its last one clamped past the valve: either is told."""
    bare = findings(hosed, lambda survey: clamped(survey, "tank feed", JointKind.BARB, first=True))
    assert (bare["tank feed"].ok, bare["tank feed"].margin) == (False, -1.0)
    more = findings(hosed, lambda survey: clamped(survey, "tank feed", JointKind.CLAMPED, first=False))
    assert (more["tank feed: past its last valve"].ok, more["tank feed"].ok) == (False, True)


def test_a_pack_short(hosed: Outcome) -> None:
    """An order without its clamps is told by the size that lacks."""
    drawing = hosed.designs[0].drawing
    clamps = {row.id for row in hosed.catalog.sundries.values() if row.kind is SundryKind.CLAMP}
    order = tuple(line for line in drawing.purchases if line.part not in clamps)
    design = replace(hosed.designs[0], drawing=replace(drawing, purchases=order))
    found = findings(replace(hosed, designs=(design,)))
    assert [one.ok for place, one in found.items() if place.startswith("hose clamp ")].count(False) > 0


def test_switched_off_no_clamp_is_bought(hosed: Outcome, tmp_path: Path) -> None:
    """With the rule the order has clamps; without it none, though cement or tape is counted as before."""
    loose = planned(tmp_path, "\n[rules.hose-clamps]\noff = true\n")

    def kinds(one: Outcome) -> set[SundryKind]:
        rows = one.catalog.sundries
        return {rows[line.part].kind for line in one.designs[0].drawing.purchases if line.part in rows}

    assert SundryKind.CLAMP in kinds(hosed)
    assert SundryKind.CLAMP not in kinds(loose)
    assert kinds(loose) & {SundryKind.CEMENT, SundryKind.TAPE}


def test_without_hose_nothing_is_clamped(plan) -> None:
    """A plan in rigid pipe and poly line, which grips by itself, says that there is no hose."""
    (only,) = plan.findings("hose-clamps").values()
    assert (at(only), only.value, only.limit, only.ok) == ("no hose anywhere", 0.0, 0.0, True)
