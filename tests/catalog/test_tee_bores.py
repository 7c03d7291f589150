"""The branch of a tee has a bore of its own: as its row says, else as the pipe of its size allows."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from autoplan.catalog.load import load_catalog
from autoplan.catalog.parts import Catalog
from autoplan.errors import InputError
from tests.catalog.test_spigots import with_column

LISTS = Path(__file__).parents[2] / "catalogs"
TEE = "tee-50-32"


def listed(folder: Path, bore: str, branch: str) -> Path:
    """The small price list, the bores of its reducing tee of 50 by 32 mm as given."""
    with_column(folder, "tees.csv", "bore_mm", {TEE: bore})
    return with_column(folder, "tees.csv", "branch_bore_mm", {TEE: branch})


@pytest.mark.parametrize(
    ("bore", "branch", "found"),
    [
        ("42.5", "27.2", 0.0272),
        # The pipe of 32 mm in that list has 28.8 mm inside.
        ("42.5", "", 0.0288),
        ("28.9", "", 0.0288),
        ("28.7", "", 0.0287),
    ],
)
def test_the_bore_of_a_branch(tmp_path: Path, bore: str, branch: str, found: float) -> None:
    """Its row's, else that of the narrowest pipe of its size, and not more than the run's."""
    catalog = load_catalog(listed(tmp_path / "list", bore, branch))
    assert min(pipe.bore_m for pipe in catalog.pipes.values() if pipe.end.size == "32") == 0.0288
    tee = catalog.tees[TEE]
    assert (tee.bore_at(0), tee.bore_at(1)) == (float(bore) / 1000,) * 2
    assert tee.branch_m == tee.bore_at(2) == pytest.approx(found)


def test_a_branch_of_unknown_size(metric: Catalog) -> None:
    """No pipe is named by a thread: such a branch is as wide as the run; as one of the run's own size."""
    for part in ("tee-thread-32-1", "tee-32"):
        tee = metric.tees[part]
        silent = replace(tee, branch_bore_m=None).branch_from(metric.pipes.values())
        assert silent.branch_bore_m is None
        assert silent.branch_m == tee.bore_m


@pytest.mark.parametrize(
    ("bore", "branch", "problem"),
    [
        ("50", "27.2", "bore_mm 50 is too large for socket metric 50"),
        ("42.5", "32", "branch_bore_mm 32 is too large for socket metric 32"),
        ("42.5", "wide", 'branch_bore_mm "wide" is not a number'),
        ("42.5", "0", "branch_bore_mm is 0"),
    ],
)
def test_what_a_bore_may_not_be(tmp_path: Path, bore: str, branch: str, problem: str) -> None:
    """As wide as the outside of the pipe in its own end, or no length; a little less will do."""
    with pytest.raises(InputError) as caught:
        load_catalog(listed(tmp_path / "list", bore, branch))
    (mistake,) = caught.value.mistakes
    assert mistake.problem.startswith(problem)
    assert load_catalog(listed(tmp_path / "less", "49.9", "31.9")).tees[TEE].branch_m == 0.0319


@pytest.mark.parametrize("name", ["metric", "inch", "bore-named"])
def test_reducing_tees_of_the_lists(name: str) -> None:
    """Every reducing tee tells both bores, its run as wide as that of an equal tee of its kind."""
    tees = load_catalog(LISTS / name).tees.values()
    found = [tee for tee in tees if tee.ends[2] != tee.ends[0]]
    assert len(found) > 30
    for tee in found:
        assert tee.branch_bore_m is not None
        assert tee.branch_bore_m <= tee.bore_m
        assert any(tee.bore_m == one.bore_m for one in tees if set(one.ends) == {tee.ends[0]})
