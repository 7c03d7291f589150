"""Valves: `valves.csv`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from autoplan.catalog.columns import Kinds, Kv, Watts, Yes
from autoplan.catalog.kinds.part import Body, Part, Passage, Rating, TwoEnds

_STYLES = ("ball", "gate", "check", "timed")
_TIMED = Watts("electric power of a timed valve while it is open", "no timer", only=("timed",), most=1000)


@dataclass(frozen=True, slots=True)
class Valve(Part):
    """A valve.

    Attributes:
        ends: both ends.
        style: "ball", "gate", "check", or "timed": opened by a clock to a stop set by hand, else shut.
        bore_m: bore of the seat [m].
        rating_m: pressure it holds [m of water].
        kv_m3_h: measured flow at 1 bar fully open [m3/h], or None to compute K from the bore.
        body_m: length between the ends of what it joins [m], or None if the row does not say.
        apart: whether it has unions.
        handle_off: whether its handle comes off, so that no child can turn it.
        watts: electric power of a timed valve while it is open [W]; else 0.
    """

    ends: TwoEnds
    style: Annotated[str, Kinds("ball, gate, check or timed", choices=_STYLES, called="a {} valve")]
    bore_m: Passage
    rating_m: Rating
    kv_m3_h: Annotated[
        float | None, Kv("water through it, wide open, at a loss of 1 bar", "reckoned from its bore")
    ]
    body_m: Body = None
    apart: Annotated[bool, Yes("yes where it has unions, else no", "no")] = False
    handle_off: Annotated[bool, Yes("yes where the handle comes off, else no", "no")] = False
    watts: Annotated[float, _TIMED] = 0.0

    @property
    def by_hand(self) -> bool:
        """Whether a handle opens and shuts it."""
        return self.style in ("ball", "gate")

    @property
    def throttles(self) -> bool:
        """Whether it may stand half open for good: a gate chatters, wears and catches what floats by there.

        Common practice, no source. What lets no water back is not set at all.
        """
        return self.style in ("ball", "timed")
