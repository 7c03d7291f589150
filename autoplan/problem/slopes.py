"""Lines that are to lie at one height on sloping ground, and so under it where it is higher."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.problem.site import Site
from autoplan.sentence import Amount, Sentence, joined, say

STEP_M = 0.2
"""So far under the ground beside a vessel a line may still pass by a slab or a step [m]; common practice, no
source."""


def slopes(site: Site) -> tuple[Sentence, ...]:
    """A sentence on lines that are not buried as a whole and lie in the soil beside some vessels; or none.

    A line runs at one height: `on the ground` is that of the lowest ground.
    """
    deep: dict[str, float] = {}
    for vessel, depth in _under(site):
        deep[vessel] = max(depth, deep.get(vessel, 0.0))
    if not deep:
        return ()
    each = [say("{} under that at {}", Amount(depth, "mm"), vessel) for vessel, depth in deep.items()]
    return (
        say(
            "Lines run level and follow no slope: over the lowest ground, they lie {}. Dig them in there or "
            "give them another height.",
            joined(", ", each),
        ),
    )


def _under(site: Site) -> Iterator[tuple[str, float]]:
    """Vessels at an end of a line that is over the lowest ground, and how far under theirs it lies [m]."""
    lowest = min((vessel.ground_m for vessel in site.vessels.values()), default=0.0)
    for run in site.runs.values():
        height = None if run.plan is None else run.plan.height_m
        for end in (run.start, run.finish):
            if height is None or height <= lowest or end not in site.vessels:
                continue
            depth = site.vessels[end].ground_m - height
            if depth > STEP_M:
                yield end, depth
