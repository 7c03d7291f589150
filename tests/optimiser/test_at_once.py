"""A design before its bound, what is told while a search runs, and no search past a budget."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import pytest

from autoplan import clock
from autoplan.catalog.parts import Catalog
from autoplan.drawing import Drawing
from autoplan.optimiser.cutting.cutting import Stick
from autoplan.optimiser.cutting.sticks import MOST_MORE, packs_more
from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.model.purchase import Supply
from autoplan.optimiser.search import leaf_by_leaf
from autoplan.optimiser.search.leaf_by_leaf import Searched
from autoplan.optimiser.search.merge import Merged, rank_all
from autoplan.optimiser.search.presolve import Narrowing
from autoplan.optimiser.search.rank import Ranker
from autoplan.optimiser.search.solve import Ending
from autoplan.optimiser.search.tie_break import limit_of
from autoplan.optimiser.search.variants import variants_of
from autoplan.outcome import Verdict
from autoplan.problem.problem import Problem, problem_of
from autoplan.problem.site import Arrangement, Site
from autoplan.rules.book import read_rules
from autoplan.rules.linear import Var, weighted
from autoplan.verdict.judge import judge

SITE = Callable[..., Site]

News = list[tuple[str, float | None, float | None]]


def ranker(
    site: Site,
    shelf: Catalog,
    news: News | None = None,
    *,
    look: bool = True,
    deadline: float | None = None,
    longest: float | None = None,
) -> Ranker:
    """A search for the cheapest designs of a site, as it stands before its first step."""
    book = read_rules(site)

    def judged(drawing: Drawing) -> Verdict:
        return judge(site, shelf, book, drawing)

    def tell(stage: str, best: float | None, bound: float | None) -> None:
        if news is not None:
            news.append((stage, best, bound))

    return Ranker(
        Draft(site, shelf, book),
        judged,
        deadline=deadline,
        progress=tell,
        confirm=False,
        look=look,
        longest=longest,
    )


def test_a_design_is_known_before_the_bound(site_of: SITE, corner_shelf: Catalog) -> None:
    """A verified design stands before the bound is worked out, and the proof comes to the same as without."""
    site = site_of(beds=1, bed_flow_l_h=60.0, flow_l_h=700.0)
    news: News = []
    first = ranker(site, corner_shelf, news)
    assert first.known
    assert first.known[0].verdict.ok
    stages = [stage for stage, _, _ in news]
    assert [best for stage, best, _ in news if stage == "the least that a design can cost"] == [None]
    later = ranker(site, corner_shelf, look=False)
    assert not later.known
    assert "what any design costs at least" not in stages
    costs = [[one.objective for one in search.run(3).designs] for search in (first, later)]
    assert costs[0] == costs[1]
    assert all(one.proven for one in first.found.designs)
    best = [best for stage, best, _ in news if stage == "what any design costs at least"]
    assert len(best) == 1
    assert best[0] is not None


@pytest.mark.parametrize(("top", "small"), [(1, 1500), (5, 1500), (5, 100)])
def test_answers_searched_part_by_part_come_to_the_same(
    site_of: SITE, corner_shelf: Catalog, monkeypatch: pytest.MonkeyPatch, top: int, small: int
) -> None:
    """Where regions count as too hard from the first, designs, costs and proofs are those of regions.

    Of 114 choices nothing is torn; where so many are not few, they are searched by regions all the same.
    """
    monkeypatch.setattr(leaf_by_leaf, "SMALL", small)
    site = site_of(beds=1, bed_flow_l_h=60.0, flow_l_h=700.0)
    usual, search = ranker(site, corner_shelf).run(top).designs, ranker(site, corner_shelf)
    search.regions.hard = True
    searched: list[int] = []
    few = search.leaves.few

    def counted(cap: int) -> list[Searched]:
        parts = few(cap)
        searched.append(len(parts))
        return parts

    monkeypatch.setattr(search.leaves, "few", counted)
    found = search.run(top).designs
    assert any(searched) == (small == 1500)
    assert [(one.objective, one.bound, one.proven, one.key) for one in found] == [
        (one.objective, one.bound, one.proven, one.key) for one in usual
    ]


def test_time_that_is_kept_for_naught_is_used(site_of: SITE, corner_shelf: Catalog) -> None:
    """Until a design is known the earlier deadline holds, from then on the later; alone it holds on."""
    soon, later = time.monotonic() + 1000, time.monotonic() + 2000
    assert ranker(site_of(), corner_shelf, deadline=soon, longest=later).deadline == later
    assert ranker(site_of(), corner_shelf, deadline=soon, longest=later, look=False).deadline == soon
    assert ranker(site_of(), corner_shelf, deadline=soon).deadline == soon


def test_what_is_told_is_true(site_of: SITE, corner_shelf: Catalog) -> None:
    """No cost is told that is under the least, no bound over it, and bounds never fall."""
    news: News = []
    search = ranker(site_of(beds=1, bed_flow_l_h=60.0, flow_l_h=700.0), corner_shelf, news)
    (best,) = search.run(1).designs
    assert best.proven
    told = [bound for _, _, bound in news if bound is not None]
    assert told
    assert all(cost * 100 >= best.objective - 1e-6 for _, cost, _ in news if cost is not None)
    assert all(bound * 100 <= best.objective + 1e-6 for bound in told)
    assert all(one <= other for one, other in pairwise(told))


def test_no_search_goes_past_the_budget(
    site_of: SITE, corner_shelf: Catalog, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A cent under the cheapest design: no region is asked for that reaches further, and there is none."""
    site = site_of()
    (best,) = ranker(site, corner_shelf).run(1).designs
    asked: list[float] = []
    out = Narrowing.out

    def noted(narrowing: Narrowing, cost: float) -> frozenset[int]:
        asked.append(cost)
        return out(narrowing, cost)

    monkeypatch.setattr(Narrowing, "out", noted)
    wishes = replace(site.wishes, budget=(best.objective - 1) / 100)
    search = ranker(replace(site, wishes=wishes), corner_shelf)
    found = search.run(1)
    assert (found.designs, found.ending) == ([], Ending.NONE)
    assert all(cost < best.objective for cost in asked)
    wishes = replace(site.wishes, budget=best.objective / 100)
    assert ranker(replace(site, wishes=wishes), corner_shelf).run(1).designs


