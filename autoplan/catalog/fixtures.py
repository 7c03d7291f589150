"""Rows of `fixtures.csv`: screens, access plugs, end caps and hand pumps."""

from __future__ import annotations

import math
from collections.abc import Mapping

from autoplan.catalog.parts import Fixture, FixtureKind
from autoplan.catalog.rows import Known, common, end_of
from autoplan.catalog.sheet import Row

NEEDED: Mapping[FixtureKind, tuple[str, ...]] = {
    FixtureKind.SCREEN: ("from_mm", "to_mm", "open_area_cm2", "slot_mm"),
    FixtureKind.PLUG: ("end",),
    FixtureKind.CAP: ("end",),
    FixtureKind.HAND_PUMP: ("lift_m", "reach_m"),
}
"""The columns that a row of each kind fills in; the others stay empty."""


def fixture(row: Row, known: Known) -> Fixture:
    """A row of `fixtures.csv`; which of its own columns must be filled in depends on its kind."""
    word = row.choice("kind", tuple(FixtureKind))
    kind = FixtureKind(word or FixtureKind.SCREEN)
    needed = NEEDED[kind] if word else ()
    for column in dict.fromkeys(name for names in NEEDED.values() for name in names) if word else ():
        if column not in needed and not row.blank(column):
            row.wrong(f"{column} is given for {kind}", "leave it empty")

    def given(column: str, otherwise: float, per: float) -> float:
        return row.number(column, 0.0, 1e5) * per if column in needed else otherwise

    least, most = given("from_mm", 0.0, 1e-3), given("to_mm", math.inf, 1e-3)
    if least > most:
        row.wrong(f"from_mm {least * 1000:g} is more than to_mm {most * 1000:g}", "swap or correct them")
    return Fixture(
        **common(row, known),
        kind=kind,
        end=end_of(row, known, "end", ("spigot", "socket", "barb", "compression"))
        if "end" in needed
        else None,
        least_m=least,
        most_m=most,
        open_m2=given("open_area_cm2", 0.0, 1e-4),
        slot_m=given("slot_mm", 0.0, 1e-3),
        lift_m=given("lift_m", 0.0, 1.0),
        reach_m=given("reach_m", 0.0, 1.0),
    )
