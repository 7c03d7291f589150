"""Pumps: `pumps.csv`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Self

from autoplan.catalog.columns import MM, Curve, Mm, Number, Watts, Yes, mm
from autoplan.catalog.ends import END, End, EndColumn, named_m
from autoplan.catalog.kinds.part import Part
from autoplan.catalog.sheet import Row

WEIGHT = 9806.65
"""Weight of water [N/m3], to compare a pump's curve with its power."""


class _OutletBore(Number):
    """The bore of an outlet, less than its thread or pipe."""

    def read(self, cell: str, row: Row) -> float:
        """The bore [m]."""
        bore: float = super().read(cell, row)
        outlet = row.so_far["outlet"]
        widest = named_m(row, outlet)
        if widest is not None and outlet.form != "barb" and bore >= widest:
            row.wrong(f"{self.name} {mm(bore)} is too large for {outlet}", "check the outlet")
        return bore


@dataclass(frozen=True, slots=True)
class Pump(Part):
    """A pump with its curve at full speed.

    Attributes:
        outlet: its outlet thread or spigot.
        outlet_bore_m: bore of the outlet [m].
        curve: (flow [m3/s], head [m]) points from shut-off to run-out, flow rising, head falling.
        watts: electric power at full speed [W].
        slowable: whether it can be slowed (variable speed).
        cover_m: least water above the floor it stands on [m].
    """

    outlet: Annotated[
        End, EndColumn(f"{END}: its outlet", forms=("male", "female", "spigot", "socket", "barb"))
    ]
    outlet_bore_m: Annotated[float, _OutletBore("bore of the outlet", unit=MM)]
    curve: Annotated[
        tuple[tuple[float, float], ...],
        Curve('points flow:head from shut-off to run-out, as in "0:2.0 800:1.4 1600:0"'),
    ]
    watts: Annotated[float, Watts("electric power")]
    slowable: Annotated[bool, Yes("yes where its speed can be set, else no")]
    cover_m: Annotated[float, Mm("least water over the floor that it stands on", above=False, most=1e4)]

    def checked(self, row: Row) -> Self:
        """Itself; it takes more power than it gives the water."""
        useful = max((flow * head * WEIGHT for flow, head in self.curve), default=0.0)
        if useful >= self.watts:
            problem = f"watts {self.watts:g} is less than the {useful:.1f} W that the curve gives the water"
            row.wrong(problem, "check the power and the curve")
        return self
