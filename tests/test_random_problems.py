"""Whole problems drawn at random: no crash, every printed design passes, every fault ends in a figure.

`AUTOPLAN_RANDOM` says how many the long run designs (1000 unless it is set), `AUTOPLAN_RANDOM_FROM` with
which seed it begins, so that several runs side by side share the work, and `AUTOPLAN_RANDOM_SECONDS` how long
each may take; it prints what came of them. DEVELOPERS.md holds the rates found.
"""

from __future__ import annotations

import itertools
import json
import math
import os
import random
import time
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest

import autoplan
from autoplan.outcome import Design, Outcome, Status
from autoplan.report.contract import json_text
from autoplan.report.render.plain import plain_text
from autoplan.report.render.show import report
from autoplan.rules.book import read_rules
from autoplan.rules.survey import Survey
from autoplan.verdict.hours.clockwork import Clockwork
from autoplan.verdict.hours.through_time import clocks
from autoplan.verdict.hours.waterworks import Waterworks, bed_siphons
from autoplan.verdict.judge import judge
from tests.short_list import gone
from tests.walk import Walk

SECONDS = float(os.environ.get("AUTOPLAN_RANDOM_SECONDS", "60"))
"""Time for the searches of one problem."""

TIMED = 10_000
"""From this seed on beds are flooded by timers."""

THIN = 20_000
"""From this seed on shops lack many parts, which makes problems quicker and odder."""

NEWER = 200_000
"""From this seed on shops have all parts again, and what came last is drawn too: see `newer`."""

SAMPLE = (pytest.param(7, marks=pytest.mark.long), TIMED + 16, THIN + 399)
"""Seeds of the everyday sample, each of another kind, and one for the long runs."""

REFUSED_ONCE = (530_033,)
"""Seeds: water over the hole of an inlet over a rim."""

HOURS_S = 6 * 3600.0
"""How long a design is watched running [s]."""

OWNED = {
    "metric": ("pump-3000 = 1", "seal-50 = 2", "ball-25 = 1"),
    "inch": ("pump-800 = 1", "seal-2 = 2"),
    "bore-named": ("pump-3200 = 1", "seal-50 = 2"),
}
"""Parts that a builder may have already, or that may be sold out, by price list."""

Tables = dict[str, dict[str, str]]
"""A problem file: by table (the top has no name) its keys with their values as written."""


def drawn(draw: random.Random, seed: int) -> Tables:
    """The vessels of a problem in the short form, most values drawn, some left out."""
    arrangement = draw.choice(("parallel", "parallel", "parallel", "series", "no sump"))
    timed = TIMED <= seed < THIN
    if timed:
        arrangement = "parallel"
    bare = arrangement == "no sump"
    beds = draw.choice((0, 1, 1, 2, 2, 3, 4)) if arrangement == "parallel" else draw.choice((1, 2))
    beds = max(1, beds) if timed else beds
    tank = draw.randrange(300, 2400, 50)
    low = 0 if bare else draw.randrange(250, 600, 10)
    tables: Tables = {"": {"name": f'"Random problem {seed}"'}}
    tables[""]["catalog"] = f'"{draw.choice(("metric", "metric", "inch", "bore-named"))}"'
    tables[""]["arrangement"] = f'"{arrangement}"'
    deep = draw.choice((750, 900, 1100))
    tables["tank"] = {"volume": f'"{tank} L"', "depth": f'"{deep} mm"', "floor": f'"{low} mm"'}
    tables["tank"]["wall"] = f'"{draw.choice((2.5, 4, 6, 8))} mm"'
    filters = [] if bare else [name for name in ("settler", "biofilter") if draw.random() < 0.5]
    for name in filters:
        volume = draw.randrange(120, 260, 20)
        floor = low - draw.randrange(40, 260, 20)
        tables[name] = {"volume": f'"{volume} L"', "depth": '"850 mm"', "floor": f'"{floor} mm"'}
    if beds:
        high = draw.randrange(850, 1200, 50) if bare else draw.randrange(450, 800, 50)
        tables["beds"] = {"count": str(beds), "area": f'"{draw.uniform(0.5, 2.0):.2f} m2"'}
        tables["beds"]["floor"] = f'"{high} mm"'
        tables["beds"]["floods"] = f'"{draw.choice((1, 1.5, 2, 3))}/hour"'
        drain = draw.choice(("siphon", "siphon", "standpipe"))
        if drain == "standpipe" and seed % 3 == 0:
            drain = "weep hole"
        tables["beds"]["drain"] = '"timer"' if timed else f'"{drain}"'
    if not bare:
        sump, deep = draw.randrange(300, 1600, 50), draw.choice((500, 700))
        tables["sump"] = {"volume": f'"{sump} L"', "depth": f'"{deep} mm"', "floor": '"-600 mm"'}
    tables["wishes"] = {"turnover": f'"{draw.choice((1, 1.5, 2))}/hour"'}
    return tables


