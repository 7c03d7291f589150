"""Runs of one class: what they must have in common to be built alike."""

from __future__ import annotations

import pytest

from autoplan.errors import InputError
from autoplan.problem.toml.load import load_problem, problem_from
from autoplan.problem.toml.write import expand_to_toml

LONG = expand_to_toml(load_problem("problems/one-tank-one-bed.toml"))
"""The long form of a tank, a bed and a sump: its feeds leave a tee at 150 mm and run at that height."""


def mistakes(*changes: tuple[str, str]) -> list[str]:
    """What is wrong with the long form once some of its text is another; a change must be one."""
    text = LONG
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    try:
        problem_from(text, "classes.toml")
    except InputError as error:
        return [f"{mistake.place}: {mistake.problem}" for mistake in error.mistakes]
    return []


FEEDS = ('class = "bed feed"', 'class = "tank feed"')


def lower(run: str, height: str) -> tuple[str, str]:
    """One run at another height."""
    begins = LONG.index(f'name = "{run}"')
    table = LONG[begins : LONG.index("\n\n", begins)]
    return table, table.replace('height = "150 mm"', f'height = "{height}"')


@pytest.mark.parametrize(
    ("changes", "one", "other"),
    [
        (
            [('class = "bed feed"', 'class = "tank drain"')],
            "tank drain runs by gravity",
            "bed feed 1 is pumped",
        ),
        (
            [('class = "bed feed"', 'class = "main"')],
            "main starts at a vessel",
            "bed feed 1 starts at a junction",
        ),
        (
            [('class = "tank feed"', 'class = "main"')],
            "main starts at a vessel",
            "tank feed starts at a junction",
        ),
        (
            [('class = "tank overflow"', 'class = "tank drain"')],
            "tank drain is no overflow",
            "tank overflow is an overflow",
        ),
        (
            [('class = "bed drain"', 'class = "tank drain"')],
            'tank drain takes its water by draw = "solids-lifting"',
            'bed drain 1 takes its water by draw = "standpipe"',
        ),
        (
            [lower("bed feed 1", "200 mm"), FEEDS],
            "tank feed runs on at the height of its start",
            "bed feed 1 runs at another height than its start",
        ),
    ],
    ids=["kind", "starts", "main", "overflow", "draw", "height"],
)
def test_runs_that_cannot_be_alike(changes: list[tuple[str, str]], one: str, other: str) -> None:
    """Where a class cannot be built alike it is said which run is of another kind, and in what."""
    (told,) = mistakes(*changes)
    assert told.startswith("run.")
    assert f"are built alike, but {one}, and {other}" in told


@pytest.mark.parametrize(
    "changes", [[], [FEEDS], [lower("bed feed 1", "200 mm")]], ids=["as it is", "feeds alike", "of its own"]
)
def test_runs_that_can(changes: list[tuple[str, str]]) -> None:
    """Feeds of tank and bed from one tee may be one class; one that leaves at another height is its own."""
    assert mistakes(*changes) == []
