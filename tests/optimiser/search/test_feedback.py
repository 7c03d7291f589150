"""What a refusal by the verdict cuts off, and what happens where verdict and optimiser disagree."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from autoplan.catalog.parts import Catalog
from autoplan.drawing import Drawing
from autoplan.errors import InternalError
from autoplan.hydraulics.gravity import standpipe_head
from autoplan.optimiser.model.draft import Draft
from autoplan.optimiser.search.attempt import attempt
from autoplan.optimiser.search.feedback import disagreements
from autoplan.optimiser.search.rank import Ranker
from autoplan.optimiser.search.ranking import Judge, Ranking
from autoplan.outcome import Finding, Verdict
from autoplan.places import AtEnd, OnRun, Where
from autoplan.problem.site import Flow, Site
from autoplan.rules.book import read_rules
from autoplan.verdict.judge import judge

SITE = Callable[..., Site]


def ranked(site: Site, shelf: Catalog, change: Callable[[Drawing, Verdict], Verdict]) -> Ranking:
    """The cheapest design by a judge whose verdicts are changed."""
    book = read_rules(site)

    def judged(drawing: Drawing) -> Verdict:
        return change(drawing, judge(site, shelf, book, drawing))

    asked: Judge = judged
    return attempt(site, shelf, book, asked, 1, confirm=False).ranking


def refusing(
    rule: str, place: Where, refused: Callable[[Drawing], bool]
) -> Callable[[Drawing, Verdict], Verdict]:
    """A judge that finds one rule broken in some designs."""

    def change(drawing: Drawing, verdict: Verdict) -> Verdict:
        if not refused(drawing):
            return verdict
        found = Finding(rule, "", place, 0.0, 1.0, -1.0, "", False, True, "")
        return replace(verdict, findings=(*verdict.findings, found))

    return change


def drain_of(drawing: Drawing) -> tuple[object, ...]:
    """How the drain is built, but for its heights and lengths."""
    drain = drawing.runs["drain"]
    return drain.pipe, drain.turns, *(hole.penetration for hole in drain.holes())


@pytest.mark.parametrize("place", [OnRun("drain"), OnRun("drain", "its turns"), AtEnd("drain", "tank")])
def test_a_local_refusal_cuts_every_design_built_so(
    site_of: SITE, corner_shelf: Catalog, place: Where
) -> None:
    """Two refusals of the drain alone, whatever pump and main go with it, leave the third best drain."""
    site = site_of()
    seen: list[tuple[object, ...]] = []

    def first_two(drawing: Drawing) -> bool:
        built = drain_of(drawing)
        if built not in seen and len(seen) < 2:
            seen.append(built)
        return built in seen

    ranking = ranked(site, corner_shelf, refusing("drain-turns", place, first_two))
    assert ranking.rejected == 2
    assert len(set(seen)) == 2
    assert drain_of(ranking.designs[0].drawing) not in seen


def test_any_other_refusal_cuts_that_design_only(site_of: SITE, corner_shelf: Catalog) -> None:
    """The same refusals by a rule that looks at levels cost a search for each main and pump there is."""
    site = site_of()
    best = ranked(site, corner_shelf, lambda _, verdict: verdict).designs[0]
    calls: list[Drawing] = []

    def three_times(drawing: Drawing) -> bool:
        calls.append(drawing)
        return len(calls) <= 3

    ranking = ranked(site, corner_shelf, refusing("drain-fall", OnRun("drain"), three_times))
    assert ranking.rejected == 3
    assert ranking.designs[0].objective >= best.objective
    assert any(drain_of(call) == drain_of(calls[0]) for call in calls[1:])


def test_a_cent_of_difference_is_a_fault(site_of: SITE, corner_shelf: Catalog) -> None:
    """A verdict that counts the order a cent dearer than the optimiser is no verdict to go on with."""

    def dearer(_: Drawing, verdict: Verdict) -> Verdict:
        return replace(verdict, cost=replace(verdict.cost, purchase=verdict.cost.purchase + 0.01))

    with pytest.raises(InternalError, match="disagree: the order costs"):
        ranked(site_of(), corner_shelf, dearer)


def test_a_loss_rounded_down_is_a_fault(
    site_of: SITE, corner_shelf: Catalog, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Were the model's losses rounded down, its drain would lose less than the verdict finds."""
    monkeypatch.setattr("autoplan.optimiser.model.draft.tenths_mm_up", lambda m: (m * 1e4).astype(int) - 1)
    with pytest.raises(InternalError, match=r"disagree: .* loses"):
        ranked(site_of(), corner_shelf, lambda _, verdict: verdict)


def test_levels_without_a_range_are_no_disagreement(site_of: SITE, corner_shelf: Catalog) -> None:
    """A longer standpipe loses more: a fault of ours only where levels keep a range and there is hope."""
    site = site_of(beds=1)
    book = read_rules(site)
    draft = Draft(site, corner_shelf, book)
    ranker = Ranker(draft, lambda drawing: judge(site, corner_shelf, book, drawing), confirm=False)
    ranker.run(1)
    (known,) = ranker.known[:1]
    drain = known.drawing.runs["bed 1 drain"]
    start = drain.floor
    assert start is not None
    assert start.standpipe_top_m is not None
    top = start.standpipe_top_m + 0.3
    longer = drain.with_ends(replace(start, standpipe=drain.pipe, standpipe_top_m=top), drain.finish)
    drawing = replace(known.drawing, runs={**known.drawing.runs, drain.run: longer})
    assert not list(disagreements(draft, known.values, known.drawing, known.verdict))
    (told,) = disagreements(draft, known.values, drawing, known.verdict)
    assert told.startswith("bed 1 drain loses ")
    draft.hopeless = 1
    assert not list(disagreements(draft, known.values, drawing, known.verdict))
    draft.hopeless, draft.book = 10**9, book.without("level-range")
    assert not list(disagreements(draft, known.values, drawing, known.verdict))


def test_no_lip_is_drawn_under_its_floor(site_of: SITE, corner_shelf: Catalog) -> None:
    """Where no rule holds levels, a standpipe may be so narrow that all of a bed's water is too little."""
    site = site_of(beds=1)
    flood = Flow(3e-3, 3e-3)
    site = replace(site, flows={**site.flows, "bed 1 drain": flood})
    book = read_rules(site)
    loose = book.without(*(rule.id for rule in book.rules if rule.id not in ("purchase-list", "joint-fit")))
    found = attempt(site, corner_shelf, loose, lambda drawing: judge(site, corner_shelf, loose, drawing), 1)
    drain = found.ranking.designs[0].drawing.runs["bed 1 drain"]
    end = drain.floor
    assert end is not None
    bore = corner_shelf.pipes[end.standpipe or drain.pipe].bore_m
    bed = site.vessels["bed 1"]
    assert standpipe_head(flood.design_m3_s, bore) > bed.rim_m - bed.floor_m
    assert end.standpipe_top_m == bed.floor_m
