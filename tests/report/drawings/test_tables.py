"""Rows of figures under a drawing: no figure is cut short, whatever unit it is told in."""

from __future__ import annotations

from itertools import pairwise

import pytest

from autoplan.problem.brief import PrintUnits
from autoplan.report.drawings.canvas import EDGE, WIDTH, Canvas
from autoplan.report.drawings.levels import RUNS, VESSELS
from autoplan.report.drawings.tables import TableColumn, fitted, table
from tests.report.drawings.drawn import STORED, drawing_of


@pytest.mark.parametrize("columns", [VESSELS, RUNS])
@pytest.mark.parametrize("figure", ["1199", "16-15/16", "-47-13/16", "118-13/16"])
def test_figures_are_whole(columns: tuple[TableColumn, ...], figure: str) -> None:
    """Inches to a sixteenth stand there whole, within the sheet and clear of each other, beside names."""
    row = [figure if column.figures else "bed 1 to bed 4" for column in columns]
    canvas = Canvas()
    table(canvas, 0.0, columns, [row])
    texts = list(canvas.texts())
    found = [text for text in texts if text.text == figure]
    assert len(found) == sum(column.figures for column in columns)
    assert all(text.box[0] >= EDGE and text.box[2] <= WIDTH - EDGE + 1.0 for text in texts)
    for one, other in pairwise(found):
        assert one.box[2] < other.box[0]


def test_what_fits_is_left_as_it_is() -> None:
    """Millimetres change no column."""
    rows = [["tank", *["-1234"] * 5]]
    assert fitted(VESSELS, rows) == list(VESSELS)


@pytest.mark.parametrize("name", STORED)
def test_levels_in_inches_are_whole(name: str) -> None:
    """No drawing of levels has a figure that ends in dots."""
    drawn = drawing_of(name, PrintUnits.US)
    texts = [
        text.text
        for sheet in drawn.sheets
        if sheet.name.startswith("levels")
        for text in sheet.canvas.texts()
    ]
    assert not [text for text in texts if "/…" in text or (text[:1].isdigit() and text.endswith("…"))]
