"""How remedies are looked for: the least step that works, what is undecided, and when time is up."""

from __future__ import annotations

import time
from dataclasses import replace
from pathlib import Path
from typing import Any, cast

import pytest

from autoplan.advice.case import LONGEST_TRY_S, Case
from autoplan.advice.remedies import _clashing, _worth_trying
from autoplan.advice.sump import sump_remedies
from autoplan.catalog.parts import Catalog
from autoplan.problem.site import Site
from autoplan.rules.book import RuleBook, read_rules
from autoplan.selection.attempt import Attempt
from autoplan.selection.rank import Ranked, Ranking
from autoplan.selection.shelf import Shelf
from autoplan.selection.solve import Ending
from autoplan.selection.without import Without
from tests.advice.test_sump import cheapest
from tests.advice.test_sump import site as small_sump


class Blind:
    """Shows nothing to be in vain, so that everything is searched."""

    def none_without(self, _: object) -> bool:
        """Not shown."""
        return False

    def none_under(self, _: object) -> bool:
        """Not shown."""
        return False

    def none_at(self, _: object) -> bool:
        """Not shown."""
        return False


class Searching:
    """Answers from a list of what works, and counts what it is asked."""

    def __init__(self, works: set[int], ending: Ending = Ending.NONE) -> None:
        self.works = works
        self.ending = ending
        self.asked: list[Site] = []

    def __call__(self, site: Site, _: RuleBook, **__: float) -> Attempt:
        """A design, or none, by the number of beds."""
        self.asked.append(site)
        found = site.wishes.beds_full in self.works
        designs = [cast(Ranked, object())] if found else []
        return Attempt(Ranking(designs, Ending.FEASIBLE if found else self.ending))


@pytest.fixture
def site(tmp_path: Path) -> Site:
    """Any problem."""
    return small_sump(tmp_path, 200)


def case(site: Site, search: Any, deadline: float | None = None) -> Case:
    """A case that searches by a stub."""
    catalog = cast(Catalog, None)
    vain, shelf = cast(Without, Blind()), cast(Shelf, None)
    return Case(site, catalog, read_rules(site), search, vain, shelf, deadline)


def steps(site: Site, count: int) -> list[tuple[int, Site]]:
    """So many steps, told apart by a number that nothing else looks at."""
    return [(n, replace(site, wishes=replace(site.wishes, beds_full=n))) for n in range(count)]


@pytest.mark.parametrize("first", range(11))
def test_the_least_step(site: Site, first: int) -> None:
    """Where all steps from one on work it is found, by no more than 1 + log2(11) searches rounded up."""
    search = Searching(set(range(first, 11)))
    assert case(site, search).least(steps(site, 11)) == first
    assert len(search.asked) <= 5


def test_no_step_works(site: Site) -> None:
    """Where the last step fails none is told, after one search; nor of no steps at all."""
    search = Searching(set())
    assert case(site, search).least(steps(site, 11)) is None
    assert len(search.asked) == 1
    assert case(site, search).least([]) is None


def test_what_is_told_was_tried(site: Site) -> None:
    """Where steps work and fail in no order, what is told works all the same."""
    search = Searching({3, 6, 10})
    assert case(site, search).least(steps(site, 11)) in {3, 6, 10}


def test_nothing_is_tried_once_time_is_up(site: Site) -> None:
    """A deadline that is past ends every remedy that changes the problem."""
    search = Searching(set(range(11)))
    late = case(site, search, time.monotonic() - 1)
    assert late.least(steps(site, 11)) is None
    assert not search.asked


def test_an_undecided_search_drops_no_rule(site: Site) -> None:
    """A rule leaves the clash only where there is proven to be no design without it; if not, that is told."""
    tried = {rule.id for rule in read_rules(site).rules if _worth_trying(rule)}
    kept, needed = _clashing(case(site, Searching(set(), Ending.UNDECIDED)))
    assert set(kept) == tried
    assert not needed
    (last,), needed = _clashing(case(site, Searching(set(), Ending.NONE)))
    assert last in tried
    assert needed


def test_what_the_relaxation_shows_is_not_searched(site: Site) -> None:
    """Only rules that it says nothing of are searched, each with all that it speaks for left aside."""
    tried = [rule.id for rule in read_rules(site).rules if _worth_trying(rule)]
    unknown = {"fish-safe", "drain-fall"}

    class Knowing(Blind):
        def none_without(self, rules: Any) -> bool:
            return not unknown & set(rules)

    search = Searching(set(), Ending.NONE)
    looked = replace(case(site, search), vain=cast(Without, Knowing()))
    (last,), needed = _clashing(looked)
    assert last in unknown
    assert needed
    assert unknown <= set(tried)
    assert len(search.asked) == 1


def test_one_rule_is_left_where_none_would_help(site: Site) -> None:
    """Where no set of rules is to blame one is named for all, without a search."""

    class Hopeless(Blind):
        def none_without(self, _: object) -> bool:
            return True

    search = Searching(set(), Ending.NONE)
    kept, needed = _clashing(replace(case(site, search), vain=cast(Without, Hopeless())))
    assert (len(kept), needed, search.asked) == (1, True, [])


def test_no_time_to_find_out(site: Site) -> None:
    """Once time is up nothing is said of which rules clash, for not each was tried."""
    late = case(site, Searching(set(), Ending.NONE), time.monotonic() - 1)
    assert _clashing(late) == ([], False)


def test_a_try_is_given_up_in_time(site: Site) -> None:
    """Every search of a case is told the longest that one try may take."""
    told: list[float] = []

    def search(*_: object, at_most_s: float, **__: bool) -> Attempt:
        told.append(at_most_s)
        return Attempt(Ranking(ending=Ending.UNDECIDED))

    looked = case(site, search)
    looked.without("drain-bore")
    looked.works(site)
    assert told == [LONGEST_TRY_S, LONGEST_TRY_S]


def test_no_bed_at_all_is_no_advice(tmp_path: Path) -> None:
    """For a sump that cannot fill one bed no number of beds is told, only litres."""
    outcome = cheapest(small_sump(tmp_path, 120, "[wishes]\nbeds_full = 1"))
    assert outcome.clash is not None
    assert "sump-low" in outcome.clash.rules
    said = " ".join(outcome.clash.sentences)
    assert "L more in sump" in said
    assert "beds_full = 0" not in said


def test_sump_remedies_need_a_design_without_the_limits(site: Site) -> None:
    """Where even a sump without limits has no design there is nothing to measure a shortage by."""
    assert list(sump_remedies(case(site, Searching(set())))) == []
