"""Which vessel of a price list is bought, where that is left open: every one that fits where it stands."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from itertools import product
from typing import Protocol

from autoplan.errors import Mistake
from autoplan.problem.checks.heights import height_mistakes
from autoplan.problem.checks.scene import Scene
from autoplan.problem.problem import Arranged, VesselChoice
from autoplan.problem.site import Vessel


class Container(Protocol):
    """A vessel as a price list has it; sizes as of a `Vessel`."""

    @property
    def id(self) -> str:
        """Of its row."""

    @property
    def depth_m(self) -> float:
        """Inside depth [m]."""

    @property
    def area_m2(self) -> float:
        """Water surface [m2]."""

    @property
    def wall_m(self) -> float:
        """Of the wall [m]."""

    @property
    def base_m(self) -> float:
        """Of the floor [m]."""

    @property
    def curved(self) -> bool:
        """Whether it is round."""


def by_vessels(
    layout: Arranged, containers: Mapping[str, Container], file: str, unfit: list[Mistake]
) -> Iterator[Arranged]:
    """A layout for each choice of the price list's vessels that may stand where one is still to be chosen.

    Args:
        layout: with or without choices.
        containers: what there is to choose from, by id; all that is asked for.
        file: of the problem, for mistakes.
        unfit: gets what is wrong with those that do not fit where they would stand.
    """
    choices = layout.choices
    among = [[containers[part] for part in choice.among or containers] for choice in choices.values()]
    for made in product(*among):
        vessels = dict(layout.vessels)
        for (name, choice), container in zip(choices.items(), made, strict=True):
            vessels[name] = _bought(vessels[name], choice, container)
        if choices:
            places = {name: name for name in (*vessels, *layout.junctions, *layout.runs)}
            scene = Scene(file, vessels, dict(layout.junctions), dict(layout.runs), places)
            place = f"{next(iter(choices.values())).place}, {' and '.join(each.id for each in made)}"
            wrong = [replace(mistake, place=place) for mistake in height_mistakes(scene)]
            if wrong:
                unfit += wrong
                continue
        yield replace(layout, vessels=vessels, choices={})


def _bought(vessel: Vessel, choice: VesselChoice, container: Container) -> Vessel:
    """The vessel as what is bought for it; the water stands as was asked, above its floor."""
    high = choice.water_max_m
    if high is None:
        high = container.depth_m - choice.freeboard_m
    return replace(
        vessel,
        depth_m=container.depth_m,
        area_m2=container.area_m2,
        wall_m=container.wall_m,
        base_m=container.base_m,
        curved=container.curved,
        water_min_m=round(vessel.floor_m + min(high, choice.water_min_m), 9),
        water_max_m=round(vessel.floor_m + high, 9),
        part=container.id,
    )
