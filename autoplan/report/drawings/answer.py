"""An answer as its JSON tells it, read for drawing: names grouped, lengths in the units asked for."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, TypeAlias

from autoplan.problem.brief import PrintUnits
from autoplan.report.alike import together
from autoplan.report.drawings.canvas import Canvas
from autoplan.report.units import HOUR_S, LITRE_M3, MM_M, Units, units_of

Row: TypeAlias = Mapping[str, Any]
"""An object of the JSON."""

GRAVITY, PRESSURE = "gravity", "pressure"

NEEDED = ("vessels", "holes", "parts", "from_roll", "traces")
"""What answers had not from the beginning."""

ORDER = ("tank", "settler", "biofilter", "header", "bed", "sump")


@dataclass(frozen=True, slots=True)
class Sheet:
    """A drawing before it is rendered; see `Drawing` for what its fields say."""

    name: str
    title: str
    alt: str
    canvas: Canvas
    about: str | None = None


class Answer:
    """One design of an answer.

    Args:
        answer: the JSON as plain data.
        rank: which design.
        units: in which to draw; by default those that the answer asks for.

    Raises:
        ValueError: the answer has no design of that rank, or is of a version that did not write what
            drawings need.
    """

    def __init__(self, answer: Row, rank: int = 1, units: Units | None = None) -> None:
        self.design: Row = next((d for d in answer["designs"] if d["rank"] == rank), {})
        if not self.design:
            raise ValueError(f"the answer has no design of rank {rank}")
        lacking = [key for key in NEEDED if key not in self.design]
        if lacking:
            raise ValueError(f"the answer is an older one without {', '.join(lacking)}: design again")
        self.units = units or units_of(PrintUnits(answer.get("units", "si")))
        self.vessels: dict[str, Row] = {vessel["name"]: vessel for vessel in self.design["vessels"]}
        self.levels: dict[str, Row] = {level["vessel"]: level for level in self.design["levels"]}
        self.runs: dict[str, Row] = {run["name"]: run for run in self.design["runs"]}
        self.parts: Row = self.design["parts"]

    # --- words -------------------------------------------------------------------------------------------

    def mark(self, mm: float) -> str:
        """A length to mark on a tape, without its unit: whole millimetres, or inches to 1/16."""
        return self.units.piece.text(mm * MM_M)

    def said(self, mm: float) -> str:
        """The same with its unit."""
        return self.units.piece.said(mm * MM_M)

    def way(self, metres: float) -> str:
        """The length of a run with its unit."""
        return self.units.way.said(metres)

    def saw(self, mm: float) -> str:
        """The diameter of a hole with its unit."""
        gauge = self.units.hole
        if self.units.name is PrintUnits.SI and abs(mm - round(mm)) < 0.05:
            return f"{round(mm)} mm"
        return gauge.said(mm * MM_M)

    def flow(self, l_h: float) -> str:
        """A flow with its unit."""
        return self.units.flow.said(l_h * LITRE_M3 / HOUR_S)

    def volume(self, litres: float) -> str:
        """A volume with its unit."""
        return self.units.volume.said(litres * LITRE_M3)

    def describe(self, part: str | None) -> str:
        """What the counter hand reads of a part; its id where the answer knows no more."""
        return "" if part is None else str(self.parts.get(part, {}).get("description", part))

    def size(self, run: Row) -> str:
        """What the trade calls the pipe of a run."""
        return str(self.parts.get(run["pipe"], {}).get("size", run["pipe"]))

    @property
    def unit(self) -> str:
        """The unit of marks, in words."""
        return {"mm": "millimetres", "in": "inches"}[self.units.piece.unit]

    @property
    def datum(self) -> str:
        """What the datum is, in a sentence."""
        return f"Heights are {self.unit} above the datum, the one height that the problem file calls 0."

    # --- order and likeness ------------------------------------------------------------------------------

    @cached_property
    def in_order(self) -> list[str]:
        """The vessels in the order in which water falls through them; the pumped ones last of their kind."""
        after: dict[str, set[str]] = {name: set() for name in self.vessels}
        for start, finish in self.falls():
            after[finish].add(start)
        placed: list[str] = []
        waiting = list(self.vessels)
        while waiting:
            ready = [name for name in waiting if after[name] <= set(placed)] or waiting[:1]
            first = min(ready, key=lambda name: (self._kind(name), list(self.vessels).index(name)))
            placed.append(first)
            waiting.remove(first)
        return placed

    def _kind(self, name: str) -> int:
        kind = self.vessels[name]["kind"]
        return ORDER.index(kind) if kind in ORDER else len(ORDER)

    def falls(self) -> list[tuple[str, str]]:
        """From vessel to vessel by gravity, junctions on the way left out; no way that goes in a circle."""
        pumped = {pump["vessel"] for pump in self.design["pumps"]}
        found = []
        for run in self.runs.values():
            if run["kind"] != GRAVITY or run["from"] not in self.vessels or run["from"] in pumped:
                continue
            at, seen = run["to"], set[str]()
            while at not in self.vessels and at not in seen:
                seen.add(at)
                at = next((r["to"] for r in self.runs.values() if r["from"] == at), at)
            if at in self.vessels and at != run["from"]:
                found.append((run["from"], at))
        return found

    @cached_property
    def _numbers(self) -> dict[str, str]:
        places = {name: number for number, name in enumerate(self.in_order)}
        order = sorted(
            self.runs.values(), key=lambda run: (run["kind"] != GRAVITY, places.get(run["from"], len(places)))
        )
        classes = dict.fromkeys(run["class"] for run in order)
        return {name: str(number) for number, name in enumerate(classes, start=1)}

    def number(self, run: Row) -> str:
        """The number by which a run goes in every drawing; runs that are built alike share it."""
        return self._numbers[run["class"]]

    def ends_at(self, vessel: str) -> list[tuple[Row, Row, bool]]:
        """Runs that meet a vessel, with that end, and whether it is where the run starts."""
        found = []
        for run in self.runs.values():
            for at, end in enumerate(run["ends"]):
                if end["vessel"] == vessel and not run["later"]:
                    found.append((run, end, at == 0))
        return found

    def alike(self, vessel: str) -> tuple[Any, ...]:
        """What two vessels that are drawn alike have in common."""
        own, level = self.vessels[vessel], self.levels.get(vessel, {})
        heights = (
            round(value) if value is not None else None
            for value in (
                own["floor_mm"],
                own["rim_mm"],
                own["width_mm"],
                level.get("water_mm"),
                level.get("overload_mm"),
                level.get("rest_mm"),
            )
        )
        ends = sorted(
            (
                run["class"],
                start,
                str(end["penetration"]),
                str(end["way"]),
                round(end["centre_above_floor_mm"] or 0.0),
                round(end["mouth_above_floor_mm"] or 0.0),
                round(end["standpipe_top_above_floor_mm"] or 0.0),
            )
            for run, end, start in self.ends_at(vessel)
        )
        return own["kind"], own["shape"], own["spare"], tuple(heights), tuple(ends)

    @cached_property
    def groups(self) -> list[list[str]]:
        """Vessels in the order of the water, those that look the same together."""
        return grouped(self.in_order, self.alike)

    def group_of(self, vessel: str) -> int | None:
        """The number of the group that a vessel is in; None for a junction."""
        return next((at for at, group in enumerate(self.groups) if vessel in group), None)


def grouped(names: Iterable[str], likeness: Any) -> list[list[str]]:
    """Names of which the likeness is the same together, in the order in which each is first met."""
    found: dict[Any, list[str]] = {}
    for name in names:
        found.setdefault(likeness(name), []).append(name)
    return list(found.values())


def later(answer: Answer, names: Sequence[str]) -> str:
    """Names of vessels as one reads them out, and whether they come later."""
    return named(names) + (" (later)" if answer.vessels[names[0]]["spare"] else "")


def named(names: Sequence[str]) -> str:
    """Names as one reads them out, "bed 1 to bed 4"."""
    return together(names)


def between(values: Sequence[float], said: Any) -> str:
    """One figure, or the least and the most of several."""
    least, most = said(min(values)), said(max(values))
    return str(least) if least == most else f"{least} to {most}"
