"""Screens, access plugs, end caps, drain cocks and hand pumps: `fixtures.csv`."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated, Self

from autoplan.catalog.columns import Kinds, Metres, Mm, SquareCm, rising
from autoplan.catalog.ends import END, End, EndColumn
from autoplan.catalog.kinds.part import Part
from autoplan.catalog.sheet import Row


class FixtureKind(StrEnum):
    """Parts that hang on the plumbing and pass no water on."""

    SCREEN = "screen"
    LONG_SCREEN = "long slotted screen"
    MESH = "mesh screen"
    PLUG = "access plug"
    CAP = "end cap"
    COCK = "drain cock"
    HAND_PUMP = "hand pump"


SCREENS = (FixtureKind.SCREEN, FixtureKind.LONG_SCREEN, FixtureKind.MESH)
"""What is pushed over the inlet of a drain: a short screen, one with much more open area, one for fry."""

_SCREEN, _LIFT, _CLOSING = (
    SCREENS,
    (FixtureKind.HAND_PUMP,),
    (FixtureKind.PLUG, FixtureKind.CAP, FixtureKind.COCK),
)
_FORMS = ("spigot", "socket", "barb", "compression")
_PUSHED = "outside of a pipe that a screen is pushed on"


@dataclass(frozen=True, slots=True)
class Fixture(Part):
    """A screen, an access plug, an end cap, a drain cock or a hand pump.

    Attributes:
        kind: see `FixtureKind`.
        end: of a plug, a cap or a cock, what it closes with; else None.
        least_m, most_m: of a screen, outsides of the pipe that it is pushed on [m]; else 0 and infinite.
        open_m2: of a screen, area of its openings [m2]; else 0.
        slot_m: of a screen, width of each opening [m]; else 0.
        lift_m: of a hand pump, how high it lifts [m]; else 0.
        reach_m: of a hand pump, length of the hose that comes with it [m]; else 0.
    """

    kind: Annotated[
        FixtureKind,
        Kinds("screen, access plug, end cap, drain cock or hand pump", choices=tuple(FixtureKind)),
    ]
    end: Annotated[End | None, EndColumn(f"{END}: of a plug, cap or cock", only=_CLOSING, forms=_FORMS)]
    least_m: Annotated[float, Mm(f"least {_PUSHED}", None, 0.0, _SCREEN, name="from_mm")]
    most_m: Annotated[float, Mm(f"greatest {_PUSHED}", None, math.inf, _SCREEN, name="to_mm")]
    open_m2: Annotated[
        float, SquareCm("all openings of a screen together", None, 0.0, _SCREEN, name="open_area_cm2")
    ]
    slot_m: Annotated[float, Mm("width of each opening of a screen", None, 0.0, _SCREEN)]
    lift_m: Annotated[float, Metres("height that a hand pump lifts water", None, 0.0, _LIFT)]
    reach_m: Annotated[float, Metres("length of the hose that comes with a hand pump", None, 0.0, _LIFT)]

    def takes(self, outside_m: float) -> bool:
        """Whether a screen is pushed on pipe of an outside [m]."""
        return self.least_m - 1e-9 <= outside_m <= self.most_m + 1e-9

    def checked(self, row: Row) -> Self:
        """Itself; what a screen is pushed on is a range."""
        rising(row, from_mm=self.least_m, to_mm=self.most_m)
        return self
