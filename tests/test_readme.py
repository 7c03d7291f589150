"""What the README shows is what the program prints."""

from __future__ import annotations

import re

import pytest

from autoplan.report.sections.contents import NAMES
from tests.readme import PICTURE, README, demo, picture, with_screen


def test_every_part_of_the_plan_is_told() -> None:
    """The table of parts has each that --show takes, and no other."""
    text = (
        README.read_text(encoding="utf-8").partition("`--show` prints parts")[2].partition("\n\nLengths")[0]
    )
    rows = [line.split("|")[1] for line in text.splitlines() if line.startswith("| `")]
    assert {name for row in rows for name in re.findall(r"`([^`]+)`", row)} == set(NAMES)


@pytest.mark.long
def test_screen_and_picture() -> None:
    """The first screen and the drawing of levels are those of the README's own command."""
    text, outcome = README.read_text(encoding="utf-8"), demo()
    assert with_screen(text, outcome) == text, "run: .venv/bin/python -m tests.readme"
    assert picture(outcome) == PICTURE.read_text(encoding="utf-8"), "run: .venv/bin/python -m tests.readme"
