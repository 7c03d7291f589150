"""Beds that run empty by a hole in their standpipes, as the verdict worked them out (SI)."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class TimerFacts:
    """One timed bed.

    Attributes:
        bed, feed: the bed, and the run whose valve its timer opens.
        valve: part id of that valve, or None where none is drawn.
        on_s, cycle_s: how long it is open, how often [s].
        inflow_m3_s, leak_m3_s: what the open feed brings, and what leaks by the drain hole with the bed full.
        filling_s, emptying_s: from empty to the lip while open, from full to empty while shut [s].
        watts: mean power of the valve [W].
    """

    bed: str
    feed: str
    valve: str | None
    on_s: float
    cycle_s: float
    inflow_m3_s: float
    leak_m3_s: float
    filling_s: float
    emptying_s: float
    watts: float


@dataclass(frozen=True, slots=True)
class WeepFacts:
    """One bed with a weep hole.

    Attributes:
        bed: its name.
        inflow_m3_s, leak_m3_s: what comes to it, and what leaks by the hole with the bed full.
        filling_s, emptying_s: from empty to the lip, and from full to empty with the pump off [s].
    """

    bed: str
    inflow_m3_s: float
    leak_m3_s: float
    filling_s: float
    emptying_s: float
