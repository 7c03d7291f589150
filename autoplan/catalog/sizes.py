"""Rows of `systems.csv` -> what each size of each system means, its limits checked against each other."""

from __future__ import annotations

from autoplan.catalog.columns import LIMITS
from autoplan.catalog.parts import Size
from autoplan.catalog.sheet import Row

LOOSEST_MM = 1.0
"""Most play of a pipe in a socket's mouth that cement fills; from memory [mm]."""

TIGHTEST_MM = 0.6
"""Most by which a pipe may be larger than the mouth, softened by the cement; from memory [mm]."""


def size_of(row: Row) -> Size:
    """The dimensions of one size [m]; what contradicts itself is noted on the row."""
    outside, bore, major, depth = (
        row.optional(f"{column}_mm", most=5000) for column in ("outside", "bore", "thread_major", "socket")
    )
    if not any((outside, bore, major)):
        row.wrong("none of outside_mm, bore_mm, thread_major_mm is given", "give what names the size")
    least, most, narrow, wide = (row.optional(column, most=5000) for column in LIMITS)
    least, most = outside if least is None else least, outside if most is None else most
    if outside is None and (least, most) != (None, None):
        row.wrong("limits of the outside are given without outside_mm", "give the nominal outside too")
    elif None not in (outside, least, most) and not least <= outside <= most:  # type: ignore[operator]
        row.wrong(
            f"outside_mm {outside:g} is not between its limits {least:g} and {most:g}", "correct one of them"
        )
    elif least is not None and most is not None:
        _check_mouth(row, least, most, narrow, wide)
    return Size(
        outside_m=_metres(outside),
        bore_m=_metres(bore),
        thread_major_m=_metres(major),
        socket_m=_metres(depth),
        source=row.text("source"),
        outside_min_m=_metres(least),
        outside_max_m=_metres(most),
        mouth_min_m=_metres(narrow),
        mouth_max_m=_metres(wide),
    )


def _metres(millimetres: float | None) -> float | None:
    return None if millimetres is None else millimetres / 1000


def _check_mouth(row: Row, least: float, most: float, narrow: float | None, wide: float | None) -> None:
    """A pipe goes into the socket of its size, at both ends of both tolerances [mm]."""
    if narrow is not None and narrow < most - TIGHTEST_MM:
        problem = f"mouth_min_mm {narrow:g} is too tight for pipe of {most:g}"
        row.wrong(problem, f"give {most - TIGHTEST_MM:g} or more")
    if wide is not None and not least <= wide <= least + LOOSEST_MM:
        problem = f"mouth_max_mm {wide:g} does not hold pipe of {least:g}"
        row.wrong(problem, f"give {least:g} to {least + LOOSEST_MM:g}")
    elif narrow is not None and wide is not None and narrow > wide:
        row.wrong(f"mouth_min_mm {narrow:g} is more than mouth_max_mm {wide:g}", "swap or correct them")
