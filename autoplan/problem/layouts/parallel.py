"""Fish tank by gravity through the filters to the sump; a pump there feeds tank and beds side by side."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from autoplan.problem.layouts.base import Topology
from autoplan.problem.plan import Outline
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

    def lay(self, wishes: WishesTable) -> None:
        """Without beds the main goes straight to the tank."""
        self.stand(wishes)
        self.drains((*self.chain, "sump"))
        self.overflow_and_wastes()
        if self.beds:
            self._split()
        else:
            self.main_to_tank()
        self.guard_tank()
        self.bed_drains("sump")

    def _split(self) -> None:
        """The way from the pump to the tank and to the first bed begins with the main.

        By their places the split is on the way from the sump to the tank, and the beds' line leaves there.
        """
        key, main = "sump_to_tank", self.lines.level("sump_to_split")
        first = sum(main[0])
        way = self.between_walls(key, "sump", "tank")
        at = None
        if way is not None and way.level_m[0] > first:
            at = way.begins + way.toward * first
            way = replace(way, level_m=(way.level_m[0] - first, *way.level_m[1:]))
        elif way is not None:
            straight, whole = (
                write(length, Dimension.LENGTH) for length in (round(way.level_m[0], 3), first)
            )
            problem = (
                f"by their places the way to the tank goes {straight} straight, and the split is at {whole}"
            )
            self.wrong.append(self._mistake("distances.sump_to_split", problem, "give a shorter one"))
        self.split("split", at)
        self.press("main", "sump", "split", main, "sump_to_split")
        self.press("tank feed", "split", "tank", self.behind(key, way, first), key)
        self.trunk("split", None if at is None else Outline(at), "sump_to_first_bed", first)
