"""Rows of figures under a drawing, and the key to its lines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from autoplan.report.drawings.canvas import EDGE, SMALL, WIDTH, Canvas, fold, width_of
from autoplan.report.drawings.paint import DATUM, FAINT, INK, OVERLOAD, REST, RUNNING, THIN, WALL

ROW_HEIGHT = 14.5
"""From one row to the next [px]."""

BESIDE = 5.0
"""What is left free of a column beside its texts [px]."""


@dataclass(frozen=True, slots=True)
class TableColumn:
    """A column of a table: its title, its width [px], whether it holds figures, which stand at its right."""

    title: str
    width: float
    figures: bool = True


def table(canvas: Canvas, y: float, columns: Sequence[TableColumn], rows: Sequence[Sequence[str]]) -> float:
    """A table with its top at y; answers where what comes next begins.

    Texts that are too wide are folded, figures never cut short; a figure alone in the first column is told
    in bold.
    """
    columns = fitted(columns, rows)
    y = _row(canvas, y, columns, [column.title for column in columns], tone=FAINT)
    canvas.line(((EDGE, y), (WIDTH - EDGE, y)), THIN)
    y += 3.0
    for row in rows:
        y = _row(canvas, y, columns, row)
    return y + 4.0


def fitted(columns: Sequence[TableColumn], rows: Sequence[Sequence[str]]) -> list[TableColumn]:
    """Columns of figures as wide as their widest figure asks for, those of words as much narrower."""
    wide = [
        max([column.width, *(width_of(word, SMALL) + BESIDE for row in rows for word in row[at].split())])
        if column.figures
        else column.width
        for at, column in enumerate(columns)
    ]
    lacking = sum(wide) - sum(column.width for column in columns)
    words = sum(column.width for column in columns if column.title and not column.figures)
    return [
        replace(column, width=width)
        if column.figures or not column.title
        else replace(column, width=width * (1.0 - lacking / words))
        for column, width in zip(columns, wide, strict=True)
    ]


def row_height(columns: Sequence[TableColumn], row: Sequence[str]) -> float:
    """How high a row of a table is [px]."""
    lines = max(
        len(fold(cell, column.width - BESIDE, SMALL)) for column, cell in zip(columns, row, strict=True)
    )
    return ROW_HEIGHT + (max(1, lines) - 1) * SMALL * 1.25


def _row(
    canvas: Canvas, y: float, columns: Sequence[TableColumn], row: Sequence[str], tone: str = INK
) -> float:
    left = EDGE
    for at, (column, cell) in enumerate(zip(columns, row, strict=True)):
        bold = at == 0 and tone is INK and cell.isdigit()
        for number, line in enumerate(fold(cell, column.width - BESIDE, SMALL)):
            x = left + column.width - 1.0 if column.figures else left
            base = y + SMALL + number * SMALL * 1.25
            anchor = "end" if column.figures else "start"
            canvas.text(x, base, line, SMALL, anchor, bold=bold, tone=tone)
        left += column.width
    return y + row_height(columns, row) + (0.0 if tone is INK else -1.0)


LEVELS = (("running", RUNNING), ("overload", OVERLOAD), ("at rest", REST))


def key(canvas: Canvas, y: float, *, levels: bool = True, pipes: bool = True, gravel: bool = False) -> float:
    """What the lines mean, with its top at y; answers where what comes next begins."""
    items = [*(name for name, _ in LEVELS if levels)]
    items += ["wall"] if levels else []
    items += ["by gravity", "under pressure"] if pipes else []
    items += ["gravel"] if gravel else []
    items += ["datum"] if levels else []
    x, looks = EDGE, dict(LEVELS)
    for item in items:
        wide = 26.0 + 6.2 * len(item)
        if x + wide > WIDTH - EDGE:
            x, y = EDGE, y + 14.0
        middle = y + 6.0
        if item in looks:
            canvas.line(((x, middle), (x + 20.0, middle)), looks[item])
        elif item == "wall":
            canvas.line(((x, middle), (x + 20.0, middle)), WALL)
        elif item == "datum":
            canvas.line(((x, middle), (x + 20.0, middle)), DATUM)
        elif item == "gravel":
            canvas.gravel(x, middle - 5.0, x + 20.0, middle + 7.0)
        else:
            canvas.pipe(((x, middle), (x + 20.0, middle)), pressed=item == "under pressure")
        canvas.text(x + 24.0, middle + 3.6, item, SMALL)
        x += wide + 8.0
    return y + 16.0
