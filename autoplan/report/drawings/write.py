"""Drawings as files: an SVG and a PNG of each."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from autoplan.report.drawings import sheets
from autoplan.report.drawings.render import png, standalone, svg
from autoplan.report.files import fill_folder
from autoplan.report.units import Units


def write_drawings(answer: Mapping[str, Any], folder: str, rank: int = 1, units: Units | None = None) -> None:
    """Write the drawings of a design into a folder, made if it is absent; files of their names are replaced.

    Args:
        answer: what `contract.outcome_json` gives and `design --json` writes.
        folder: where.
        rank: which design.
        units: in which to draw; by default those that the problem asked for.

    Raises:
        OSError: the folder cannot be made or a file not be written; no file is then half written.
        ValueError: the answer has no design of that rank.
    """
    held: dict[str, str | bytes] = {}
    for sheet in sheets(answer, rank, units):
        held[f"{sheet.name}.svg"] = standalone(svg(sheet.canvas, sheet.name, sheet.title, sheet.alt))
        held[f"{sheet.name}.png"] = png(sheet.canvas)
    fill_folder(folder, held)
