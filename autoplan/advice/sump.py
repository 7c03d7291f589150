"""What a sump lacks that is too small: so many litres more, or so many beds fewer at once."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from autoplan.advice.case import Case
from autoplan.catalog.parts import Catalog
from autoplan.outcome import Finding
from autoplan.problem.site import Site
from autoplan.rules.balance import flood_volumes
from autoplan.rules.book import RuleBook
from autoplan.selection.rank import Ranked

LITRES = 5
"""Steps in which litres are told."""

STEPS = (0, 5, 10, 15, 20, 30, 40, 60, 80, 120, 160)
"""Litres tried on top of what the balance alone lacks: holes and the highest water ask for room of theirs."""

SUMP_RULES = ("sump-low", "sump-high")


def sump_remedies(case: Case) -> Iterator[str]:
    """What would mend a sump that is too small, each remedy tried.

    The shortage is that of the cheapest design which minds no sump's limits: what its lowest and its highest
    water together lack, whatever the level between them, times the sump's surface.
    """
    free = case.without(*SUMP_RULES, cheapest=True).ranking.designs
    if not free:
        return
    for name in case.site.pumped_vessels():
        short = _shortage_m3(case.site, case.catalog, case.book, free[0], name)
        if short <= 0.0:
            continue
        litres = -(-short * 1000 // LITRES) * LITRES
        more = case.least(
            [(litres + step, _larger(case.site, name, (litres + step) / 1000)) for step in STEPS]
        )
        if more is not None:
            yield f"{more:.0f} L more in {name}, at the same depth, would leave a design."
        yield from _fewer(case, name)


def _shortage_m3(site: Site, catalog: Catalog, book: RuleBook, ranked: Ranked, name: str) -> float:
    """Water [m3] that lacks between a pump's least cover and the rim, for all that comes and goes."""
    from autoplan.rules.survey import Survey

    survey = Survey(site, catalog, ranked.drawing)
    margins = [
        found.margin / 1000
        for rule in book.rules
        if rule.id in SUMP_RULES
        for found in _at(rule.check(survey), name)
    ]
    return -sum(margins) * site.vessels[name].area_m2


def _at(findings: Iterator[Finding], name: str) -> list[Finding]:
    return [found for found in findings if found.place == name]


def _larger(site: Site, name: str, by_m3: float) -> Site:
    """The site with a vessel so much larger, at the same depth."""
    vessel = site.vessels[name]
    larger = replace(vessel, area_m2=vessel.area_m2 + by_m3 / vessel.depth_m)
    return replace(site, vessels={**site.vessels, name: larger})


def _fewer(case: Case, name: str) -> Iterator[str]:
    """The most beds full at once for which there is a design; one at least, or none would ever flood."""
    site = case.site
    beds = len(flood_volumes(site, name))
    before = beds if site.wishes.beds_full is None else min(beds, site.wishes.beds_full)
    fewer = [
        (count, replace(site, wishes=replace(site.wishes, beds_full=count)))
        for count in range(before - 1, 0, -1)
    ]
    count = case.least(fewer)
    if count is not None:
        yield (
            f"With at most {count} of {beds} beds full at once there is a design (beds_full = {count}); "
            f"siphons keep no turns by themselves, so feed the beds one after the other."
        )
