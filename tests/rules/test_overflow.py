"""Two drains with given shares and an emergency overflow: the shipped problem, inside and past its limits."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

import autoplan
from autoplan.catalog.parts import Catalog
from autoplan.drawing import Drawing
from autoplan.errors import InputError
from autoplan.fittings.ends import AtVessel
from autoplan.fittings.riser import Riser
from autoplan.optimiser.search.attempt import attempt
from autoplan.optimiser.search.solve import Ending
from autoplan.outcome import Finding, Outcome, Verdict
from autoplan.problem.site import Site
from autoplan.problem.toml.load import load_problem
from autoplan.problem.toml.write import expand_to_toml
from autoplan.rules.book import read_rules
from autoplan.rules.survey import Survey
from autoplan.verdict.judge import judge
from tests.lines import ended, redrawn
from tests.short_list import from_short_list
from tests.stored import stored
from tests.words import by_place

PROBLEM = "problems/two-drains.toml"
METRIC = autoplan.load_catalog("metric")
LITRES_H = 3.6e6


@pytest.fixture(scope="module")
def outcome() -> Outcome:
    """The cheapest design of the shipped problem."""
    return stored("two-drains", Path(PROBLEM).read_text(encoding="utf-8"))


def findings(site: Site, catalog: Catalog, drawing: Drawing) -> dict[str, Finding]:
    """What the rule says, by place."""
    (rule,) = [rule for rule in read_rules(site).rules if rule.id == "emergency-overflow"]
    return by_place(rule.check(Survey(site, catalog, drawing)))


def moved(drawing: Drawing, up_mm: float) -> Drawing:
    """The overflow's hole higher up the tank."""
    run = drawing.runs["overflow"]
    assert isinstance(run.start, AtVessel)
    assert run.start.centre_m is not None
    return redrawn(drawing, ended(run, "start", centre_m=run.start.centre_m + up_mm / 1000))


def test_shares_are_kept(outcome: Outcome) -> None:
    """Seven tenths leave from the floor, three from the surface, and the overflow takes nothing."""
    flows = outcome.site.flows
    assert flows["solids drain"].design_m3_s * LITRES_H == pytest.approx(1050)
    assert flows["surface drain"].design_m3_s * LITRES_H == pytest.approx(450)
    assert flows["settler drain"].design_m3_s * LITRES_H == pytest.approx(1050)
    assert flows["overflow"].design_m3_s == 0
    assert flows["overflow"].peak_m3_s * LITRES_H == pytest.approx(1500)
    drawn = outcome.designs[0].drawing.runs
    assert drawn["solids drain"].one(Riser) is not None
    assert drawn["surface drain"].one(Riser) is None


def test_it_stands_dry_and_carries_all(outcome: Outcome) -> None:
    """Over both drains' levels at overload, and the whole 1500 L/h below the rim."""
    found = findings(outcome.site, METRIC, outcome.designs[0].drawing)
    assert found["overflow"].ok
    assert found["overflow: inlet"].ok
    survey = Survey(outcome.site, METRIC, outcome.designs[0].drawing)
    assert survey.standing_level("fish tank", 1.5) < survey.control_height("overflow") - 0.0049


def test_inlet_too_low(outcome: Outcome) -> None:
    """Lowered by half a millimetre its gap to the overload level is short; raised, it is not."""
    drawing = outcome.designs[0].drawing
    spare = findings(outcome.site, METRIC, drawing)["overflow: inlet"].margin
    assert findings(outcome.site, METRIC, moved(drawing, -spare))["overflow: inlet"].ok
    assert not findings(outcome.site, METRIC, moved(drawing, -spare - 0.2))["overflow: inlet"].ok


def test_rim_too_near(outcome: Outcome) -> None:
    """Raised by what is left under the rim it just holds; a fifth of a millimetre more and it runs over."""
    drawing = outcome.designs[0].drawing
    spare = findings(outcome.site, METRIC, drawing)["overflow"].margin
    assert findings(outcome.site, METRIC, moved(drawing, spare))["overflow"].ok
    assert not findings(outcome.site, METRIC, moved(drawing, spare + 0.2))["overflow"].ok


def test_pipe_too_long(outcome: Outcome) -> None:
    """Where the pipe's loss and not its inlet decides, a sump that stands nearly as high breaks it."""
    drawing = outcome.designs[0].drawing
    sump = outcome.site.vessels["sump"]
    tank = outcome.site.vessels["fish tank"]
    level = replace(drawing.levels["sump"], design_m=tank.rim_m - 0.011)
    low = replace(drawing, levels={**drawing.levels, "sump": level})
    site = replace(outcome.site, vessels={**outcome.site.vessels, "sump": replace(sump, depth_m=3.0)})
    assert not findings(site, METRIC, low)["overflow"].ok


def found_with(extra: str, folder: Path, change: Callable[[str], str] = str) -> Ending:
    """How a search for the problem with something added ends, without what comes after."""
    path = folder / "problem.toml"
    text = change(Path(PROBLEM).read_text(encoding="utf-8"))
    path.write_text(from_short_list(text) + extra, encoding="utf-8")
    site = load_problem(path).outline
    book = read_rules(site)

    def judged(drawing: Drawing) -> Verdict:
        return judge(site, METRIC, book, drawing)

    return attempt(site, METRIC, book, judged, 1, confirm=False).ranking.ending


@pytest.mark.parametrize(
    ("setting", "ending"),
    [
        ('freeboard = "60 mm"', Ending.PROVEN),
        ('freeboard = "100 mm"', Ending.NONE),
        ("off = true", Ending.PROVEN),
    ],
)
def test_the_model_knows_it(tmp_path: Path, setting: str, ending: Ending) -> None:
    """The tank's lowest water leaves 135 mm of wall: some 50 for its flow, the rest for freeboard."""
    assert found_with(f"[rules.emergency-overflow]\n{setting}\n", tmp_path) is ending


def test_short_form(tmp_path: Path) -> None:
    """`overflow = true` below [tank] makes the run, with a length of its own, and is written out again."""
    path = tmp_path / "short.toml"
    text = (
        '[tank]\nvolume = "1000 L"\noverflow = true\n[sump]\nvolume = "600 L"\n'
        '[distances]\ntank_overflow = "4 m"\n'
    )
    path.write_text(text, encoding="utf-8")
    site = load_problem(path).outline
    run = site.runs["tank overflow"]
    assert (run.start, run.finish, run.overflow) == ("tank", "sump", True)
    assert math.isclose(run.length_m, 4.0, abs_tol=0.003)
    path.write_text(expand_to_toml(site), encoding="utf-8")
    assert load_problem(path).outline.runs == site.runs
    path.write_text(text.replace("overflow = true\n", ""), encoding="utf-8")
    with pytest.raises(InputError, match="tank_overflow"):
        load_problem(path)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("overflow = true", 'overflow = true\nshare = "5 %"', "no share"),
        ("overflow = true", 'overflow = true\ndraw = "standpipe"', "from the wall"),
        ("turns = [90, 90, 90]\nvalve = true", "turns = [90, 90, 90]\noverflow = true", "gravity run"),
    ],
)
def test_wrong_overflows(tmp_path: Path, old: str, new: str, said: str) -> None:
    """An overflow has no share, takes water at the wall, and is no pump's run."""
    path = tmp_path / "problem.toml"
    path.write_text(Path(PROBLEM).read_text(encoding="utf-8").replace(old, new), encoding="utf-8")
    with pytest.raises(InputError, match=said):
        load_problem(path)
