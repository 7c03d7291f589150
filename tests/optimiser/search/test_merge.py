"""Variants ranked together: nothing cheaper is passed over, and nothing is searched that cannot matter."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import replace

import pytest

import autoplan
from autoplan.catalog.parts import Catalog, Offer, Shop, Tub
from autoplan.drawing import Drawing
from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.search import merge
from autoplan.optimiser.search.merge import Merged, rank_all
from autoplan.optimiser.search.rank import Ranker
from autoplan.optimiser.search.ranking import Judge, Ranked
from autoplan.optimiser.search.solve import Ending
from autoplan.optimiser.search.variants import Variant, variants_of
from autoplan.outcome import Status, Verdict
from autoplan.problem.problem import Problem, VesselChoice, problem_of
from autoplan.problem.site import Arrangement, Site
from autoplan.rules.book import read_rules
from autoplan.verdict.judge import judge
from tests.optimiser.everything import Everything
from tests.optimiser.ways import NothingHoldsError
from tests.words import why_none

SITE = Callable[..., Site]


def arranged(*sites: Site) -> Problem:
    """One problem that stands for these sites, each under the name of an arrangement."""
    layouts = [layout for site in sites for layout in problem_of(site).layouts]
    named = [replace(one, arrangement=word) for one, word in zip(layouts, Arrangement, strict=False)]
    return replace(problem_of(sites[0]), layouts=tuple(named))


def sites_of(problem: Problem) -> list[Site]:
    """Each arrangement of it, nothing else open."""
    return [problem.site_of(layout) for layout in problem.layouts]


def judge_of(catalog: Catalog) -> Callable[[Variant], Judge]:
    """The independent verdict on each variant."""

    def of(variant: Variant) -> Judge:
        def judged(drawing: Drawing) -> Verdict:
            return judge(variant.site, catalog, read_rules(variant.site), drawing)

        return judged

    return of


def merged(asked: Problem | Site, catalog: Catalog, top: int, deadline: float | None = None) -> Merged:
    """All variants of a problem ranked together."""
    problem = problem_of(asked)
    variants, _ = variants_of(problem, catalog)
    return rank_all(variants, catalog, read_rules(problem.outline), judge_of(catalog), top, deadline=deadline)


def one_by_one(asked: Problem | Site, catalog: Catalog, top: int) -> list[int]:
    """The first costs of all variants' own rankings [cents], of designs alike in one kind the cheapest."""
    found: list[tuple[int, int, tuple[object, ...]]] = []
    for place, variant in enumerate(variants_of(problem_of(asked), catalog)[0]):
        draft = Draft(variant.site, catalog, read_rules(variant.site))
        ranked: Sequence[Ranked] = Ranker(draft, judge_of(catalog)(variant)).run(3 * top).designs
        found += [(one.objective, place, (variant.kind, *sorted(one.key.items()))) for one in ranked]
    costs: dict[tuple[object, ...], int] = {}
    for cost, _, kind in sorted(found, key=lambda one: one[:2]):
        costs.setdefault(kind, cost)
    return list(costs.values())[:top]


def three(site_of: SITE) -> Problem:
    """Three ways with a tank and a sump: a long drain, a middling one, and one that asks for more water."""
    return arranged(
        site_of(drain_legs_m=(2.9, 1.9)), site_of(), site_of(flow_l_h=1600.0, drain_legs_m=(1.2, 1.0))
    )


def test_the_middle_variant_wins(site_of: SITE, corner_shelf: Catalog) -> None:
    """The cheapest of everything that can be built in any variant is rank 1, and it is of the second."""
    site = three(site_of)
    costs = [Everything(one, corner_shelf).cheapest()[0] for one in sites_of(site)]
    assert min(costs) == costs[1] < costs[0]
    assert costs[1] < costs[2]
    outcome = autoplan.design(site, corner_shelf, top=1)
    assert outcome.status is Status.PROVEN
    (best,) = outcome.designs
    assert round(best.objective * 100) == costs[1]
    assert best.variant == "series"
    assert best.traits["arrangement"] == "series"
    assert best.site is not None
    assert best.site.runs["drain"].legs_m == site.layouts[1].runs["drain"].legs_m


