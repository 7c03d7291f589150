"""Tubs that can be bought to stand as a vessel: `vessels.csv`."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Annotated, Self

from autoplan.catalog.columns import Litres, Mm, SquareMetres, Words
from autoplan.catalog.kinds.part import Part
from autoplan.catalog.sheet import Row

SLACK = 1e-3
"""Share by which area times depth may fall short of the volume, for rounded figures [-]."""


@dataclass(frozen=True, slots=True)
class Tub(Part):
    """A tub that can be bought to stand as a vessel; volume to the rim [m3], surface [m2], the rest [m]."""

    volume_m3: Annotated[float, Litres("volume to the rim")]
    depth_m: Annotated[float, Mm("inside depth, floor to rim", most=1e4)]
    area_m2: Annotated[
        float, SquareMetres("water surface, the mean of a tub that tapers", "volume over depth", 0.0)
    ]
    wall_m: Annotated[float, Mm("thickness of the wall", most=1000)]
    base_m: Annotated[float, Mm("thickness of the floor", most=1000)]
    curved: Annotated[
        bool, Words("round or square", name="shape", choices=("round", "square")), "round".__eq__
    ]

    def checked(self, row: Row) -> Self:
        """Itself with its surface, on which the volume stands no higher than the rim."""
        if not self.area_m2:
            return replace(self, area_m2=self.volume_m3 / self.depth_m)
        held = self.area_m2 * self.depth_m
        if held < self.volume_m3 * (1 - SLACK):
            problem = (
                f"volume_l {self.volume_m3 * 1000:g} does not fit: area_m2 times depth_mm is {held * 1000:g}"
            )
            row.wrong(problem, "give the volume to the rim, or leave area_m2 empty")
        return self
