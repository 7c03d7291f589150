"""The sites that one problem stands for, where it leaves an outer choice open.

Three things may be open: how the vessels stand to each other (`arrangement = "any"`), how often beds flood
(`floods = ["1/hour", "4/hour"]`), and which vessel is bought (`choose = ["tub-600", "tub-1000"]`). Every
combination is a site of its own with flows of its own. Floods are tried at even steps from the least to the
most; usually the least that keeps the rules is cheapest.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import product

from autoplan.catalog.parts import Catalog, Tub
from autoplan.errors import InputError, Mistake
from autoplan.problem.checks import Scene, height_mistakes
from autoplan.problem.graph import flows
from autoplan.problem.site import Assumption, BedWater, Flow, Site, Vessel
from autoplan.units import Dimension, write

STEPS = 5
"""Places tried in a range of floods; common practice knows one to four an hour in no finer steps."""

FEW_STEPS = 3
"""Places tried in each range where there are several that move by themselves."""

MOST_APART = 2
"""Ranges that move by themselves; more than these move together, each at the same place in its range."""

ALIKE = 1e-9
"""Relative difference below which two flows are the same."""


@dataclass(frozen=True, slots=True)
class Variant:
    """One site of those that a problem stands for.

    Attributes:
        site: with every outer choice made.
        traits: what tells it from the others, name to value; empty if there are no others.
        kind: what makes two designs different whatever their pipes and pumps: arrangement, vessels bought.
    """

    site: Site
    traits: Mapping[str, str] = field(default_factory=dict)
    kind: tuple[str, ...] = ()

    @property
    def said(self) -> str:
        """What tells it from the others, in a line."""
        return ", ".join(
            value if name == "arrangement" else f"{name} {value}" for name, value in self.traits.items()
        )


def variants_of(site: Site, catalog: Catalog) -> tuple[list[Variant], tuple[str, ...]]:
    """Every site that a problem stands for.

    Args:
        site: the problem.
        catalog: has the vessels to choose from.

    Returns:
        The variants in the order of their choices, one where nothing is open; a sentence for each vessel or
        arrangement that was left out since it cannot be built.

    Raises:
        InputError: none of the vessels to choose from fits where it would stand.
    """
    found: list[Variant] = []
    left_out: dict[str, None] = dict.fromkeys(site.left_out)
    unfit: list[Mistake] = []
    for arranged in (site, *site.alternatives):
        for chosen in by_vessels(arranged, catalog, unfit):
            found += [_variant(flooded, site, arranged) for flooded in by_floods(chosen)]
    if not found:
        raise InputError(list(dict.fromkeys(unfit)))
    left_out.update((f"Left out: {wrong.place}, since {wrong.problem}.", None) for wrong in unfit)
    if len(found) == 1:
        found = [Variant(found[0].site)]
    return found, tuple(left_out)


def _variant(made: Site, first: Site, arranged: Site) -> Variant:
    """A site with every choice made, with what tells it from the others."""
    traits = {"arrangement": str(made.arrangement)} if first.alternatives else {}
    for name, vessel in arranged.vessels.items():
        if vessel.choice is not None:
            traits[name] = str(made.vessels[name].part)
    kind = tuple(traits.values())
    traits |= _floods_told(made)
    return Variant(replace(made, alternatives=(), left_out=()), traits, kind)


def choice_mistakes(site: Site, catalog: Catalog) -> Iterator[Mistake]:
    """Vessels to choose from that the price list does not have."""
    asked = {vessel.choice for one in (site, *site.alternatives) for vessel in one.vessels.values()}
    for choice in sorted((one for one in asked if one is not None), key=lambda one: one.place):
        if not catalog.vessels:
            problem = f"the price list {catalog.name} has no vessels to choose from"
            yield Mistake(site.file, choice.place, problem, "give the size of the one you have")
            continue
        for part in choice.among:
            if part not in catalog.vessels:
                close = difflib.get_close_matches(part, list(catalog.vessels), n=1)
                remedy = f"did you mean {close[0]!r}" if close else f"it has {', '.join(catalog.vessels)}"
                yield Mistake(site.file, choice.place, f"the price list has no vessel {part!r}", remedy)


def by_vessels(site: Site, catalog: Catalog, unfit: list[Mistake]) -> Iterator[Site]:
    """A site for each vessel of the price list that may stand where one is still to be chosen.

    Args:
        site: in one arrangement.
        catalog: has the vessels, all that are asked for (`choice_mistakes`).
        unfit: gets what is wrong with those that do not fit where they would stand.
    """
    open_ = [vessel for vessel in site.vessels.values() if vessel.choice is not None]
    among = [
        [catalog.vessels[part] for part in vessel.choice.among or catalog.vessels]
        for vessel in open_
        if vessel.choice is not None
    ]
    if not open_:
        yield site
        return
    for tubs in product(*among):
        vessels = dict(site.vessels)
        for vessel, tub in zip(open_, tubs, strict=True):
            vessels[vessel.name] = _bought(vessel, tub)
        places = {name: name for name in (*vessels, *site.junctions, *site.runs)}
        wrong = list(height_mistakes(Scene(site.file, vessels, site.junctions, site.runs, places)))
        if wrong:
            names = " and ".join(tub.id for tub in tubs)
            unfit += [replace(mistake, place=f"{_place(open_[0])}, {names}") for mistake in wrong]
        else:
            yield replace(site, vessels=vessels)


def _place(vessel: Vessel) -> str:
    return vessel.name if vessel.choice is None else vessel.choice.place


def _bought(vessel: Vessel, tub: Tub) -> Vessel:
    """The vessel as the tub that is bought for it; the water stands as was asked, above its floor."""
    choice = vessel.choice
    assert choice is not None
    high = tub.depth_m - choice.freeboard_m if choice.water_max_m is None else choice.water_max_m
    low = min(high, choice.water_min_m)
    return replace(
        vessel,
        depth_m=tub.depth_m,
        area_m2=tub.area_m2,
        wall_m=tub.wall_m,
        base_m=tub.base_m,
        curved=tub.curved,
        water_min_m=round(vessel.floor_m + low, 9),
        water_max_m=round(vessel.floor_m + high, 9),
        part=tub.id,
        choice=None,
    )


def by_floods(site: Site) -> Iterator[Site]:
    """A site for each place that its beds may take in their ranges, each with its flows.

    Beds with one range whose feeds are of one class move together. Places that come to the same flows, as
    where a series system gives its beds more than they ask for, are one.
    """
    groups = _groups(site)
    if not groups:
        yield site
        return
    apart = 1 < len(groups) <= MOST_APART
    steps = FEW_STEPS if apart else STEPS
    together = [(step,) * len(groups) for step in range(steps)]
    places = product(range(steps), repeat=len(groups)) if apart else together
    seen: list[Mapping[str, Flow]] = []
    for made in places:
        flooded = _flooded(site, groups, [place / (steps - 1) for place in made])
        if not any(_same(flooded.flows, other) for other in seen):
            seen.append(flooded.flows)
            yield flooded


def floods_at(site: Site, bed: Vessel) -> float:
    """How often a bed floods at its design inflow [1/s]."""
    assert bed.bed is not None
    inflow = sum(site.flows[run.name].design_m3_s for run in site.runs.values() if run.finish == bed.name)
    return inflow / bed.bed.flood_volume_m3(bed.area_m2)


def _groups(site: Site) -> list[list[str]]:
    """Beds with a range, by what makes them move together."""
    groups: dict[tuple[object, ...], list[str]] = {}
    for vessel in site.vessels.values():
        if vessel.bed is not None and vessel.bed.floods_range is not None:
            feeds = {run.run_class for run in site.runs.values() if run.finish == vessel.name}
            groups.setdefault((frozenset(feeds), vessel.bed.floods_range), []).append(vessel.name)
    return list(groups.values())


def _flooded(site: Site, groups: Sequence[Sequence[str]], shares: Sequence[float]) -> Site:
    """The site with each group's floods at that share of the way from its least to its most."""
    vessels = dict(site.vessels)
    assumed = []
    for group, share in zip(groups, shares, strict=True):
        for name in group:
            vessels[name] = _at(vessels[name], share)
        first = vessels[group[0]].bed
        assert first is not None
        alone = len(groups) == 1
        place = "beds.floods" if alone else f"vessel.{group[0]}.floods"
        assumed.append(_assumed(place, first))
    return replace(
        site,
        vessels=vessels,
        flows=flows(vessels, site.junctions, site.runs),
        assumptions=(*site.assumptions, *assumed),
    )


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


def _floods_told(site: Site) -> dict[str, str]:
    """What each bed with a range has come to; once if all have come to the same."""
    told = {
        vessel.name: _hourly(floods_at(site, vessel))
        for vessel in site.vessels.values()
        if vessel.bed is not None and vessel.bed.floods_range is not None
    }
    if len(_groups(site)) == 1:
        return {"floods": next(iter(told.values()))}
    return {f"floods of {name}": value for name, value in told.items()}


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
