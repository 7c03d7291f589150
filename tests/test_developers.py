"""The contributor guide names files that are there."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]

NAMED = sorted(set(re.findall(r"`((?:[\w.-]+/)+[\w.-]*)`", (ROOT / "DEVELOPERS.md").read_text())))


def test_some_are_named() -> None:
    """The pattern finds what is written there."""
    assert {"line/row.py", "rules/book.py", "tests/lines.py"} <= set(NAMED)


@pytest.mark.parametrize("name", NAMED)
def test_every_file_that_is_named_is_there(name: str) -> None:
    """By its path from the top or inside the package, folders with a slash at their end."""
    assert any((folder / name).exists() for folder in (ROOT, ROOT / "autoplan", ROOT / "autoplan/report"))
