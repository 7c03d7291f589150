"""What a sump lacks that is too small: so many litres more, or so many beds fewer at once."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from autoplan.advice.case import Case
from autoplan.optimiser.search.without import Rows
from autoplan.problem.site import Site
from autoplan.rules.balance import flood_volumes, held_at_once
from autoplan.rules.base import Mend
from autoplan.rules.book import KINDS
from autoplan.sentence import Amount, Text, say

MOST_TIMES = 4
"""Largest multiple of its size that a sump is made in trying; common practice, no source."""

GUESSES = 6
"""Rounds of guessing how many litres lack; each comes closer, mostly from below."""

STEPS_IN_A_M = 10_000


def sump_remedies(case: Case) -> Iterator[Text]:
    """What would mend a sump that is too small, each remedy tried."""
    for name in case.site.pumped_vessels():
        yield from _more_litres(case, name)
        yield from _fewer_beds(case, name)


def _more_litres(case: Case, name: str) -> Iterator[Text]:
    """The least number of litres more, at the same depth."""
    vessel = case.site.vessels[name]
    most = math.floor(1000 * (MOST_TIMES - 1) * vessel.area_m2 * vessel.depth_m)
    what = f"a larger {name}"
    if not case.begin(what):
        return
    first = _guess(case, name, most)
    least = case.remedy(what, lambda by: larger(case.site, name, by), first, most)
    if least is not None:
        at_most = "" if least.proven else "At most "
        by = Amount(least.step / 1000, "L", 0)
        yield say("{}{} more in {}, at the same depth, would leave a design.", at_most, by, name)


def larger(site: Site, name: str, litres: int) -> Site:
    """The site with a vessel so much larger, at the same depth."""
    vessel = site.vessels[name]
    grown = replace(vessel, area_m2=vessel.area_m2 + litres / 1000 / vessel.depth_m)
    return replace(site, vessels={**site.vessels, name: grown})


def _guess(case: Case, name: str, most: int) -> int | None:
    """How many litres the relaxation would have more; None where none would help, by its lights.

    What comes and goes stands the lower the larger the sump is, in proportion to one over its surface, so
    that each step along the tangent is too short and the next comes closer. Where that counts more than once
    in a row (the start of a siphon with its bed full) a step is too long: the least is below it then.
    """
    litres, rows = 0, case.vain.plain
    moving = max(1e-3, _comes_and_goes(case.site, name))
    for _ in range(GUESSES):
        missing = None if rows is None else rows.least_given(_rows_of_size(rows, name))
        if missing is None:
            return None
        if missing <= 0.5:
            break
        vessel = larger(case.site, name, litres).vessels[name]
        more_m2 = missing / STEPS_IN_A_M * vessel.area_m2**2 / moving
        litres += max(1, math.ceil(1000 * more_m2 * vessel.depth_m - 1e-6))
        if litres > most:
            return None
        rows = case.rows_at(larger(case.site, name, litres))
    return max(1, litres)


def _comes_and_goes(site: Site, name: str) -> float:
    """Water of as many beds as may be full at once [m3]."""
    return sum(held_at_once(site, name))


def _rows_of_size(rows: Rows, name: str) -> dict[int, int]:
    """The rows that a larger sump makes easier, each once: those of its water by rules that it may mend."""
    levels = set(rows.draft.level(name).terms)
    return {
        place: 1
        for place, row in enumerate(rows.rows)
        if row.rule in KINDS
        and Mend.SUMP in KINDS[row.rule].mended_by
        and not levels.isdisjoint(row.left.terms)
    }


def _fewer_beds(case: Case, name: str) -> Iterator[str]:
    """The most beds full at once for which there is a design; one at least, or none would ever flood."""
    site = case.site
    beds = len(flood_volumes(site, name))
    before = beds if site.wishes.beds_full is None else min(beds, site.wishes.beds_full)
    what = "fewer beds full at once"
    if before < 2 or not case.begin(what):
        return
    fewer = case.remedy(
        what,
        lambda less: replace(site, wishes=replace(site.wishes, beds_full=before - less)),
        1,
        before - 1,
    )
    if fewer is not None:
        count = before - fewer.step
        yield (
            f"With at most {count} of {beds} beds full at once there is a design (beds_full = {count}); "
            f"siphons keep no turns by themselves, so feed the beds one after the other."
        )
