"""Tank, filters, beds and sump one after the other by gravity; the pump feeds the tank alone."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from autoplan.problem.layouts.base import Topology
from autoplan.problem.site import Arrangement, Entry
from autoplan.problem.tables.schema import WishesTable

OVER_RIM_M = 0.2
"""From a bed's rim up to the highest water of what feeds it, at least, for a feed by gravity over that rim
[m]: room for its pipe over the rim, what it loses and the drain's reserve; common practice, no source."""


class Series(Topology):
    """Each bed is fed from the last filter by a line of its own, in equal shares.

    What divides is the filter: a line that divides by itself would share as its lengths happen to be.
    """

    word = Arrangement.SERIES
    needs = ("beds", "sump")

    def line_keys(self) -> list[str]:
        """Drains to the last filter, from there to the beds, from them to the sump, and back up."""
        falls = [f"{above}_to_{below}" for above, below in pairwise(self.chain)]
        last = f"{self.chain[-1]}_to_bed"
        ways = [last, *self.between, "bed_to_sump", "sump_to_tank", *self.idle, *self.to_collector]
        return [*falls, *ways]

    def lay(self, wishes: WishesTable) -> None:
        """The pump's one line is the main."""
        self.stand(wishes)
        self.drains(self.chain if self.beds else (*self.chain, "sump"))
        self.overflow_and_wastes()
        last = self.chain[-1]
        self.to_each_bed("bed feed", f"{last}_to_bed", self.draw(last), above=last)
        for name in [f"bed feed {number}" for number in range(1, self.beds + 1)]:
            feed = self.screened(last, self.scene.runs[name])
            self.scene.runs[name] = replace(feed, entry=self.entry(last, feed.finish))
        self.main_to_tank()
        self.guard_tank()
        self.bed_drains("sump")

    def entry(self, above: str, bed: str) -> Entry:
        """How a bed's feed comes in: over its rim, if there is room for that.

        A hole in its wall is under the gravel, which falls into the pipe, and roots close it.
        """
        vessels, choices = self.scene.vessels, self.scene.choices
        if above in choices or bed in choices:
            return Entry.ANY
        fall_m = vessels[above].water_max_m - vessels[bed].rim_m
        return Entry.OVER_RIM if fall_m >= OVER_RIM_M - 1e-9 else Entry.ANY
