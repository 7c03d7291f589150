"""The whole outcome on a stream: rich on a terminal, plain text anywhere else."""

from __future__ import annotations

import shutil
from collections.abc import Iterable, Iterator
from typing import TextIO

from autoplan.outcome import Outcome
from autoplan.report.blocks import Block, Para, Picture
from autoplan.report.render.plain import WIDTH, plain_text
from autoplan.report.sections.contents import ALL, no_such_rank, sections
from autoplan.report.sections.levels_picture import marks_for
from autoplan.report.sections.screen import first_screen
from autoplan.report.units import units_of

LEAST_WIDTH = 60
"""Characters of the first screen at least; a narrower terminal folds it."""


def report(outcome: Outcome) -> Iterator[Block]:
    """Everything: the ranked table, then rank 1 in full; without a design, what was assumed in saying so."""
    return sections(outcome, units_of(outcome.site.print_units), (ALL,))


def screen(outcome: Outcome, stream: TextIO, rank: int = 1, again: str = "") -> Iterator[Block]:
    """The first screen, as wide as the stream, about one rank; `again` as in `first_screen`."""
    width = max(LEAST_WIDTH, min(WIDTH, shutil.get_terminal_size().columns)) if stream.isatty() else WIDTH
    marks = marks_for(stream.encoding)
    if rank > len(outcome.designs) > 0:
        yield Para(no_such_rank(outcome, rank))
    yield Picture(first_screen(outcome, units_of(outcome.site.print_units), marks, width, rank, again))


def show(blocks: Iterable[Block], stream: TextIO) -> None:
    """Write blocks to a stream as suits it.

    Raises:
        OSError: the stream cannot be written.
    """
    if stream.isatty():
        from autoplan.report.render import terminal  # rich is slow to import and only a terminal needs it

        terminal.show(blocks, stream)
    else:
        stream.write(plain_text(blocks))
