"""A sheet to draw on, in pixels from its top left corner, and what is on it, before anyone renders it."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from math import nan
from typing import TypeAlias

from autoplan.report.blocks import clean
from autoplan.report.drawings.paint import (
    BED,
    HALO,
    HOLE,
    INK,
    LEADER,
    MARK,
    PIPE_BORE,
    PIPE_EDGE,
    PRESSED,
    RULED,
    STONES,
    THIN,
    WET,
    Look,
)

WIDTH = 390.0
"""Width of every drawing [px]: as wide as a phone's screen, so that nothing is made smaller there."""

TALLEST = 700.0
"""Height that drawings which can be divided keep to [px]: one page of A4 or Letter holds it."""

EDGE = 10.0
"""Room at the edges [px]."""

TEXT, SMALL, TITLE = 11.0, 10.0, 12.5
"""Sizes of text [px]."""

ROW = 7.0
"""Between two level lines of water, or rows of gravel [px]."""

LINE = 1.3
"""From one line of text to the next, over its size [-]."""

Spot: TypeAlias = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line through points, closed if it is an area."""

    points: tuple[Spot, ...]
    look: Look
    closed: bool
    gid: str


@dataclass(frozen=True, slots=True)
class Disc:
    """A circle."""

    x: float
    y: float
    radius: float
    look: Look
    gid: str


@dataclass(frozen=True, slots=True)
class TextLine:
    """A line of text on its baseline; anchor is "start", "middle" or "end" at x."""

    x: float
    y: float
    text: str
    size: float
    anchor: str
    bold: bool
    tone: str
    gid: str

    @property
    def box(self) -> tuple[float, float, float, float]:
        """What it covers: left, top, right, bottom [px]."""
        wide = width_of(self.text, self.size, bold=self.bold)
        left = self.x - {"start": 0.0, "middle": 0.5, "end": 1.0}[self.anchor] * wide
        return left, self.y - 0.78 * self.size, left + wide, self.y + 0.22 * self.size


Thing: TypeAlias = Stroke | Disc | TextLine


@dataclass(slots=True)
class Canvas:
    """A sheet, `WIDTH` wide, as high as what is put on it reaches and a little more."""

    things: list[Thing] = field(default_factory=list)
    bottom: float = 0.0
    _named: dict[str, int] = field(default_factory=dict)

    @property
    def height(self) -> float:
        """Height of the sheet [px]."""
        return round(self.bottom + EDGE, 1)

    def texts(self) -> list[TextLine]:
        """All text."""
        return [thing for thing in self.things if isinstance(thing, TextLine)]

    def line(self, points: Sequence[Spot], look: Look = THIN, gid: str = "") -> None:
        """A line through points."""
        self._put(Stroke(_rounded(points), look, closed=False, gid=self._own(gid)), max(y for _, y in points))

    def area(self, points: Sequence[Spot], look: Look, gid: str = "") -> None:
        """A closed area."""
        self._put(Stroke(_rounded(points), look, closed=True, gid=self._own(gid)), max(y for _, y in points))

    def box(self, left: float, top: float, right: float, bottom: float, look: Look, gid: str = "") -> None:
        """An upright rectangle."""
        self.area(((left, top), (right, top), (right, bottom), (left, bottom)), look, gid)

    def disc(self, x: float, y: float, radius: float, look: Look, gid: str = "") -> None:
        """A circle."""
        self._put(Disc(round(x, 2), round(y, 2), round(radius, 3), look, self._own(gid)), y + radius)

    def text(
        self,
        x: float,
        y: float,
        text: str,
        size: float = TEXT,
        anchor: str = "start",
        *,
        bold: bool = False,
        tone: str = INK,
        halo: bool = False,
        gid: str = "",
    ) -> None:
        """A line of text; `halo` covers what lies under it."""
        text = clean(text)
        if not text.strip():
            return
        words = TextLine(round(x, 2), round(y, 2), text, size, anchor, bold, tone, self._own(gid))
        if halo:
            left, top, right, bottom = words.box
            self.box(left - 1.0, top, right + 1.0, bottom, HALO)
        self._put(words, y + 0.25 * size)

    def para(
        self,
        x: float,
        y: float,
        text: str,
        right: float = WIDTH - EDGE,
        size: float = TEXT,
        *,
        tone: str = INK,
    ) -> float:
        """Text in as many lines as it takes, the first with its top at y; answers where the next begins."""
        for line in fold(text, right - x, size):
            self.text(x, y + size, line, size, tone=tone)
            y += size * LINE
        return y

    def number(self, x: float, y: float, figure: str, gid: str = "") -> None:
        """A number in a ring, that stands for a run."""
        self.disc(x, y, 8.0, MARK, gid)
        self.text(x, y + 3.6, figure, SMALL, "middle", bold=True)

    def title(self, text: str, y: float = EDGE) -> float:
        """The heading of a drawing; answers where the next begins."""
        for line in fold(text, WIDTH - 2 * EDGE, TITLE, bold=True):
            self.text(EDGE, y + TITLE, line, TITLE, bold=True)
            y += TITLE * LINE
        return y + 3.0

    # --- what is drawn alike everywhere ------------------------------------------------------------------

    def water(self, left: float, top: float, right: float, bottom: float, gid: str = "") -> None:
        """Water, ruled with level lines."""
        self.box(left, top, right, bottom, WET, gid)
        self._rows(left, top + 7.0, right, bottom - 2.0, RULED)

    def gravel(self, left: float, top: float, right: float, bottom: float, gid: str = "") -> None:
        """Gravel, rows of dots."""
        self.box(left, top, right, bottom, BED, gid)
        self._rows(left + 3.0, top + 5.0, right, bottom - 2.0, STONES)

    def _rows(self, left: float, top: float, right: float, bottom: float, look: Look) -> None:
        """Level lines from top to bottom, one thing; every second begins a little further right."""
        points: list[Spot] = []
        for row in range(max(0, int((bottom - top) // ROW) + 1)):
            y, x = top + ROW * row, left + (row % 2) * 4.0 * bool(look.dashes)
            points += [(x, y), (right, y), (nan, nan)]
        if points:
            self._put(Stroke(_rounded(points[:-1]), look, closed=False, gid=""), bottom)

    def pipe(self, points: Sequence[Spot], *, pressed: bool, gid: str = "") -> None:
        """A run: hollow by gravity, dashed under pressure."""
        if pressed:
            self.line(points, PRESSED, gid)
        else:
            self.line(points, PIPE_EDGE, gid)
            self.line(points, PIPE_BORE)

    def hole(self, x: float, y: float, radius: float, gid: str) -> None:
        """A hole to drill, with its axes."""
        self.disc(x, y, radius, HOLE, gid)
        reach = radius + 2.5
        self.line(((x - reach, y), (x + reach, y)), THIN)
        self.line(((x, y - reach), (x, y + reach)), THIN)

    def arrow(self, x: float, y: float, dx: float, dy: float, tone: str = INK) -> None:
        """The head of an arrow that points along (dx, dy), its tip at (x, y)."""
        self.area(
            (
                (x, y),
                (x - 6.0 * dx - 3.2 * dy, y - 6.0 * dy - 3.2 * dx),
                (x - 6.0 * dx + 3.2 * dy, y - 6.0 * dy + 3.2 * dx),
            ),
            Look(None, 0.0, (), tone),
        )

    def leader(self, x: float, y: float, to_x: float, to_y: float) -> None:
        """A thin line from a thing to its label."""
        self.line(((x, y), (to_x, to_y)), LEADER)

    def _put(self, thing: Thing, reaches: float) -> None:
        self.things.append(thing)
        self.bottom = max(self.bottom, reaches)

    def _own(self, gid: str) -> str:
        """A name that no other thing on the sheet has."""
        if not gid:
            return ""
        self._named[gid] = self._named.get(gid, 0) + 1
        return gid if self._named[gid] == 1 else f"{gid}-{self._named[gid]}"


def begun(title: str, text: str) -> tuple[Canvas, float]:
    """A sheet with its heading and what to know first, and where the next begins on it."""
    canvas = Canvas()
    return canvas, canvas.para(EDGE, canvas.title(title), text, size=SMALL)


def _rounded(points: Sequence[Spot]) -> tuple[Spot, ...]:
    return tuple((round(x, 2), round(y, 2)) for x, y in points)


def letter(number: int) -> str:
    """What the thing of a number from 0 on is called: A to Z, then AA to ZZ."""
    return chr(ord("A") + number % 26) * (1 + number // 26)


def ident(*words: str) -> str:
    """A name for a thing on a sheet, or for a sheet, of letters, digits and hyphens only."""
    slugs = (re.sub(r"[^a-z0-9]+", "-", word.lower()).strip("-")[:40] for word in words)
    return "-".join(slug or "x" for slug in slugs)


@lru_cache(maxsize=20_000)
def width_of(text: str, size: float = TEXT, *, bold: bool = False) -> float:
    """Width of a line of text [px]; in the widest of the fonts that a page may show it in."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import text_to_path

    prop = FontProperties(family="DejaVu Sans", weight="bold" if bold else "normal", size=size)
    return float(text_to_path.get_text_width_height_descent(text, prop, False)[0])


