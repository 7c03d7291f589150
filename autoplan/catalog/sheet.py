"""One CSV price list as rows of text; every mistake noted, none raised.

Spreadsheets differ. A sheet may be separated by commas, semicolons or tabs (the header line decides), start
with a byte-order mark, end its lines either way, and trail blank rows and columns. Numbers have a decimal
point. In a sheet separated by semicolons or tabs a decimal comma is read as well, since there it cannot be
anything else; in a sheet separated by commas "1,50" is a mistake.
"""

from __future__ import annotations

import csv
import difflib
import io
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from autoplan.errors import Mistake

if TYPE_CHECKING:
    from autoplan.catalog.columns import Column
    from autoplan.catalog.ends import End
    from autoplan.catalog.sizes import Size

Wrong = Callable[[int, str, str], None]
"""Notes what is wrong with a line of a file, and what would be right; 0 for the file itself."""


@dataclass(frozen=True, slots=True)
class References:
    """What rows may refer to: sizes by system, shops, and parts where they are read already."""

    systems: Mapping[str, Mapping[str, Size]] = field(default_factory=dict)
    shops: Sequence[str] = ()
    parts: Sequence[str] = ()

    def size(self, end: End) -> Size | None:
        """The dimensions of an end's size; None for an end that could not be read."""
        return self.systems.get(end.system, {}).get(end.size)


@dataclass(slots=True)
class Row:
    """One row under its header; what is wrong with it is added to `mistakes`.

    A cell that cannot be read yields a harmless value (not a number, an empty text), so that the rest of the
    row is still looked at.

    Attributes:
        file, line: where it stands.
        place: the same as parts keep it, without the folder.
        cells: texts by column.
        absent: columns that must be there and are not.
        decimal_comma: whether numbers may be written with one.
        known: what it may refer to.
        so_far: what was read of it, by attribute of its row model.
        kind: its kind where that decides which other cells are filled in; None where it could not be read.
        whom: that kind as a sentence on one of those cells ends with it.
        mistakes: what is wrong with it.
    """

    file: str
    line: int
    place: str
    cells: Mapping[str, str]
    absent: frozenset[str]
    decimal_comma: bool
    known: References = field(default_factory=References)
    so_far: dict[str, Any] = field(default_factory=dict)
    kind: object = None
    whom: str = ""
    mistakes: list[Mistake] = field(default_factory=list)

    def wrong(self, problem: str, remedy: str) -> None:
        """Note a mistake in this row."""
        self.mistakes.append(Mistake(self.file, f"line {self.line}", problem, remedy))

    def blank(self, column: str) -> bool:
        """Whether the cell is empty or its column absent."""
        return not self.cells.get(column)


def suggest(word: str, known: Iterable[str]) -> str:
    """A remedy for an unknown word: the closest known one, or all of them."""
    words = list(known)
    folded = {name.casefold(): name for name in reversed(words)}
    close = difflib.get_close_matches(word.casefold(), folded, n=1, cutoff=0.6)
    if close:
        return f'did you mean "{folded[close[0]]}"'
    return f"known are {', '.join(words)}" if words else "none is known"


def read_sheet(
    file: Path, columns: Sequence[Column], known: References, mistakes: list[Mistake]
) -> list[Row]:
    """The rows of a price list.

    Args:
        file: the CSV file.
        columns: columns that it has, or may have.
        known: what its rows may refer to.
        mistakes: gets what is wrong with the file as such, its header and its quoting.

    Returns:
        Rows in order without the blank ones, each with its own mistakes; none if the file is unreadable.
    """

    name = str(file)

    def wrong(line: int, problem: str, remedy: str) -> None:
        mistakes.append(Mistake(name, f"line {line}" if line else "", problem, remedy))

    text = _decoded(file, wrong)
    if text is None:
        return []
    mark = _separator(text)
    lines = list(_lines(text, mark, wrong))
    if not lines:
        wrong(0, "the file is empty", f"its first line must be {','.join(column.name for column in columns)}")
        return []
    (line, titles), *body = lines
    names, absent = _header(line, titles, columns, wrong)
    rows = []
    for line, cells in body:
        beyond = next((cell for cell in cells[len(names) :] if cell), None)
        if beyond is None:
            texts = dict(zip(names, cells, strict=False))
            rows.append(Row(name, line, f"{file.name}: line {line}", texts, absent, mark != ",", known))
        else:
            problem = f'"{shortened(beyond)}" stands beyond the last of {len(names)} columns'
            wrong(line, problem, "put a text that holds the separator into quotation marks")
    return rows


def _decoded(file: Path, wrong: Wrong) -> str | None:
    try:
        text = file.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line, problem = error.object[: error.start].count(b"\n") + 1, "the text is not UTF-8"
    except OSError as error:
        wrong(0, f"cannot be read ({(error.strerror or str(error)).lower()})", "name a file that can")
        return None
    else:
        if "\0" not in text:
            return text
        line, problem = text[: text.index("\0")].count("\n") + 1, "the text is not that of a CSV file"
    wrong(line, problem, 'save the sheet as "CSV UTF-8"')
    return None


def _separator(text: str) -> str:
    """Comma, semicolon or tab: whichever stands most often in the first line that is not blank."""
    first = next((line for line in text.splitlines() if line.strip(" ,;\t")), "")
    return max(",;\t", key=first.count)


def _lines(text: str, mark: str, wrong: Wrong) -> Iterator[tuple[int, list[str]]]:
    """Lines with anything in them: the number in the file and the cells without the blanks around them."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True)
    start = 1
    try:
        for cells in reader:
            texts = [" ".join(cell.split()) if cell else "" for cell in cells]
            if reader.line_num > start:
                remedy = "keep each row on one line and close its quotation marks"
                wrong(start, "a cell runs over several lines", remedy)
            elif any(texts):
                yield start, texts
            start = reader.line_num + 1
    except csv.Error as error:
        remedy = "close every quotation mark, and double one that stands inside a text"
        wrong(start, f"no row of a CSV file ({error})", remedy)


def _header(
    line: int, titles: Sequence[str], columns: Sequence[Column], wrong: Wrong
) -> tuple[list[str], frozenset[str]]:
    """Column names in order, and those that must be there and are not."""
    names = ["_".join(title.lower().split()) for title in titles]
    while names and not names[-1]:
        names.pop()
    known = [column.name for column in columns]
    absent = [column.name for column in columns if not column.spare and column.name not in names]
    explained = set()
    for index, name in enumerate(names):
        if name in names[:index]:
            wrong(line, f'column "{name}" is there twice', "keep one of them")
        elif not name:
            wrong(line, f"column {index + 1} has no title", "give it one or take the column out")
        elif name not in known:
            remedy = suggest(name, absent or known)
            wrong(line, f'column "{shortened(name)}" is not known', remedy)
            explained |= {column for column in absent if f'"{column}"' in remedy}
    for name in absent:
        if name not in explained:
            wrong(line, f'column "{name}" is missing', f"the columns are {', '.join(known)}")
    return names, frozenset(absent)


def shortened(text: str) -> str:
    """A cell short enough for one line of a message."""
    shown = "".join(mark if mark.isprintable() else "?" for mark in text)
    return shown if len(shown) <= 40 else f"{shown[:37]}..."
