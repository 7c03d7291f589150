"""The metric price list less parts that have others like them: a design takes a third of the time."""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

FOLDER = Path(__file__).parents[1] / "catalogs" / "metric"

GONE = {"pipes": ("pn10-", "hose-"), "penetrations": ("bulkhead-thread-", "wall-pair-")}
"""What is left out, by file: how its ids begin."""

LESS = {
    "pipes": ("pe-", "poly-", "pn16-90", "pn16-110", "drain-90", "drain-110"),
    "penetrations": ("seal-90", "seal-110"),
}
"""What the shorter list lacks besides: soft pipe, and rigid pipe wider than small systems ask for."""


@cache
def gone(of: str = "short") -> tuple[str, ...]:
    """The parts that are left out."""
    found = []
    for table in (GONE,) if of == "short" else (GONE, LESS):
        for name, beginnings in table.items():
            with (FOLDER / f"{name}.csv").open(encoding="utf-8", newline="") as text:
                found += [row["id"] for row in csv.DictReader(text) if row["id"].startswith(beginnings)]
    return tuple(found)


def from_short_list(problem: str, *without: str) -> str:
    """A problem file that may be built from the short list only, without some of its parts."""
    return f"unavailable = {[*gone(), *without]}\n{problem}"


def from_shorter_list(problem: str, *without: str) -> str:
    """The same from the shorter list, two thirds of the time again."""
    return f"unavailable = {[*gone('shorter'), *without]}\n{problem}"
