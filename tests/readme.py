"""Makes anew what the README shows of the program: `.venv/bin/python -m tests.readme`.

The table of keys, the first screen of the problem that it begins with, and the drawing of its levels.
"""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import autoplan
from autoplan.outcome import Outcome
from autoplan.report.contract import outcome_json
from autoplan.report.drawings import sheets
from autoplan.report.keys import with_table
from autoplan.report.levels_picture import ASCII
from autoplan.report.screen import first_screen
from autoplan.report.units import SI

ROOT = Path(__file__).parents[1]
README = ROOT / "README.md"
PROBLEM = "problems/four-beds.toml"
PICTURE = ROOT / "problems" / "four-beds-levels.svg"

SCREEN = re.compile(r"(?<=<!-- first screen -->\n```\n).*?(?=\n```)", re.DOTALL)


def demo() -> Outcome:
    """What the README's first command finds."""
    site = replace(autoplan.load_problem(ROOT / PROBLEM), file=PROBLEM)
    return autoplan.design(site, autoplan.load_catalog(site.catalog), top=5)


def with_screen(text: str, outcome: Outcome) -> str:
    """The README with the first screen as the command prints it."""
    screen = "\n".join(first_screen(outcome, SI, ASCII))
    assert SCREEN.search(text)
    return SCREEN.sub(lambda _: screen, text)


def picture(outcome: Outcome) -> str:
    """The drawing of the levels, a file by itself."""
    (levels,) = (drawing for drawing in sheets(outcome_json(outcome)) if drawing.name == "levels")
    return levels.svg + "\n"


def main() -> None:
    """Write the README and its picture."""
    outcome = demo()
    text = with_screen(with_table(README.read_text(encoding="utf-8")), outcome)
    README.write_text(text, encoding="utf-8")
    PICTURE.write_text(picture(outcome), encoding="utf-8")


if __name__ == "__main__":
    main()
