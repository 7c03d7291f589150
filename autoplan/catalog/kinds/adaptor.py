"""Couplings, bushes, adaptors, tails and unions: `joints.csv`."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Annotated, Self

from autoplan.catalog.columns import Mm, Yes
from autoplan.catalog.ends import SHORT, End
from autoplan.catalog.kinds.part import Body, Part, Passage, Rating, TwoEnds
from autoplan.catalog.sheet import Row


@dataclass(frozen=True, slots=True)
class Adaptor(Part):
    """Anything with two ends that only joins: coupling, bush, valve adaptor, union.

    Attributes:
        ends: both ends.
        bore_m: smallest bore [m].
        rating_m: pressure it holds [m of water]; 0 where gravity alone may move the water.
        apart: whether it comes apart again (barrel union, nut-and-tail, compression or rubber coupling).
        body_m: length between the ends of what it joins [m], or None if the row does not say.
        spigot_m: length of its spigot, the shorter of two [m], or None if the row does not say.
    """

    ends: TwoEnds
    bore_m: Passage
    rating_m: Rating
    apart: Annotated[bool, Yes("yes where it comes apart again by hand, else no")]
    body_m: Body = None
    spigot_m: Annotated[
        float | None, Mm("length of its spigot, the shorter of two", "too short for compression ends")
    ] = None

    def checked(self, row: Row) -> Self:
        """Itself, a spigot that is long enough to be gripped told as such."""
        length = self.spigot_m
        if length is None:
            return self
        if all(end.form != SHORT for end in self.ends):
            row.wrong(f"spigot_mm is {length * 1000:g} where no end is a spigot", "leave it empty")
            return self
        near, far = (_gripped(row, end, length) for end in self.ends)
        return replace(self, ends=(near, far))

    @property
    def flexible(self) -> bool:
        """Whether it is a rubber coupling, which takes up a little height and angle."""
        return all(end.form == "sleeve" for end in self.ends)


def _gripped(row: Row, end: End, length_m: float) -> End:
    """An end of a part whose spigots are so long [m]; as good as pipe where that passes ring and grip."""
    size = row.known.size(end) if end.form == SHORT else None
    long = size is not None and length_m >= size.grips_m - 1e-9
    return end._replace(form="spigot") if long else end
