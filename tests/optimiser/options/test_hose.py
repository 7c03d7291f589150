"""Clamps on hose: up to a line's valve, wherever on its way that stands."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from pathlib import Path

import autoplan
from autoplan.catalog.mating import JointKind, PipeKind, pipe_kind
from autoplan.catalog.parts import SundryKind
from autoplan.line.joints import joints_of
from autoplan.line.laid import assemble
from autoplan.optimiser.options.consumables import Counting
from autoplan.optimiser.options.option_cache import Workshop
from autoplan.problem.flows import Reach, reaches
from autoplan.rules.book import read_rules

HOME = Path(__file__).parents[3]


def test_clamps_ahead_of_a_valve_behind_a_turn() -> None:
    """A main whose first leg has no room for its valve: every barb from the pump to the valve is clamped."""
    site = autoplan.load_problem(HOME / "problems" / "two-drains.toml").outline
    catalog = autoplan.load_catalog("metric")
    others = [pipe.id for pipe in catalog.pipes.values() if pipe_kind(pipe.end) is not PipeKind.HOSE]
    site = replace(site, unavailable=site.unavailable | frozenset(others))
    book, workshop = read_rules(site), Workshop(catalog)
    shelf = workshop.shelf(site, book)
    counting = Counting(site, shelf, book)
    ways = workshop.built(site, book, counting, "main", site.classes()["main"]).candidates
    assert reaches(site)["main"] is Reach.TO_VALVE
    ahead = Counter[int]()
    for way in ways:
        line = way.drawn["main"]
        joints = list(joints_of(assemble(shelf.bench, site, line), shelf.joining, Reach.TO_VALVE))
        clamped = sum(joint.kind is JointKind.CLAMPED for joint in joints)
        counted = sum(n for want, n in way.needs.items() if want.kind is SundryKind.CLAMP)
        assert counted == clamped
        ahead[line.stands] = max(ahead[line.stands], clamped)
    # Two more for each turn of hose elbows ahead of it.
    assert ahead[1] >= 3
