"""Tees and wyes: `tees.csv`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from autoplan.catalog.columns import DEGREES, Words
from autoplan.catalog.ends import END, End, EndColumn
from autoplan.catalog.kinds.part import Part, Passage, Rating


@dataclass(frozen=True, slots=True)
class Tee(Part):
    """A tee or wye: ends are (run, run, branch); branch angle [degrees]; smallest bore [m]."""

    ends: Annotated[
        tuple[End, End, End],
        EndColumn(f"{END}: where the run comes in", name="end_a"),
        EndColumn(f"{END}: where the run goes on", name="end_b"),
        EndColumn(f"{END}: the branch", name="end_c"),
    ]
    angle: Annotated[int, Words("between run and branch, 45 or 90", unit=DEGREES, choices=(45, 90))]
    bore_m: Passage
    rating_m: Rating
