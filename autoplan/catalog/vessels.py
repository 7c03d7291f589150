"""Rows of `vessels.csv`: tubs that can be bought to stand as a vessel."""

from __future__ import annotations

from autoplan.catalog.parts import Tub
from autoplan.catalog.rows import Known, common
from autoplan.catalog.sheet import Row

SLACK = 1e-3
"""Share by which area times depth may fall short of the volume, for rounded figures [-]."""


def tub(row: Row, known: Known) -> Tub:
    """A row of `vessels.csv`; empty area_m2: the volume over the depth."""
    volume = row.number("volume_l", most=1e6) / 1000
    depth = row.number("depth_mm", most=1e4) / 1000
    area = row.optional("area_m2", most=1000)
    if area is not None and area * depth < volume * (1 - SLACK):
        held = area * depth * 1000
        problem = f"volume_l {volume * 1000:g} does not fit: area_m2 times depth_mm is {held:g}"
        row.wrong(problem, "give the volume to the rim, or leave area_m2 empty")
    return Tub(
        **common(row, known),
        volume_m3=volume,
        depth_m=depth,
        area_m2=volume / depth if area is None else area,
        wall_m=row.number("wall_mm", most=1000) / 1000,
        base_m=row.number("base_mm", most=1000) / 1000,
        curved=row.choice("shape", ("round", "square")) == "round",
    )
