"""The list of keys as a report, and as the table of the README."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from autoplan.errors import InputError, Mistake
from autoplan.problem.tables.top import BOTH, LONG, SHORT
from autoplan.report.blocks import Block, Column, Grid, Heading, Para
from autoplan.report.key_list import Key, about, all_keys, near

SAID: Mapping[str, str] = {
    **{f"[{name}]": top.meaning for name, top in (*SHORT.items(), *BOTH.items()) if not top.written},
    **{f"[[{name}]]": top.meaning for name, top in LONG.items()},
    "[hand_pumps.VESSEL]": BOTH["hand_pumps"].meaning,
}
"""What a table is for, by its name as keys have it."""

BEGIN, END = "<!-- keys -->", "<!-- end of keys -->"
"""Between these lines of the README stands the table of keys."""

ANY_RULE = Key("[rules.RULE]", "off", "true or false", "false", "true leaves this rule out")
ANY_TURNS = Key(
    "[turns]", "as below [distances]", "as [90, 45]", "by line", "changes of direction in degrees"
)
"""In the README one row in place of those for every rule and every line."""


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
            (Column("key", 20), Column("unit", 22), Column("default", 20), Column("meaning", 32)),
            tuple((key.key, key.unit, key.default, key.meaning) for key in rows),
        )


def _by_table(keys: Iterable[Key]) -> dict[str, list[Key]]:
    tables: dict[str, list[Key]] = {}
    for key in keys:
        tables.setdefault(key.table, []).append(key)
    return tables


def readme_table() -> str:
    """Every key as a table in Markdown; a key that means the same in several tables has one row."""
    kept = [key for key in all_keys() if key.key != "off" and key.table != "[turns]"]
    last_line = max(index for index, key in enumerate(kept) if key.table == "[distances]")
    last_rule = max(index for index, key in enumerate(kept) if key.table.startswith("[rules."))
    kept.insert(last_rule + 1, ANY_RULE)
    kept.insert(last_line + 1, ANY_TURNS)
    groups: dict[tuple[str, str, str], list[Key]] = {}
    for key in kept:
        groups.setdefault((key.key, key.unit, key.meaning), []).append(key)
    lines = ["| key | stands in | unit | default | meaning |", "| --- | --- | --- | --- | --- |"]
    for (name, unit, meaning), keys in groups.items():
        tables = ", ".join(_code(key.table) for key in keys)
        lines.append(f"| `{name}` | {tables} | {_cell(unit)} | {_cell(_defaults(keys))} | {_cell(meaning)} |")
    return "\n".join(lines)


def _defaults(keys: Sequence[Key]) -> str:
    """The default of a key that stands in several tables, with the tables where it differs."""
    said: dict[str, list[str]] = {}
    for key in keys:
        if len(keys) > 1 and key.table == "[[vessel]]":
            continue
        said.setdefault(key.default, []).append(key.table.strip("[]"))
    if len(said) == 1:
        return next(iter(said))
    return ", ".join(f"{text} ({', '.join(names)})" for text, names in said.items())


def _code(table: str) -> str:
    return f"`{table}`" if table.startswith("[") or "." in table else table


def _cell(text: str) -> str:
    """Text that stays inside its cell."""
    return text.replace("|", "\\|").replace("<", "&lt;")


def with_table(readme: str) -> str:
    """The README with its table of keys made anew.

    Args:
        readme: its text, with a line `BEGIN` and a line `END`.

    Raises:
        ValueError: one of these lines is missing.
    """
    before, begin, rest = readme.partition(f"{BEGIN}\n")
    _, end, after = rest.partition(f"{END}\n")
    if not begin or not end:
        raise ValueError(f"the README has no {BEGIN} and {END}")
    return f"{before}{begin}\n{readme_table()}\n\n{end}{after}"
