"""The cap on a feed that is built as far as its stub, for a bed to come later."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from autoplan.fittings.base import AS_SHORT, Fitting, Item, Layout, Role


@dataclass(frozen=True, slots=True)
class EndCap(Fitting):
    """A cap: its part id."""

    word: ClassVar[str] = "end cap"
    part: str

    def parts(self) -> tuple[str, ...]:
        """The cap."""
        return (self.part,)

    def lay(self, on: Layout) -> None:
        """A stub and the cap on it."""
        on.slot(AS_SHORT, "spare connection")
        cap = on.catalog.fixtures[self.part]
        if cap.end is not None:
            on.item(Item(cap.id, Role.CAP, (cap.end, cap.end)))
