"""What could not be read leads to no further mistake; lines lie no deeper than trenches are dug."""

from __future__ import annotations

import pytest

from autoplan.errors import InputError
from autoplan.problem.toml.load import load_problem, problem_from
from autoplan.problem.toml.write import expand_to_toml

SHORT = """
[tank]
volume = "500 L"
floor = "150 mm"
at = ["0 m", "0 m"]
[beds]
count = 2
area = "1 m2"
floor = "550 mm"
at = ["2 m", "0 m"]
step = ["1.5 m", "0 m"]
[sump]
volume = "300 L"
depth = "500 mm"
floor = "-450 mm"
shape = "square"
at = ["3 m", "3 m"]
facing = 10
"""


def mistakes(text: str) -> list[str]:
    """What is wrong with a problem, in the order in which it is told."""
    try:
        problem_from(text, "yard.toml")
    except InputError as error:
        return [f"{mistake.place}: {mistake.problem}" for mistake in error.mistakes]
    return []


def test_as_it_stands_nothing_is_wrong() -> None:
    """What is changed below is right before."""
    assert mistakes(SHORT) == []


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('["3 m", "3 m"]', '["101 m", "3 m"]', 'sump.at: "101 m" is too large'),
        ('["2 m", "0 m"]', '["2 m", "400 m"]', 'beds.at: "400 m" is too large'),
        ('["1.5 m", "0 m"]', '["150 m", "0 m"]', 'beds.step: "150 m" is too large'),
    ],
)
def test_a_place_too_far_off_is_one_mistake(old: str, new: str, told: str) -> None:
    """What goes with a place that could not be read is not said to lack it."""
    assert mistakes(SHORT.replace(old, new)) == [told]


def test_what_lacks_a_place_that_is_not_there_is_told() -> None:
    """A row of beds, or a direction, without the place that it goes with is a mistake of its own."""
    assert mistakes(SHORT.replace('at = ["2 m", "0 m"]\n', "")) == [
        "beds: step is given but not where the first bed is"
    ]
    assert mistakes(SHORT.replace('at = ["3 m", "3 m"]\n', "")) == [
        "sump: facing is given but not where it stands"
    ]


def test_a_run_to_what_could_not_be_read_lacks_no_distance() -> None:
    """In the long form a drain to a sump whose place is wrong is not said to lack its level distance."""
    text = expand_to_toml(load_problem("problems/one-tank-one-bed.toml"))
    text = text.replace('level = ["600 mm", "600 mm"]\ncorners = [90]\n', "")
    placed = text.replace('kind = "tank"\n', 'kind = "tank"\nat = ["0 m", "0 m"]\n')
    assert mistakes(placed.replace('kind = "sump"\n', 'kind = "sump"\nat = ["2 m", "0 m"]\n')) == []
    far = placed.replace('kind = "sump"\n', 'kind = "sump"\nat = ["200 m", "0 m"]\n')
    assert mistakes(far) == ['vessel.sump.at: "200 m" is too large']
    assert mistakes(placed)[0] == "run.tank drain.level: is missing"


@pytest.mark.parametrize(
    ("cone", "height", "told"),
    [
        ("100 mm", "0 mm", []),
        (
            "101 mm",
            "0 mm",
            ["0 mm, and leaves settler by the tip of its cone at -1 mm"],
        ),
        ("101 mm", "-1 mm", []),
    ],
)
def test_waste_does_not_rise(cone: str, height: str, told: list[str]) -> None:
    """A settler's floor is at 100 mm: from a cone that reaches under the drain's end nothing runs out."""
    settler = '[settler]\nvolume = "200 L"\nfloor = "100 mm"\ndepth = "700 mm"\nat = ["0 m", "4 m"]\n'
    settler += f'cone = "{cone}"\nwaste = true\nwaste_height = "{height}"\n'
    assert mistakes(f"{SHORT}{settler}") == [
        f"settler.waste_height: settler waste ends at {text}" for text in told
    ]


def test_a_table_that_is_there_twice() -> None:
    """TOML's own word for it is not a builder's."""
    assert mistakes(f'{SHORT}[tank]\nvolume = "1 m3"\n') == ["line 19: [tank] is there already"]


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ('feeds = "buried 2 m"', []),
        ('feeds = "buried 2001 mm"', ["heights.feeds: main would lie 2.001 m under the ground"]),
        ('feeds = "-2.1 m"', ["heights.feeds: main would lie 2.1 m under the ground"]),
        ('tank_to_sump = "buried 5 m"', ["heights.tank_to_sump: tank drain would lie 5 m under the ground"]),
    ],
)
def test_how_deep_a_line_may_lie(said: str, told: list[str]) -> None:
    """Two metres are the deepest trench; one deeper is told by its key, however its depth is given."""
    found = mistakes(f"{SHORT}[heights]\n{said}\n")
    assert [text.partition(", and")[0] for text in found] == told
