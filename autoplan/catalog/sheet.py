"""One CSV price list as rows of text, and cells as values; every mistake noted, none raised.

Spreadsheets differ. A sheet may be separated by commas, semicolons or tabs (the header line decides), start
with a byte-order mark, end its lines either way, and trail blank rows and columns. Numbers have a decimal
point. In a sheet separated by semicolons or tabs a decimal comma is read as well, since there it cannot be
anything else; in a sheet separated by commas "1,50" is a mistake.
"""

from __future__ import annotations

import csv
import difflib
import io
import math
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from autoplan.catalog.parts import End
from autoplan.errors import Mistake

NO_END = End("", "", "")
"""Stands for an end that could not be read."""

MOST_PRICE = 1_000_000
"""Dearest price that is read; beyond it whole cents would crowd the solver's integers."""

_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)")
_WITH_UNIT = re.compile(r"[+-]?[0-9.]+\s*[A-Za-zµ°%\"']+\d?")


@dataclass(slots=True)
class Row:
    """One row under its header; what is wrong with it is added to `mistakes`.

    A cell that cannot be read yields a harmless value (not a number, an empty text), so that the rest of the
    row is still looked at.
    """

    file: str
    line: int
    cells: Mapping[str, str]
    absent: frozenset[str]
    decimal_comma: bool
    mistakes: list[Mistake] = field(default_factory=list)

    @property
    def place(self) -> str:
        """File and line, as parts keep it."""
        return f"{Path(self.file).name}: line {self.line}"

    def wrong(self, problem: str, remedy: str) -> None:
        """Note a mistake in this row."""
        self.mistakes.append(Mistake(self.file, f"line {self.line}", problem, remedy))

    def blank(self, column: str) -> bool:
        """Whether the cell is empty or its column absent."""
        return not self.cells.get(column)

    def text(self, column: str) -> str:
        """The cell's text, which must not be empty."""
        cell = self.cells.get(column, "")
        if not cell and column not in self.absent:
            self.wrong(f"{column} is empty", "fill it in")
        return cell

    def number(self, column: str, least: float = 0.0, most: float = math.inf, above: bool = True) -> float:
        """A number, more than `least` (or not less, unless `above`) and up to `most`; NaN if it is wrong."""
        cell = self.text(column)
        return self.value(column, cell, least, most, above) if cell else math.nan

    def value(
        self, column: str, cell: str, least: float, most: float = math.inf, above: bool = True
    ) -> float:
        """As `number`, of a text that stands in the column."""
        plain = self.plain(column, cell)
        if plain is None:
            return math.nan
        value = float(plain)
        low = value <= least if above else value < least
        if low or value > most:
            lower = f"more than {_figure(least)}" if above else f"{_figure(least)} or more"
            upper = f" and up to {_figure(most)}" if math.isfinite(most) else ""
            self.wrong(f"{column} is {cell}", f"it must be {lower}{upper}")
            return math.nan
        return value

    def plain(self, column: str, cell: str) -> str | None:
        """A number's text with a decimal point, or None."""
        plain = cell.replace("\u2212", "-")
        if "," in plain:
            if self.decimal_comma and "." not in plain:
                plain = plain.replace(",", ".")
            elif self.decimal_comma:
                self.wrong(f'{column} "{_cut(cell)}" has both a comma and a point', "write 1234.5 or 1234,5")
                return None
            else:
                remedy = "write decimals with a point and no mark for thousands, as in 1.50 or 1500"
                self.wrong(f'{column} "{_cut(cell)}" has a comma', remedy)
                return None
        if _NUMBER.fullmatch(plain) and math.isfinite(float(plain)):
            return plain
        if _WITH_UNIT.fullmatch(plain):
            self.wrong(
                f'{column} "{_cut(cell)}" has a unit', "write the number alone; the header names the unit"
            )
        else:
            self.wrong(f'{column} "{_cut(cell)}" is not a number', "write a number such as 12 or 1.5")
        return None

    def optional(self, column: str, least: float = 0.0, most: float = math.inf) -> float | None:
        """A number more than `least`, or None where the cell is empty."""
        return None if self.blank(column) else self.number(column, least, most)

    def whole(self, column: str, least: int) -> int:
        """A whole number, `least` or more (and `least` if it is wrong)."""
        value = self.number(column, least, 1e6, above=False)
        if math.isfinite(value) and value != int(value):
            self.wrong(f"{column} is {self.cells[column]}", "it must be a whole number")
        return int(value) if math.isfinite(value) else least

    def cents(self, column: str, zero: bool = False) -> int:
        """An amount of money in whole cents (0 if it is wrong)."""
        value = self.number(column, 0.0, MOST_PRICE, above=not zero)
        if not math.isfinite(value):
            return 0
        cents = round(value * 100)
        if abs(cents - value * 100) > 1e-6:
            self.wrong(f"{column} is {self.cells[column]}", "an amount has at most two decimals")
        return cents

    def yes(self, column: str) -> bool:
        """A cell that says yes or no."""
        cell = self.text(column).lower()
        if cell and cell not in ("yes", "no"):
            self.wrong(f'{column} is "{_cut(cell)}"', 'write "yes" or "no"')
        return cell == "yes"

    def choice(self, column: str, known: Sequence[str]) -> str:
        """One of the known words ("" if it is wrong, or if none could be known)."""
        cell = self.text(column)
        if cell in known:
            return cell
        if cell and known:
            self.wrong(f'{column} "{_cut(cell)}" is not known', suggest(cell, known))
        return ""

    def end(self, column: str) -> End:
        """An end in three words; whether the systems know it is for the caller to say."""
        cell = self.text(column)
        words = cell.split()
        if len(words) == 3:
            return End(*words)
        if cell:
            remedy = 'write form, system and size, as in "socket metric 50"'
            self.wrong(f'{column} "{_cut(cell)}" is not three words', remedy)
        return NO_END


