"""Lines whose distances are given, where places on the plan would give less."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.problem.plan import TAPED_M, in_the_way, outline_of, way_between
from autoplan.problem.site import Site
from autoplan.sentence import Amount, Sentence, joined, say

MOST_TOLD = 3
"""Lines that are named."""


def detours(site: Site) -> tuple[Sentence, ...]:
    """A sentence on lines that go further than the places of their ends ask for; none where there are none.

    What is given counts: a pipe may go round something that the plan does not show.
    """
    found = list(_longer(site))
    if not found:
        return ()
    each = [
        say("{} {} ({} by places)", name, Amount(given, "m", 2), Amount(by_places, "m", 2))
        for name, given, by_places in found[:MOST_TOLD]
    ]
    more = "" if len(found) <= MOST_TOLD else f" and {len(found) - MOST_TOLD} more"
    return (
        say("Level distances count as given, longer than places ask for: {}{}.", joined(", ", each), more),
    )


def _longer(site: Site) -> Iterator[tuple[str, float, float]]:
    """Runs between vessels whose places are known, their distance as given and by places [m]."""
    for run in site.runs.values():
        ends = [site.vessels.get(name) for name in (run.start, run.finish)]
        first, last = (None if end is None else outline_of(end) for end in ends)
        if run.plan is None or first is None or last is None:
            continue
        way = way_between(first, last, others=in_the_way(site.vessels, run.start, run.finish))
        if way is not None and run.plan.distance_m > sum(way.level_m) + TAPED_M:
            yield run.name, run.plan.distance_m, sum(way.level_m)
