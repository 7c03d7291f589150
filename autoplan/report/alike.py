"""What is said of several things in the same words is said once, with all their names before it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence

SECOND, THIRD = "\x02", "\x03"
"""Where the second and third name go in a text; no name has characters that cannot be printed."""

FEW = 2
"""Most names or spans that stand over a drawn vessel."""


def gathered(said: Iterable[tuple[tuple[str, ...], str]]) -> Iterator[str]:
    """One line for each different text, in the order in which it is first said.

    Args:
        said: names, and what is said of the first of them, in which `SECOND` and `THIRD` stand for the
            others.

    Returns:
        Lines like "bed 1 to bed 4: cut the standpipe of bed drain 1 to bed drain 4.".
    """
    alike: dict[str, list[tuple[str, ...]]] = {}
    for names, text in said:
        alike.setdefault(text, []).append(names)
    for text, holders in alike.items():
        first, *others = (together(list(dict.fromkeys(names))) for names in zip(*holders, strict=True))
        for mark, named in zip((SECOND, THIRD), others, strict=False):
            text = text.replace(mark, named)
        yield f"{first}: {text}"


def together(names: Sequence[str]) -> str:
    """Names as one reads them out; three or more numbered in a row as the first to the last of them.

    Args:
        names: at least one.

    Returns:
        Text like "tank, bed 1 to bed 4 and sump".
    """
    words = _words(names)
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def shortly(names: Sequence[str]) -> str:
    """Names as `together`, or where that would be a long list the first of them and how many more.

    Args:
        names: at least one, of things that look the same.

    Returns:
        Text like "bed 1 to bed 4", "bed 1 and bed 3" or "north bed and 4 more like it".
    """
    if len(_words(names)) <= FEW:
        return together(names)
    return f"{names[0]} and {len(names) - 1} more like it"


def _words(names: Sequence[str]) -> list[str]:
    """Names and spans of names, in their order."""
    rows: list[list[str]] = []
    for name in names:
        if rows and _follows(rows[-1][-1], name):
            rows[-1].append(name)
        else:
            rows.append([name])
    return [word for row in rows for word in ([f"{row[0]} to {row[-1]}"] if len(row) > 2 else row)]


def _follows(first: str, second: str) -> bool:
    """Whether two names differ only in the number at their end, the second's being the next."""
    before, after = _numbered(first), _numbered(second)
    return before is not None and after is not None and after == (before[0], before[1] + 1)


def _numbered(name: str) -> tuple[str, int] | None:
    found = re.fullmatch(r"(.*?)(0|[1-9][0-9]*)", name)
    return None if found is None else (found[1], int(found[2]))