def widen(draw: random.Random, tables: Tables) -> None:
    """What else the short form takes, each now and then and only where it has a meaning."""

    def now_and_then(share: float) -> bool:
        return draw.random() < share

    bare = tables[""]["arrangement"] == '"no sump"'
    filters = [name for name in ("settler", "biofilter") if name in tables]
    if now_and_then(0.15) and "beds" in tables:
        tables["beds"]["spare_beds"] = str(draw.choice((1, 1, 2)))
    if now_and_then(0.1) and "beds" in tables:
        tables["beds"]["floods"] = draw.choice(('["1/hour", "3/hour"]', '["1.5/hour", "2/hour"]'))
    if now_and_then(0.15) and "beds" in tables:
        tables["wishes"]["beds_full"] = draw.choice(("1", '"most"'))
    if now_and_then(0.08) and not bare:
        tables["sump"] = {"choose": '"any"', "floor": '"-600 mm"'}
    for name in filters:
        if now_and_then(0.25):
            tables[name]["waste"] = "true"
    if now_and_then(0.15) and "biofilter" in tables:
        tables["biofilter"]["screen"] = "true"
    if now_and_then(0.1) and not bare:
        tables["tank"]["screen"] = "true"
    if now_and_then(0.15) and not bare:
        tables["tank"]["overflow"] = "true"
    if now_and_then(0.1) and not bare:
        tables["wishes"]["flushing_points"] = "true"
    if now_and_then(0.15):
        tables["tank"]["uncertain"] = '"25 mm"'
    if now_and_then(0.3):
        tables["wishes"]["drain_joints"] = draw.choice(('"screwed"', '"welded"', '"any"'))
    if now_and_then(0.06) and "beds" in tables and not bare:
        tables[""]["arrangement"] = '"any"'
    stock = OWNED[tables[""]["catalog"].strip('"')]
    if now_and_then(0.12):
        tables["owned"] = dict(one.split(" = ") for one in draw.sample(stock, 2))
    if now_and_then(0.12):
        tables[""]["unavailable"] = f'["{draw.choice(stock).split(" = ")[0]}"]'
    if now_and_then(0.15):
        tables["air"] = {"line": '"4 m"', "above_water": draw.choice(("true", "false"))}
        tables["air"]["battery"] = draw.choice(("true", "false"))
    if now_and_then(0.1):
        tables["wishes"]["budget"] = str(draw.randrange(200, 900, 50))


def water(draw: random.Random, tables: Tables) -> None:
    """What is said of rain, top-ups, cones, lids and fry."""
    if draw.random() < 0.3:
        tables["wishes"]["rain"] = draw.choice(('"0 mm"', '"60 mm"'))
    for name in ("settler", "biofilter"):
        if name in tables and draw.random() < 0.3:
            tables[name]["cone"] = f'"{draw.randrange(50, 400, 50)} mm"'
    pumped = "tank" if tables[""]["arrangement"] == '"no sump"' else "sump"
    if draw.random() < 0.2:
        tables[pumped]["top_up"] = f'"{draw.choice((20, 200))} L/h"'
        tables[pumped]["cover"] = "true"
    if tables["tank"].get("screen") == "true" and draw.random() < 0.5:
        tables["tank"]["screen"] = '"fry"'


def newer(draw: random.Random, tables: Tables) -> None:
    """Siphon pipes outside beds, ways into a settler, what a spare pump is put on by, mouths below water."""
    if "beds" in tables and draw.random() < 0.5:
        tables["beds"]["drain"] = '"outside siphon"'
        tables["beds"].pop("bed_drains", None)
        if draw.random() < 0.7:
            tables["beds"]["floods"] = '["1/hour", "4/hour"]'
    if "settler" in tables and draw.random() < 0.5:
        tables["wishes"]["settler_inlet"] = draw.choice(('"turned down"', '"stilling well"'))
    if draw.random() < 0.3:
        tables["wishes"]["second_half"] = "true"
    if draw.random() < 0.2:
        tables["wishes"]["mouth"] = '"below water"'


