"""What is told of designs with an emergency overflow that were not weighed, and that it is true."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

import autoplan
from autoplan.outcome import Outcome, Status
from autoplan.report.contract.told import outcome_told
from autoplan.report.render.plain import plain_text
from autoplan.report.sections.contents import sections
from autoplan.report.sections.table import answer, with_overflow
from autoplan.report.units import SI
from autoplan.wished import WishCost
from tests.short_list import from_shortest_list

SMALL = (Path(__file__).parents[3] / "problems" / "one-tank-one-bed.toml").read_text(encoding="utf-8")


def designed(folder: Path, overflow: str = "") -> Outcome:
    """The proven cheapest design of the smallest problem, with something said of its tank's overflow."""
    file = folder / "problem.toml"
    text = SMALL.replace("[tank]\n", f"[tank]\n{overflow}\n")
    file.write_text(from_shortest_list(text), encoding="utf-8")
    outcome = autoplan.design(autoplan.load_problem(file), autoplan.load_catalog("metric"), top=1)
    assert (outcome.status, outcome.solver.rejected) == (Status.PROVEN, 0)
    return outcome


@pytest.fixture(scope="module")
def usual(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    """The design where an overflow is only for need."""
    return designed(tmp_path_factory.mktemp("usual"), 'overflow = "if needed"')


def spared(outcome: Outcome) -> WishCost:
    """The wish that an overflow would be another way to."""
    (wish,) = [one for one in outcome.wishes if one.by_overflow]
    return wish


def test_it_is_told_what_one_could_save(usual: Outcome) -> None:
    """Under the ranked table and in the JSON, with the most that the wish costs and what weighs it."""
    (said,) = with_overflow(usual)
    assert f"more than {spared(usual).dearer:.2f} EUR cheaper" in said
    assert 'overflow = "any" weighs them too' in said
    assert said in " ".join(plain_text(sections(usual, SI, ("ranks",))).split())
    answer = outcome_told(usual)["answer"]
    assert isinstance(answer, list)
    assert said in answer


def test_none_saves_more(usual: Outcome, tmp_path: Path) -> None:
    """The cheapest design with an overflow, searched for, costs no less than what is told."""
    built = designed(tmp_path, "overflow = true")
    assert any(run.overflow for run in built.site.runs.values())
    least = usual.designs[0].objective - spared(usual).dearer
    assert built.designs[0].objective >= least - 1e-9
    assert not with_overflow(built)


def test_where_nothing_can_be_saved(usual: Outcome) -> None:
    """Where the wish costs nothing none is cheaper; where they were weighed, nothing is said."""
    free = replace(usual, wishes=[replace(spared(usual), dearer=0.0)])
    assert with_overflow(free) == ["Nothing with an emergency overflow costs less either."]
    assert not with_overflow(replace(usual, unweighed=False))
    assert not with_overflow(replace(usual, wishes=()))
    unsure = replace(usual, designs=(replace(usual.designs[0], proven=False),))
    assert not with_overflow(unsure)
    assert "no design without an emergency overflow costs less than" in " ".join(answer(unsure))
    assert "proven is that no design costs less than" in " ".join(answer(replace(unsure, unweighed=False)))


@pytest.mark.parametrize("overflow", ['overflow = "any"', "overflow = false"])
def test_asked_for_or_forbidden(tmp_path: Path, overflow: str) -> None:
    """Weighed beside the others, or forbidden, there is nothing left out to tell of."""
    assert not designed(tmp_path, overflow).unweighed
