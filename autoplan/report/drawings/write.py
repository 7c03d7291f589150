"""Drawings as files: an SVG and a PNG of each."""

from __future__ import annotations

from collections.abc import Sequence

from autoplan.report.drawings.render import standalone
from autoplan.report.drawings.view import Sheet
from autoplan.report.files import fill_folder


def write_drawings(sheets: Sequence[Sheet], folder: str) -> None:
    """Write drawings into a folder, made if it is absent; files of their names are replaced.

    Raises:
        OSError: the folder cannot be made or a file not be written; no file is then half written.
    """
    held: dict[str, str | bytes] = {}
    for sheet in sheets:
        held[f"{sheet.name}.svg"] = standalone(sheet.svg)
        held[f"{sheet.name}.png"] = sheet.png()
    fill_folder(folder, held)
