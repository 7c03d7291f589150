"""A vent: a tee at a drain's head with an open pipe upright on its third opening, which lets air in.

It reaches as high as the run asks for at a junction, and over the rim of a vessel that its drain starts at.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import ClassVar, Self

from autoplan.catalog.naming import name_of
from autoplan.catalog.parts import Catalog, Pipe
from autoplan.fittings.base import Fitting, Layout, Offering, Role
from autoplan.fittings.lengths import Lengths
from autoplan.fittings.passage import passage
from autoplan.hydraulics.conduit import Resistance
from autoplan.hydraulics.fittings import dividing_tee_k

UPRIGHT = "vent"
"""The upright piece, as the cutting list calls it."""

tee_k = lru_cache(maxsize=1000)(dividing_tee_k)


@dataclass(frozen=True, slots=True)
class Vent(Fitting):
    """The tee, by its part id; the upright is cut of the line's own pipe."""

    word: ClassVar[str] = "vent"
    on_straight: ClassVar[bool] = True
    at_head: ClassVar[bool] = True
    listed: ClassVar[int] = 3
    tee: str

    @classmethod
    def offered(cls, on: Offering) -> Iterator[Self]:
        """Tees that take the pipe on all three sides."""
        for tee in on.of(on.catalog.tees):
            if all(on.mates(end, on.pipe.end) for end in tee.ends):
                yield cls(tee.id)

    def ratings_m(self, catalog: Catalog) -> Iterator[float]:
        """Of the tee [m of water]."""
        yield catalog.tees[self.tee].rating_m

    def parts(self) -> tuple[str, ...]:
        """The tee."""
        return (self.tee,)

    def lay(self, on: Layout) -> None:
        """The tee in the line, the open pipe on its third end."""
        tee = on.catalog.tees[self.tee]
        on.part(tee.id, Role.OPEN_TEE, (tee.ends[0], tee.ends[1]))
        on.vent(len(on.items) - 1, tee.ends[2], self._upright_m(on), UPRIGHT)

    def _upright_m(self, on: Layout) -> float:
        """Length of the upright [m]; a stub where nobody knows how high it is to reach or stands."""
        vessel = on.site.vessels.get(on.run.start)
        if vessel is not None:
            # The lowest that the drain's axis can lie: not as much as its bore under the lowest water.
            return vessel.rim_m - vessel.water_min_m + on.pipe.bore_m
        foot = on.site.junctions[on.run.start].at_m if on.run.start in on.site.junctions else None
        if foot is None or on.run.vent_m is None:
            return on.lengths.stub
        return max(on.lengths.stub, on.run.vent_m - foot - on.lengths.tee_half)

    def takes_m(self, lengths: Lengths) -> float:
        """From stop to stop of the tee [m]."""
        return 2 * lengths.tee_half

    def told(self, catalog: Catalog) -> Iterator[str]:
        """The tee and what stands on it."""
        yield f"{self.word}: {name_of(catalog, self.tee)} with an open upright pipe"

    def resistances(self, catalog: Catalog, pipe: Pipe) -> Iterator[Resistance | None]:
        """Straight on through the tee, and its narrower bore."""
        narrow = min(pipe.bore_m, catalog.tees[self.tee].bore_m)
        yield Resistance(tee_k("run", 1.0, 1.0, narrow, narrow), narrow)
        yield passage(pipe.bore_m, narrow, pipe.bore_m)
