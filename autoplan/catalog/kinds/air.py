"""Air pumps and what leads their air to the water: `air.csv`."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated

from autoplan.catalog.columns import Curve, Kinds, LitresPerHour, Metres, Mm, Watts, Whole
from autoplan.catalog.kinds.part import WORD_KIND, Part


class AirKind(StrEnum):
    """Parts that bring air into the water."""

    PUMP = "air pump"
    BATTERY = "battery air pump"
    LINE = "air line"
    DIFFUSER = "diffuser"
    TAP = "air tap"
    MANIFOLD = "manifold"
    CHECK = "air check valve"


_PUMPS = (AirKind.PUMP, AirKind.BATTERY)
_PASSED = (AirKind.DIFFUSER, AirKind.TAP, AirKind.MANIFOLD, AirKind.CHECK)


@dataclass(frozen=True, slots=True)
class AirPart(Part):
    """An air pump, or what leads its air to the water.

    A line is sold by the metre. A manifold has a tap on each of its outlets.

    Attributes:
        kind: see `AirKind`.
        curve: of a pump, (flow of free air [m3/s], pressure [m of water]) from closed to open; else empty.
        watts: electric power of a pump [W]; else 0.
        outlets: tails for air line: of a pump, of a manifold; else 1.
        bore_m: bore of a line [m]; else 0.
        flow_m3_s: most air through it [m3/s]; of a line and a pump infinite.
        head_m: pressure that it takes at that flow [m of water].
    """

    kind: Annotated[AirKind, Kinds(WORD_KIND, choices=tuple(AirKind))]
    curve: Annotated[
        tuple[tuple[float, float], ...],
        Curve("points flow:pressure of an air pump, free air and m of water", None, (), _PUMPS),
    ]
    watts: Annotated[float, Watts("electric power of an air pump", None, 0.0, _PUMPS)]
    outlets: Annotated[
        int, Whole("tails for air line on a pump or manifold", None, 1, (*_PUMPS, AirKind.MANIFOLD))
    ]
    bore_m: Annotated[float, Mm("inside of an air line", None, 0.0, (AirKind.LINE,))]
    flow_m3_s: Annotated[
        float, LitresPerHour("most air through a diffuser, tap, valve or manifold", None, math.inf, _PASSED)
    ]
    head_m: Annotated[
        float, Metres("pressure that this air takes, in m of water", None, 0.0, _PASSED, above=False)
    ]
