"""Couplings, bushes, adaptors, tails and unions: `joints.csv`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from autoplan.catalog.columns import Yes
from autoplan.catalog.kinds.part import Body, Part, Passage, Rating, TwoEnds


@dataclass(frozen=True, slots=True)
class Adaptor(Part):
    """Anything with two ends that only joins: coupling, bush, valve adaptor, union.

    Attributes:
        ends: both ends.
        bore_m: smallest bore [m].
        rating_m: pressure it holds [m of water]; 0 where gravity alone may move the water.
        apart: whether it comes apart again (barrel union, nut-and-tail, compression or rubber coupling).
        body_m: length between the ends of what it joins [m], or None if the row does not say.
    """

    ends: TwoEnds
    bore_m: Passage
    rating_m: Rating
    apart: Annotated[bool, Yes("yes where it comes apart again by hand, else no")]
    body_m: Body = None

    @property
    def flexible(self) -> bool:
        """Whether it is a rubber coupling, which takes up a little height and angle."""
        return all(end.form == "sleeve" for end in self.ends)
