"""Bells, media guards and air tubes of bell siphons, and stilling wells: `siphons.csv`."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Annotated, Self

from autoplan.catalog.columns import Mm, Words, walled
from autoplan.catalog.kinds.part import Part
from autoplan.catalog.sheet import Row


class SiphonKind(StrEnum):
    """What stands round the standpipe of a bell siphon, or round the inlet of a settler."""

    BELL = "bell"
    GUARD = "media guard"
    SNORKEL = "snorkel"
    WELL = "stilling well"


class MadeOf(StrEnum):
    """What a bell is made of, or that it is bought ready-made."""

    READY = "ready-made"
    PIPE = "pipe"
    BOTTLE = "bottle"


@dataclass(frozen=True, slots=True)
class SiphonPart(Part):
    """A bell, the guard round it or its air tube, bought ready-made or to be made, from pipe or a bottle.

    A stilling well too: a wide pipe, open at both ends, that hangs from a settler's rim round its inlet.

    Attributes:
        kind: see `SiphonKind`.
        inside_m, outside_m: diameters [m].
        tallest_m: most height that it can be cut to [m].
        made: what it is made of; pipe where the price list does not say.
    """

    kind: Annotated[
        SiphonKind,
        Words(
            "bell, media guard, snorkel (the bell's air tube) or stilling well (round a settler's inlet)",
            choices=tuple(SiphonKind),
        ),
    ]
    inside_m: Annotated[float, Mm("inside of its wall where it is narrowest")]
    outside_m: Annotated[float, Mm("outside of its wall where it is widest")]
    tallest_m: Annotated[float, Mm("greatest height that it can be cut to")]
    made: Annotated[
        MadeOf,
        Words(
            "what it is: ready-made, or to be made from pipe or from a bottle",
            empty="pipe",
            otherwise=MadeOf.PIPE,
            spare=True,
            choices=tuple(MadeOf),
        ),
    ] = field(default=MadeOf.PIPE, kw_only=True)

    def checked(self, row: Row) -> Self:
        """Itself; it has a wall."""
        walled(row, inside_mm=self.inside_m, outside_mm=self.outside_m)
        return self
