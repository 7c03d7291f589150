"""A pump in the fish tank feeds the beds, which fall back to it; the beds are the filter."""

from __future__ import annotations

from collections.abc import Iterator

from autoplan.errors import Mistake
from autoplan.problem.layouts.base import FILTERS, Topology
from autoplan.problem.site import Arrangement
from autoplan.problem.tables.schema import WishesTable


class NoSump(Topology):
    """A trunk out of the tank with a tee for all but the last bed."""

    word = Arrangement.NO_SUMP
    needs = ("beds",)

    def line_keys(self) -> list[str]:
        """The ways to the beds and back."""
        return ["tank_to_first_bed", *self.between, "trunk_to_bed", "bed_to_tank", *self.to_collector]

    def lay(self, wishes: WishesTable) -> None:
        """Nothing but tank and beds."""
        self.stand(wishes)
        self.trunk("tank", self.outline("tank"), "tank_to_first_bed")
        self.bed_drains("tank")

    def misfits(self, given: frozenset[str], *, one_of_many: bool) -> Iterator[Mistake]:
        """A tank that a pump empties has no drain, no overflow and no pumped inlet; there are no filters."""
        yield from super().misfits(given, one_of_many=one_of_many)
        tank = self.tables["tank"]
        if tank.overflow:
            problem = "a system without a sump has nowhere for an overflow to go"
            yield self._mistake("tank.overflow", problem, "take it out")
        if tank.screen:
            problem = "without a sump a pump empties the tank, so it has no drain for a screen"
            yield self._mistake("tank.screen", problem, "take it out")
        if tank.siphon_back and not one_of_many:
            problem = "without a sump no inlet of the tank is pumped, so none can siphon back"
            yield self._mistake("tank.siphon_back", problem, "take it out")
        for place in (*FILTERS, *(() if one_of_many else ("sump",))):
            if place in given:
                problem = f"a system without a sump has no [{place}]"
                remedy = "take it out" if place == "sump" else "take it out: the beds are the filter"
                yield self._mistake(place, problem, remedy)
