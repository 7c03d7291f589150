"""What a builder turns or slides to give a drain its share of the water: `trims.csv`."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated

from autoplan.catalog.columns import Kinds, Mm, SquareCm
from autoplan.catalog.ends import END, End, EndColumn
from autoplan.catalog.kinds.part import NARROWEST, Part


class TrimKind(StrEnum):
    """How it raises the edge that the water runs over."""

    ELBOW = "turnable elbow"
    SLEEVE = "slotted sleeve"


_SLEEVE = (TrimKind.SLEEVE,)
_FORMS = ("compression", "sleeve")


@dataclass(frozen=True, slots=True)
class TrimPart(Part):
    """A part on the inner end of a drain that raises the edge which the water runs over.

    Attributes:
        kind: see `TrimKind`.
        end: what goes over the pipe's end, not welded, so that it can be moved.
        bore_m: its narrowest bore [m].
        range_m: by how much it raises that edge at most [m].
        open_m2: of a sleeve, area of its slots [m2]; else 0.
    """

    kind: Annotated[TrimKind, Kinds("turnable elbow or slotted sleeve", choices=tuple(TrimKind))]
    end: Annotated[End, EndColumn(f"{END}: what goes over the pipe", forms=_FORMS)]
    bore_m: Annotated[float, Mm(NARROWEST)]
    range_m: Annotated[float, Mm("by how much it raises the edge that the water runs over")]
    open_m2: Annotated[
        float, SquareCm("all slots of a sleeve together", None, 0.0, _SLEEVE, name="open_area_cm2")
    ]
