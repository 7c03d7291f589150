"""Pipe, tube and hose: `pipes.csv`."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated, Self

from autoplan.catalog.columns import Bar, Metres, Mm, mm, walled
from autoplan.catalog.ends import END, End, EndColumn
from autoplan.catalog.kinds.part import Part
from autoplan.catalog.materials import Grade
from autoplan.catalog.sheet import Row

LONGEST_RIGID_M = 6.0
"""Longest piece that a shop cuts of rigid pipe by the metre where its list does not say; sticks of 6 m are
what it is delivered in, common practice, no source [m]."""

WALL_SLACK_M = 1e-4
"""How far a wall may be from half the difference of outside and bore, for figures rounded to 0.1 mm [m]."""

OUTSIDE_SLACK_M = 5e-4
"""How far a pipe's outside may be from its system's: mean outsides vary by up to 0.5 mm (BS 3505) [m]."""

BORE_SLACK = 0.1
"""Share by which a bore-named pipe may be off its name; common practice, no source [-]."""


@dataclass(frozen=True, slots=True)
class Pipe(Part):
    """Pipe, tube or hose.

    Attributes:
        end: what its cut end offers ("spigot metric 50", "bore poly 25").
        outside_m, bore_m: diameters [m].
        rating_m: pressure it holds [m of water]; 0 for drain pipe.
        roughness_m: absolute roughness of the bore [m].
        stick_m: length of a stick [m], or 0 if sold by the metre.
        bend_radius_m: least radius to which it bends by itself [m], or 0 for rigid pipe.
        wall_m: thickness of the wall [m], or None if the row does not say.
        longest_piece_m: longest piece that a shop cuts of its metres [m], or None if it does not say.
    """

    end: Annotated[
        End, EndColumn(f"{END}, as spigot, plain or bore", forms=("spigot", "plain", "bore"), cut=True)
    ]
    outside_m: Annotated[float, Mm("outside diameter")]
    bore_m: Annotated[float, Mm("inside diameter")]
    rating_m: Annotated[float, Bar("pressure that it holds; 0 for drain pipe", above=False)]
    roughness_m: Annotated[float, Mm("roughness of its inside, as new", above=False, most=10)]
    stick_m: Annotated[float, Metres("length of a stick or coil", "sold by the metre", 0.0)]
    bend_radius_m: Annotated[float, Mm("least radius to which it bends by itself", "rigid", 0.0, most=1e5)]
    wall_m: Annotated[float | None, Mm("thickness of the wall", "follows from outside and bore")] = None
    longest_piece_m: Annotated[
        float | None,
        Metres("longest piece of pipe by the metre that the shop cuts", "6 m of rigid pipe, else no limit"),
    ] = None

    @property
    def longest_m(self) -> float:
        """The longest piece that can be bought [m]: a stick, or what the shop cuts of its metres."""
        if self.stick_m:
            return self.stick_m
        if self.longest_piece_m is not None:
            return self.longest_piece_m
        return math.inf if self.bend_radius_m else LONGEST_RIGID_M

    @property
    def family(self) -> tuple[End, float, float, float, float, float, Grade]:
        """What makes two rows the same pipe, sold in another length or by another shop."""
        sizes = self.outside_m, self.bore_m, self.rating_m, self.roughness_m, self.bend_radius_m
        return (self.end, *sizes, self.grade)

    def checked(self, row: Row) -> Self:
        """Itself; wall, outside and bore agree, also with the size that its end names."""
        outside, bore, wall = self.outside_m, self.bore_m, self.wall_m
        walled(row, bore_mm=bore, outside_mm=outside)
        if wall is not None and bore < outside and abs(outside - 2 * wall - bore) / 2 > WALL_SLACK_M + 1e-12:
            sizes = f"outside_mm {mm(outside)} and bore_mm {mm(bore)}"
            remedy = f"by outside and bore it is {mm((outside - bore) / 2)}"
            row.wrong(f"wall_mm {mm(wall)} does not agree with {sizes}", remedy)
        self._check_name(row)
        if self.longest_piece_m is not None and not row.blank("stick_m"):
            problem = f"longest_piece_m is {self.longest_piece_m:g} where stick_m is given"
            row.wrong(problem, "leave it empty for sticks and coils; it is for pipe by the metre")
        if self.end.form == "bore" and row.blank("bend_radius_mm"):
            row.wrong(f"bend_radius_mm is empty for {self.end}", "give the least radius to which it bends")
        elif not row.blank("bend_radius_mm") and self.bend_radius_m <= outside / 2:
            problem = f"bend_radius_mm is {mm(self.bend_radius_m)}"
            row.wrong(problem, f"it must be more than half the outside, {mm(outside / 2)}")
        return self

    def _check_name(self, row: Row) -> None:
        """Note a pipe that is not of the size that its end names."""
        end, size = self.end, row.known.size(self.end)
        if size is None:
            return
        least, most = size.outside_min_m, size.outside_max_m
        if end.form != "bore" and least is not None and most is not None:
            slack = (OUTSIDE_SLACK_M if least == most else 0.0) + 1e-9
            if self.outside_m < least - slack or self.outside_m > most + slack:
                has = mm(least) if least == most else f"{mm(least)} to {mm(most)}"
                problem = f"outside_mm {mm(self.outside_m)} is not that of {end.system} {end.size}"
                row.wrong(problem, f"systems.csv has {has}")
        elif size.bore_m is not None and abs(self.bore_m / size.bore_m - 1) > BORE_SLACK:
            problem = f"bore_mm {mm(self.bore_m)} is not that of {end.system} {end.size}"
            row.wrong(problem, f"systems.csv has {mm(size.bore_m)}")
