"""What is said of several things in the same words is said once, with all their names before it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence


def gathered(said: Iterable[tuple[str, str]]) -> Iterator[str]:
    """One line for each different text, in the order in which it is first said.

    Args:
        said: pairs of a name and what is said of it, in which the name itself does not stand.

    Returns:
        Lines like "bed 1 to bed 4: full at 250 mm.".
    """
    names: dict[str, list[str]] = {}
    for name, text in said:
        holders = names.setdefault(text, [])
        if name not in holders:
            holders.append(name)
    for text, holders in names.items():
        yield f"{together(holders)}: {text}"


def together(names: Sequence[str]) -> str:
    """Names as one reads them out; three or more numbered in a row as the first to the last of them.

    Args:
        names: at least one.

    Returns:
        Text like "tank, bed 1 to bed 4 and sump".
    """
    rows: list[list[str]] = []
    for name in names:
        if rows and _follows(rows[-1][-1], name):
            rows[-1].append(name)
        else:
            rows.append([name])
    words = [word for row in rows for word in ([f"{row[0]} to {row[-1]}"] if len(row) > 2 else row)]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _follows(first: str, second: str) -> bool:
    """Whether two names differ only in the number at their end, the second's being the next."""
    before, after = _numbered(first), _numbered(second)
    return before is not None and after is not None and after == (before[0], before[1] + 1)


def _numbered(name: str) -> tuple[str, int] | None:
    found = re.fullmatch(r"(.*?)(0|[1-9][0-9]*)", name)
    return None if found is None else (found[1], int(found[2]))
