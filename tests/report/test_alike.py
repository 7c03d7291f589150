"""Things of which the same is said are named together."""

from __future__ import annotations

import pytest

from autoplan.report.alike import SECOND, THIRD, gathered, shortly, together


@pytest.mark.parametrize(
    ("names", "said"),
    [
        (["tank"], "tank"),
        (["tank", "sump"], "tank and sump"),
        (["bed 1", "bed 2"], "bed 1 and bed 2"),
        (["bed 1", "bed 2", "bed 3"], "bed 1 to bed 3"),
        (["tank", "bed 9", "bed 10", "bed 11", "sump"], "tank, bed 9 to bed 11 and sump"),
        (["bed 1", "bed 3", "bed 5"], "bed 1, bed 3 and bed 5"),
        (["bed 3", "bed 2", "bed 1"], "bed 3, bed 2 and bed 1"),
        (["1", "2", "3"], "1 to 3"),
    ],
)
def test_names_are_read_out_together(names: list[str], said: str) -> None:
    """Three or more in a row become a span; nothing else is taken for a row."""
    assert together(names) == said


@pytest.mark.parametrize(
    ("names", "said"),
    [
        (["bed 1"], "bed 1"),
        (["bed 1", "bed 2", "bed 3", "bed 4"], "bed 1 to bed 4"),
        (["bed 1", "bed 3"], "bed 1 and bed 3"),
        (["bed 1", "bed 3", "bed 4", "bed 5"], "bed 1 and bed 3 to bed 5"),
        (["bed 1", "bed 3", "bed 5", "bed 7"], "bed 1 and 3 more like it"),
        (["north bed", "south bed", "east bed"], "north bed and 2 more like it"),
    ],
)
def test_things_that_look_the_same_are_named_shortly(names: list[str], said: str) -> None:
    """No count is taken for a bed's number: a span, two names, or how many more there are."""
    assert shortly(names) == said


def test_the_same_text_is_said_once() -> None:
    """Lines keep the order in which their texts first came, and no name stands twice."""
    pairs = [
        (("bed 1",), "dry."),
        (("sump",), "wet."),
        (("bed 2",), "dry."),
        (("bed 3",), "dry."),
        (("bed 3",), "dry."),
    ]
    assert list(gathered(pairs)) == ["bed 1 to bed 3: dry.", "sump: wet."]


def test_different_texts_stay_apart() -> None:
    """A line for each, also where the name is the same."""
    assert list(gathered([(("bed 1",), "dry."), (("bed 1",), "wet.")])) == ["bed 1: dry.", "bed 1: wet."]


def test_names_inside_a_text_are_put_together_too() -> None:
    """A text alike but for the names in it is said once, each of its names once."""
    text = f"from {SECOND} to {THIRD}."
    pairs = [((f"drain {number}", f"bed {number}", "sump"), text) for number in (1, 2, 3)]
    assert list(gathered(pairs)) == ["drain 1 to drain 3: from bed 1 to bed 3 to sump."]
