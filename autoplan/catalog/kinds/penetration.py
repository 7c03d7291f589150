"""Parts that take a pipe through a wall or a floor: `penetrations.csv`."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated, Self

from autoplan.catalog.columns import Kinds, Metres, Mm, Yes, mm, rising
from autoplan.catalog.ends import END, Bore, End, EndColumn, named_m
from autoplan.catalog.kinds.part import NARROWEST, Part
from autoplan.catalog.sheet import Row


class Way(StrEnum):
    """How the end of a run meets a wall, a floor or a rim."""

    SEAL = "push-in seal"
    BULKHEAD = "bulkhead fitting"
    THREADED = "threaded pair"
    OVER_RIM = "over the rim"


NO_SEALS = (Way.BULKHEAD, Way.THREADED)
"""Ways that take a part in the wall which has a bore of its own."""


class _Opening(EndColumn):
    """An end of a seal, which is a ring, or of what is no seal."""

    def allowed(self, row: Row) -> tuple[str, ...]:
        """A seal's form for a seal, any other for another part."""
        way = row.kind
        return tuple(form for form in self.forms if way is None or (form == "seal") is (way is Way.SEAL))


@dataclass(frozen=True, slots=True)
class Penetration(Part):
    """A part that takes a pipe through a wall or a floor.

    Attributes:
        way: seal, bulkhead or threaded pair.
        ends: (inside the vessel, outside the vessel). A seal carries the pipe itself, so both its ends are
            ("seal", system, size) and take that pipe's outside.
        hole_m: hole to drill [m].
        wall_min_m, wall_max_m: wall thickness it closes on [m].
        curved_ok: whether it closes on a curved wall.
        thin_flexing_ok: whether it holds in a wall under 3 mm without a stand.
        bore_m: smallest bore [m] (of the pipe for a seal: 0).
        head_max_m: most water above it [m].
        flange_m: outside of what of it lies in the vessel [m], or None if the row does not say.
    """

    way: Annotated[
        Way,
        Kinds(
            "push-in seal, bulkhead fitting or threaded pair", choices=(Way.SEAL, *NO_SEALS), called="a {}"
        ),
    ]
    ends: Annotated[
        tuple[End, End],
        _Opening(f"{END}: inside the vessel", name="end_inside"),
        _Opening(f"{END}: outside the vessel", name="end_outside"),
    ]
    hole_m: Annotated[float, Mm("hole to drill")]
    wall_min_m: Annotated[float, Mm("thinnest wall that it holds in", above=False, most=1000)]
    wall_max_m: Annotated[float, Mm("thickest wall that it holds in", most=1000)]
    curved_ok: Annotated[bool, Yes("yes where it seals in a round wall, else no")]
    thin_flexing_ok: Annotated[bool, Yes("yes where it seals in a thin wall that gives, else no")]
    bore_m: Annotated[float, Bore(NARROWEST, "a seal, where the pipe itself passes", 0.0, NO_SEALS)]
    head_max_m: Annotated[float, Metres("most water over it")]
    flange_m: Annotated[
        float | None, Mm("outside of its flange or nut in the vessel, across corners", "not looked at")
    ] = None

    def checked(self, row: Row) -> Self:
        """Itself; the hole lets through what passes it: the pipe of a seal, a male thread, any bore."""
        rising(row, wall_min_mm=self.wall_min_m, wall_max_mm=self.wall_max_m)
        through = (named_m(row, end) for end in self.ends if end.form in ("seal", "male"))
        passing = max([self.bore_m, *(width or 0.0 for width in through)])
        if self.hole_m <= passing:
            problem = f"hole_mm {mm(self.hole_m)} is not larger than the {mm(passing)} that passes it"
            row.wrong(problem, "give the diameter to drill")
        if self.flange_m is not None and self.flange_m <= self.hole_m:
            problem = f"flange_mm {mm(self.flange_m)} is not larger than hole_mm {mm(self.hole_m)}"
            row.wrong(problem, "give what lies round the hole in the vessel")
        return self
