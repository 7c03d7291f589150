"""The whole outcome on a stream: rich on a terminal, plain text anywhere else."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TextIO

from autoplan.outcome import Outcome
from autoplan.report.blocks import Block
from autoplan.report.build import assumptions, full
from autoplan.report.plain import plain_text
from autoplan.report.table import ranked
from autoplan.report.units import units_of


def report(outcome: Outcome) -> Iterator[Block]:
    """The ranked table, then rank 1 in full; without a design, what was assumed in saying so."""
    units = units_of(outcome.site.print_units)
    yield from ranked(outcome, units)
    if outcome.designs:
        first = outcome.designs[0]
        yield from full(outcome.about(first), first, units)
    else:
        yield from assumptions(outcome, units)


def show(blocks: Iterable[Block], stream: TextIO) -> None:
    """Write blocks to a stream as suits it.

    Raises:
        OSError: the stream cannot be written.
    """
    if stream.isatty():
        from autoplan.report import terminal  # rich is slow to import and only a terminal needs it

        terminal.show(blocks, stream)
    else:
        stream.write(plain_text(blocks))