def suggest(word: str, known: Iterable[str]) -> str:
    """A remedy for an unknown word: the closest known one, or all of them."""
    words = list(known)
    folded = {name.casefold(): name for name in reversed(words)}
    close = difflib.get_close_matches(word.casefold(), folded, n=1, cutoff=0.6)
    if close:
        return f'did you mean "{folded[close[0]]}"'
    return f"known are {', '.join(words)}" if words else "none is known"


def read_sheet(
    file: Path, columns: Sequence[str], optional: Sequence[str], mistakes: list[Mistake]
) -> list[Row]:
    """The rows of a price list.

    Args:
        file: the CSV file.
        columns: columns that must be there.
        optional: columns that may be there.
        mistakes: gets what is wrong with the file as such, its header and its quoting.

    Returns:
        Rows in order without the blank ones, each with its own mistakes; none if the file is unreadable.
    """
    text = _decoded(file, mistakes)
    if text is None:
        return []
    mark = _separator(text)
    lines = list(_lines(str(file), text, mark, mistakes))
    if not lines:
        remedy = f"its first line must be {','.join((*columns, *optional))}"
        mistakes.append(Mistake(str(file), "", "the file is empty", remedy))
        return []
    (line, titles), *body = lines
    names, absent = _header(str(file), line, titles, (*columns, *optional), columns, mistakes)
    rows = []
    for line, cells in body:
        beyond = next((cell for cell in cells[len(names) :] if cell), None)
        if beyond is None:
            rows.append(Row(str(file), line, dict(zip(names, cells, strict=False)), absent, mark != ","))
            continue
        problem = f'"{_cut(beyond)}" stands beyond the last of {len(names)} columns'
        remedy = "put a text that holds the separator into quotation marks"
        mistakes.append(Mistake(str(file), f"line {line}", problem, remedy))
    return rows


def _decoded(file: Path, mistakes: list[Mistake]) -> str | None:
    try:
        text = file.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = error.object[: error.start].count(b"\n") + 1
        remedy = 'save the sheet as "CSV UTF-8"'
        mistakes.append(Mistake(str(file), f"line {line}", "the text is not UTF-8", remedy))
        return None
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        mistakes.append(Mistake(str(file), "", f"cannot be read ({why})", "name a file that can"))
        return None
    if "\0" in text:
        line = text[: text.index("\0")].count("\n") + 1
        remedy = 'save the sheet as "CSV UTF-8"'
        mistakes.append(Mistake(str(file), f"line {line}", "the text is not that of a CSV file", remedy))
        return None
    return text


def _separator(text: str) -> str:
    """Comma, semicolon or tab: whichever stands most often in the first line that is not blank."""
    first = next((line for line in text.splitlines() if line.strip(" ,;\t")), "")
    return max(",;\t", key=first.count)


def _lines(file: str, text: str, mark: str, mistakes: list[Mistake]) -> Iterator[tuple[int, list[str]]]:
    """Lines with anything in them: the number in the file and the cells without the blanks around them."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True)
    start = 1
    while True:
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            remedy = "close every quotation mark, and double one that stands inside a text"
            mistakes.append(Mistake(file, f"line {start}", f"no row of a CSV file ({error})", remedy))
            return
        if any("\n" in cell or "\r" in cell for cell in cells):
            remedy = "keep each row on one line and close its quotation marks"
            mistakes.append(Mistake(file, f"line {start}", "a cell runs over several lines", remedy))
        elif any(cell.strip() for cell in cells):
            yield start, [" ".join(cell.split()) for cell in cells]
        start = reader.line_num + 1


def _header(
    file: str,
    line: int,
    titles: Sequence[str],
    known: Sequence[str],
    needed: Sequence[str],
    mistakes: list[Mistake],
) -> tuple[list[str], frozenset[str]]:
    """Column names in order, and those that must be there and are not."""
    names = ["_".join(title.lower().split()) for title in titles]
    while names and not names[-1]:
        names.pop()
    absent = [name for name in needed if name not in names]
    explained = set()
    for index, name in enumerate(names):
        if name in names[:index]:
            problem, remedy = f'column "{name}" is there twice', "keep one of them"
        elif not name:
            problem, remedy = f"column {index + 1} has no title", "give it one or take the column out"
        elif name not in known:
            problem, remedy = f'column "{_cut(name)}" is not known', suggest(name, absent or known)
            explained |= {column for column in absent if f'"{column}"' in remedy}
        else:
            continue
        mistakes.append(Mistake(file, f"line {line}", problem, remedy))
    for name in absent:
        if name not in explained:
            remedy = f"the columns are {', '.join(known)}"
            mistakes.append(Mistake(file, f"line {line}", f'column "{name}" is missing', remedy))
    return names, frozenset(absent)


def _figure(value: float) -> str:
    """A limit without an exponent."""
    return f"{value:.12g}"


def _cut(text: str) -> str:
    """A cell short enough for one line of a message."""
    shown = "".join(mark if mark.isprintable() else "?" for mark in text)
    return shown if len(shown) <= 40 else f"{shown[:37]}..."
