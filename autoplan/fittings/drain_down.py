"""A drain cock at a line's lowest: a tee whose third opening, turned down, is closed by a cock."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar

from autoplan.catalog.naming import names_of
from autoplan.catalog.parts import Catalog, FixtureKind
from autoplan.fittings.flushing import FlushTee


@dataclass(frozen=True, slots=True)
class DrainDown(FlushTee):
    """A tee and the drain cock in it: part ids; `plug` is the cock."""

    word: ClassVar[str] = "drain cock"
    closing: ClassVar[FixtureKind] = FixtureKind.COCK

    def told(self, catalog: Catalog) -> Iterator[str]:
        """Tee and cock, and which way it hangs."""
        parts = " with ".join(names_of(catalog, self.parts()))
        yield f"{self.word}: {parts}, hanging down at the lowest place"
