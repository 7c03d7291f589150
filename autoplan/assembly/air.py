"""The pieces that drawn air pumps and lines take."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable

from autoplan.drawing import DrawnAirLine, DrawnAirPump


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
