"""Blocks as plain text: no colour, fixed column widths, everything folded and nothing cut off."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import zip_longest

from autoplan.report.blocks import Block, Grid, GridColumn, Heading, Para, Picture, Points, clean, map_text

WIDTH = 100
"""No line of plain output is wider [characters]."""

GAP = "  "
"""Between two columns."""

_MEASURE = re.compile(r"(?<!\S)\S*\d (?:mm|m|in|ft|L|L/h|gal|gph|min|s|[A-Z]{3}|%)(?!\w)\S*")
_TIED = "\0"
"""Between a number and its unit while lines are folded; no text that was cleaned has it."""


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
            columns = fitted(columns, rows)
            yield from _row(columns, [column.title for column in columns])
            yield GAP.join("-" * column.width for column in columns)
            for row in rows:
                yield from _row(columns, row)
            yield ""
        case Picture(lines):
            yield from (*lines, "")


def fitted(columns: Sequence[GridColumn], rows: Sequence[Sequence[str]]) -> tuple[GridColumn, ...]:
    """The columns, as wide together, each wide enough for its longest word as far as the others have room.

    Room is taken first where nothing is folded for it, then where lines are folded and words are not.
    """
    texts = [(column.title, *cells) for column, *cells in zip(columns, *rows, strict=True)]
    words = [max(len(word) for text in column for word in (text.split() or [""])) for column in texts]
    lines = [max(map(len, column)) for column in texts]
    given = [column.width for column in columns]
    for keep in (lines, words):
        for short in sorted(range(len(given)), key=lambda place: words[place]):
            for at in sorted(range(len(given)), key=lambda place: keep[place] - given[place]):
                taken = min(words[short] - given[short], given[at] - max(keep[at], words[at]))
                if taken > 0:
                    given[short] += taken
                    given[at] -= taken
    return tuple(replace(column, width=width) for column, width in zip(columns, given, strict=True))


def fold(text: str, width: int) -> list[str]:
    """The text in lines of at most `width` characters; at least one line, words broken only if too long.

    A number and its unit stay in one line where they fit in one.
    """
    kept = _MEASURE.sub(
        lambda found: found[0].replace(" ", _TIED) if len(found[0]) <= width else found[0], text
    )
    return [line.replace(_TIED, " ") for line in textwrap.wrap(kept, width, break_on_hyphens=False)] or [""]


def _row(columns: Sequence[GridColumn], cells: Sequence[str]) -> Iterator[str]:
    folded = [fold(cell, column.width) for column, cell in zip(columns, cells, strict=True)]
    for parts in zip_longest(*folded, fillvalue=""):
        yield GAP.join(
            part.rjust(column.width) if column.number else part.ljust(column.width)
            for column, part in zip(columns, parts, strict=True)
        )
