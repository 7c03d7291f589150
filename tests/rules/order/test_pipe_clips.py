"""Clips along pipe, counted by hand: so many a leg, by size, in the order and in the price lists."""

from __future__ import annotations

from dataclasses import replace

import pytest

import autoplan
from autoplan.catalog.parts import SundryKind
from autoplan.line.needs import by_size, rows_for
from autoplan.line.route import Leg
from autoplan.optimiser.options.consumables import clips
from autoplan.rules.book import read_rules
from autoplan.rules.order.pipe_clips import PipeClips

RULE = PipeClips({"small": 1.0, "medium": 1.4, "large": 1.5})


def with_legs(plan, *legs_m: float):
    """The plan with one run alone that has legs, of 20 mm pipe."""
    runs = {name: replace(line, legs=(Leg(0.0),)) for name, line in plan.drawing.runs.items()}
    feed = replace(runs["tank feed"], legs=tuple(map(Leg, legs_m)))
    plan = replace(plan, drawing=replace(plan.drawing, runs={**runs, feed.run: feed}))
    return plan.pipe_of("tank feed", outside_m=0.02)


def asked(plan) -> dict[str, float]:
    """How many clips are asked for, by size."""
    return {place: found.limit for place, found in plan.findings("pipe-clips").items()}


@pytest.mark.parametrize(
    ("legs_m", "count"),
    [
        # Shorter than half of what is from clip to clip: the legs beside it hold it.
        ((0.499,), 0),
        ((0.502,), 1),
        ((1.0,), 1),
        ((1.002,), 2),
        ((3.0, 0.3, 0.8), 4),
        ((), 0),
    ],
)
def test_by_hand(plan, legs_m: tuple[float, ...], count: int) -> None:
    """A clip for each metre begun on each leg of a 20 mm pipe, none on less than half a metre."""
    assert asked(with_legs(plan, *legs_m)) == ({"pipe clip 20 mm": count} if count else {})


@pytest.mark.parametrize(
    ("outside_mm", "apart_m"),
    [(20.0, 1.0), (32.0, 1.0), (33.4, 1.0), (36.1, 1.4), (40.0, 1.4), (63.0, 1.4), (66.1, 1.5), (110.0, 1.5)],
)
def test_by_size(outside_mm: float, apart_m: float) -> None:
    """0.8 to 1.2 m up to 32 mm (1 in), 1.2 to 1.5 m up to 63 mm (2 in): from memory."""
    assert RULE.spacing_m(outside_mm / 1000) == apart_m


@pytest.mark.parametrize("spare", [0, -1])
def test_both_sides_of_the_limit(plan, spare: int) -> None:
    """As many clips as legs ask for are enough, one less is not; any row of that size will do."""
    whole = with_legs(plan, 3.0, 0.3, 0.8)
    row = next(rows_for(whole.catalog, by_size(SundryKind.CLIP, 0.02)))
    order = tuple(
        line
        for line in whole.drawing.purchases
        if line.part not in whole.catalog.sundries
        or whole.catalog.sundries[line.part].kind is not SundryKind.CLIP
    )
    bought = replace(whole, drawing=replace(whole.drawing, purchases=order))
    owning = replace(bought, site=replace(bought.site, owned={row.id: 4 + spare}))
    (found,) = owning.findings("pipe-clips").values()
    assert (found.value, found.limit, found.ok) == (4 + spare, 4, spare == 0)


def test_further_apart_takes_fewer(plan) -> None:
    """The spacing is a setting, and a bed that comes later has no clips yet."""
    whole = with_legs(plan, 4.0)
    assert asked(whole.rules({"pipe-clips": {"small": "2 m"}})) == {"pipe clip 20 mm": 2}
    assert asked(whole.rules({"pipe-clips": {"small": "0 m"}})) == {}
    later = replace(whole.drawing.runs["tank feed"], later=True)
    runs = {**whole.drawing.runs, "tank feed": later}
    assert asked(replace(whole, drawing=replace(whole.drawing, runs=runs))) == {}


@pytest.mark.parametrize("apart_m", [0.8, 1.0, 1.4])
def test_the_model_never_counts_less(plan, apart_m: float) -> None:
    """What is counted for a leg at its longest is never less than the check asks for, at most one more."""
    apart = plan.rules({"pipe-clips": {"small": f"{apart_m} m"}})
    for step in range(1, 500, 3):
        leg_m = 0.01 * step
        found = asked(with_legs(apart, leg_m))
        assert sum(found.values()) <= clips(leg_m - 0.0009, apart_m) <= sum(found.values()) + 1
    # Four metres and a bit at 1.4 m: three fill 4.2 m.
    assert (clips(4.2 - 0.001, 1.4), clips(4.2 + 0.001, 1.4)) == (3, 4)
    assert (clips(0.699, 1.4), clips(0.7, 1.4)) == (0, 1)


def test_the_order_holds_no_more_than_legs_take(outcome) -> None:
    """Of a design as searched all clips that are bought are used, where heights leave no leg open."""
    survey_rule = next(rule for rule in read_rules(outcome.site).rules if rule.id == "pipe-clips")
    found = [one for one in outcome.designs[0].verdict.findings if one.rule == survey_rule.id]
    assert found
    assert all(one.ok for one in found)
    assert all(one.value >= one.limit for one in found)


@pytest.mark.parametrize("name", ["metric", "inch", "bore-named"])
def test_there_is_a_clip_for_every_pipe(name: str) -> None:
    """Each pipe of a price list that comes along has a clip of its size there."""
    catalog = autoplan.load_catalog(name)
    for pipe in catalog.pipes.values():
        assert list(rows_for(catalog, by_size(SundryKind.CLIP, pipe.outside_m))), pipe.id
