"""How often beds flood, where that is left open: even steps from the least to the most that is wished.

Usually the least that keeps the rules is cheapest.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import product

from autoplan.problem.brief import Assumption
from autoplan.problem.flows import flows
from autoplan.problem.problem import Arranged
from autoplan.problem.site import BedWater, Flow, Vessel
from autoplan.units import Dimension, write

STEPS = 5
"""Places tried in a range of floods; common practice knows one to four an hour in no finer steps."""

FEW_STEPS = 3
"""Places tried in each range where there are several that move by themselves."""

MOST_APART = 2
"""Ranges that move by themselves; more than these move together, each at the same place in its range."""

ALIKE = 1e-9
"""Relative difference below which two flows are the same."""


def by_floods(layout: Arranged) -> Iterator[Arranged]:
    """A layout for each place that its beds may take in their ranges, each with its flows.

    Beds with one range whose feeds are of one class move together. Places that come to the same flows, as
    where a series system gives its beds more than they ask for, are one.
    """
    groups = _groups(layout)
    if not groups:
        yield layout
        return
    apart = 1 < len(groups) <= MOST_APART
    steps = FEW_STEPS if apart else STEPS
    together = [(step,) * len(groups) for step in range(steps)]
    places = product(range(steps), repeat=len(groups)) if apart else together
    seen: list[Mapping[str, Flow]] = []
    for made in places:
        flooded = _flooded(layout, groups, [place / (steps - 1) for place in made])
        if not any(_same(flooded.flows, other) for other in seen):
            seen.append(flooded.flows)
            yield flooded


def floods_told(layout: Arranged) -> dict[str, str]:
    """What each bed with a range has come to; once if all have come to the same."""
    told = {
        name: _hourly(_floods_at(layout, layout.vessels[name])) for group in _groups(layout) for name in group
    }
    if len(_groups(layout)) == 1:
        return {"floods": next(iter(told.values()))}
    return {f"floods of {name}": told[name] for name in layout.vessels if name in told}


def _floods_at(layout: Arranged, bed: Vessel) -> float:
    """How often a bed floods at its design inflow [1/s]."""
    inflow = sum(layout.flows[run.name].design_m3_s for run in layout.runs.values() if run.finish == bed.name)
    leak = 0.0 if bed.bed is None or bed.bed.weep is None else bed.bed.weep.leak_m3_s
    return (inflow - leak) / bed.flood_m3


def _groups(layout: Arranged) -> list[list[str]]:
    """Beds with a range, by what makes them move together."""
    groups: dict[tuple[object, ...], list[str]] = {}
    for vessel in layout.vessels.values():
        if vessel.bed is not None and vessel.bed.floods_range is not None:
            feeds = {run.run_class for run in layout.runs.values() if run.finish == vessel.name}
            groups.setdefault((frozenset(feeds), vessel.bed.floods_range), []).append(vessel.name)
    return list(groups.values())


def _flooded(layout: Arranged, groups: Sequence[Sequence[str]], shares: Sequence[float]) -> Arranged:
    """The layout with each group's floods at that share of the way from its least to its most."""
    vessels = dict(layout.vessels)
    assumed = []
    for group, share in zip(groups, shares, strict=True):
        for name in group:
            vessels[name] = _at(vessels[name], share)
        first = vessels[group[0]].bed
        assert first is not None
        assumed.append(_assumed("beds.floods" if len(groups) == 1 else f"vessel.{group[0]}.floods", first))
    made = replace(layout, vessels=vessels, assumptions=(*layout.assumptions, *assumed))
    return replace(made, flows=flows(made))


def _at(vessel: Vessel, share: float) -> Vessel:
    bed = vessel.bed
    assert bed is not None
    assert bed.floods_range is not None
    least, most = bed.floods_range
    rate = float(f"{least + share * (most - least):.12g}")
    return replace(vessel, bed=replace(bed, floods_per_s=rate))


def _assumed(place: str, bed: BedWater) -> Assumption:
    assert bed.floods_range is not None
    least, most = (write(end, Dimension.RATE) for end in bed.floods_range)
    why = f"floods that are asked for, the cheapest of even steps from {least} to {most}"
    return Assumption(place, write(bed.floods_per_s, Dimension.RATE), "chosen by the program", why)


def _hourly(rate: float) -> str:
    """A rate [1/s] to three digits an hour, as it would be written in a problem file."""
    return f"{rate * 3600:.3g}/hour"


def _same(one: Mapping[str, Flow], other: Mapping[str, Flow]) -> bool:
    return all(
        abs(a - b) <= ALIKE * max(a, b)
        for name in one
        for a, b in (
            (one[name].design_m3_s, other[name].design_m3_s),
            (one[name].peak_m3_s, other[name].peak_m3_s),
        )
    )
