"""A sump too small for its beds: litres and beds that would mend it."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

import autoplan
from autoplan.catalog.parts import Catalog
from autoplan.outcome import Outcome, Status
from autoplan.problem.site import Site
from tests.optimiser.conftest import cut_down
from tests.searched import searched
from tests.words import why_none

PROBLEM = """
name = "Two beds and a small sump"
[tank]
volume = "500 L"
depth = "750 mm"
floor = "{tank}"
[beds]
count = {beds}
area = "1 m2"
floor = "550 mm"
[sump]
volume = "{litres} L"
depth = "500 mm"
floor = "-450 mm"
{wishes}
"""


def site(folder: Path, litres: float, wishes: str = "", beds: int = 2, tank: str = "150 mm") -> Site:
    """Two beds of 100 L a flood over a sump of that many litres, and a tank that stands so high."""
    path = folder / "small.toml"
    path.write_text(PROBLEM.format(litres=litres, wishes=wishes, beds=beds, tank=tank))
    return autoplan.load_problem(path).outline


SHELF = """drain-40-3m pn10-32-3m pn16-25-3m pn16-20-metre drain-bend-40-45 drain-sweep-40-90 drain-tee-40
    drain-coupling-40 elbow-32-90 elbow-25-90 elbow-25-45 seal-40 bulkhead-25 bush-25-20 union-female-32-1
    union-female-25-34 tee-32 tee-25 tee-32-25 bush-32-25 ball-32 ball-25 pump-1600 pump-2200 pump-3000"""


@cache
def shelf() -> Catalog:
    """A short price list."""
    return cut_down(autoplan.load_catalog("metric"), SHELF)


def cheapest(asked: Site) -> Outcome:
    """Its cheapest design from a short price list."""
    return autoplan.design(asked, shelf(), top=1)


def has_one(asked: Site) -> bool:
    """Whether it has a design from that list at all: a search to its end."""
    tried = searched(asked, shelf(), any_will_do=True)
    assert tried.ranking.designs or tried.ranking.ending == "none"
    return bool(tried.ranking.designs)


def test_a_small_sump_is_told_what_it_lacks(tmp_path: Path) -> None:
    """200 L cannot fill two beds of 100 L; both remedies hold when they are followed, and not with less."""
    outcome = cheapest(site(tmp_path, 200))
    assert outcome.status is Status.NONE
    assert outcome.clash is not None
    assert "sump-low" in outcome.clash.rules
    said = " ".join(why_none(outcome))
    more = float(re.search(r"(\d+) L more in sump", said).group(1))  # type: ignore[union-attr]
    assert has_one(site(tmp_path, 200 + more))
    assert not has_one(site(tmp_path, 200 + more - 1))
    assert "With at most 1 of 2 beds full at once there is a design (beds_full = 1)" in said
    assert has_one(site(tmp_path, 200, "[wishes]\nbeds_full = 1"))
    assert "Raising tank" not in said


def test_a_tank_that_keeps_its_sump_down(tmp_path: Path) -> None:
    """A tank whose water stands below its sump's keeps that too low for the pump: the tank must go up."""

    def with_one_bed(tank: str) -> Site:
        return site(tmp_path, 400, beds=1, tank=tank)

    low = cheapest(with_one_bed("-1 m"))
    assert low.clash is not None
    assert set(low.clash.rules) == {"sump-low", "level-range"}
    said = " ".join(why_none(low))
    step = int(re.search(r"Raising tank by (\d+) mm would leave a design", said).group(1))  # type: ignore[union-attr]
    assert has_one(with_one_bed(f"{-1000 + step} mm"))
    assert not has_one(with_one_bed(f"{-1000 + step - 1} mm"))


@pytest.mark.parametrize(("litres", "beds"), [(200, 1), pytest.param(300, 2, marks=pytest.mark.long)])
def test_as_many_beds_as_the_sump_can_fill(tmp_path: Path, litres: float, beds: int) -> None:
    """`beds_full = "most"` finds how many, and says so among the assumptions."""
    asked = site(tmp_path, litres, '[wishes]\nbeds_full = "most"')
    outcome = cheapest(asked)
    assert outcome.designs
    assert outcome.site.wishes.beds_full == beds
    assert ("wishes.beds_full", str(beds)) in [(a.place, a.text) for a in outcome.site.assumptions]
    fixed = replace(asked, wishes=replace(asked.wishes, most_full=False, beds_full=beds))
    assert cheapest(fixed).designs[0].objective == outcome.designs[0].objective