def test_ranks_are_those_of_all_variants_together(site_of: SITE, corner_shelf: Catalog) -> None:
    """Every rank costs what sorting each variant's own ranking gives, and each is proven."""
    site = three(site_of)
    found = merged(site, corner_shelf, 6)
    assert [placed.ranked.objective for placed in found.designs] == one_by_one(site, corner_shelf, 6)
    assert all(placed.proven and placed.bound == placed.ranked.objective for placed in found.designs)
    assert len({placed.variant.said for placed in found.designs}) > 1


@pytest.mark.long
def test_floods_of_the_same_parts_count_once(site_of: SITE, corner_shelf: Catalog) -> None:
    """Of designs alike in pump, pipes and walls only the cheapest is ranked, whatever the floods."""
    site = site_of(beds=1, bed_flow_l_h=60.0, flow_l_h=700.0)
    bed = site.vessels["bed 1"]
    assert bed.bed is not None
    water = replace(bed.bed, floods_range=(1 / 3600, 4 / 3600))
    site = replace(site, vessels={**site.vessels, "bed 1": replace(bed, bed=water)})
    found = merged(site, corner_shelf, 2)
    assert len(found.trials) == 5
    assert [placed.ranked.objective for placed in found.designs] == one_by_one(site, corner_shelf, 2)
    keys = [tuple(sorted(placed.ranked.key.items())) for placed in found.designs]
    assert len(set(keys)) == len(keys)


def test_what_cannot_be_cheapest_is_not_searched(site_of: SITE, corner_shelf: Catalog) -> None:
    """A variant whose bound is over every rank's cost is bounded and no more; nearer ones are searched."""
    site = arranged(site_of(flow_l_h=2600.0, drain_legs_m=(2.9, 2.9)), site_of(), site_of(flow_l_h=800.0))
    found = merged(site, corner_shelf, 2)
    dear, cheap, _ = found.trials
    assert dear.ranker is not None
    assert cheap.ranker is not None
    assert dear.ranker.found.solves == 0
    assert dear.least > found.designs[-1].ranked.objective
    assert cheap.ranker.found.solves > 0


def test_a_variant_without_a_way_does_not_matter(site_of: SITE, corner_shelf: Catalog) -> None:
    """No pump lifts so much: the other variant is ranked, proven, and the note says which has no design."""
    site = arranged(site_of(flow_l_h=9000.0), site_of())
    outcome = autoplan.design(site, corner_shelf, top=1)
    assert outcome.status is Status.PROVEN
    assert outcome.designs[0].variant == "series"
    assert "No design keeps every rule in: parallel." in outcome.notes


def test_none_in_any_variant(site_of: SITE, corner_shelf: Catalog) -> None:
    """Where no variant has a design that is proven, and it is said of which the reasons are told."""
    site = arranged(site_of(flow_l_h=9000.0), site_of(flow_l_h=9500.0))
    outcome = autoplan.design(site, corner_shelf, top=1)
    assert outcome.status is Status.NONE
    assert outcome.clash is not None
    assert why_none(outcome)[0] == "Of 2 variants none has a design; this is said of parallel:"


