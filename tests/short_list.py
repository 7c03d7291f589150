"""The metric price list less parts that have others like them: a design takes a third of the time."""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
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

BY_THE_METRE = re.compile(r"pn16-(20|25|32|40|50|63)-metre|drain-(40|50|75)-3m")
"""The pipe of the shortest list: pressure pipe by the metre, so that hardly anything is to be cut well."""

SECOND_CHOICE = re.compile(
    r"(compression|poly|hose|brass|drain-wye|ball-union)-|[a-z]+-(thread|poly|hose)-|[a-z]+-(75|90|110)"
)
"""What the shortest list lacks besides, of bends, tees and valves: for soft pipe, threads, wide pipe."""


@cache
def gone(of: str = "short") -> tuple[str, ...]:
    """The parts that are left out."""
    found = []
    for table in (GONE,) if of == "short" else (GONE, LESS):
        for name, beginnings in table.items():
            found += [part for part in _ids(name) if part.startswith(beginnings)]
    if of == "shortest":
        found += [part for part in _ids("pipes") if not BY_THE_METRE.fullmatch(part)]
        for name in ("turns", "tees", "valves"):
            found += [part for part in _ids(name) if SECOND_CHOICE.match(part)]
    return tuple(dict.fromkeys(found))


def _ids(name: str) -> list[str]:
    """The ids of one file of the list."""
    with (FOLDER / f"{name}.csv").open(encoding="utf-8", newline="") as text:
        return [row["id"] for row in csv.DictReader(text)]


def from_short_list(problem: str, *without: str) -> str:
    """A problem file that may be built from the short list only, without some of its parts.

    Where no overflow is spoken of none is weighed: it is other things that are asked about.
    """
    return _from("short", problem, without)


def from_shorter_list(problem: str, *without: str) -> str:
    """The same from the shorter list, two thirds of the time again."""
    return _from("shorter", problem, without)


def from_shortest_list(problem: str, *without: str) -> str:
    """The same from the shortest list, half the time again: rigid pipe of a few sizes, most by the metre."""
    return _from("shortest", problem, without)


def _from(which: str, problem: str, without: Sequence[str]) -> str:
    if "[sump]" in problem and "overflow" not in problem:
        problem = problem.replace("[tank]\n", '[tank]\noverflow = "if needed"\n', 1)
    return f"unavailable = {[*gone(which), *without]}\n{problem}"
