"""Elbows and bends: `turns.csv`."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated

from autoplan.catalog.columns import DEGREES, Number, Words
from autoplan.catalog.kinds.part import Part, Passage, Rating, TwoEnds


class TurnStyle(StrEnum):
    """How a change of direction is made."""

    TIGHT = "tight"
    SWEPT = "swept"
    PAIRED = "paired 45s"
    BEND = "bending"


@dataclass(frozen=True, slots=True)
class Turn(Part):
    """A bend; angle [degrees], style tight or swept, centreline radius over bore [-], smallest bore [m]."""

    ends: TwoEnds
    angle: Annotated[int, Words("by how much it turns, 45 or 90", unit=DEGREES, choices=(45, 90))]
    style: Annotated[TurnStyle, Words("tight or swept", choices=(TurnStyle.TIGHT, TurnStyle.SWEPT))]
    radius_over_bore: Annotated[float, Number("radius of its bend as a multiple of its bore", most=50)]
    bore_m: Passage
    rating_m: Rating