def places(draw: random.Random, tables: Tables) -> None:
    """Where the vessels stand: on the plan, or how far from one another and round which corners."""
    bare = tables[""]["arrangement"] == '"no sump"'
    line = [name for name in ("tank", "settler", "biofilter") if name in tables]
    spare = int(tables.get("beds", {}).get("spare_beds", 0))
    beds = int(tables["beds"]["count"]) + spare if "beds" in tables else 0
    if not bare and beds > 1 and not spare and draw.random() < 0.25:
        tables["beds"]["bed_drains"] = draw.choice(('"shared"', '"any"'))
    if "choose" not in tables.get("sump", {}) and draw.random() < 0.4:
        _on_the_plan(draw, tables, line, beds)
        return
    distances: dict[str, int] = {}
    corners: dict[str, str] = {}
    end = "bed" if tables[""]["arrangement"] == '"series"' else "sump"
    passed = line[:1] if bare else [*line, end]
    ways = [f"{start}_to_{finish}" for start, finish in itertools.pairwise(passed)]
    ways += ["bed_to_tank"] if bare else ["sump_to_tank"]
    ways += ["bed_to_sump"] if beds and not bare else []
    for way in ways:
        if draw.random() < 0.8:
            distances[way] = draw.randrange(800, 5000, 10)
            corners[way] = draw.choice(("[]", "[]", "[90]", "[90]", "[45]", "[90, 90]", "[45, 90]"))
    if beds and tables[""]["arrangement"] != '"series"':
        distances["tank_to_first_bed" if bare else "sump_to_first_bed"] = draw.randrange(800, 5000, 10)
        distances["trunk_to_bed"] = draw.randrange(150, 900, 10)
    if beds > 1:
        distances["between_beds"] = draw.randrange(900, 2200, 10)
    for way, turns in corners.items():
        pieces = _in_pieces(distances[way], turns.count(",") + 1 + (turns != "[]"))
        tables.setdefault("distances", {})[way] = pieces if draw.random() < 0.3 else f'"{distances[way]} mm"'
        tables.setdefault("corners", {})[way] = turns
    for way, length in distances.items():
        tables.setdefault("distances", {}).setdefault(way, f'"{length} mm"')


def _in_pieces(length: int, count: int) -> str:
    """A distance [mm] as its pieces from corner to corner, the first the longest."""
    piece = length // (count + 1)
    pieces = (length - (count - 1) * piece, *[piece] * (count - 1))
    return ", ".join(f'"{one} mm"' for one in pieces).join("[]")


def _on_the_plan(draw: random.Random, tables: Tables, line: Sequence[str], beds: int) -> None:
    """The tank and what follows it in a row along, the beds in another beside it, the sump at the end."""

    def at(name: str, along: int, across: int) -> None:
        tables[name]["at"] = f'["{along} mm", "{across} mm"]'

    along = 0
    for name in line:
        at(name, along, draw.randrange(-200, 201, 50))
        along += draw.randrange(1900, 3000, 50)
    beside = draw.randrange(2200, 3500, 50)
    if beds:
        at("beds", draw.randrange(-500, 1500, 50), beside)
        tables["beds"]["facing"] = str(draw.choice((0, 0, 0, 90)))
    if beds > 1:
        tables["beds"]["step"] = f'["{draw.randrange(1500, 2300, 50)} mm", "0 mm"]'
    if "sump" in tables:
        at("sump", along, draw.choice((0, -beside)))


def thin(draw: random.Random, tables: Tables) -> None:
    """Takes a share of all parts off the shelves, so that odd ones must do."""
    share = draw.choice((0.1, 0.25, 0.5))
    catalog = autoplan.load_catalog(tables[""]["catalog"].strip('"'))
    owned = tables.get("owned", {})
    gone = [
        part
        for group in catalog.groups()
        for part in group
        if part not in owned and part not in catalog.vessels and draw.random() < share
    ]
    tables[""]["unavailable"] = f"[{', '.join(map(repr, gone))}]"


