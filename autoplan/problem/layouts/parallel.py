"""Fish tank by gravity through the filters to the sump; a pump there feeds tank and beds side by side."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from autoplan.errors import Mistake
from autoplan.problem.layouts.base import Topology
from autoplan.problem.site import Arrangement
from autoplan.problem.tables.schema import WishesTable
from autoplan.units import Dimension, write


class Parallel(Topology):
    """A split behind the pump leads to the tank and to the beds; each bed drains back by itself."""

    word = Arrangement.PARALLEL
    needs = ("sump",)

    def line_keys(self) -> list[str]:
        """Drains, the way to the tank, and where there are beds the ways to them and back."""
        falls = [f"{above}_to_{below}" for above, below in pairwise((*self.chain, "sump"))]
        beds = ["sump_to_split", "sump_to_first_bed", "trunk_to_bed", "bed_to_sump"] if self.beds else []
        return [*falls, "sump_to_tank", *self.idle, *beds, *self.between, *self.to_collector]

    def too_short(self) -> Iterator[Mistake]:
        """The ways to the tank and to the first bed begin with the way to the split."""
        main = self.lines.length("sump_to_split")
        for key in ("sump_to_tank", "sump_to_first_bed") if self.beds else ():
            if self.lines.length(key) <= main:
                whole, first = (write(length, Dimension.LENGTH) for length in (self.lines.length(key), main))
                problem = f"the whole way from the pump is {whole}, of which {first} lead to the split"
                yield self._mistake(f"distances.{key}", problem, "make it longer than sump_to_split")

    def lay(self, wishes: WishesTable) -> None:
        """Without beds the main goes straight to the tank."""
        self.stand(wishes)
        self.drains((*self.chain, "sump"))
        self.overflow_and_wastes()
        if self.beds:
            self._split()
        else:
            self.press("main", "sump", "tank", self.lines.length("sump_to_tank"), "sump_to_tank")
        self.guard_tank()
        self.bed_drains("sump")

    def _split(self) -> None:
        """The way from the pump to the tank and to the first bed begins with the main."""
        main = self.lines.length("sump_to_split")
        self.split("split")
        self.press("main", "sump", "split", main, "sump_to_split")
        self.press("tank feed", "split", "tank", self.lines.length("sump_to_tank") - main, "sump_to_tank")
        self.trunk("split", self.lines.length("sump_to_first_bed") - main, "sump_to_first_bed")
