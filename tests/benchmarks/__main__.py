"""All benchmarks side by side in one run: `.venv/bin/python -m tests.benchmarks [WORD ...]`.

Prints a table; with words only the lines that have one of them in their name. B is the time to import the
solver, taken in the same run, so that tables from different machines can be compared. CPU is of all threads,
and what to go by where others use the machine. Nothing is asserted.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from tests.benchmarks import price_lists
from tests.benchmarks.unlike_beds import price_list, site

ROOT = Path(__file__).parents[2]

SOLVER = "from ortools.sat.python import cp_model"

LISTS = {
    "one-tank-one-bed": ("stock", "packs", "shops-3", "shops-6", "shops-12"),
    "four-beds": ("packs", "shops-6"),
}
"""By problem the price lists, as shops keep them, that are to be set against the metric list."""

Line = tuple[str, str, str, str, int, float]
"""Name, how, problem, price list, designs asked for, time limit [s]."""


def lines(folder: Path) -> Iterator[Line]:
    """Every line of the table."""
    metric = str(price_list(folder / "list"))
    for name in ("one-tank-one-bed", "four-beds"):
        problem = str(ROOT / "problems" / f"{name}.toml")
        yield f"{name}, one design", "design", problem, "metric", 1, 300.0
        yield f"{name}, five ranks", "design", problem, "metric", 5, 300.0
        yield f"{name}, HiGHS", "highs", problem, "metric", 1, 120.0
        yield f"{name}, verdict", "verdict", problem, "metric", 1, 0.0
    for name, kinds in LISTS.items():
        problem = str(ROOT / "problems" / f"{name}.toml")
        for kind in kinds:
            made = str(price_lists.price_list(folder / kind, kind))
            yield f"{name}, list {kind}", "design", problem, made, 1, 120.0
    yield "wall-too-low, why", "design", str(ROOT / "problems" / "wall-too-low.toml"), "metric", 1, 300.0
    for beds, seconds in ((4, 60.0), (8, 120.0), (12, 150.0), (24, 150.0), (40, 150.0)):
        path = folder / f"unlike-{beds}.toml"
        path.write_text(site(beds))
        yield f"{beds} unlike beds", "design", str(path), metric, 1, seconds
        if beds <= 12:
            yield f"{beds} unlike beds, HiGHS", "highs", str(path), metric, 1, seconds
    for beds in (20, 200):
        path = folder / f"classes-{beds}.toml"
        path.write_text(site(beds, classes=10))
        yield f"{beds} beds in ten classes", "design", str(path), metric, 1, 150.0


def base() -> float:
    """Shortest of three times to import the solver [s]."""
    times = []
    for _ in range(3):
        started = time.monotonic()
        subprocess.run([sys.executable, "-c", SOLVER], check=True)
        times.append(time.monotonic() - started)
    return min(times)


def told(came: dict[str, object], unit: float) -> str:
    """A line's figures."""

    def times(key: str) -> str:
        value = came.get(key)
        return f"{value:.1f} s, {value / unit:.0f} B" if isinstance(value, float) else "-"

    if "judge_s" in came:
        return (
            f"judge {came['judge_s']:.2f} s, all told {came['complete_s']:.2f} s, search {times('search_s')}"
        )
    gap = came.get("gap")
    share = f"{100 * gap:.2f} %" if isinstance(gap, float) else "-"
    return (
        f"{came['status']:<9} whole {times('whole_s'):<15} CPU {came['cpu_s']:.1f} s "
        f"first {times('first_s'):<15} within 2 % {times('within_2_s'):<15} gap {share:<7} "
        f"{came['peak_gb']:.2f} GB  {came.get('costs', '')}"
    )


def main(words: list[str]) -> None:
    """Print the table."""
    unit = base()
    print(f"B, importing the solver: {unit:.2f} s", flush=True)
    with tempfile.TemporaryDirectory() as folder:
        for name, how, problem, catalog, top, seconds in lines(Path(folder)):
            if words and not any(word in name for word in words):
                continue
            command = [
                sys.executable,
                "-m",
                "tests.benchmarks.one",
                how,
                problem,
                catalog,
                str(top),
                str(seconds),
            ]
            done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
            came = json.loads(done.stdout) if done.returncode == 0 else None
            print(f"{name:<28} {told(came, unit) if came else done.stderr.strip()[-300:]}", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
