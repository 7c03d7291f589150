"""Blocks on a terminal, through rich: as wide as the window, folded, never cut off."""

from __future__ import annotations

import shutil
from collections.abc import Iterable
from typing import Literal, TextIO

from rich import box
from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from autoplan.report.blocks import Block, Grid, Heading, Para, Picture, Points, clean, map_text

GAP = 2
"""Characters between two columns: one of padding, one of divider."""


def show(blocks: Iterable[Block], stream: TextIO, width: int | None = None) -> None:
    """Write the blocks to a terminal; texts are taken literally, never as markup."""
    console = Console(file=stream, highlight=False, markup=False, emoji=False, width=width)
    if console.width < 1:
        # COLUMNS=0, as some shells and editors set it, would print nothing at all.
        console.width = shutil.get_terminal_size().columns
    for block in blocks:
        _print(console, map_text(block, clean))


def _print(console: Console, block: Block) -> None:
    match block:
        case Heading(text):
            console.print(Padding(Text(text, style="bold"), (1, 0)))
        case Para(text):
            console.print(Padding(Text(text), (0, 0, 1, 0)))
        case Points(items):
            grid = Table.grid(padding=(0, 1))
            for item in items:
                grid.add_row("-", Text(item))
            console.print(Padding(grid, (0, 0, 1, 0)))
        case Picture(lines):
            drawn = Text("\n".join(lines), no_wrap=True, overflow="ignore")
            console.print(Padding(drawn, (0, 0, 1, 0)), crop=False)
        case Grid():
            console.print(Padding(_table(block, console.width), (0, 0, 1, 0)))


def _table(grid: Grid, room: int) -> Table:
    table = Table(
        box=box.SIMPLE_HEAD, show_edge=False, pad_edge=False, padding=(0, 1, 0, 0), header_style="bold"
    )
    for column, width in zip(grid.columns, widths(grid, room), strict=True):
        side: Literal["left", "right"] = "right" if column.number else "left"
        table.add_column(column.title, justify=side, overflow="fold", width=width)
    for row in grid.rows:
        table.add_row(*map(Text, row))
    return table


def widths(grid: Grid, room: int) -> list[int]:
    """Column widths [characters] that fit `room` with their gaps, breaking words only if they must."""
    texts = [[column.title, *cells] for column, *cells in zip(grid.columns, *grid.rows, strict=True)]
    wanted = [max(map(len, column)) for column in texts]
    given = [max(len(word) for text in column for word in (text.split() or [""])) for column in texts]
    left = room - GAP * (len(texts) - 1) - sum(given)
    while left < 0 and max(given) > 1:
        given[given.index(max(given))] -= 1
        left += 1
    while left > 0 and given != wanted:
        # Each spare character goes where most is still missing.
        missing = [want - have for want, have in zip(wanted, given, strict=True)]
        given[missing.index(max(missing))] += 1
        left -= 1
    return given
