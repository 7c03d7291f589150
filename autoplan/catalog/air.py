"""Rows of `air.csv`: air pumps and what leads their air to the water."""

from __future__ import annotations

import math
from collections.abc import Mapping

from autoplan.catalog.parts import AirKind, AirPart
from autoplan.catalog.rows import Known, common, curve_of
from autoplan.catalog.sheet import Row

NEEDED: Mapping[AirKind, tuple[str, ...]] = {
    AirKind.PUMP: ("curve_l_h_m", "watts", "outlets"),
    AirKind.BATTERY: ("curve_l_h_m", "watts", "outlets"),
    AirKind.LINE: ("bore_mm",),
    AirKind.DIFFUSER: ("flow_l_h", "head_m"),
    AirKind.TAP: ("flow_l_h", "head_m"),
    AirKind.MANIFOLD: ("outlets", "flow_l_h", "head_m"),
    AirKind.CHECK: ("flow_l_h", "head_m"),
}
"""The columns that a row of each kind fills in; the others stay empty."""


def air(row: Row, known: Known) -> AirPart:
    """A row of `air.csv`; which of its own columns must be filled in depends on its kind.

    A pump's curve is written as a water pump's: flow of free air in L/h and pressure in m of water. A line is
    sold by the metre. A manifold has a tap on each of its outlets.
    """
    word = row.choice("kind", tuple(AirKind))
    kind = AirKind(word or AirKind.LINE)
    needed = NEEDED[kind]
    for column in sorted({name for names in NEEDED.values() for name in names}) if word else ():
        if column not in needed and not row.blank(column):
            row.wrong(f"{column} is given for {kind}", "leave it empty")

    def given(column: str, otherwise: float, least: float = 0.0, *, above: bool = True) -> float:
        return row.number(column, least, 1e7, above=above) if word and column in needed else otherwise

    return AirPart(
        **common(row, known),
        kind=kind,
        curve=curve_of(row) if word and "curve_l_h_m" in needed else (),
        watts=given("watts", 0.0),
        outlets=row.whole("outlets", 1) if word and "outlets" in needed else 1,
        bore_m=given("bore_mm", 0.0) / 1000,
        flow_m3_s=given("flow_l_h", math.inf) / 3.6e6,
        head_m=given("head_m", 0.0, above=False),
    )
