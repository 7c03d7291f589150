"""Whole problems drawn at random: no crash, every printed design passes, every fault ends in a figure.

`AUTOPLAN_RANDOM` says how many the long run designs (1000 unless it is set) and `AUTOPLAN_RANDOM_FROM` with
which seed it begins; it prints what came of them. DEVELOPERS.md holds the rates found.
"""

from __future__ import annotations

import math
import os
import random
import time
from collections import Counter
from pathlib import Path

import pytest

import autoplan
from autoplan.outcome import Design, Outcome, Status
from autoplan.report.contract import json_text
from autoplan.report.plain import plain_text
from autoplan.report.show import report
from autoplan.rules.book import read_rules
from autoplan.verdict.judge import judge

SECONDS = 60.0
"""Time for one problem of the long run."""

TIMED = 10_000
"""From this seed on beds are flooded by timers."""

SAMPLE = (3, 7, TIMED + 3)
"""Seeds of the everyday sample."""


def problem(seed: int) -> str:
    """A problem file in the short form, most of its values drawn, some left out."""
    draw = random.Random(seed)
    arrangement = draw.choice(("parallel", "parallel", "parallel", "series", "no sump"))
    if seed >= TIMED:
        arrangement = "parallel"
    bare = arrangement == "no sump"
    beds = draw.choice((0, 1, 1, 2, 2, 3, 4)) if arrangement == "parallel" else draw.choice((1, 2))
    beds = max(1, beds) if seed >= TIMED else beds
    tank = draw.randrange(300, 2400, 50)
    low = 0 if bare else draw.randrange(250, 600, 10)
    lines = [
        f'name = "Random problem {seed}"',
        f'catalog = "{draw.choice(("metric", "metric", "inch", "bore-named"))}"',
        f'arrangement = "{arrangement}"',
        f'[tank]\nvolume = "{tank} L"\ndepth = "{draw.choice((750, 900, 1100))} mm"\nfloor = "{low} mm"',
        f'wall = "{draw.choice((2.5, 4, 6, 8))} mm"',
    ]
    filters = [] if bare else [name for name in ("settler", "biofilter") if draw.random() < 0.5]
    lines += [
        f'[{name}]\nvolume = "{draw.randrange(120, 260, 20)} L"\ndepth = "850 mm"\n'
        f'floor = "{low - draw.randrange(40, 260, 20)} mm"'
        for name in filters
    ]
    if beds:
        high = draw.randrange(850, 1200, 50) if bare else draw.randrange(450, 800, 50)
        lines.append(f'[beds]\ncount = {beds}\narea = "{draw.uniform(0.5, 2.0):.2f} m2"\nfloor = "{high} mm"')
        lines.append(f'floods = "{draw.choice((1, 1.5, 2, 3))}/hour"')
        drain = draw.choice(("siphon", "siphon", "standpipe"))
        lines.append(f'drain = "{"timer" if seed >= TIMED else drain}"')
    if not bare:
        sump, deep = draw.randrange(300, 1600, 50), draw.choice((500, 700))
        lines.append(f'[sump]\nvolume = "{sump} L"\ndepth = "{deep} mm"\nfloor = "-600 mm"')
    lines.append(f'[wishes]\nturnover = "{draw.choice((1, 1.5, 2))}/hour"')
    return "\n".join(lines) + "\n"


def answered(folder: Path, seed: int) -> Outcome:
    """What is answered to a random problem."""
    path = folder / f"random-{seed}.toml"
    path.write_text(problem(seed))
    site = autoplan.load_problem(path)
    catalog = autoplan.load_catalog(site.catalog)
    return autoplan.design(site, catalog, top=1, time_limit=SECONDS)


def examine(outcome: Outcome) -> None:
    """The design passes a verdict of its own, each fault has its figure, and all of it can be printed."""
    for design in outcome.designs:
        site = design.site or outcome.site
        again = judge(site, outcome.catalog, read_rules(site), design.drawing)
        assert again.ok, [found for found in again.findings if not found.ok and found.hard]
        _faults(design)
    assert outcome.solver.rejected == 0
    assert json_text(outcome)
    assert plain_text(report(outcome))


def _faults(design: Design) -> None:
    assert design.verdict.faults
    for fault in design.verdict.faults:
        assert math.isfinite(fault.spilled_l)
        assert fault.spilled_l >= 0
        assert fault.saved_by


@pytest.mark.parametrize("seed", SAMPLE)
def test_a_sample(tmp_path: Path, seed: int) -> None:
    """A few of them every day."""
    outcome = answered(tmp_path, seed)
    assert outcome.status in (Status.PROVEN, Status.NONE)
    examine(outcome)


@pytest.mark.long
def test_a_thousand(tmp_path: Path) -> None:
    """All of them: what failed is listed by seed, and nothing may have."""
    count = int(os.environ.get("AUTOPLAN_RANDOM", "1000"))
    first = int(os.environ.get("AUTOPLAN_RANDOM_FROM", "1"))
    came: Counter[str] = Counter()
    failed: dict[int, str] = {}
    for seed in range(first, first + count):
        started = time.monotonic()
        try:
            outcome = answered(tmp_path, seed)
            came[str(outcome.status)] += 1
            examine(outcome)
        except autoplan.InputError:
            came["input refused"] += 1
        except Exception as error:
            failed[seed] = f"{type(error).__name__}: {error}"[:300]
            came["failed"] += 1
        print(seed, came.most_common(1), f"{time.monotonic() - started:.1f} s", failed.get(seed, ""))
    print(dict(came))
    assert not failed
