"""A strainer in a pumped line with its adaptors: it holds back what would clog valves behind it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product
from typing import ClassVar, Self

from autoplan.catalog.naming import row_of
from autoplan.catalog.parts import Catalog, Pipe
from autoplan.fittings.base import Fitting, Layout, Offering, Role
from autoplan.fittings.lengths import VALVE_BODY, Lengths
from autoplan.fittings.passage import least_rating, passage, smallest_bore
from autoplan.hydraulics.conduit import Resistance
from autoplan.hydraulics.fittings import k_from_kv

CLEAR = 0.5
"""Share of a strainer's mesh that is clear between two cleanings; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Strainer(Fitting):
    """A strainer.

    Attributes:
        part: part id.
        chain: adaptors on each side of it, each side from the strainer to the pipe.
    """

    word: ClassVar[str] = "strainer"
    on_straight: ClassVar[bool] = True
    listed: ClassVar[int] = 3
    part: str
    chain: tuple[str, ...] = ()

    @classmethod
    def offered(cls, on: Offering) -> Iterator[Self]:
        """Strainers with adaptors on each side, as many on the one as on the other."""
        for row in on.of(on.catalog.strainers):
            for before, after in product(*(on.chains(end, on.pipe.end) for end in row.ends)):
                if len(before.parts) == len(after.parts):
                    yield cls(row.id, (*before.parts, *after.parts))

    def parts(self) -> tuple[str, ...]:
        """The strainer, then its adaptors."""
        return (self.part, *self.chain)

    def lay(self, on: Layout) -> None:
        """Adaptors, strainer, adaptors."""
        half = len(self.chain) // 2
        on.chain(self.chain[:half][::-1], Role.ADAPTOR)
        on.part(self.part, self.word, on.catalog.strainers[self.part].ends)
        on.chain(self.chain[half:], Role.ADAPTOR)

    def takes_m(self, lengths: Lengths) -> float:
        """The strainer with its adaptors [m]; its body at least as long as a valve's if the row is silent."""
        row = lengths.catalog.strainers[self.part]
        body = VALVE_BODY * row.bore_m if row.body_m is None else row.body_m
        return body + lengths.taken(self.chain)

    def resistances(self, catalog: Catalog, pipe: Pipe) -> Iterator[Resistance | None]:
        """Its mesh as far as it is clear, the same water through less of it; and its narrowest adaptor."""
        k = k_from_kv(catalog.strainers[self.part].kv_m3_h * CLEAR, pipe.bore_m)
        yield Resistance(k, pipe.bore_m)
        yield passage(pipe.bore_m, smallest_bore(catalog, self.chain), pipe.bore_m)

    def ratings_m(self, catalog: Catalog) -> Iterator[float]:
        """Of the strainer and of its adaptors [m of water]."""
        yield least_rating(catalog, self.chain)
        yield catalog.strainers[self.part].rating_m

    def told(self, catalog: Catalog) -> Iterator[str]:
        """The strainer with its adaptors, and what it asks for."""
        yield f"{self.word}: {row_of(catalog, self.parts())}, to be rinsed whenever less water comes"
