"""Rows of `siphons.csv`: bells, media guards and air tubes."""

from __future__ import annotations

from autoplan.catalog.parts import SiphonKind, SiphonPart
from autoplan.catalog.rows import Known, common
from autoplan.catalog.sheet import Row


def siphon_part(row: Row, known: Known) -> SiphonPart:
    """A row of `siphons.csv`."""
    word = row.choice("kind", tuple(SiphonKind))
    inside, outside = row.number("inside_mm", most=5000), row.number("outside_mm", most=5000)
    if inside >= outside:
        row.wrong(
            f"inside_mm {inside:g} is not smaller than outside_mm {outside:g}",
            f"it must be under {outside:g}",
        )
    return SiphonPart(
        **common(row, known),
        kind=SiphonKind(word or SiphonKind.BELL),
        inside_m=inside / 1000,
        outside_m=outside / 1000,
        tallest_m=row.number("tallest_mm", most=5000) / 1000,
    )
