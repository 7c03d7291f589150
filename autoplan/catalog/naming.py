"""What a builder calls parts: names instead of ids, each once with its count."""

from __future__ import annotations

import re
from collections.abc import Iterable

from autoplan.catalog.parts import Catalog


def times(count: int, what: str) -> str:
    """ "3 x bend", or just "bend" for one."""
    return what if count == 1 else f"{count} x {what}"


def tally(words: Iterable[str]) -> list[str]:
    """Each word once with its count, in the order of first appearance."""
    counts: dict[str, int] = {}
    for word in words:
        counts[word] = counts.get(word, 0) + 1
    return [times(count, word) for word, count in counts.items()]


_SOLD = re.compile(r", (?:stick of|by the) .*")


def name_of(catalog: Catalog, part: str) -> str:
    """What a builder calls a part: its description, of pipe without how it is sold."""
    return _SOLD.split(catalog.part(part).description)[0]


def names_of(catalog: Catalog, parts: Iterable[str]) -> list[str]:
    """The names of parts, each once with its count."""
    return tally(name_of(catalog, part) for part in parts)


def row_of(catalog: Catalog, parts: Iterable[str]) -> str:
    """Parts by their names, one put on the other; names may have commas of their own."""
    return " + ".join(names_of(catalog, parts))
