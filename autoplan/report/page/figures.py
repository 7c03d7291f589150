"""Numbers and names of an answer's JSON as they stand on the page, in the units that the problem asks for."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup, escape

from autoplan.catalog.naming import tally, times
from autoplan.problem.brief import PrintUnits
from autoplan.report.contract.built import HoleRow
from autoplan.report.contract.rows import AnswerRow, DesignRow, PurchaseRow
from autoplan.report.figures import money
from autoplan.report.page.views import MarkedStick, Thing
from autoplan.report.sections.cutting import asked_words
from autoplan.report.units import HOUR_S, LITRE_M3, MM_M, Gauge, Units, fixed, units_of, whole_marks

NONE = "-"
"""What stands where there is no number."""

PLAIN = ("adaptor", "turn", "pipe", "pump", "tee", "valve", "wall part")
"""Roles that a part's description tells already."""

_WORD = re.compile(r"[\w.+/-]*[\w+/]")
"""A word of a sentence that may be the id of a part."""


@dataclass(frozen=True, slots=True)
class Figures:
    """How one answer's numbers and parts are written.

    Attributes:
        units: the units of the page; heights as they are marked.
        currency: of the price list.
        parts: each part's description by its id.
    """

    units: Units
    currency: str
    parts: Mapping[str, str]

    @classmethod
    def of(cls, answer: AnswerRow, design: DesignRow) -> Figures:
        """The figures of one design of an answer."""
        parts = {part: row.description for part, row in design.parts.items()}
        units = whole_marks(units_of(PrintUnits(answer.units)))
        return cls(units, design.cost.currency, parts)

    def filters(self) -> dict[str, Callable[..., Any]]:
        """What templates call, by name; a plain figure, or with `_said` behind it one with its unit."""
        units, mm, litres_h = self.units, MM_M, LITRE_M3 / HOUR_S
        gauges: dict[str, tuple[Gauge, float]] = {
            "height": (units.height, mm),
            "piece": (units.piece, mm),
            "hole": (units.hole, mm),
            "bore": (units.bore, mm),
            "small": (units.small, mm),
            "way": (units.way, 1.0),
            "flow": (units.flow, litres_h),
            "head": (units.head, 1.0),
            "speed": (units.speed, 1.0),
            "volume": (units.volume, LITRE_M3),
        }
        made: dict[str, Callable[..., Any]] = {}
        for name, (gauge, si) in gauges.items():
            made[name] = _shown(gauge.text, si)
            made[f"{name}_said"] = _shown(gauge.said, si)
        return made | {
            "money": lambda value: money(value, self.currency),
            "minutes": lambda value: NONE if value is None else fixed(value, 0),
            "tenths": lambda value: NONE if value is None else fixed(value, 1),
            "written": units.written,
            "named": self.named,
            "worded": self.worded,
            "used": self.used,
            "cash": lambda value: fixed(value, 2),
            "height_down": _shown(units.height.text_down, mm),
            "kind_mark": _kind_mark,
            "kind": lambda block: type(block).__name__,
            "columns": lambda grid: [(column.title, "number" * column.number) for column in grid.columns],
            "thing": self.thing,
            "bought": self.bought,
            "which": self.which,
            "cuts": self.cuts,
            "saw": self.saw,
            "there": _there,
            "aim": self.aim,
            "pumps": self.pumps,
        }

    def over(self, at_mm: float | None, floor_mm: float) -> str:
        """A height above the datum, in brackets above a floor."""
        show = self.units.height.text
        return NONE if at_mm is None else _beside(show(at_mm * MM_M), show((at_mm - floor_mm) * MM_M))

    def depth(self, at_mm: float, floor_mm: float, litres: float) -> str:
        """A height above a floor, in brackets the water under it."""
        deep = self.units.height.text((at_mm - floor_mm) * MM_M)
        return _beside(deep, self.units.volume.said(litres * LITRE_M3))

    def off(self, off_mm: float | None) -> str:
        """How far a hole may be off, never more than it is; in a finer unit where it is under one mark."""
        height = self.units.height
        if off_mm and not height.steps_down(off_mm * MM_M):
            height = self.units.small
        return NONE if off_mm is None else f"{height.text_down(off_mm * MM_M)} {height.unit}"

    def aim(self, hole: HoleRow) -> str:
        """How far off to drill a hole, and how much higher or lower it may come before a rule breaks."""
        if hole.higher_mm is None or hole.lower_mm is None:
            return self.off(hole.off_mm)
        most = (self.units.height.text_down(most * MM_M) for most in (hole.higher_mm, hole.lower_mm))
        return "{}; {} up, {} down".format(self.off(hole.off_mm), *most)

    def saw(self, hole: HoleRow) -> Markup:
        """What a hole is drilled with, and where that comes from."""
        if hole.saw is None:
            return escape(hole.saw_from)
        return Markup("{}: {}").format(self.named(hole.saw), hole.saw_from)

    def pumps(self, design: DesignRow) -> Markup:
        """The pumps of any rank, alike ones together; another rank's have their own descriptions."""
        told = [design.parts[pump.part].description for pump in design.pumps]
        return escape(", ".join(tally(told)) or "none")

    def thing(self, row: Thing) -> Markup:
        """What a thing on a run is, what it is there for, and what it is pushed through."""
        said = [escape("pipe") if row.own else self.named(row.part)]
        said += [escape(f", {what}") for what in (row.role, row.place) if what and what not in PLAIN]
        if row.through:
            said.append(Markup(", pushed through {}").format(self.named(row.through)))
        if row.joint:
            said.append(Markup('<span class="then">{}</span>').format(row.joint))
        return Markup("").join(said)

    def bought(self, line: PurchaseRow) -> Markup:
        """A line of the order, and how much of it is used."""
        return Markup('{}<span class="then">used {}</span>').format(self.named(line.part), self.used(line))

    def which(self, stick: MarkedStick) -> str:
        """Which of its sticks a piece comes from."""
        if stick.number is None:
            return "off the roll"
        return f"{'own' if stick.owned else 'no.'} {stick.number}"

    def cuts(self, stick: MarkedStick) -> Markup:
        """The pieces of a stick, alike ones together, each with what it is for."""
        alike: dict[tuple[str, str], list[str]] = {}
        for figure, run, place in stick.pieces:
            alike.setdefault((figure, place), []).append(run)
        items = Markup("").join(
            Markup("<li><b>{}</b>{}</li>").format(times(len(runs), figure), asked_words(runs, place))
            for (figure, place), runs in alike.items()
        )
        return Markup('<ul class="pieces">{}</ul>').format(items)

    def named(self, part: str) -> Markup:
        """A part by its description, its id small behind it to order by."""
        told = self.parts.get(part)
        code = Markup('<span class="id">({})</span>').format(part)
        return escape(part) if told is None or told == part else Markup("{} {}").format(told, code)

    def worded(self, text: str) -> Markup:
        """A sentence with the description before each part's id, but for ids that stand in brackets already.

        Only ids with a digit in them count, so that no word of a sentence is taken for a part.
        """
        said, end = [], 0
        for found in _WORD.finditer(text):
            part = found[0]
            if part not in self.parts or not any(char.isdigit() for char in part):
                continue
            bracketed = text[max(0, found.start() - 1) : found.start()] == "("
            code = Markup('<span class="id">{}</span>').format(part)
            said += [escape(text[end : found.start()]), code if bracketed else self.named(part)]
            end = found.end()
        return Markup("").join([*said, escape(text[end:])])

    def used(self, line: PurchaseRow) -> str:
        """How much of a line of the order is used."""
        units = self.units
        gauge, si = {"m": (units.bought, 1.0), "ml": (units.cement, 1e-6)}.get(line.unit, (units.pieces, 1.0))
        return gauge.said(line.quantity * si)


def _beside(first: str, second: str) -> Markup:
    """Two figures, the second in brackets: a line may end between them, and within neither."""
    return Markup('<span class="whole">{}</span> <span class="whole">({})</span>').format(first, second)


def _there(hole: HoleRow) -> str:
    """In what a hole is, and where on the way round it."""
    return f"{hole.place}, {hole.around}" if hole.around else hole.place


def _shown(write: Callable[[float], str], si: float) -> Callable[[float | None], str]:
    """A number of the JSON, such `si` each, written; a dash for None."""
    return lambda value: NONE if value is None else write(value * si)


def _kind_mark(kind: str) -> Markup:
    """Whether water falls or is pumped, in words and by a line of its own kind."""
    words = {"gravity": "falls by gravity", "pressure": "under pressure"}.get(kind, kind)
    return Markup('<span class="{}">{}</span>').format(kind, words)