def test_what_a_budget_limits(site_of: SITE, corner_shelf: Catalog) -> None:
    """The order's cost, where the rule holds; neither the cost over years nor anything without it."""
    site = site_of()
    site = replace(site, wishes=replace(site.wishes, budget=99.99))
    book = read_rules(site)
    assert limit_of(Draft(site, corner_shelf, book), by_ownership=False) == 9999
    assert limit_of(Draft(site, corner_shelf, book), by_ownership=True) == math.inf
    assert limit_of(Draft(site, corner_shelf, book.without("budget")), by_ownership=False) == math.inf
    assert limit_of(Draft(site_of(), corner_shelf, book), by_ownership=False) == math.inf


def test_a_variant_that_waits_is_not_lost(
    site_of: SITE, corner_shelf: Catalog, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Stopped while the second variant is bounded: the first's design, which is not proven yet, is given."""
    sites = (site_of(), site_of(drain_legs_m=(2.9, 1.9)))
    layouts = [layout for site in sites for layout in problem_of(site).layouts]
    named = [replace(one, arrangement=word) for one, word in zip(layouts, Arrangement, strict=False)]
    site = replace(problem_of(sites[0]), layouts=tuple(named))
    stages: list[str] = []

    def told(stage: str, _best: float | None, _bound: float | None) -> None:
        stages.append(stage)
        if "variant 2" in stage:
            clock._noted.set()

    monkeypatch.setattr(clock, "_noted", type(clock._noted)())
    found = all_of(site, corner_shelf, told)
    assert any("variant 2" in stage for stage in stages)
    (design,) = found.designs
    assert not design.proven
    assert design.ranked.verdict.ok
    assert found.interrupted


def all_of(site: Problem, shelf: Catalog, tell: Callable[[str, float | None, float | None], None]) -> Merged:
    """The cheapest of a problem's variants."""
    variants, _ = variants_of(site, shelf)

    def judge_of(variant: object) -> Callable[[Drawing], Verdict]:
        one = next(v for v in variants if v is variant)
        return lambda drawing: judge(one.site, shelf, read_rules(one.site), drawing)

    return rank_all(variants, shelf, read_rules(site.outline), judge_of, 1, progress=tell)


def test_packs_that_have_pieces_laid() -> None:
    """One of the cheapest that is enough, else a few, as far as there are any; never more than the most."""

    def asked(pieces: int, have: int = 0, most: int = 400) -> list[int]:
        sold = [Stick("short", 1000, 90, most), Stick("long", 2000, 150, 400)]
        supplies = [Supply(stick, weighted([(Var(n), 1)])) for n, stick in enumerate(sold)]
        return packs_more([900] * pieces, supplies, [have, 0], 3, None)

    assert asked(1) == [0]
    assert asked(1, have=1, most=1) == [1]
    assert asked(2) == [1]
    assert asked(4) == [1, 1]
    assert asked(2 * MOST_MORE) == [1] * MOST_MORE
    assert asked(2 * MOST_MORE + 1) == []
