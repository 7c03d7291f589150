"""The floor's fitting and its adaptors count before the search: what chokes a standpipe is never offered."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import pytest

from autoplan.catalog.parts import Catalog, FixtureKind
from autoplan.fittings.floor import ThroughFloor
from autoplan.fittings.screen import InletScreen
from autoplan.line.row import Line
from autoplan.optimiser.model.draft import Draft
from autoplan.rules.asked import LetIn
from autoplan.rules.book import read_rules
from tests.rules.test_siphons import L_H, WIDE, foot_flow, inflow, rule

CUT_OUT_M = 0.025
NARROW, WIDER = "bush-50-32", "bush-50-32-wide"


def offered(plan: Any, catalog: Catalog) -> Iterator[Line]:
    """The bed's drain in every way that the optimiser may choose."""
    draft = Draft(plan.site, catalog, read_rules(plan.site))
    run = plan.site.runs["bed drain 1"]
    yield from (candidate.drawn[run.name] for _, candidate in draft.candidates(run.run_class))


def narrowest(catalog: Catalog, drawn: Line) -> float:
    """Smallest bore [m] between standpipe and drain."""
    end = floor_of(drawn)
    parts = (*end.chain, *end.inner_chain)
    return min([catalog.penetrations[end.penetration].bore_m, *_bores(catalog, parts)])


def floor_of(drawn: Line) -> ThroughFloor:
    """Where a bed's drain starts."""
    assert drawn.floor is not None
    return drawn.floor


def _bores(catalog: Catalog, parts: tuple[str, ...]) -> Iterator[float]:
    rows = {**catalog.pipes, **catalog.adaptors}
    yield from (rows[part].bore_m for part in parts)


def with_wider_bush(catalog: Catalog) -> Catalog:
    """The price list with a dearer bush that is as wide as its standpipe."""
    bush = catalog.adaptors[NARROW]
    dear = tuple(replace(offer, price_cents=10 * offer.price_cents) for offer in bush.offers)
    wider = replace(bush, id=WIDER, bore_m=0.0288, offers=dear)
    return replace(catalog, adaptors={**catalog.adaptors, WIDER: wider})


def test_what_chokes_a_standpipe_is_not_offered(plan) -> None:
    """At 650 L/h a drain of 50 mm does not run full, and its standpipe must pass 975 L/h from 25 mm of water.

    Through the usual bush of 27.2 mm one of 28.8 mm passes 940 L/h, so none is offered; through a wider one
    it passes enough, and so it is with that, however dear. Bells are taken to go over any wall part.
    """
    plan = inflow(plan.rules({"flange-fit": {"off": True}}), 650 / L_H)
    bed, catalog = plan.site.vessels["bed 1"], with_wider_bush(plan.catalog)
    upright = [drawn for drawn in offered(plan, catalog) if floor_of(drawn).siphon is not None]
    wide = [drawn for drawn in upright if catalog.pipes[drawn.pipe].bore_m > 0.04]
    assert wide
    for drawn in wide:
        start = floor_of(drawn)
        assert start.siphon is not None
        stood, bell = start.standpipe or drawn.pipe, start.siphon.bell or ""
        height = bed.water_max_m - bed.floor_m
        passes = foot_flow(plan, bell, stood, height, CUT_OUT_M, narrowest(catalog, drawn)) * L_H
        assert passes >= 0.99 * 1.5 * 650
        assert WIDER in start.inner_chain
    assert all(plan.catalog.pipes[drawn.pipe].bore_m < 0.04 for drawn in offered(plan, plan.catalog))


def choked_by_part(plan: Any) -> Any:
    """The plan with a wide drain and a wall part much narrower than its standpipe."""
    drawn = plan.drawing.runs["bed drain 1"]
    stood, part = drawn.start.standpipe or drawn.pipe, drawn.start.penetration
    wide = plan.run("bed drain 1", pipe=WIDE).end("bed drain 1", "start", standpipe=stood)
    return wide.part(part, bore_m=0.6 * plan.catalog.pipes[stood].bore_m)


def choked_by_screen(plan: Any) -> Any:
    """The plan with a wide drain and a screen that has less clear area than its standpipe."""
    drawn = plan.drawing.runs["bed drain 1"]
    stood = drawn.start.standpipe or drawn.pipe
    clear = math.pi / 4 * plan.catalog.pipes[stood].bore_m ** 2
    fixtures = plan.catalog.fixtures
    name = next(part.id for part in fixtures.values() if part.kind is FixtureKind.SCREEN)
    tight = replace(plan.catalog, fixtures={**fixtures, name: replace(fixtures[name], open_m2=clear)})
    wide = replace(plan, catalog=tight).run("bed drain 1", pipe=WIDE)
    return wide.end("bed drain 1", "start", standpipe=stood).put("bed drain 1", InletScreen(name))


@pytest.mark.parametrize("share", [0.98, 1.02])
@pytest.mark.parametrize("choked", [choked_by_part, choked_by_screen])
def test_both_sides_of_a_whole_inlet(plan, choked: Callable[[Any], Any], share: float) -> None:
    """Of a whole inlet the rule says what its check says of the drawing; of the standpipe alone, yes."""
    wide = choked(plan)
    most = wide.findings("siphon-break")["bed 1"].value / 1.5
    turned = inflow(wide, share * most / L_H)
    drawn = turned.drawing.runs["bed drain 1"]
    alone = replace(drawn.start, penetration="", chain=(), inner_chain=())
    asked = (turned.site, turned.catalog, turned.site.runs["bed drain 1"], turned.catalog.pipes[WIDE])
    held = rule(turned, "siphon-break")
    assert held.admits(LetIn(*asked, alone, None))
    screen = drawn.one(InletScreen)
    assert held.admits(LetIn(*asked, drawn.start, screen and screen.part)) is (share < 1)
    assert turned.findings("siphon-break")["bed 1"].ok is (share < 1)