def fold(text: str, wide: float, size: float = TEXT, *, bold: bool = False) -> list[str]:
    """Text in lines no wider than that [px]; a word alone too wide is cut short."""
    lines: list[str] = []
    for word in clean(text).split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width_of(longer, size, bold=bold) <= wide:
            lines[-1] = longer
        else:
            lines.append(short(word, wide, size, bold=bold))
    return lines


def short(text: str, wide: float, size: float = TEXT, *, bold: bool = False) -> str:
    """Text no wider than that [px], cut short with dots if it must be."""
    text = clean(text)
    if width_of(text, size, bold=bold) <= wide:
        return text

    def too_wide(end: int) -> bool:
        return width_of(f"{text[:end].rstrip()}…", size, bold=bold) > wide

    end = bisect_right(range(len(text) + 1), False, key=too_wide) - 1
    return f"{text[: max(0, end)].rstrip()}…"


def spread(wanted: Iterable[float], apart: float, least: float, most: float) -> list[float]:
    """Places as near to those wanted as they can be while each is `apart` from the next.

    They keep their order; `least` to `most` is where they may lie, if that is room enough.
    """
    from scipy.optimize import isotonic_regression

    asked = list(wanted)
    if not asked:
        return []
    order = sorted(range(len(asked)), key=lambda at: asked[at])
    rows = [number * apart for number in range(len(asked))]
    # Less what each row takes, places need only not fall: those that would are moved together to their mean.
    found = isotonic_regression([asked[at] - row for at, row in zip(order, rows, strict=True)]).x
    places = {
        at: max(least, min(most - rows[-1], float(place))) + row
        for at, place, row in zip(order, found, rows, strict=True)
    }
    return [places[at] for at in range(len(asked))]
