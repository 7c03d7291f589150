"""Lines that run at one height on sloping ground are told of, where they come to lie in the soil."""

from __future__ import annotations

from pathlib import Path

import pytest

import autoplan
from autoplan.problem.slopes import slopes
from autoplan.problem.toml.load import problem_from
from autoplan.report.units import SI
from tests.one_bed import one_bed
from tests.short_list import from_shortest_list


def slope(tank_mm: int, feeds: str, sump_mm: int = 0) -> str:
    """A problem in which tank and sump stand on ground that much higher than the bed's."""
    text = one_bed().replace("[tank]", f'[tank]\nground = "{tank_mm} mm"')
    text = text.replace("[sump]", f'[sump]\nground = "{sump_mm} mm"')
    return text.replace('floor = "550 mm"', 'floor = "1600 mm"') + f'[heights]\nfeeds = "{feeds}"\n'


def told(text: str) -> str:
    """What is said of where its lines lie."""
    return " ".join(SI.told(sentence) for sentence in slopes(problem_from(text, "slope.toml").outline))


@pytest.mark.parametrize(("tank", "said"), [(0, ""), (350, ""), (351, "201 mm under that at tank")])
def test_on_the_ground_is_on_the_lowest(tank: int, said: str) -> None:
    """The sump's rim leaves no room to come down again: it lies 150 mm over the lowest ground, on no step."""
    found = told(slope(tank, "on the ground"))
    assert said in found
    assert bool(found) is bool(said)


def test_a_sump_that_stands_higher() -> None:
    """Behind the rim of the sump the main would go down into the ground; each vessel is named once."""
    text = slope(0, "on the ground", 900)
    assert told(text).count("850 mm under that at sump") == 1
    problem = problem_from(from_shortest_list(text), "slope.toml")
    outcome = autoplan.design(problem, autoplan.load_catalog("metric"), top=1)
    assert told(text) in map(SI.told, outcome.notes)


@pytest.mark.parametrize("feeds", ["buried 300 mm", "950 mm"])
def test_lines_that_lie_in_the_ground_or_over_it_as_a_whole(feeds: str) -> None:
    """Buried by wish, or over the highest ground, nothing is told."""
    assert not told(slope(900, feeds))


def test_shipped_problems_have_none() -> None:
    """No problem that comes along has lines in a slope."""
    for path in sorted(Path("problems").glob("*.toml")):
        assert not slopes(autoplan.load_problem(path).outline)
