"""One good plan of a small system, designed once, and the means to spoil it by hand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import pytest

from autoplan.catalog.parts import Catalog
from autoplan.drawing import Drawing
from autoplan.fittings.base import Fitting
from autoplan.fittings.floor import ThroughFloor
from autoplan.fittings.rim import OverRim
from autoplan.line.row import Line
from autoplan.outcome import Finding, Outcome
from autoplan.problem.site import Site
from autoplan.rules.book import read_rules
from autoplan.rules.survey import Survey
from tests.lines import changed, ended, put, redrawn, without
from tests.lists import with_row
from tests.stored import stored
from tests.words import by_place

PROBLEM = """
name = "A tank, a bed and a sump, with money and a little of everything"
[tank]
volume = "1200 L"
depth = "800 mm"
floor = "200 mm"
siphon_back = "air gap"
[beds]
count = 1
area = "1 m2"
floor = "550 mm"
[sump]
volume = "600 L"
depth = "600 mm"
floor = "-550 mm"
[wishes]
budget = 900
spare = "none"
"""


@dataclass(frozen=True)
class Plan:
    """A drawing with its site and price list; every change answers a new plan."""

    site: Site
    catalog: Catalog
    drawing: Drawing

    @property
    def survey(self) -> Survey:
        """The plan measured up."""
        return Survey(self.site, self.catalog, self.drawing)

    def findings(self, rule_id: str) -> dict[str, Finding]:
        """What one rule says, by place."""
        (rule,) = [rule for rule in read_rules(self.site).rules if rule.id == rule_id]
        return by_place(rule.check(self.survey))

    def line(self, line: Line) -> Plan:
        """One drawn line in place of that of its run."""
        return replace(self, drawing=redrawn(self.drawing, line))

    def run(self, name: str, **changes: Any) -> Plan:
        """One drawn line with its own fields changed."""
        return self.line(replace(self.drawing.runs[name], **changes))

    def put(self, name: str, *fittings: Fitting) -> Plan:
        """Other fittings on one drawn line, each in place of those of its kind."""
        return self.line(put(self.drawing.runs[name], *fittings))

    def without(self, name: str, *kinds: type[Fitting]) -> Plan:
        """One drawn line without its fittings of some kinds."""
        return self.line(without(self.drawing.runs[name], *kinds))

    def fitting(self, name: str, kind: type[Fitting], **changes: Any) -> Plan:
        """The one fitting of a kind on a drawn line changed."""
        return self.line(changed(self.drawing.runs[name], kind, **changes))

    def end(self, name: str, side: str, **changes: Any) -> Plan:
        """One end of a drawn line changed."""
        return self.line(ended(self.drawing.runs[name], side, **changes))

    def raised(self, name: str, side: str, by_mm: float) -> Plan:
        """The hole or the standpipe of one end moved up."""
        end = getattr(self.drawing.runs[name], side)
        heights = ["standpipe_top_m" if isinstance(end, ThroughFloor) else "centre_m"]
        heights += ["mouth_m"] if isinstance(end, OverRim) else []
        return self.end(name, side, **{height: getattr(end, height) + by_mm / 1000 for height in heights})

    def water(self, vessel: str, by_mm: float) -> Plan:
        """The design level of one vessel moved up."""
        level = self.drawing.levels[vessel]
        moved = replace(level, design_m=level.design_m + by_mm / 1000)
        return replace(self, drawing=replace(self.drawing, levels={**self.drawing.levels, vessel: moved}))

    def vessel(self, name: str, **changes: Any) -> Plan:
        """One vessel of the site changed."""
        vessels = {**self.site.vessels, name: replace(self.site.vessels[name], **changes)}
        return replace(self, site=replace(self.site, vessels=vessels))

    def flow(self, name: str, factor: float) -> Plan:
        """The design flow of one run multiplied."""
        flow = self.site.flows[name]
        changed = replace(flow, design_m3_s=flow.design_m3_s * factor)
        return replace(self, site=replace(self.site, flows={**self.site.flows, name: changed}))

    def wishes(self, **changes: Any) -> Plan:
        """Wishes changed."""
        return replace(self, site=replace(self.site, wishes=replace(self.site.wishes, **changes)))

    def rules(self, settings: Mapping[str, Mapping[str, object]]) -> Plan:
        """Settings as a problem file would have them under `[rules]`."""
        return replace(self, site=replace(self.site, rule_settings=settings))

    def part(self, part_id: str, **changes: Any) -> Plan:
        """One row of the price list changed."""
        return replace(self, catalog=with_row(self.catalog, part_id, **changes))

    def pipe_of(self, run: str, **changes: Any) -> Plan:
        """The row of one run's pipe changed."""
        return self.part(self.drawing.runs[run].pipe, **changes)


@pytest.fixture(scope="session")
def outcome() -> Outcome:
    """The cheapest design of the small system."""
    return stored("small", PROBLEM)


@pytest.fixture(scope="session")
def plan(outcome: Outcome) -> Plan:
    """The plan of that design."""
    return Plan(outcome.site, outcome.catalog, outcome.designs[0].drawing)
