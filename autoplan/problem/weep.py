"""The weep hole of a bed that stands full while it is fed, and runs empty by it once the water stops."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class WeepHole:
    """A hole drilled near the foot of a bed's standpipe, always open.

    Attributes:
        hole_m: its diameter [m].
        height_m: its centre above the bed's floor [m].
        leak_m3_s: what it lets out of the full bed, which is fed so much more [m3/s].
    """

    hole_m: float
    height_m: float
    leak_m3_s: float
