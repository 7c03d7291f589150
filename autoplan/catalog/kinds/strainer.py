"""Strainers that stand in a pumped line: `strainers.csv`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from autoplan.catalog.columns import Kv, Mm
from autoplan.catalog.kinds.part import Body, Part, Passage, Rating, TwoEnds


@dataclass(frozen=True, slots=True)
class StrainerPart(Part):
    """A strainer.

    Attributes:
        ends: both ends.
        bore_m: bore of its ports [m].
        rating_m: pressure it holds [m of water].
        kv_m3_h: measured flow at 1 bar with its mesh clean [m3/h].
        mesh_m: width of each opening of its mesh [m].
        body_m: length between the ends of what it joins [m], or None if the row does not say.
    """

    ends: TwoEnds
    bore_m: Passage
    rating_m: Rating
    kv_m3_h: Annotated[float, Kv("water through it, its mesh clean, at a loss of 1 bar")]
    mesh_m: Annotated[float, Mm("width of each opening of its mesh")]
    body_m: Body = None
