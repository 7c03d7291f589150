"""What a report is made of, before anyone decides how it looks: headings, paragraphs, points, grids."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import TypeAlias, TypeVar

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading."""

    text: str


@dataclass(frozen=True, slots=True)
class Para:
    """A paragraph."""

    text: str


@dataclass(frozen=True, slots=True)
class Points:
    """A list of points, one sentence or more each."""

    items: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class GridColumn:
    """A column: its title, its width in plain text [characters], whether it holds numbers."""

    title: str
    width: int
    number: bool = False


@dataclass(frozen=True, slots=True)
class Grid:
    """A table; every row has a cell per column."""

    columns: tuple[GridColumn, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Picture:
    """Lines of plain characters that stand under each other as they are, at most 100 wide."""

    lines: tuple[str, ...]


Block: TypeAlias = Heading | Para | Points | Grid | Picture


def numbers(title: str, width: int) -> GridColumn:
    """A column of numbers."""
    return GridColumn(title, width, number=True)


def grid_of(items: Iterable[T], *columns: tuple[GridColumn, Callable[[T], str]]) -> Grid:
    """A table with a row for each item; beside each column what its cells say."""
    rows = tuple(tuple(cell(item) for _, cell in columns) for item in items)
    return Grid(tuple(column for column, _ in columns), rows)


def clean(text: str) -> str:
    """The text without control characters, which a name in a user's file could carry into a terminal."""
    return "".join(char if char.isprintable() else " " for char in text)


def map_text(block: Block, change: Callable[[str], str]) -> Block:
    """The block with every text in it changed."""
    match block:
        case Heading(text):
            return Heading(change(text))
        case Para(text):
            return Para(change(text))
        case Points(items):
            return Points(tuple(map(change, items)))
        case Grid(columns, rows):
            titled = tuple(replace(column, title=change(column.title)) for column in columns)
            return Grid(titled, tuple(tuple(map(change, row)) for row in rows))
        case Picture(lines):
            return Picture(tuple(map(change, lines)))