def problem(seed: int) -> str:
    """A problem file in the short form."""
    draw = random.Random(seed)
    tables = drawn(draw, seed)
    widen(draw, tables)
    places(random.Random(f"places of {seed}"), tables)
    water(random.Random(f"water of {seed}"), tables)
    if seed >= NEWER:
        newer(draw, tables)
    elif seed >= THIN:
        thin(draw, tables)
    written = []
    for name, table in tables.items():
        written += [f"[{name}]"] if name else []
        written += [f"{key} = {value}" for key, value in table.items()]
    return "\n".join(written) + "\n"


def answered(folder: Path, seed: int, seconds: float | None, *, short: bool = False) -> Outcome:
    """What is answered to a random problem within some time; `short` of the metric list's doubles."""
    path = folder / f"random-{seed}.toml"
    path.write_text(problem(seed))
    site = autoplan.load_problem(path)
    if short and site.catalog == "metric":
        site = replace(site, unavailable=site.unavailable.union(gone()))
    catalog = autoplan.load_catalog(site.catalog)
    # Of every fourth further ranks too, which are searched kind by kind.
    return autoplan.design(site, catalog, top=3 if seed % 4 == 1 else 1, time_limit=seconds)


def examine(outcome: Outcome) -> None:
    """The design passes a verdict of its own, each fault has its figure, and all of it can be printed.

    A stranger with no more than the JSON and the price list finds that its parts fit, are bought and can be
    cut. Where there is no design, it is said why.
    """
    for design in outcome.designs:
        site = design.site or outcome.site
        again = judge(site, outcome.catalog, read_rules(site), design.drawing)
        assert again.ok, [found for found in again.findings if not found.ok and found.hard]
        _faults(design)
        _hours(Survey(site, outcome.catalog, design.drawing))
    assert outcome.solver.rejected == 0
    assert (outcome.status is Status.NONE) == (outcome.clash is not None)
    answer = json.loads(json_text(outcome))
    for design, told in zip(outcome.designs, answer["designs"], strict=True):
        assert Walk(answer, told, (design.site or outcome.site).owned).all() > 0
    assert plain_text(report(outcome))


def _faults(design: Design) -> None:
    assert design.verdict.faults
    for fault in design.verdict.faults:
        assert math.isfinite(fault.spilled_l)
        assert fault.spilled_l >= 0
        assert fault.saved_by


def _hours(survey: Survey) -> None:
    """In hours of running nothing runs over, all beds emptied at once or opened together."""
    works = Waterworks(survey, bed_siphons(survey))
    clockwork = Clockwork(works, lambda _: works.as_designed(), clocks(works))
    seen = clockwork.walk(works.at_design(), HOURS_S, 0.0).history
    assert not any(seen.spilled_m3.values()), seen.spilled_m3


@pytest.mark.parametrize("seed", SAMPLE)
def test_a_sample(tmp_path: Path, seed: int) -> None:
    """A few of them every day, for as long as they take, of a list that gives a third of the work."""
    outcome = answered(tmp_path, seed, None, short=True)
    assert outcome.status in (Status.PROVEN, Status.NONE)
    examine(outcome)


@pytest.mark.long
@pytest.mark.parametrize("seed", REFUSED_ONCE)
def test_what_was_refused_once(tmp_path: Path, seed: int) -> None:
    """Problems of which the verdict sent back what the search had found, for an eighth of a millimetre."""
    outcome = answered(tmp_path, seed, None)
    assert outcome.status is Status.PROVEN
    examine(outcome)


@pytest.mark.long
def test_a_thousand(tmp_path: Path) -> None:
    """All of them: what failed is listed by seed, and nothing may have."""
    count = int(os.environ.get("AUTOPLAN_RANDOM", "1000"))
    first = int(os.environ.get("AUTOPLAN_RANDOM_FROM", "1"))
    took: dict[str, list[float]] = {}
    failed: dict[int, str] = {}
    for seed in range(first, first + count):
        started = time.monotonic()
        came = "input refused"
        try:
            outcome = answered(tmp_path, seed, SECONDS)
            came = str(outcome.status)
            examine(outcome)
        except autoplan.InputError:
            pass
        except Exception as error:
            came = "failed"
            failed[seed] = f"{type(error).__name__}: {error}"[:300]
        took.setdefault(came, []).append(time.monotonic() - started)
        print(f"seed {seed}: {came} in {took[came][-1]:.1f} s {failed.get(seed, '')}", flush=True)
    for came, seconds in took.items():
        mean = sum(seconds) / len(seconds)
        print(f"{came}: {len(seconds)}, {mean:.1f} s each, {max(seconds):.1f} s at worst", flush=True)
    assert not failed
