"""The list of keys as a report."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from autoplan.errors import InputError, Mistake
from autoplan.problem.tables.top import BOTH, LONG, SHORT
from autoplan.report.blocks import Block, Grid, GridColumn, Heading, Para
from autoplan.report.key_list import Key, about, all_keys, near

SAID: Mapping[str, str] = {
    **{f"[{name}]": top.meaning for name, top in (*SHORT.items(), *BOTH.items()) if not top.written},
    **{f"[[{name}]]": top.meaning for name, top in LONG.items()},
    "[hand_pumps.VESSEL]": BOTH["hand_pumps"].meaning,
}
"""What a table is for, by its name as keys have it."""


def key_blocks(word: str | None = None) -> Iterator[Block]:
    """Every key by its table; with a word only those that have it in their name, table or meaning.

    Raises:
        InputError: no key has it; with words that look like it.
    """
    keys = tuple(all_keys())
    if word is not None:
        found = about(word, keys)
        if not found:
            close = near(word, keys)
            remedy = f"did you mean {' or '.join(map(repr, close))}" if close else "see `autoplan keys`"
            raise InputError([Mistake("keys", "", f"no key, table or meaning has {word!r} in it", remedy)])
        keys = found
    yield Para(
        'Values with a unit are text in quotes in a problem file, as in depth = "900 mm"; cells of a price '
        "list are numbers alone."
    )
    for table, rows in _by_table(keys).items():
        yield Heading(table)
        if table in SAID:
            yield Para(f"{SAID[table][:1].upper()}{SAID[table][1:]}.")
        yield Grid(
            (
                GridColumn("key", 20),
                GridColumn("unit", 22),
                GridColumn("default", 20),
                GridColumn("meaning", 32),
            ),
            tuple((key.key, key.unit, key.default, key.meaning) for key in rows),
        )


def _by_table(keys: Iterable[Key]) -> dict[str, list[Key]]:
    tables: dict[str, list[Key]] = {}
    for key in keys:
        tables.setdefault(key.table, []).append(key)
    return tables
