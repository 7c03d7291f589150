"""Makes anew what the README shows of the program: `.venv/bin/python -m tests.readme`.

The table of keys, the first screen of the problem that it begins with, and the drawing of its levels.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import autoplan
from autoplan.outcome import Outcome
from autoplan.problem.tables.defaults import FEEDS
from autoplan.report.contract import outcome_json
from autoplan.report.drawings import sheets
from autoplan.report.key_list import RUNS_AT, Key, all_keys
from autoplan.report.sections.levels_picture import ASCII
from autoplan.report.sections.screen import first_screen
from autoplan.report.units import SI

ROOT = Path(__file__).parents[1]
README = ROOT / "README.md"
PROBLEM = "problems/four-beds.toml"
PICTURE = ROOT / "problems" / "four-beds-levels.svg"

SCREEN = re.compile(r"(?<=<!-- first screen -->\n```\n).*?(?=\n```)", re.DOTALL)


BEGIN, END = "<!-- keys -->", "<!-- end of keys -->"
"""Between these lines of the README stands the table of keys."""

ANY_RULE = Key("[rules.RULE]", "off", "true or false", "false", "true leaves this rule out")
ANY_CORNERS = Key(
    "[corners]", "as below [distances]", "degrees, as [90, 45]", "by line", "corners of that line on the plan"
)
ANY_HEIGHT = Key(
    "[heights]", "as of a drain below [distances]", RUNS_AT, "that of its end", "height at which it runs"
)
"""In the README one row in place of those for every rule and every line."""


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


def readme_table() -> str:
    """Every key as a table in Markdown; a key that means the same in several tables has one row."""
    kept = [key for key in all_keys() if key.key != "off" and not _folded(key)]
    last_line = max(index for index, key in enumerate(kept) if key.table == "[distances]")
    last_rule = max(index for index, key in enumerate(kept) if key.table.startswith("[rules."))
    kept.insert(last_rule + 1, ANY_RULE)
    kept[last_line + 1 : last_line + 1] = [ANY_CORNERS, ANY_HEIGHT]
    groups: dict[tuple[str, str, str], list[Key]] = {}
    for key in kept:
        groups.setdefault((key.key, key.unit, key.meaning), []).append(key)
    lines = ["| key | stands in | unit | default | meaning |", "| --- | --- | --- | --- | --- |"]
    for (name, unit, meaning), keys in groups.items():
        tables = ", ".join(_code(key.table) for key in keys)
        lines.append(f"| `{name}` | {tables} | {_cell(unit)} | {_cell(_defaults(keys))} | {_cell(meaning)} |")
    return "\n".join(lines)


def _folded(key: Key) -> bool:
    """Whether one row stands for it and those of every other line."""
    return key.table == "[corners]" or (key.table == "[heights]" and key.key != FEEDS)


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


def main() -> None:
    """Write the README and its picture."""
    outcome = demo()
    text = with_screen(with_table(README.read_text(encoding="utf-8")), outcome)
    README.write_text(text, encoding="utf-8")
    PICTURE.write_text(picture(outcome), encoding="utf-8")


if __name__ == "__main__":
    main()
