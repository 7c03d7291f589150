"""An answer as its JSON tells it, read for drawing: names grouped, lengths in the units asked for."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, TypeVar

from autoplan.problem.brief import PrintUnits
from autoplan.report.alike import together
from autoplan.report.contract.built import GRAVITY, EndRow, RunRow
from autoplan.report.contract.reading import read_answer
from autoplan.report.contract.rows import AnswerRow
from autoplan.report.drawings.canvas import Canvas
from autoplan.report.drawings.render import png, svg
from autoplan.report.units import HOUR_S, LITRE_M3, MM_M, Units, units_of

ORDER = ("tank", "settler", "biofilter", "header", "bed", "sump")

T = TypeVar("T")


@dataclass(frozen=True)
class Sheet:
    """One drawing.

    Attributes:
        name: of letters, digits and hyphens, unlike any other of the design: "levels", "drilling-sump".
        title: its heading, which also stands in the drawing.
        alt: the same in plain sentences, with the main numbers.
        canvas: what is drawn.
        about: the vessel, run or bed that it belongs to, the first of those that it is alike for; None where
            it is about the whole.
    """

    name: str
    title: str
    alt: str
    canvas: Canvas
    about: str | None = None

    @cached_property
    def svg(self) -> str:
        """An <svg> element without prolog, 390 px wide; ids begin with the name.

        Colours are CSS variables (`paint.VARIABLES`, for a dark page `paint.DARK`) that fall back to dark
        lines on a white ground.
        """
        return svg(self.canvas, self.name, self.title, self.alt)

    def png(self) -> bytes:
        """A picture, three pixels for each of the drawing's."""
        return png(self.canvas)


class DesignView:
    """One design of an answer.

    Args:
        answer: the JSON as plain data, or as it was read.
        rank: which design.
        units: in which to draw; by default those that the answer asks for.

    Raises:
        ValueError: the answer has no design of that rank, or is of a version that did not write what
            drawings need.
    """

    def __init__(
        self, answer: Mapping[str, Any] | AnswerRow, rank: int = 1, units: Units | None = None
    ) -> None:
        answer = read_answer(answer)
        design = next((design for design in answer.designs if design.rank == rank), None)
        if design is None:
            raise ValueError(f"the answer has no design of rank {rank}")
        self.design = design
        self.units = units or units_of(PrintUnits(answer.units))
        self.vessels = {vessel.name: vessel for vessel in design.vessels}
        self.levels = {level.vessel: level for level in design.levels}
        self.runs = {run.name: run for run in design.runs}
        self.parts = design.parts

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
        return "" if part is None else self.parts[part].description if part in self.parts else part

    def wide(self, part: str | None) -> float:
        """Outside diameter of a part [mm]; 0 where the answer does not have it."""
        row = self.parts.get(part or "")
        return (row.outside_mm if row else None) or 0.0

    def inside(self, part: str | None) -> float:
        """Inside diameter of a part [mm]; 0 where the answer does not have it."""
        row = self.parts.get(part or "")
        return (row.inside_mm or row.bore_mm if row else None) or 0.0

    def size(self, run: RunRow) -> str:
        """What the trade calls the pipe of a run."""
        return (self.parts[run.pipe].size if run.pipe in self.parts else None) or run.pipe

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
        kind = self.vessels[name].kind
        return ORDER.index(kind) if kind in ORDER else len(ORDER)

    def falls(self) -> list[tuple[str, str]]:
        """From vessel to vessel by gravity, junctions on the way left out; no way that goes in a circle."""
        pumped = {pump.vessel for pump in self.design.pumps}
        found = []
        for run in self.runs.values():
            if run.kind != GRAVITY or run.start not in self.vessels or run.start in pumped:
                continue
            at = self.ends_in(run)
            if at is not None and at != run.start:
                found.append((run.start, at))
        return found

    def ends_in(self, run: RunRow) -> str | None:
        """The vessel that a run leads to, past junctions; None where it leads to none, as waste does."""
        at, seen = run.finish, set[str]()
        while at not in self.vessels and at not in seen:
            seen.add(at)
            at = next((r.finish for r in self.runs.values() if r.start == at), at)
        return at if at in self.vessels else None

    @cached_property
    def _numbers(self) -> dict[str, str]:
        places = {name: number for number, name in enumerate(self.in_order)}
        order = sorted(
            self.runs.values(), key=lambda run: (run.kind != GRAVITY, places.get(run.start, len(places)))
        )
        classes = dict.fromkeys(run.run_class for run in order)
        return {name: str(number) for number, name in enumerate(classes, start=1)}

    def number(self, run: RunRow) -> str:
        """The number by which a run goes in every drawing; runs that are built alike share it."""
        return self._numbers[run.run_class]

    def ends_at(self, vessel: str) -> list[tuple[RunRow, EndRow, bool]]:
        """Runs that meet a vessel, with that end, and whether it is where the run starts."""
        found = []
        for run in self.runs.values():
            for at, end in enumerate(run.ends):
                if end.vessel == vessel and not run.later:
                    found.append((run, end, at == 0))
        return found

    def alike(self, vessel: str) -> tuple[Any, ...]:
        """What two vessels that are drawn alike have in common."""
        own, level = self.vessels[vessel], self.levels[vessel]
        levels = (level.water_mm, level.overload_mm, level.rest_mm)
        heights = (
            None if value is None else round(value)
            for value in (own.floor_mm, own.rim_mm, own.width_mm, own.cone_mm, *levels)
        )
        ends = sorted(
            (
                run.run_class,
                start,
                str(end.penetration),
                str(end.way),
                round(end.centre_above_floor_mm or 0.0),
                round(end.mouth_above_floor_mm or 0.0),
                round(end.standpipe_top_above_floor_mm or 0.0),
                (end.well or end.down or "", round(end.well_mm or end.down_mm or 0.0)),
            )
            for run, end, start in self.ends_at(vessel)
        )
        return own.kind, own.shape, own.spare, tuple(heights), tuple(ends)

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


def later(answer: DesignView, names: Sequence[str]) -> str:
    """Names of vessels as one reads them out, and whether they come later."""
    return together(names) + (" (later)" if answer.vessels[names[0]].spare else "")


def between(values: Sequence[float], said: Any) -> str:
    """One figure, or the least and the most of several."""
    least, most = said(min(values)), said(max(values))
    return str(least) if least == most else f"{least} to {most}"


def divided(items: Iterable[T], height: Callable[[T], float], room: float) -> list[list[T]]:
    """Things one under the other on as many pages as they take."""
    pages: list[list[T]] = []
    taken = 0.0
    for item in items:
        if not pages or taken + height(item) > room:
            pages.append([])
            taken = 0.0
        pages[-1].append(item)
        taken += height(item)
    return pages


def paged(name: str, title: str, pages: Sequence[T]) -> Iterator[tuple[str, str, T]]:
    """Each page with its name and title, numbered where there are several."""
    for number, page in enumerate(pages, start=1):
        if len(pages) == 1:
            yield name, title, page
        else:
            yield f"{name}-{number}", f"{title}, part {number} of {len(pages)}", page
