"""The pieces that drawn air pumps and lines take."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class DrawnAirLine:
    """One air line: vessel, part ids of line, diffuser, tap and check valve (or None), and length [m]."""

    vessel: str
    line: str
    length_m: float
    diffuser: str
    tap: str | None = None
    check: str | None = None


@dataclass(frozen=True, slots=True)
class DrawnAirPump:
    """One air pump with the manifolds on its outlets and its lines; `battery`: for power cuts."""

    part: str
    manifolds: tuple[str, ...]
    lines: tuple[DrawnAirLine, ...]
    battery: bool = False


def air_pieces(pumps: Iterable[DrawnAirPump]) -> Counter[str]:
    """Pieces of every part; each line is one piece and is cut in whole metres."""
    used: Counter[str] = Counter()
    for pump in pumps:
        used.update((pump.part, *pump.manifolds))
        for line in pump.lines:
            used.update(line_pieces(line))
    return used


def line_pieces(line: DrawnAirLine) -> Counter[str]:
    """Pieces of one line with what hangs on it."""
    used = Counter({line.line: math.ceil(line.length_m - 1e-9)})
    used.update(part for part in (line.diffuser, line.tap, line.check) if part is not None)
    return used
