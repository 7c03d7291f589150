"""Makes the README's table of keys anew: `.venv/bin/python -m tests.readme`."""

from __future__ import annotations

from pathlib import Path

from autoplan.report.keys import with_table

README = Path(__file__).parents[1] / "README.md"


def main() -> None:
    """Write the README."""
    README.write_text(with_table(README.read_text(encoding="utf-8")), encoding="utf-8")


if __name__ == "__main__":
    main()