def test_no_time_to_look_at_all_proves_nothing(
    site_of: SITE, corner_shelf: Catalog, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Designs of the variants that there was time for are shown, but one not looked at might be cheaper."""
    monkeypatch.setattr(merge, "BOUNDING", 0.0)
    found = merged(three(site_of), corner_shelf, 2, deadline=time.monotonic() + 60)
    assert [trial.unread for trial in found.trials] == [False, True, True]
    assert len(found.designs) == 2
    assert all(placed.ranked.proven and not placed.proven for placed in found.designs)
    assert all(placed.bound == 0 for placed in found.designs)


def test_no_time_at_all(site_of: SITE, corner_shelf: Catalog) -> None:
    """With no time nothing is found and nothing claimed."""
    found = merged(three(site_of), corner_shelf, 1, deadline=time.monotonic())
    assert found.designs == []
    assert found.ending is Ending.UNDECIDED


def test_differences_name_the_variant(site_of: SITE, corner_shelf: Catalog) -> None:
    """A rank of another variant differs from the first in its arrangement, and says so."""
    outcome = autoplan.design(three(site_of), corner_shelf, top=6)
    others = [design for design in outcome.designs if design.variant != outcome.designs[0].variant]
    assert others
    for design in others:
        first = outcome.designs[0].variant
        assert f"arrangement: {design.variant} instead of {first}" in design.differs


# --- vessels that are bought ----------------------------------------------------------------------------


def tubs(catalog: Catalog) -> Catalog:
    """The price list with three tubs, sold by a shop of their own that sends them free."""
    yard = Shop("yard", "Tub yard (invented)", 0, None)

    def tub(name: str, area: float, cents: int) -> Tub:
        size = (area * 0.6, 0.6, area, 0.006, 0.006, False)
        return Tub(name, name, (Offer("yard", cents),), "invented", "", *size)

    made = [tub("small", 0.03, 2000), tub("middle", 0.9, 6000), tub("large", 1.4, 9000)]
    return replace(catalog, shops={**catalog.shops, "yard": yard}, vessels={each.id: each for each in made})


def to_choose(site: Site) -> Problem:
    """The same site, its sump still to be chosen."""
    choice = VesselChoice("sump.choose", (), 0.1, 0.1, 0.0)
    problem = problem_of(
        replace(site, vessels={**site.vessels, "sump": replace(site.vessels["sump"], depth_m=9.0)})
    )
    (layout,) = problem.layouts
    return replace(problem, layouts=(replace(layout, choices={"sump": choice}),))


def test_the_middle_tub_wins(site_of: SITE, corner_shelf: Catalog) -> None:
    """The smallest runs over with the power off, the largest costs more: enumeration agrees, tub counted."""
    site = site_of()
    catalog = tubs(corner_shelf)
    outcome = autoplan.design(to_choose(site), catalog, top=1)
    assert outcome.status is Status.PROVEN
    (best,) = outcome.designs
    assert best.variant == "sump middle"
    costs = {
        variant.traits["sump"]: _enumerated(variant, corner_shelf, catalog)
        for variant in variants_of(to_choose(site), catalog)[0]
    }
    assert costs["small"] == math.inf
    assert round(best.objective * 100) == costs["middle"] < costs["large"]
    (line,) = [line for line in best.drawing.purchases if line.part == "middle"]
    assert (line.shop, line.packs) == ("yard", 1)


def _enumerated(variant: Variant, shelf: Catalog, catalog: Catalog) -> float:
    """Least cost of everything that can be built in a variant, its tub on top; infinite if nothing holds."""
    sump = variant.site.vessels["sump"]
    there = replace(variant.site, vessels={**variant.site.vessels, "sump": replace(sump, part=None)})
    try:
        cents = Everything(there, shelf).cheapest()[0]
    except NothingHoldsError:
        return math.inf
    return cents + catalog.vessels[sump.part or ""].offers[0].price_cents


def test_a_tub_that_is_owned_is_free(site_of: SITE, corner_shelf: Catalog) -> None:
    """Owned, the large tub costs nothing and wins; without it on the order the verdict finds none missing."""
    site = replace(to_choose(site_of()), owned={"large": 1})
    outcome = autoplan.design(site, tubs(corner_shelf), top=1)
    (best,) = outcome.designs
    assert best.variant == "sump large"
    assert "large" not in {line.part for line in best.drawing.purchases}
    assert best.verdict.ok


def test_a_tub_without_which_the_order_is_short(site_of: SITE, corner_shelf: Catalog) -> None:
    """The verdict counts the tub: an order that leaves it out is refused."""
    catalog = tubs(corner_shelf)
    (best,) = autoplan.design(to_choose(site_of()), catalog, top=1).designs
    assert best.site is not None
    tub = best.site.vessels["sump"].part
    short = replace(
        best.drawing, purchases=tuple(line for line in best.drawing.purchases if line.part != tub)
    )
    findings = judge(best.site, catalog, read_rules(best.site), short).findings
    assert any(found.rule == "purchase-list" and not found.ok for found in findings)


def test_a_tub_that_cannot_be_had(site_of: SITE, corner_shelf: Catalog) -> None:
    """A tub that the shop is out of is no choice; what it costs to do without it is told."""
    site, catalog = to_choose(site_of()), tubs(corner_shelf)
    first = autoplan.design(site, catalog, top=1).designs[0]
    tub = first.traits["sump"]
    outcome = autoplan.design(site, catalog, top=1, without=[tub])
    assert outcome.designs[0].traits["sump"] != tub
    assert outcome.designs[0].objective > first.objective
    assert any(f"Without {tub} the cheapest plan costs" in note for note in outcome.notes)
    instead = f"sump: {outcome.designs[0].traits['sump']} instead of {tub}."
    assert any(instead in note for note in outcome.notes)
