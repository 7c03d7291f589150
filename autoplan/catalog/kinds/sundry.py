"""Cement, cleaner, tape, screws, washers, clamps, clips, stands, brackets and hole saws: `sundries.csv`."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Annotated, Self

from autoplan.catalog.columns import Kinds, Mm, Number, Unit, rising
from autoplan.catalog.ends import Thread
from autoplan.catalog.kinds.part import WORD_KIND, Part
from autoplan.catalog.sheet import Row


class SundryKind(StrEnum):
    """Things no water flows through, counted by joint, by hole or by wall."""

    CEMENT = "solvent cement"
    TAPE = "thread tape"
    SCREW = "screw"
    WASHER = "washer"
    CLAMP = "hose clamp"
    STAND = "support stand"
    BRACKET = "rim bracket"
    SAW = "hole saw"
    CLEANER = "cleaner"
    LUBRICANT = "seal lubricant"
    CLIP = "pipe clip"


LIQUID = (SundryKind.CEMENT, SundryKind.CLEANER, SundryKind.LUBRICANT)
"""Sold by the millilitre."""

_HOLDING = (*LIQUID, SundryKind.TAPE)
_ROUND = (SundryKind.CLAMP, SundryKind.STAND, SundryKind.BRACKET, SundryKind.SAW, SundryKind.CLIP)
_SIZED = "diameter that it is for; of a saw its own"


@dataclass(frozen=True, slots=True)
class Sundry(Part):
    """Cement, cleaner, lubricant, tape, screws, washers, clamps, clips, stands, brackets and hole saws.

    Attributes:
        kind: see `SundryKind`.
        content: what one piece holds: a liquid [m3], tape [m], else 1 piece.
        least_m, most_m: diameters that it fits [m]: outside of the hose (clamp) or the pipe (stand, bracket,
            clip), of the hole (saw); 0 and infinite where the size does not matter.
        thread: (system, size) of the thread that a washer seals, else None.
        cure_h: of cement, how long its joints cure before water goes in [h]; a day if the list is silent
            (from memory).
    """

    kind: Annotated[SundryKind, Kinds(WORD_KIND, choices=tuple(SundryKind), called="a {}")]
    content: Annotated[
        float,
        Number(
            "what a pack holds: mL of a liquid, m of tape",
            None,
            1.0,
            _HOLDING,
            unit=Unit("mL or m", most=1e6),
        ),
    ]
    least_m: Annotated[float, Mm(f"least {_SIZED}", None, 0.0, _ROUND, name="from_mm")]
    most_m: Annotated[float, Mm(f"greatest {_SIZED}", None, math.inf, _ROUND, name="to_mm")]
    thread: Annotated[
        tuple[str, str] | None,
        Thread("system and size of the thread that a washer is for", only=(SundryKind.WASHER,)),
    ]
    cure_h: Annotated[
        float, Number("hours that joints of cement cure before water goes in", "24", 24.0, spare=True)
    ] = 24.0

    def checked(self, row: Row) -> Self:
        """Itself with its content in SI; what it fits is a range, and a saw's a single diameter."""
        rising(row, from_mm=self.least_m, to_mm=self.most_m)
        if self.kind is SundryKind.SAW and self.least_m < self.most_m:
            problem = "from_mm and to_mm of a hole saw differ"
            row.wrong(problem, "give the diameter of the hole in both")
        return replace(self, content=self.content * 1e-6) if self.kind in LIQUID else self
