"""Tees and wyes: `tees.csv`."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Annotated, Self

from autoplan.catalog.columns import DEGREES, Words
from autoplan.catalog.ends import END, Bore, End, EndColumn
from autoplan.catalog.kinds.part import Part, Rating
from autoplan.catalog.kinds.pipe import Pipe

BRANCH = 2
"""Place of the branch among a tee's ends."""


@dataclass(frozen=True, slots=True)
class Tee(Part):
    """A tee or wye.

    Attributes:
        ends: run, run, branch.
        angle: between run and branch [degrees].
        bore_m: smallest bore from run to run [m].
        rating_m: pressure it holds [m of water]; 0 where gravity alone may move the water.
        branch_bore_m: smallest bore of the branch [m], or None where neither its row nor the size of its end
            says (`branch_from`).
    """

    ends: Annotated[
        tuple[End, End, End],
        EndColumn(f"{END}: where the run comes in", name="end_a"),
        EndColumn(f"{END}: where the run goes on", name="end_b"),
        EndColumn(f"{END}: the branch", name="end_c"),
    ]
    angle: Annotated[int, Words("between run and branch, 45 or 90", unit=DEGREES, choices=(45, 90))]
    bore_m: Annotated[float, Bore("narrowest place that the water passes from run to run", leads_to=(0, 1))]
    rating_m: Rating
    branch_bore_m: Annotated[
        float | None,
        Bore(
            "narrowest place of the branch",
            "no wider than the run and the pipe of its size",
            leads_to=(BRANCH,),
        ),
    ] = None

    @property
    def branch_m(self) -> float:
        """Bore of the branch to reckon with [m]; handbooks' tees have none that is wider than the run."""
        return self.bore_m if self.branch_bore_m is None else min(self.bore_m, self.branch_bore_m)

    def bore_at(self, port: int) -> float:
        """Bore behind an end [m]; 0 and 1 are the run's, 2 is the branch's."""
        return self.branch_m if port == BRANCH else self.bore_m

    def branch_from(self, pipes: Iterable[Pipe]) -> Self:
        """Itself, its branch no wider than the narrowest pipe of its end's size if the row does not say.

        A branch of the run's own size is as wide as the run. So a row that tells the smallest bore of all in
        place of the run's keeps it on both ways.
        """
        size = self.ends[BRANCH][1:]
        if self.branch_bore_m is not None or any(end[1:] == size for end in self.ends[:BRANCH]):
            return self
        bores = [pipe.bore_m for pipe in pipes if pipe.end[1:] == size]
        return replace(self, branch_bore_m=min((self.bore_m, *bores))) if bores else self
