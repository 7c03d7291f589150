"""Blocks as plain text: no colour, fixed column widths, everything folded and nothing cut off."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from itertools import zip_longest

from autoplan.report.blocks import Block, Column, Grid, Heading, Para, Picture, Points, clean, map_text

WIDTH = 100
"""No line of plain output is wider [characters]."""

GAP = "  "
"""Between two columns."""


def plain_text(blocks: Iterable[Block]) -> str:
    """The blocks as text of at most `WIDTH` characters a line, ending in a newline."""
    lines = [line for block in blocks for line in _lines(map_text(block, clean))]
    return "\n".join(line.rstrip() for line in lines).strip("\n") + "\n"


def _lines(block: Block) -> Iterator[str]:
    match block:
        case Heading(text):
            folded = fold(text, WIDTH)
            yield from ("", *folded, "-" * max(map(len, folded)), "")
        case Para(text):
            yield from (*fold(text, WIDTH), "")
        case Points(items):
            for item in items:
                first, *rest = fold(item, WIDTH - 2)
                yield from ("- " + first, *("  " + line for line in rest))
            yield ""
        case Grid(columns, rows):
            yield from _row(columns, [column.title for column in columns])
            yield GAP.join("-" * column.width for column in columns)
            for row in rows:
                yield from _row(columns, row)
            yield ""
        case Picture(lines):
            yield from (*lines, "")


def fold(text: str, width: int) -> list[str]:
    """The text in lines of at most `width` characters; at least one line, words broken only if too long."""
    return textwrap.wrap(text, width, break_on_hyphens=False) or [""]


def _row(columns: Sequence[Column], cells: Sequence[str]) -> Iterator[str]:
    folded = [fold(cell, column.width) for column, cell in zip(columns, cells, strict=True)]
    for parts in zip_longest(*folded, fillvalue=""):
        yield GAP.join(
            part.rjust(column.width) if column.number else part.ljust(column.width)
            for column, part in zip(columns, parts, strict=True)
        )
