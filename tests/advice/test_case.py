"""How remedies are looked for: the least step that works, what is undecided, and when time is up."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any, cast

import pytest

import autoplan
from autoplan.advice.case import LONGEST_TRY_S, Allowance, Case, Least, named
from autoplan.advice.remedies import _clashing, _worth_trying
from autoplan.advice.sump import sump_remedies
from autoplan.catalog.parts import Catalog
from autoplan.optimiser.options.option_cache import OutOfTimeError, Workshop
from autoplan.optimiser.search.attempt import Attempt
from autoplan.optimiser.search.ranking import Ranked, Ranking
from autoplan.optimiser.search.solve import Ending
from autoplan.optimiser.search.without import Without
from autoplan.problem.site import Site
from autoplan.rules.book import RuleBook, read_rules
from tests.advice.test_sump import cheapest
from tests.advice.test_sump import site as small_sump
from tests.words import why_none

MOST = 40


class Blind:
    """Shows nothing to be in vain, so that everything is searched."""

    plain = None

    def none_without(self, _: object) -> bool:
        """Not shown."""
        return False

    def none_under(self, _: object) -> bool:
        """Not shown."""
        return False

    def none_at(self, _: object) -> bool:
        """Not shown."""
        return False


class Seeing(Blind):
    """Shows steps up to one to be in vain."""

    def __init__(self, last: int) -> None:
        self.last = last
        self.asked: list[int] = []

    def none_at(self, site: object) -> bool:
        """By the number that tells steps apart."""
        self.asked.append(number(cast(Site, site)))
        return self.asked[-1] <= self.last


class Searching:
    """Answers from a list of what works, and counts what it is asked."""

    def __init__(self, works: set[int], ending: Ending = Ending.NONE) -> None:
        self.works = works
        self.ending = ending
        self.asked: list[int] = []

    def __call__(self, site: Site, _: RuleBook, **__: float) -> Attempt:
        """A design, or none, by the step."""
        self.asked.append(number(site))
        found = self.asked[-1] in self.works
        designs = [cast(Ranked, object())] if found else []
        return Attempt(Ranking(designs, Ending.FEASIBLE if found else self.ending))


def number(site: Site) -> int:
    """The step that a site stands for."""
    return round(site.wishes.ownership_years)


@pytest.fixture(scope="module")
def catalog() -> Catalog:
    """The metric price list."""
    return autoplan.load_catalog("metric")


@pytest.fixture
def site(tmp_path: Path) -> Site:
    """A problem that is not refused at once."""
    return small_sump(tmp_path, 500)


@pytest.fixture
def case(site: Site, catalog: Catalog) -> Callable[..., Case]:
    """Cases that search by a stub."""

    def make(search: Any, vain: Any = None, deadline: float | None = None) -> Case:
        seen = cast(Without, Blind() if vain is None else vain)
        return Case(site, catalog, read_rules(site), search, seen, Workshop(catalog), Allowance(deadline))

    return make


def at(site: Site) -> Callable[[int], Site]:
    """Steps told apart by a number that nothing here looks at."""
    return lambda step: replace(site, wishes=replace(site.wishes, ownership_years=float(step)))


@pytest.mark.parametrize("first", [1, 2, 3, 12, 13, 39, 40])
@pytest.mark.parametrize("guess", [1, 12, 40])
@pytest.mark.parametrize("seen", [0, 5, 11, 38])
def test_the_least_step(site: Site, case: Callable[..., Case], first: int, guess: int, seen: int) -> None:
    """Where all steps from one on work it is found and proven, wherever the guess, and with whatever help."""
    search = Searching(set(range(first, MOST + 1)))
    made = case(search, Seeing(min(seen, first - 1)))
    assert made.least(at(site), guess, MOST) == Least(first, True)
    assert len(search.asked) <= 14


def test_a_right_guess_takes_one_search(site: Site, case: Callable[..., Case]) -> None:
    """Where the step before the guess is shown to be in vain nothing else is searched."""
    search, seeing = Searching(set(range(13, MOST + 1))), Seeing(12)
    assert case(search, seeing).least(at(site), 13, MOST) == Least(13, True)
    assert (search.asked, seeing.asked) == ([13], [12])


def test_no_step_works(site: Site, case: Callable[..., Case]) -> None:
    """Where the last step fails none is told."""
    search = Searching(set())
    assert case(search).least(at(site), 1, MOST) is None
    assert search.asked[-1] == MOST


def test_what_is_told_was_tried(site: Site, case: Callable[..., Case]) -> None:
    """Where steps work and fail in no order, what is told works all the same, and the one before fails."""
    works = {3, 6, 10, 40}
    found = case(Searching(works)).least(at(site), 5, MOST)
    assert found is not None
    assert found.step in works
    assert found.step - 1 not in works


def test_an_undecided_step_is_no_proof(site: Site, case: Callable[..., Case]) -> None:
    """Where the step before is not decided the least is not called proven; too many of them end it."""
    search = Searching(set(range(2, MOST)), Ending.UNDECIDED)
    assert case(search).least(at(site), 2, MOST) == Least(2, False)
    search = Searching({MOST}, Ending.UNDECIDED)
    assert case(search).least(at(site), 1, MOST) is None
    assert len(search.asked) == 3


def test_nothing_is_tried_once_time_is_up(site: Site, case: Callable[..., Case]) -> None:
    """A deadline that is past ends every remedy that changes the problem, and it is told which."""
    search = Searching(set(range(MOST)))
    late = case(search, None, time.monotonic() - 1)
    assert late.least(at(site), 1, MOST) is None
    assert late.without("drain-bore") is None
    assert not late.begin("raising tank")
    assert late.clock.untried == ["without drain-bore", "raising tank"]
    assert not search.asked


def test_nothing_is_begun_that_would_end_too_late(case: Callable[..., Case]) -> None:
    """What took two seconds is not begun with one left, and is with three."""
    for left, begun in ((1.0, False), (3.0, True)):
        made = case(Searching(set()), None, time.monotonic() + left)
        made.clock.expect(2.0)
        made.clock.expect(1.0)
        assert made.begin("raising tank") is begun


def test_a_draft_cut_short_shows_nothing(site: Site, case: Callable[..., Case]) -> None:
    """Where time runs out in a draft nothing is shown, and a search that it ends is undecided."""

    class Late(Blind):
        def none_at(self, _: object) -> bool:
            raise OutOfTimeError

    def search(*_: object, **__: object) -> Attempt:
        raise OutOfTimeError

    made = case(search, Late())
    assert not made.none_at(site)
    assert made.ending_at(site) is Ending.UNDECIDED


def test_a_workshop_stops_in_time(site: Site, catalog: Catalog) -> None:
    """Past its time it builds nothing, before it all."""
    from autoplan.optimiser.model.draft import Draft

    shop = Workshop(catalog)
    shop.until = time.monotonic() - 1
    with pytest.raises(OutOfTimeError):
        Draft(site, catalog, read_rules(site), workshop=shop)
    shop.until = time.monotonic() + 1000
    assert Draft(site, catalog, read_rules(site), workshop=shop).model.groups


def test_an_undecided_search_drops_no_rule(site: Site, case: Callable[..., Case]) -> None:
    """A rule leaves the clash only where there is proven to be no design without it; if not, that is told."""
    tried = {rule.id for rule in read_rules(site).rules if _worth_trying(rule, site)}
    kept, needed = _clashing(case(Searching(set(), Ending.UNDECIDED)))
    assert set(kept) == tried
    assert not needed
    (last,), needed = _clashing(case(Searching(set(), Ending.NONE)))
    assert last in tried
    assert needed


def test_no_budget_is_named_where_none_was_set(site: Site) -> None:
    """Nor any other rule that has nothing to say of the site; with a budget it is tried."""

    def tried(asked: Site) -> set[str]:
        return {rule.id for rule in read_rules(asked).rules if _worth_trying(rule, asked)}

    assert not {"budget", "timer-fill", "air-supply"} & tried(site)
    assert tried(replace(site, wishes=replace(site.wishes, budget=100.0))) - tried(site) == {"budget"}


def test_what_the_relaxation_shows_is_not_searched(site: Site, case: Callable[..., Case]) -> None:
    """Only rules that it says nothing of are searched, each with all that it speaks for left aside."""
    tried = [rule.id for rule in read_rules(site).rules if _worth_trying(rule, site)]
    unknown = {"fish-safe", "drain-fall"}

    class Knowing(Blind):
        def none_without(self, rules: Any) -> bool:
            return not unknown & set(rules)

    search = Searching(set(), Ending.NONE)
    (last,), needed = _clashing(case(search, Knowing()))
    assert last in unknown
    assert needed
    assert unknown <= set(tried)
    assert len(search.asked) == 1


def test_one_rule_is_left_where_none_would_help(case: Callable[..., Case]) -> None:
    """Where no set of rules is to blame one is named for all, without a search."""

    class Hopeless(Blind):
        def none_without(self, _: object) -> bool:
            return True

    search = Searching(set(), Ending.NONE)
    kept, needed = _clashing(case(search, Hopeless()))
    assert (len(kept), needed, search.asked) == (1, True, [])


def test_no_time_to_find_out(case: Callable[..., Case]) -> None:
    """Once time is up nothing is said of which rules clash, for not each was tried."""
    late = case(Searching(set(), Ending.NONE), None, time.monotonic() - 1)
    assert _clashing(late) == ([], False)


def test_a_try_is_given_up_in_time(site: Site, case: Callable[..., Case]) -> None:
    """Every search of a case is told the longest that one try may take."""
    told: list[float] = []

    def search(*_: object, at_most_s: float, **__: bool) -> Attempt:
        told.append(at_most_s)
        return Attempt(Ranking(ending=Ending.UNDECIDED))

    looked = case(search)
    looked.without("drain-bore")
    looked.ending_at(site)
    assert told == [LONGEST_TRY_S, LONGEST_TRY_S]


def test_no_bed_at_all_is_no_advice(tmp_path: Path) -> None:
    """For a sump that cannot fill one bed no number of beds is told, only litres."""
    outcome = cheapest(small_sump(tmp_path, 120, "[wishes]\nbeds_full = 1"))
    assert outcome.clash is not None
    assert "sump-low" in outcome.clash.rules
    said = " ".join(why_none(outcome))
    assert "L more in sump" in said
    assert "beds_full = 0" not in said


def test_sump_remedies_need_a_design(case: Callable[..., Case]) -> None:
    """Where no larger sump and no fewer beds leave one nothing is told."""
    assert list(sump_remedies(case(Searching(set())))) == []


def test_vessels_are_named_while_they_are_few() -> None:
    """One, two and four by name, five by the first."""
    assert named(["bed 1"]) == "bed 1"
    assert named(["bed 1", "bed 2"]) == "bed 1 and bed 2"
    assert named(["a", "b", "c", "d"]) == "a, b, c and d"
    assert named(["a", "b", "c", "d", "e"]) == "a and 4 more like it"
