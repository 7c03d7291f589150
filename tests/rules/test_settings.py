"""Settings of rules at and beyond what they may be: told as mistakes, never a fault of the program."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

import autoplan
from autoplan.errors import InputError
from autoplan.outcome import Status
from autoplan.problem.toml.load import problem_from
from autoplan.rules.book import ALL, read_rules
from autoplan.units import Dimension
from tests.one_bed import one_bed
from tests.optimiser.conftest import cut_down
from tests.test_walk import WIDE_ONLY


def mistakes(rule: str, said: str) -> list[str]:
    """What is wrong with one setting."""
    try:
        read_rules(problem_from(f"{one_bed()}[rules.{rule}]\n{said}\n", "set.toml").outline)
    except InputError as error:
        return [f"{mistake.place}: {mistake.problem}" for mistake in error.mistakes]
    return []


def limits() -> Iterator[tuple[str, str, str, str, str]]:
    """Rule, key, a value at its limit and one beyond it, and what is then said."""
    yield "siphon-start", "froude", "0.01", "0", "is too small"
    yield "siphon-start", "flare", '"1 %"', '"0 %"', "is too small"
    yield "siphon-start", "flare", '"100 %"', '"101 %"', "is too large"
    yield "bell-made", "modulus", "0.1", "0", "is too small"
    yield "sundries", "film", '"100 mm"', '"101 mm"', "is too large"
    yield "sundries", "cleaner", '"0 mm"', '"-1 mm"', "is below zero"
    yield "purchase-list", "kerf", '"100 mm"', '"101 mm"', "is too large"
    yield "hole-place", "strip", '"10 m"', '"10.1 m"', "is too large"
    yield "pump-duty", "margin", '"100000 %"', '"100001 %"', "is too large"


@pytest.mark.parametrize(("rule", "key", "right", "beyond", "told"), list(limits()))
def test_both_sides_of_a_limit(rule: str, key: str, right: str, beyond: str, told: str) -> None:
    """At its limit a setting is read; beyond it is a mistake at its place."""
    assert mistakes(rule, f"{key} = {right}") == []
    (said,) = mistakes(rule, f"{key} = {beyond}")
    assert said.startswith(f"rules.{rule}.{key}: ")
    assert said.endswith(told)


def test_no_default_is_a_mistake() -> None:
    """What is taken where nothing is said is within its own limits."""
    for kind in ALL:
        for setting in kind.settings:
            text = setting.default if setting.dimension is Dimension.NUMBER else f'"{setting.default}"'
            text = f'"{text}"' if "%" in text else text
            assert mistakes(kind.id, f"{setting.key} = {text}") == [], (kind.id, setting.key)


NOTHING = """
[rules.sundries]
film = "0 mm"
turns = 0
screwed_turns = 0
cleaner = "0 mm"
lubricant = "0 mm"
"""


def test_a_design_of_which_nothing_is_counted() -> None:
    """Whoever wants no cement, tape or lubricant counted gets a design without them."""
    shelf = cut_down(autoplan.load_catalog("metric"), f"{WIDE_ONLY} coupling-32")
    text = one_bed('floods = "3.8/hour"') + NOTHING
    outcome = autoplan.design(problem_from(text, "nothing.toml"), shelf, top=1)
    assert outcome.status is Status.PROVEN
    assert outcome.solver.rejected == 0


def test_a_share_of_nothing_is_a_row_like_others() -> None:
    """With no flow asked of the start a term of its row is 0, by which nothing is divided."""
    shelf = cut_down(autoplan.load_catalog("metric"), f"{WIDE_ONLY} coupling-32")
    text = (
        one_bed('floods = "3.8/hour"') + '[rules.over-rim-start]\nshare = "0 %"\n[wishes]\nspare = "none"\n'
    )
    outcome = autoplan.design(problem_from(text, "share.toml"), shelf, top=1)
    assert outcome.status is Status.PROVEN
    assert outcome.solver.rejected == 0
