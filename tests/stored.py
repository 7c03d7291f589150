"""Designs found once and kept: for tests that want a drawing and do not ask how it was found.

`tests/test_stored.py` asks: in the long runs every one of them is searched again and must come out the same.
After a change of the search or of a price list that is meant to change them, or for a new one, run the
tests that want it with `AUTOPLAN_STORE=1` and one process (`-n 0`): each is searched, and kept.
"""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter

import autoplan
from autoplan.catalog.parts import Catalog
from autoplan.drawing import Drawing
from autoplan.fittings.cap import EndCap
from autoplan.fittings.corner import Corner
from autoplan.fittings.drain_down import DrainDown
from autoplan.fittings.ends import LineEnd
from autoplan.fittings.floor import ThroughFloor
from autoplan.fittings.flushing import FlushTee
from autoplan.fittings.outside import OutsideSiphon
from autoplan.fittings.rim import OverRim
from autoplan.fittings.riser import Riser
from autoplan.fittings.screen import InletScreen
from autoplan.fittings.strainer import Strainer
from autoplan.fittings.trim import Trim, TrimValve
from autoplan.fittings.valve import CheckValveSet, ValveSet
from autoplan.fittings.vent import Vent
from autoplan.fittings.wall import ThroughWall
from autoplan.outcome import Design, Outcome, SolverReport, Status
from autoplan.problem.site import Site
from autoplan.rules.book import read_rules
from autoplan.rules.margin import least_margin
from autoplan.rules.survey import Survey
from autoplan.verdict.judge import complete, judge

FOLDER = Path(__file__).parent / "data" / "stored"

DRAWING = TypeAdapter(Drawing)

KINDS = (
    *(CheckValveSet, Corner, DrainDown, EndCap, FlushTee, InletScreen, LineEnd, OverRim, Riser, ThroughFloor),
    *(OutsideSiphon, Strainer, ThroughWall, Trim, TrimValve, ValveSet, Vent),
)
"""Every kind of fitting, by whose name it is kept."""


def dumped(drawing: Drawing) -> dict[str, Any]:
    """A drawing as it is kept: every fitting with the name of its kind."""
    kept = DRAWING.dump_python(drawing, mode="json", warnings=False)
    for name, line in drawing.runs.items():
        kept["runs"][name]["fittings"] = [
            {"kind": type(one).__name__, **TypeAdapter(type(one)).dump_python(one, mode="json")}
            for one in line.fittings
        ]
    return dict(kept)


def loaded(kept: Mapping[str, Any]) -> Drawing:
    """A drawing that was kept."""
    kinds = {kind.__name__: TypeAdapter(kind) for kind in KINDS}
    runs = {}
    for name, line in kept["runs"].items():
        told = ({**one} for one in line["fittings"])
        runs[name] = {**line, "fittings": [kinds[one.pop("kind")].validate_python(one) for one in told]}
    return DRAWING.validate_python({**kept, "runs": runs})


def read(problem: str) -> tuple[Site, Catalog]:
    """The site of a problem file's text and its price list, one of those that come along."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "problem.toml"
        path.write_text(problem, encoding="utf-8")
        site = autoplan.load_problem(path).outline
    return site, autoplan.load_catalog(site.catalog)


def searched(problem: str) -> dict[str, Any]:
    """What is kept of a problem: its text, and the cheapest design that a search of today proves."""
    site, catalog = read(problem)
    outcome = autoplan.design(site, catalog, top=1)
    assert outcome.status is Status.PROVEN
    assert outcome.solver.rejected == 0
    (found,) = outcome.designs
    return {"problem": problem, "objective": found.objective, "drawing": dumped(found.drawing)}


def kept(name: str) -> Mapping[str, Any]:
    """What is kept under a name."""
    held: dict[str, Any] = json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8"))
    return held


@cache
def stored(name: str, problem: str) -> Outcome:
    """The proven cheapest design of a problem as it was found once, judged by the code of today.

    Judged once for all tests: nothing of an outcome can be written to.
    """
    if os.environ.get("AUTOPLAN_STORE"):
        (FOLDER / f"{name}.json").write_text(json.dumps(searched(problem), indent=1) + "\n", encoding="utf-8")
    held = kept(name)
    assert held["problem"] == problem, f"{name}: another problem than was searched; see tests/stored.py"
    site, catalog = read(problem)
    drawing = loaded(held["drawing"])
    book = read_rules(site)
    verdict = judge(site, catalog, book, drawing)
    assert verdict.ok, f"{name}: the verdict of today refuses it; see tests/stored.py"
    cents = Survey(site, catalog, drawing).order_cents()
    assert cents == round(100 * held["objective"]), f"{name}: prices have changed; see tests/stored.py"
    told = complete(site, catalog, book, drawing, verdict)
    margin = least_margin(verdict.findings)
    design = Design(1, True, held["objective"], held["objective"], drawing, told, margin=margin)
    return Outcome(Status.PROVEN, site, catalog, (design,), SolverReport(held["objective"], 0.0, 0, 1, {}))
