"""A run for which the price list has all parts, and which has no room for them where it goes."""

from __future__ import annotations

import re
from typing import NoReturn

import pytest

import autoplan
from autoplan.advice.case import Case
from autoplan.advice.moves import _moves
from autoplan.optimiser.options.option_cache import Workshop
from autoplan.optimiser.search.without import Without
from autoplan.outcome import Status
from autoplan.problem.toml.load import load_problem, problem_from
from autoplan.problem.toml.write import expand_to_toml
from autoplan.rules.book import read_rules
from tests.one_bed import one_bed
from tests.short_list import from_shortest_list
from tests.words import why_none

FEED = """name = "bed feed 1"
kind = "pressure"
from = "split"
to = "bed 1"
level = ["900 mm"]
corners = []
height = "150 mm"
"""


@pytest.mark.parametrize(("level_mm", "height_mm"), [(130, 170), (130, 250)], ids=["slant", "upright"])
def test_no_room_is_said_to_be_none(level_mm: int, height_mm: int) -> None:
    """A feed that has 130 mm to leave its tee for another height in lacks room, and no part of the list."""
    text = expand_to_toml(load_problem("problems/one-tank-one-bed.toml"))
    assert FEED in text
    cramped = FEED.replace("900", str(level_mm)).replace("150", str(height_mm))
    problem = problem_from(from_shortest_list(text.replace(FEED, cramped)), "cramped.toml")
    outcome = autoplan.design(problem, autoplan.load_catalog("metric"), top=1)
    assert outcome.status is Status.NONE
    (said,) = why_none(outcome)
    assert said.startswith("bed feed: there is no room for its turns at these heights and distances")
    assert "price list" not in said


def test_rules_that_only_refuse_once_others_are_aside() -> None:
    """Twice a day gives a bed 8 L/h, by which no siphon starts, neither at first nor when it is full."""
    text = from_shortest_list(one_bed('floods = "2/day"'))
    outcome = autoplan.design(problem_from(text, "slow.toml"), autoplan.load_catalog("metric"), top=1)
    assert outcome.status is Status.NONE
    first, second, *_ = why_none(outcome)
    assert re.match(r"bed drain: no standpipe for a bell siphon is left; refused by siphon-start", first)
    assert second.startswith("bed 1 gets 8 L/h; a siphon on the narrowest standpipe to be had")


def test_bends_that_come_with_height_rule_no_move_out() -> None:
    """Vessels that stand too nearly alike for any drain between them: one higher, or the other lower, may do.

    As they stand the relaxation knows of no way down but a level one, and so of no height that helps.
    """
    site, metric = (
        autoplan.load_problem("problems/wall-too-low.toml").outline,
        autoplan.load_catalog("metric"),
    )
    book, workshop = read_rules(site), Workshop(metric)
    vain = Without(site, metric, book, workshop, water_only=True)

    def never(*_: object, **__: object) -> NoReturn:
        raise AssertionError("nothing is searched")

    case = Case(site, metric, book, never, vain, workshop)
    assert {(move.said, move.up) for move in _moves(case)} == {("tank", True), ("settler", False)}
