"""A flushing point: a tee whose third opening is plugged, to put a hose in."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import ClassVar, Self

from autoplan.catalog.naming import names_of
from autoplan.catalog.parts import Catalog, FixtureKind, Pipe
from autoplan.fittings.base import Fitting, Item, Layout, Offering, Role
from autoplan.fittings.lengths import Lengths
from autoplan.fittings.passage import passage
from autoplan.hydraulics.conduit import Resistance
from autoplan.hydraulics.fittings import dividing_tee_k

tee_k = lru_cache(maxsize=1000)(dividing_tee_k)


@dataclass(frozen=True, slots=True)
class FlushTee(Fitting):
    """A tee and the plug in it: part ids."""

    word: ClassVar[str] = "flushing point"
    on_straight: ClassVar[bool] = True
    listed: ClassVar[int] = 3
    closing: ClassVar[FixtureKind] = FixtureKind.PLUG
    tee: str
    plug: str

    @classmethod
    def offered(cls, on: Offering) -> Iterator[Self]:
        """Tees on the pipe with the plugs for their third end."""
        for tee in on.of(on.catalog.tees):
            if all(on.mates(end, on.pipe.end) for end in tee.ends[:2]):
                for plug in on.of(on.catalog.fixtures):
                    closes = plug.kind is cls.closing and plug.end is not None
                    if closes and plug.end is not None and on.mates(tee.ends[2], plug.end):
                        yield cls(tee.id, plug.id)

    def ratings_m(self, catalog: Catalog) -> Iterator[float]:
        """Of the tee [m of water]."""
        yield catalog.tees[self.tee].rating_m

    def parts(self) -> tuple[str, ...]:
        """Tee and plug."""
        return self.tee, self.plug

    def lay(self, on: Layout) -> None:
        """The tee in the line, the plug on its third end."""
        tee, plug = on.catalog.tees[self.tee], on.catalog.fixtures[self.plug]
        on.part(tee.id, Role.FLUSH_TEE, (tee.ends[0], tee.ends[1]))
        if plug.end is not None:
            item = Item(plug.id, Role.PLUG, (plug.end, plug.end), None, f"{plug.kind} on the {self.word}")
            on.plug(len(on.items) - 1, tee.ends[2], item)

    def takes_m(self, lengths: Lengths) -> float:
        """From stop to stop of the tee [m]."""
        return 2 * lengths.tee_half

    def told(self, catalog: Catalog) -> Iterator[str]:
        """Tee and plug."""
        yield f"{self.word}: {' with '.join(names_of(catalog, self.parts()))}, to put a hose in"

    def resistances(self, catalog: Catalog, pipe: Pipe) -> Iterator[Resistance | None]:
        """Straight on through the tee, and its narrower bore."""
        narrow = min(pipe.bore_m, catalog.tees[self.tee].bore_m)
        yield Resistance(tee_k("run", 1.0, 1.0, narrow, narrow), narrow)
        yield passage(pipe.bore_m, narrow, pipe.bore_m)
