"""A solids-lifting outlet: pipe from the middle of the floor to the wall and up, an open tee at the hole."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar

from autoplan.catalog.naming import name_of
from autoplan.catalog.parts import Catalog, Pipe
from autoplan.fittings.base import Fitting, Layout, Role
from autoplan.fittings.corner import Corner
from autoplan.fittings.flushing import tee_k
from autoplan.fittings.wall import Pierced
from autoplan.hydraulics.conduit import Conduit, Resistance
from autoplan.hydraulics.fittings import entrance_k
from autoplan.hydraulics.water import Water
from autoplan.problem.site import Vessel

VENT_STUB_M = 0.15
"""Open pipe above the tee of a solids-lifting outlet; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Riser(Fitting):
    """What a drain draws through from its vessel's floor.

    Attributes:
        corner: from level to upright, at the wall's foot.
        tee: part id of the open tee at the hole.
    """

    word: ClassVar[str] = "open tee"
    corner: Corner
    tee: str

    def corners(self) -> tuple[Corner, ...]:
        """The turn at the wall's foot."""
        return (self.corner,)

    def parts(self) -> tuple[str, ...]:
        """The open tee."""
        return (self.tee,)

    @staticmethod
    def across_m(vessel: Vessel) -> float:
        """From the middle of the floor to the wall [m]."""
        return vessel.radius_m

    def rise(self, on: Layout, vessel: Vessel, end: Pierced) -> int:
        """Put it on a line up to the hole that it leaves by; returns the place of its tee.

        It lies on the floor and stands as far from the wall as its tee needs to reach the hole.
        """
        lengths = on.lengths
        turn, tee = self.corner.takes_m(lengths), on.catalog.tees[self.tee]
        behind = lengths.nipple_outside(end.inner_chain) if end.sealed else lengths.taken(end.inner_chain)
        on.slot(self.across_m(vessel) - behind - lengths.tee_half - turn, "across the floor")
        self.corner.lay(on)
        top = vessel.water_max_m if end.centre_m is None else end.centre_m
        lies = vessel.floor_m + on.pipe.outside_m / 2
        on.slot(top - lies - turn - lengths.tee_half, "riser")
        on.part(tee.id, Role.OPEN_TEE, (tee.ends[0], tee.ends[2]))
        return len(on.items) - 1

    def told(self, catalog: Catalog) -> Iterator[str]:
        """The open tee, and what holds it."""
        yield (
            f"{self.word}: {name_of(catalog, self.tee)}, held by a stainless screw over the water so that no "
            "fish pushes the riser off"
        )

    def resistances(self, catalog: Catalog, pipe: Pipe) -> Iterator[Resistance | None]:
        """The open tee: everything comes up the run and leaves by the branch."""
        narrow = min(pipe.bore_m, catalog.tees[self.tee].branch_m)
        yield Resistance(tee_k("branch", 1.0, 1.0, narrow, narrow), narrow)

    def head(self, catalog: Catalog, pipe: Pipe, vessel: Vessel, flow_m3_s: float, water: Water) -> float:
        """Head [m] from the middle of a vessel's floor to the open tee at its wall, at a flow [m3/s].

        The mouth of a pipe that stands free, level to the wall, a turn, up to the highest water. What turning
        into the branch takes stands for the entrance there, which `part_full_inlet_head` counts.
        """
        length = self.across_m(vessel) + vessel.water_max_m - vessel.floor_m
        mouth = Resistance(entrance_k("re-entrant"), pipe.bore_m)
        turn = self.corner.resistance(catalog, pipe)
        return Conduit(pipe.bore_m, pipe.roughness_m, length, (mouth, turn)).loss(flow_m3_s, water)
